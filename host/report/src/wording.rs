//! Remarks, reasons and causes in the units a person chose. In: texts as the analysis wrote them, in N, kN, N/s and µm. Out:
//! the same texts, their figures in the chosen units.
//!
//! The analysis writes its sentences once, for the book and for programs; this is the one place where a figure inside a
//! sentence is turned into another unit.

use crate::digits::Units;
use holdtrue_metrology::decision::Verdict;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::hint::Hint;
use holdtrue_metrology::runout::RunoutResult;

/// Units the analysis writes in, and what one is in N, N/s or µm.
const WRITTEN: [(&str, &str, f64); 4] = [
    ("N", "N", 1.0),
    ("kN", "N", 1000.0),
    ("N/s", "N/s", 1.0),
    ("µm", "um", 1.0),
];

impl Units {
    /// A sentence with its figures in these units; the usual units leave it as it is.
    pub fn in_sentence(&self, text: &str) -> String {
        if *self == Self::default() {
            return text.to_owned();
        }
        let words: Vec<&str> = text.split([' ', '\u{a0}']).collect();
        let mut said: Vec<String> = Vec::with_capacity(words.len());
        for (at, word) in words.iter().enumerate() {
            match self.figure(&words[..at], word) {
                Some((replaces, figure)) => {
                    said.truncate(said.len() - replaces);
                    said.push(figure);
                }
                None => said.push((*word).to_owned()),
            }
        }
        said.join(" ")
    }

    /// The figure that ends with this unit, and how many words before the unit belong to it.
    fn figure(&self, before: &[&str], word: &str) -> Option<(usize, String)> {
        let symbol = word.trim_end_matches([',', '.', ';', ':', ')', '?', '!']);
        let after = &word[symbol.len()..];
        let &(_, unit, factor) = WRITTEN.iter().find(|(name, _, _)| *name == symbol)?;
        let number = before.last()?;
        let opening = &number[..number.len() - number.trim_start_matches('(').len()];
        let number = &number[opening.len()..];
        let figure = |text: &str| Some(self.in_unit(factor * parse(text)?, unit));
        if let Some((low, high)) = number.split_once('–') {
            let (low, high) = (figure(low)?, figure(high)?);
            let low = low.split('\u{a0}').next()?;
            return Some((1, format!("{opening}{low}–{high}{after}")));
        }
        let high = figure(number)?;
        if let [.., low, "to", _] = before
            && let Some(low) = figure(low.trim_start_matches('('))
        {
            let low = low.split('\u{a0}').next()?;
            return Some((3, format!("{low} to {high}{after}")));
        }
        Some((1, format!("{opening}{high}{after}")))
    }
}

fn parse(number: &str) -> Option<f64> {
    let number: f64 = number.replace('\u{2212}', "-").parse().ok()?;
    number.is_finite().then_some(number)
}

/// A result whose sentences can be put into other units.
pub trait Sentences: Clone {
    /// Every sentence in it.
    fn sentences(&mut self) -> Vec<&mut String>;

    /// The same with its sentences in these units.
    #[must_use]
    fn worded_in(&self, units: &Units) -> Self {
        let mut worded = self.clone();
        for text in worded.sentences() {
            *text = units.in_sentence(text);
        }
        worded
    }
}

impl Sentences for GripResult {
    fn sentences(&mut self) -> Vec<&mut String> {
        let clamps = self.clamps.iter_mut().flat_map(|clamp| &mut clamp.notes);
        clamps
            .chain(&mut self.notes)
            .chain(self.uncertainty.iter_mut().map(|u| &mut u.in_words))
            .chain(self.verdict.iter_mut().flat_map(of_verdict))
            .chain(self.hints.iter_mut().flat_map(of_hint))
            .collect()
    }
}

impl Sentences for RunoutResult {
    fn sentences(&mut self) -> Vec<&mut String> {
        let planes = self.planes.iter_mut().flat_map(|plane| &mut plane.notes);
        planes
            .chain(&mut self.notes)
            .chain(self.uncertainty.iter_mut().map(|u| &mut u.in_words))
            .chain(self.verdict.iter_mut().flat_map(of_verdict))
            .chain(self.hints.iter_mut().flat_map(of_hint))
            .collect()
    }
}

fn of_verdict(verdict: &mut Verdict) -> impl Iterator<Item = &mut String> {
    let would = verdict.would_decide.iter_mut().map(|would| &mut would.text);
    verdict.reasons.iter_mut().chain(would)
}

fn of_hint(hint: &mut Hint) -> [&mut String; 2] {
    [&mut hint.text, &mut hint.evidence]
}

#[cfg(test)]
mod tests {
    use super::*;
    use holdtrue_terms::units::{ForceUnit, LengthUnit};

    const INCH: Units = Units {
        force: ForceUnit::Lbf,
        length: LengthUnit::Tenth,
    };

    #[test]
    fn figures_in_a_sentence_follow_the_chosen_units() {
        let said = |text| INCH.in_sentence(text).replace('\u{a0}', " ");
        assert_eq!(
            said("inside the usual range of 8–12 kN (common practice)"),
            "inside the usual range of 1798–2698 lbf (common practice)"
        );
        assert_eq!(
            said("2.50 kN on a gauge rated 20.00 kN."),
            "562 lbf on a gauge rated 4496 lbf."
        );
        assert_eq!(
            said("the spindle alone runs out 5.1 µm, the bar 2.5 µm: clean"),
            "the spindle alone runs out 2.0 tenths (0.00020 in), the bar 1.0 tenths (0.00010 in): clean"
        );
        assert_eq!(
            said("from 1 to 2 kN (1000 N)"),
            "from 225 to 450 lbf (225 lbf)"
        );
    }

    #[test]
    fn what_is_no_figure_and_what_is_in_the_usual_units_stays() {
        for text in [
            "a second set of 5 clamps at 0° and 90°, 3.1 s each",
            "N for a newton, kN for a thousand",
        ] {
            assert_eq!(Units::default().in_sentence(text), text);
        }
        assert_eq!(
            INCH.in_sentence("5 clamps over 3.1 s, CV 3 %"),
            "5 clamps over 3.1 s, CV 3 %"
        );
        let usual = "drops 3.2 N/s, 1.5 µm";
        assert_eq!(Units::default().in_sentence(usual), usual);
        assert_eq!(
            INCH.in_sentence(usual),
            "drops 0.7\u{a0}lbf/s, 0.6\u{a0}tenths (0.00006\u{a0}in)"
        );
    }
}
