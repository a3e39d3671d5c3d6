//! A change since another check, in a sentence. In: the difference, its uncertainty where it is known, and since when. Out:
//! `−0.31 ± 0.20 kN since 12 May 2026: weaker`.

use crate::digits::{Units, with_unit};
use holdtrue_metrology::change::Seen;

/// What is seen of a change, and how uncertain it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeenChange {
    /// Expanded uncertainty of the difference, two-sided 95 %.
    pub expanded: f64,
    /// What is seen of it.
    pub seen: Seen,
}

/// A figure beside the one it is compared with.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// What the figure is.
    pub figure: String,
    /// Its unit: `N` or `um`.
    pub unit: String,
    /// What it was.
    pub then: f64,
    /// What it is.
    pub now: f64,
    /// The change with its uncertainty; none where one of the two is not known.
    pub change: Option<SeenChange>,
    /// What it is compared with: `12 May 2026 (as left)`.
    pub since: String,
    /// What happened to the spindle between the two.
    pub between: Vec<String>,
}

/// The change of one figure.
pub fn compared(units: &Units, compared: &Compared) -> String {
    let difference = compared.now - compared.then;
    let digits = |value: f64| number(units, value.abs(), compared);
    let sign = match difference {
        0.0.. => '+',
        _ => '−',
    };
    let between = match compared.between.as_slice() {
        [] => String::new(),
        some => format!(" ({} since then)", some.join(", ")),
    };
    let since = format!("since {}{between}", compared.since);
    let symbol = match compared.unit.as_str() {
        "N" => units.force_symbol(),
        _ => units.length_symbol(),
    };
    match &compared.change {
        Some(change) => {
            let spread = format!("{sign}{} ± {}", digits(difference), digits(change.expanded));
            format!(
                "{} {since}: {}",
                with_unit(&spread, symbol),
                seen(change.seen, &compared.unit)
            )
        }
        None => format!(
            "{} {since}; whether that is a change cannot be said: the uncertainty of one of the two is not known",
            with_unit(&format!("{sign}{}", digits(difference)), symbol)
        ),
    }
}

/// Both figures, the earlier first: `5.84 → 10.22 kN`.
pub fn from_to(units: &Units, compared: &Compared) -> String {
    let now = units.in_unit(compared.now, &compared.unit);
    format!("{} → {now}", number(units, compared.then, compared))
}

/// With the digits of the figure it is a change of.
fn number(units: &Units, value: f64, compared: &Compared) -> String {
    let text = match compared.unit.as_str() {
        "N" => units.force_spread(value, compared.then),
        _ => return units.length_digits(value),
    };
    text.split('\u{a0}').next().unwrap_or_default().to_owned()
}

fn seen(seen: Seen, unit: &str) -> &'static str {
    match (seen, unit) {
        (Seen::None, _) => "no difference to be seen",
        (Seen::Greater, "N") => "stronger",
        (Seen::Less, "N") => "weaker",
        (Seen::Greater, _) => "more runout",
        (Seen::Less, _) => "less runout",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdtrue_metrology::change::change;
    use holdtrue_metrology::uncertainty::{Budget, Contribution};

    fn of(now: f64, then: f64, known: bool) -> Compared {
        // ± 0.196 kN at 95 %.
        let budget = Budget::new(vec![Contribution::new("scatter", 100.0, None)]);
        let nothing = Budget::default();
        Compared {
            figure: "mean grip force".to_owned(),
            unit: "N".to_owned(),
            then,
            now,
            change: known.then(|| {
                let change = change((now, &budget), (then, &nothing), |_| false);
                SeenChange {
                    expanded: change.expanded,
                    seen: change.seen,
                }
            }),
            since: "12 May 2026 (as found)".to_owned(),
            between: Vec::new(),
        }
    }

    #[test]
    fn a_change_is_said_with_its_uncertainty_and_what_is_seen_of_it() {
        let units = Units::default();
        let said = |of: &Compared| compared(&units, of).replace('\u{a0}', " ");
        assert_eq!(
            said(&of(9_500.0, 9_810.0, true)),
            "−0.31 ± 0.20 kN since 12 May 2026 (as found): weaker"
        );
        assert_eq!(
            said(&of(9_900.0, 9_810.0, true)),
            "+0.09 ± 0.20 kN since 12 May 2026 (as found): no difference to be seen"
        );
        let paper = said(&of(9_500.0, 9_810.0, false));
        assert!(paper.starts_with("−0.31 kN since 12 May 2026"), "{paper}");
        assert!(
            !paper.contains("weaker") && paper.contains("not known"),
            "{paper}"
        );
        let to = from_to(&units, &of(10_220.0, 5_840.0, true)).replace('\u{a0}', " ");
        assert_eq!(to, "5.84 → 10.22 kN");
        let repaired = Compared {
            between: vec!["springs changed".to_owned()],
            ..of(10_220.0, 5_840.0, true)
        };
        let said = said(&repaired);
        assert!(
            said.contains("(springs changed since then): stronger"),
            "{said}"
        );
    }
}
