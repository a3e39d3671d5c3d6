//! Where an uncertainty comes from, in words.

use holdtrue_metrology::grip::result::Uncertainty;
use holdtrue_metrology::runout::UncertaintyResult;

/// Of a grip check.
pub(crate) fn of_grip(uncertainty: &Uncertainty) -> String {
    let lines = uncertainty.budget.iter();
    in_words(
        lines.map(|line| (line.source.as_str(), line.standard_n)),
        uncertainty.combined_n,
    )
}

/// Of a runout check.
pub(crate) fn of_runout(uncertainty: &UncertaintyResult) -> String {
    let lines = uncertainty.budget.iter();
    in_words(
        lines.map(|line| (line.source.as_str(), line.standard_um)),
        uncertainty.combined_um,
    )
}

/// The source with the largest share of the variance.
fn in_words<'a>(lines: impl Iterator<Item = (&'a str, f64)>, combined: f64) -> String {
    let largest = lines.max_by(|a, b| a.1.total_cmp(&b.1));
    let variance = combined * combined;
    let Some((source, standard)) = largest.filter(|_| variance > 0.0) else {
        return "no uncertainty was stated".to_owned();
    };
    let share = standard * standard / variance;
    let most = if share >= 0.5 {
        "most of it is"
    } else {
        "the largest part is"
    };
    format!("{most} {source} ({:.0} % of the variance)", 100.0 * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_part_is_named_with_its_share() {
        let said = |lines: &[(&'static str, f64)]| {
            let combined = lines.iter().map(|line| line.1 * line.1).sum::<f64>().sqrt();
            in_words(lines.iter().copied(), combined)
        };
        assert_eq!(
            said(&[("certificate", 3.0), ("resolution", 4.0)]),
            "most of it is resolution (64 % of the variance)"
        );
        assert_eq!(
            said(&[("a", 1.0), ("b", 1.1), ("c", 1.05)]),
            "the largest part is b (37 % of the variance)"
        );
        assert_eq!(said(&[]), "no uncertainty was stated");
    }
}
