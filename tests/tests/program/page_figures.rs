//! Every figure on a customer's paper is one of the results, rounded: none is computed anew, typed or left from somewhere else.
//!
//! In: a rehearsal's JSON and its page. Out: each number with a unit on the page, held to the values of that kind in the JSON.

use crate::words::text_of;
use holdtrue_tests::bench;
use serde_json::Value;
use std::collections::BTreeMap;

/// Values of the JSON by their kind, as the page shows them: kN, N/s, µm, mm, °, s, %.
#[derive(Default)]
struct Known(BTreeMap<&'static str, Vec<f64>>);

impl Known {
    fn of(document: &Value) -> Self {
        let mut known = Self::default();
        known.walk("", document, "");
        known
    }

    fn put(&mut self, unit: &'static str, value: f64) {
        self.0.entry(unit).or_default().push(value.abs());
    }

    fn walk(&mut self, key: &str, value: &Value, unit: &'static str) {
        match value {
            Value::Number(number) => self.number(key, number.as_f64().expect("a number"), unit),
            Value::Array(all) => all.iter().for_each(|one| self.walk(key, one, unit)),
            Value::Object(all) => {
                let unit = match all.get("unit").and_then(Value::as_str) {
                    Some("N") => "kN",
                    Some("N/s") => "N/s",
                    Some("um") => "µm",
                    Some("mm") => "mm",
                    Some("%") => "%",
                    _ => unit,
                };
                self.derived(all);
                all.iter().for_each(|(key, one)| self.walk(key, one, unit));
            }
            Value::Null | Value::Bool(_) | Value::String(_) => {}
        }
    }

    fn number(&mut self, key: &str, value: f64, unit: &'static str) {
        let of_a_limit = ["limit", "measured", "guard", "nominal", "standard"];
        match key {
            _ if key.ends_with("_n_per_s") => self.put("N/s", value),
            _ if key.ends_with("_n") || key.ends_with("_n_per_clamp") => {
                self.put("kN", 1e-3 * value)
            }
            // An eccentricity is told as TIR, too, which is twice as much.
            _ if key.ends_with("eccentricity_um") || key == "offset_um" => {
                self.put("µm", value);
                self.put("µm", 2.0 * value);
            }
            // Told over the length of a test bar.
            "tilt_um_per_m" => self.put("µm", 0.3 * value),
            _ if key.ends_with("_um") => self.put("µm", value),
            _ if key.ends_with("_mm") => self.put("mm", value),
            _ if key.ends_with("_deg") => self.put("°", value),
            _ if key.ends_with("_s") => self.put("s", value),
            _ if key.ends_with("percent") => self.put("%", value),
            _ if of_a_limit.contains(&key) && unit == "kN" => self.put(unit, 1e-3 * value),
            _ if of_a_limit.contains(&key) && !unit.is_empty() => self.put(unit, value),
            _ => {}
        }
    }

    /// How long a clamp was held, a force as a share of the nominal, a contribution as a share of the variance.
    fn derived(&mut self, all: &serde_json::Map<String, Value>) {
        let number = |key: &str| all.get(key).and_then(Value::as_f64);
        if let (Some(from_s), Some(to_s)) = (number("clamped_s"), number("released_s")) {
            self.put("s", to_s - from_s);
        }
        let nominal = all.get("share").and_then(|share| share["nominal"].as_f64());
        if let (Some(measured), Some(nominal)) = (number("measured"), nominal) {
            self.put("%", 100.0 * measured / nominal);
        }
        if let (Some(measured), Some(limit)) = (number("measured"), number("limit")) {
            self.put("%", 100.0 * measured / limit);
        }
        let Some(budget) = all.get("budget").and_then(Value::as_array) else {
            return;
        };
        let squares = budget.iter().map(|row| {
            let of = |key: &str| row[key].as_f64();
            let standard = ["standard", "standard_n", "standard_um"]
                .into_iter()
                .find_map(of);
            standard.unwrap_or(0.0).powi(2)
        });
        let squares: Vec<f64> = squares.collect();
        let sum: f64 = squares.iter().sum();
        for square in squares {
            self.put("%", 100.0 * square / sum);
        }
    }

    fn holds(&self, digits: &str, unit: &str) -> bool {
        let shown: f64 = digits.parse().expect("digits");
        let places = digits.split_once('.').map_or(0, |(_, behind)| behind.len());
        let half = 0.5 * 10_f64.powi(-i32::try_from(places).expect("few")) * (1.0 + 1e-9);
        self.0
            .get(unit)
            .is_some_and(|all| all.iter().any(|value| (value - shown).abs() <= half))
    }
}

/// Numbers with a unit: digits, unit, and the words around them.
fn figures(text: &str) -> Vec<(&str, &'static str, &str)> {
    const UNITS: [&str; 7] = ["kN", "N/s", "µm", "mm", "°", "s", "%"];
    let mut found = Vec::new();
    let mut from = 0;
    while let Some(start) = text[from..].find(|letter: char| letter.is_ascii_digit()) {
        let start = from + start;
        let rest = &text[start..];
        let end = rest.find(|letter: char| !letter.is_ascii_digit() && letter != '.');
        let digits = rest[..end.unwrap_or(rest.len())].trim_end_matches('.');
        from = start + digits.len().max(1);
        let before = text[..start].chars().next_back();
        if before.is_some_and(|letter| letter.is_alphanumeric() || ".:-_".contains(letter)) {
            continue;
        }
        let behind = text[from..].trim_start_matches(' ');
        let unit = UNITS.into_iter().find(|unit| {
            let after = behind.strip_prefix(unit).map(|after| after.chars().next());
            after.is_some_and(|next| {
                !next.is_some_and(|letter| letter.is_alphanumeric() || letter == '/')
            })
        });
        if let Some(unit) = unit {
            let around = |at: usize| {
                (at..=text.len())
                    .find(|&at| text.is_char_boundary(at))
                    .unwrap_or(text.len())
            };
            let words =
                &text[around(start.saturating_sub(60))..around((from + 40).min(text.len()))];
            found.push((digits, unit, words));
        }
    }
    found
}

/// What stands on the paper and is no result: how sure, marks on an axis, the certificates of the simulated gauge.
fn is_no_result(digits: &str, unit: &str, around: &str) -> bool {
    let certificate = ["of the reading", "rated load", "(k = 2)"];
    match (unit, digits) {
        ("%", "95" | "5") | ("°", "0" | "90" | "180" | "270") => true,
        ("kN", _) if around.contains("kN against s") => true,
        ("s", _) if around.contains("clamps in ") => true,
        // The ring of a picture of eccentricities is a round number.
        ("µm", "0.5" | "1.0" | "2.0" | "5.0" | "10.0" | "20.0" | "50.0") => {
            around.contains("seating 1, bar at")
        }
        _ => certificate.iter().any(|words| around.contains(words)),
    }
}

#[test]
fn every_figure_on_the_paper_is_a_result() {
    for condition in ["sound", "weak-springs", "dirty-taper", "tilted-taper"] {
        // A book of its own: what has changed since another visit is not in this visit's results.
        let bench = bench!();
        let line = format!("rehearse --condition {condition} --seed 11 --json");
        let run = bench.line(&line);
        let document = run.json();
        let known = Known::of(&document);
        let page = bench.path(document["page"].as_str().expect("a path"));
        let text = text_of(&std::fs::read_to_string(page).expect("the page"));
        let all = figures(&text);
        let held: Vec<_> = all
            .iter()
            .filter(|(digits, unit, around)| !is_no_result(digits, unit, around))
            .collect();
        assert!(held.len() > 250, "{condition}: only {} figures", held.len());
        for (digits, unit, around) in held {
            assert!(
                known.holds(digits, unit),
                "{condition}: {digits} {unit} is no result: … {around} …"
            );
        }
        // And a figure that is off by its last digits would be seen.
        let wrong = all.iter().filter(|(digits, unit, _)| {
            let off = format!(
                "{:.3}",
                digits.parse::<f64>().expect("digits") * 1.7 + 0.137
            );
            *unit == "kN" && known.holds(&off, unit)
        });
        assert!(wrong.count() < 3, "anything would do");
    }
}
