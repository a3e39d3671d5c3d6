//! What a finding says besides words: a measured value against the maker's figure, what mending it may cost and how long it
//! takes. In: as people write it. Out: values, their sentences, sums by urgency.

use crate::terminal::error::Error;
use crate::terminal::parse::currency;
use crate::visits::arguments::EstimateArgs;
use crate::visits::corrected::CorrectedFinding;
use holdtrue_book::{Finding, FindingKind, Json};
use holdtrue_terms::quantity;
use holdtrue_terms::vocabulary::Severity;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

/// From the least to the most; both the same where one figure was said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Range {
    /// The least.
    pub from: f64,
    /// The most.
    pub to: f64,
}

impl Range {
    /// To a hundredth: a sum of prices has no more.
    fn and(self, other: Self) -> Self {
        let sum = |one: f64, other: f64| ((one + other) * 100.0).round() / 100.0;
        Self {
            from: sum(self.from, other.from),
            to: sum(self.to, other.to),
        }
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { from, to } = self;
        match from < to {
            true => write!(f, "{from} to {to}"),
            false => write!(f, "{from}"),
        }
    }
}

/// What people write between two figures.
const BETWEEN: [&str; 5] = [" to ", "...", "..", "\u{2013}", "-"];

/// "400 to 600", "400-600", "450": no figure below zero.
fn range(text: &str) -> Result<Range, String> {
    let parts = BETWEEN.iter().find_map(|word| text.split_once(word));
    let (from, to) = parts.unwrap_or((text, text));
    let number = |text: &str| quantity::number(text).map_err(|error| error.to_string());
    let range = Range {
        from: number(from)?,
        to: number(to)?,
    };
    if range.from < 0.0 || range.from > range.to {
        return Err(format!(
            "found \"{}\", expected one figure, or the lower one first, such as 400 to 600",
            text.trim()
        ));
    }
    Ok(range)
}

/// What mending it may cost: an estimate, not an offer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cost {
    /// In its currency.
    #[serde(flatten)]
    pub range: Range,
    /// Three letters, such as EUR; empty until the settings say which is meant.
    pub currency: String,
}

impl FromStr for Cost {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let sign =
            |c: char| !(c.is_ascii_digit() || c.is_whitespace() || ".,-\u{2013}".contains(c));
        let text = text.trim();
        // "to" is no currency, nor are the letters before it a unit of the first figure.
        let plain = text.replace(" to ", "-");
        let named: String = plain.chars().filter(|c| sign(*c)).collect();
        let figures: String = plain.chars().filter(|c| !sign(*c)).collect();
        let currency = match named.as_str() {
            "" => String::new(),
            named => currency(named)?,
        };
        Ok(Self {
            range: range(figures.trim())?,
            currency,
        })
    }
}

impl Cost {
    /// With the currency of the settings where none was said.
    ///
    /// # Errors
    /// Neither says one.
    pub fn in_currency(self, usual: Option<&str>) -> Result<Self, String> {
        if !self.currency.is_empty() {
            return Ok(self);
        }
        let currency = usual.ok_or_else(|| {
            format!(
                "found {} without a currency, expected one behind it, such as {} EUR. For good: holdtrue settings --currency EUR",
                self.range, self.range
            )
        })?;
        Ok(Self {
            currency: currency.to_owned(),
            ..self
        })
    }
}

impl fmt::Display for Cost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.range, self.currency)
    }
}

/// Hours of work.
///
/// # Errors
/// No range of figures.
pub fn hours(text: &str) -> Result<Range, String> {
    let bare = text.trim().trim_end_matches('h').trim_end_matches("hours");
    range(bare.trim())
}

/// A figure with the unit it was read in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The figure.
    pub value: f64,
    /// Its unit, as written.
    pub unit: String,
}

impl FromStr for Measured {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (figure, unit) = quantity::split(text);
        if unit.is_empty() {
            return Err(format!(
                "found \"{text}\", expected a figure with its unit, such as 0.35 mm"
            ));
        }
        Ok(Self {
            value: quantity::number(figure).map_err(|error| error.to_string())?,
            unit: one_spelling(unit),
        })
    }
}

/// Units are kept as they are written; of a micrometre there are three ways to write the same.
fn one_spelling(unit: &str) -> String {
    match unit.trim() {
        "um" | "\u{3bc}m" => "\u{b5}m".to_owned(),
        other => other.to_owned(),
    }
}

impl fmt::Display for Measured {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.value, self.unit)
    }
}

/// What the maker allows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Allowed {
    /// The least, where there is one.
    pub least: Option<f64>,
    /// The most, where there is one.
    pub most: Option<f64>,
    /// Unit of both.
    pub unit: String,
}

impl FromStr for Allowed {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || {
            format!(
                "found \"{text}\", expected what the maker allows: 0.3 to 0.5 mm, at least 85 %, or at most 0.02 mm"
            )
        };
        let bare = text.trim();
        let one = |rest: &str| rest.parse::<Measured>().map_err(|_| wrong());
        if let Some(rest) = bare.strip_prefix("at least ") {
            let Measured { value, unit } = one(rest)?;
            return Ok(Self {
                least: Some(value),
                most: None,
                unit,
            });
        }
        if let Some(rest) = bare.strip_prefix("at most ") {
            let Measured { value, unit } = one(rest)?;
            return Ok(Self {
                least: None,
                most: Some(value),
                unit,
            });
        }
        let parts = BETWEEN.iter().find_map(|word| bare.split_once(word));
        let (from, to) = parts.ok_or_else(wrong)?;
        let Measured { value, unit } = one(to)?;
        // The unit may stand behind both.
        let from = quantity::split(from).0;
        let least = quantity::number(from).map_err(|_| wrong())?;
        match least <= value {
            true => Ok(Self {
                least: Some(least),
                most: Some(value),
                unit,
            }),
            false => Err(wrong()),
        }
    }
}

impl fmt::Display for Allowed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { least, most, unit } = self;
        match (least, most) {
            (Some(least), Some(most)) => write!(f, "{least} to {most} {unit}"),
            (Some(least), None) => write!(f, "at least {least} {unit}"),
            (None, Some(most)) => write!(f, "at most {most} {unit}"),
            (None, None) => Ok(()),
        }
    }
}

/// What a finding says besides words, as the book keeps it. Another tool's own fields beside these stay what they are.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// What was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub measured: Option<Measured>,
    /// What the maker allows of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker: Option<Allowed>,
    /// What mending may cost.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<Cost>,
    /// Hours of work.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours: Option<Range>,
    /// The item of the condition round it answers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub round: Option<String>,
}

impl Estimate {
    /// Of a finding; nothing where another tool wrote something else.
    pub fn of(finding: &Finding) -> Self {
        finding.content.read().unwrap_or_default()
    }

    /// Whether it can be said of such a finding.
    ///
    /// # Errors
    /// What is wrong, and what to do.
    pub fn fits(&self, kind: FindingKind) -> Result<(), String> {
        if kind == FindingKind::NotExamined && self.measured.is_some() {
            return Err("what was measured was examined: it is found, or in order".to_owned());
        }
        if kind != FindingKind::Found && (self.cost.is_some() || self.hours.is_some()) {
            return Err("a cost or hours: only something found is mended".to_owned());
        }
        match (&self.measured, &self.maker) {
            (None, Some(maker)) => Err(format!(
                "the maker's figure, {maker}, judges a measured value, and none was named"
            )),
            (Some(measured), Some(maker)) if measured.unit != maker.unit => Err(format!(
                "the value is in {}, the maker's figure in {}: expected one unit for both",
                measured.unit, maker.unit
            )),
            _ => Ok(()),
        }
    }

    /// Whether what was measured is as the maker allows it; none without the maker's figure.
    pub fn within(&self) -> Option<bool> {
        let (measured, maker) = (self.measured.as_ref()?, self.maker.as_ref()?);
        let least = maker.least.is_none_or(|least| measured.value >= least);
        let most = maker.most.is_none_or(|most| measured.value <= most);
        Some(least && most)
    }

    /// "measured 0.62 mm, the maker's figure is 0.3 to 0.5 mm: outside it".
    pub fn measured_words(&self) -> Option<String> {
        let measured = self.measured.as_ref()?;
        let judged = match (&self.maker, self.within()) {
            (Some(maker), Some(true)) => format!("the maker's figure is {maker}: within it"),
            (Some(maker), Some(false)) => format!("the maker's figure is {maker}: outside it"),
            _ => "no maker's figure known: not judged".to_owned(),
        };
        Some(format!("measured {measured}, {judged}"))
    }

    /// "estimate 400 to 600 EUR, 2 to 4 h".
    pub fn estimate_words(&self) -> Option<String> {
        let cost = self.cost.as_ref().map(Cost::to_string);
        let hours = self.hours.map(|hours| format!("{hours} h"));
        let both: Vec<String> = cost.into_iter().chain(hours).collect();
        (!both.is_empty()).then(|| format!("estimate {}", both.join(", ")))
    }
}

/// A part of an estimate in words, by the name the book has for it; none where it is no such part.
pub fn part_words(part: &str, json: &Json) -> Option<String> {
    match part {
        "measured" => json.read::<Measured>().ok().map(|value| value.to_string()),
        "maker" => json.read::<Allowed>().ok().map(|maker| maker.to_string()),
        "cost" => json.read::<Cost>().ok().map(|cost| cost.to_string()),
        "hours" => json.read::<Range>().ok().map(|hours| format!("{hours} h")),
        _ => None,
    }
}

impl EstimateArgs {
    /// As the book keeps it.
    ///
    /// # Errors
    /// A cost without a currency, where the settings have none: exit 2.
    pub fn estimate(&self, currency: Option<&str>) -> Result<Estimate, Error> {
        let cost = self.cost.clone().map(|cost| cost.in_currency(currency));
        let cost = cost.transpose();
        Ok(Estimate {
            measured: self.measured.clone(),
            maker: self.maker.clone(),
            cost: cost.map_err(|told| Error::usage(format!("--cost: {told}")))?,
            hours: self.hours,
            round: None,
        })
    }
}

/// What findings of one urgency come to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sum {
    /// How urgent.
    #[serde(serialize_with = "word")]
    pub severity: Severity,
    /// How many were found.
    pub findings: usize,
    /// How many of them have no cost.
    pub without_cost: usize,
    /// One a currency.
    pub costs: Vec<Cost>,
    /// Of those that have them.
    pub hours: Option<Range>,
}

fn word<S: serde::Serializer>(severity: &Severity, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(severity.word())
}

impl Sum {
    /// Of the findings that count, most urgent first.
    pub fn of(findings: &[CorrectedFinding]) -> Vec<Self> {
        let each = Severity::ALL.iter().filter_map(|severity| {
            let counted: Vec<Estimate> = findings
                .iter()
                .filter(|each| each.struck.is_none() && each.finding.severity == Some(*severity))
                .map(|each| Estimate::of(&each.finding))
                .collect();
            (!counted.is_empty()).then(|| Self::over(*severity, &counted))
        });
        each.collect()
    }

    fn over(severity: Severity, counted: &[Estimate]) -> Self {
        let mut costs: BTreeMap<&str, Range> = BTreeMap::new();
        for cost in counted.iter().filter_map(|each| each.cost.as_ref()) {
            let sum = costs.entry(&cost.currency).or_default();
            *sum = sum.and(cost.range);
        }
        let costs = costs.into_iter().map(|(currency, range)| Cost {
            range,
            currency: currency.to_owned(),
        });
        Self {
            severity,
            findings: counted.len(),
            without_cost: counted.iter().filter(|each| each.cost.is_none()).count(),
            costs: costs.collect(),
            hours: counted
                .iter()
                .filter_map(|each| each.hours)
                .reduce(Range::and),
        }
    }

    /// Whether anything was estimated.
    pub fn is_estimated(&self) -> bool {
        !self.costs.is_empty() || self.hours.is_some()
    }

    /// "400 to 600 EUR and 200 USD"; nothing where no cost is known.
    pub fn cost_words(&self) -> Option<String> {
        let each: Vec<String> = self.costs.iter().map(Cost::to_string).collect();
        let all = each.join(" and ");
        (!all.is_empty()).then(|| match self.without_cost {
            0 => all,
            more => format!("{all}, and {more} without an estimate"),
        })
    }

    /// "within weeks: 3 findings, 400 to 600 EUR, and 1 without an estimate, 2 to 4 h".
    pub fn line(&self) -> String {
        let findings = match self.findings {
            1 => "1 finding".to_owned(),
            more => format!("{more} findings"),
        };
        let hours = self.hours.map(|hours| format!("{hours} h"));
        let parts = [Some(findings), self.cost_words(), hours];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        format!("{}: {}", self.severity.words(), parts.join("; "))
    }
}

/// The sums in words, where anything was estimated; what they are, first.
pub fn sum_lines(findings: &[CorrectedFinding]) -> Vec<String> {
    let sums = Sum::of(findings);
    if !sums.iter().any(Sum::is_estimated) {
        return Vec::new();
    }
    let head = "What mending may cost: an estimate, not an offer.".to_owned();
    let each = sums.iter().map(|sum| format!("    {}", sum.line()));
    std::iter::once(head).chain(each).collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn costs_are_read_as_people_write_them() {
        for (text, expected) in [
            ("400 to 600 EUR", "400 to 600 EUR"),
            ("400-600 eur", "400 to 600 EUR"),
            ("400\u{2013}600\u{20ac}", "400 to 600 EUR"),
            ("EUR 400 to 600", "400 to 600 EUR"),
            ("400 EUR to 600 EUR", ""),
            ("1250.50 USD", "1250.5 USD"),
            ("0 to 100 GBP", "0 to 100 GBP"),
            ("1,200 EUR", ""),
            ("600 to 400 EUR", ""),
            ("-5 EUR", ""),
            ("some EUR", ""),
            ("400 Euro", ""),
            ("", ""),
            ("400 to EUR", ""),
            ("NaN EUR", ""),
        ] {
            let read = text.parse::<Cost>().map(|cost| cost.to_string());
            assert_eq!(read.unwrap_or_default(), expected, "{text}");
        }
        let bare: Cost = "400".parse().unwrap();
        assert!(bare.clone().in_currency(None).is_err());
        assert_eq!(
            bare.in_currency(Some("SEK")).unwrap().to_string(),
            "400 SEK"
        );
        assert_eq!(hours("2 to 4 h").unwrap().to_string(), "2 to 4");
        assert_eq!(hours("1,5").unwrap().to_string(), "1.5");
    }

    #[test]
    fn a_value_is_held_to_the_makers_figure_and_to_nothing_else() {
        let judged = |measured: &str, maker: &str| {
            let estimate = Estimate {
                measured: Some(measured.parse().unwrap()),
                maker: Some(maker.parse().unwrap()),
                ..Estimate::default()
            };
            estimate
                .fits(FindingKind::Found)
                .map(|()| estimate.within())
        };
        for (measured, maker, within) in [
            ("0.35 mm", "0.3 to 0.5 mm", true),
            ("0.5 mm", "0.3 mm to 0.5 mm", true),
            ("0.51 mm", "0.3-0.5 mm", false),
            ("0.29 mm", "0.3..0.5mm", false),
            ("85 %", "at least 85 %", true),
            ("84 %", "at least 85 %", false),
            ("0.02 mm", "at most 0.02 mm", true),
            ("0.03 mm", "at most 0.02 mm", false),
        ] {
            assert_eq!(
                judged(measured, maker),
                Ok(Some(within)),
                "{measured}, {maker}"
            );
        }
        assert!(judged("20 \u{b5}m", "at most 0.02 mm").is_err());
        for wrong in ["0.4 mm", "at least mm", "0.5 to 0.3 mm", "at most 3", ""] {
            assert!(wrong.parse::<Allowed>().is_err(), "{wrong}");
        }
    }
}
