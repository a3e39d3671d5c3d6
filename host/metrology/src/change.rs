//! The change of a figure from one check to another. In: both figures with their budgets, and which contributions put both off
//! alike. Out: the difference, its uncertainty, and whether it is seen.

use crate::uncertainty::{Budget, Contribution};

/// A figure that changed, or did not.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The later figure less the earlier one.
    pub difference: f64,
    /// What makes the difference uncertain.
    pub budget: Budget,
    /// Expanded uncertainty of the difference, two-sided 95 %.
    pub expanded: f64,
    /// What is seen of it.
    pub seen: Seen,
}

/// What is seen of a change at 95 %, two-sided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// The later figure is greater.
    Greater,
    /// It is less.
    Less,
    /// No difference is seen.
    None,
}

/// The change from `then` to `now`, each a figure and its budget. `shared` says of a source whether it is one and the same
/// error in both: what it gives the one it gives the other, and only what it gives them differently stays.
///
/// The estimates are y₂ − y₁ with u² = Σ(u₂ᵢ − u₁ᵢ)² over what is fully correlated and Σu² over the rest, the degrees of
/// freedom after Welch and Satterthwaite. Source: JCGM 100:2008, 5.2.2 (equation 16, r = 1) and G.4.1.
pub fn change(
    now: (f64, &Budget),
    then: (f64, &Budget),
    shared: impl Fn(&Contribution) -> bool,
) -> Change {
    let difference = now.0 - then.0;
    let mut earlier: Vec<&Contribution> = then.1.contributions.iter().collect();
    let mut budget = Budget::default();
    for line in &now.1.contributions {
        let same = |other: &&Contribution| other.source == line.source;
        let partner = earlier.iter().position(same).filter(|_| shared(line));
        let standard = match partner.map(|place| earlier.remove(place)) {
            Some(other) => (line.standard - other.standard).abs(),
            None => line.standard,
        };
        budget.add(Contribution::new(&*line.source, standard, line.dof));
    }
    for line in earlier {
        budget.add(Contribution::new(&*line.source, line.standard, line.dof));
    }
    budget.contributions.retain(|line| line.standard > 0.0);
    let expanded = match budget.contributions.is_empty() {
        true => 0.0,
        false => budget.expanded(),
    };
    let seen = match difference {
        _ if difference.abs() <= expanded => Seen::None,
        0.0.. => Seen::Greater,
        _ => Seen::Less,
    };
    Change {
        difference,
        budget,
        expanded,
        seen,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn budget(parts: &[(&str, f64, Option<f64>)]) -> Budget {
        let parts = parts.iter();
        Budget::new(
            parts
                .map(|&(source, standard, dof)| Contribution::new(source, standard, dof))
                .collect(),
        )
    }

    fn of_gauge(line: &Contribution) -> bool {
        line.source == "gauge"
    }

    #[test]
    fn what_both_share_cancels_and_the_rest_adds_up() {
        // 3-4-5: the scatter of both is 30 and 40 N, the gauge's 60 N are the same 60 N.
        let now = budget(&[("gauge", 60.0, None), ("scatter", 30.0, None)]);
        let then = budget(&[("gauge", 60.0, None), ("scatter", 40.0, None)]);
        let one = change((9_500.0, &now), (9_810.0, &then), of_gauge);
        assert!((one.budget.combined() - 50.0).abs() < 1e-9);
        assert!((one.expanded - 1.959_963_984_540_054 * 50.0).abs() < 1e-6);
        assert_eq!(one.seen, Seen::Less);
        // Two calibrations: √(50² + 2·60²) N, of which 310 N are less than two.
        let two = change((9_500.0, &now), (9_650.0, &then), |_| false);
        assert!((two.budget.combined() - 98.488_578_017_961).abs() < 1e-9);
        assert_eq!(two.seen, Seen::None);
    }

    #[test]
    fn a_shared_share_of_the_reading_leaves_its_share_of_the_difference() {
        // 1 % of 10 kN and of 5 kN, one error: 1 % of the 5 kN between them.
        let now = budget(&[("gauge", 50.0, None)]);
        let then = budget(&[("gauge", 100.0, None)]);
        let one = change((5_000.0, &now), (10_000.0, &then), of_gauge);
        assert!((one.budget.combined() - 50.0).abs() < 1e-9);
    }

    #[test]
    fn turned_round_it_is_the_same_change_the_other_way() {
        let a = budget(&[("gauge", 60.0, None), ("scatter", 25.0, Some(4.0))]);
        let b = budget(&[
            ("gauge", 55.0, None),
            ("scatter", 35.0, Some(2.0)),
            ("knob", 9.0, None),
        ]);
        for (x, y) in [(9_800.0, 9_500.0), (9_500.0, 9_800.0), (9_500.0, 9_500.0)] {
            let there = change((x, &a), (y, &b), of_gauge);
            let back = change((y, &b), (x, &a), of_gauge);
            assert!((there.difference + back.difference).abs() < 1e-9);
            assert!((there.expanded - back.expanded).abs() < 1e-9);
            let turned = match there.seen {
                Seen::Greater => Seen::Less,
                Seen::Less => Seen::Greater,
                Seen::None => Seen::None,
            };
            assert_eq!(back.seen, turned);
        }
    }
}
