//! Fixed wording: what stands on every page, and the names of figures and outcomes.
//!
//! In: enumerations. Out: the words of the trade, the same everywhere on the paper.

use crate::digits::height;
use holdtrue_metrology::decision::{Judged, Side};
use holdtrue_metrology::grip::result::StatedFigure;
use holdtrue_metrology::runout::Method;
use holdtrue_metrology::verdict::Repeated;
use holdtrue_terms::vocabulary::{At, Outcome, Provenance};

/// First printed line, always.
pub const FIRST_LINE: &str = "Local codes and site rules, the machine maker's instructions, and licensed or \
    qualified practice come before anything this program says.";

/// The verdict's word.
pub fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Accept => "within limit",
        Outcome::Reject => "outside limit",
        Outcome::Undecided => "undecided",
    }
}

/// How many sets of a visit were struck out, and its verdict without and with them; none where none was.
pub fn struck_out(sets: usize, without: Option<Outcome>, with: Option<Outcome>) -> Option<String> {
    let word = |verdict: Option<Outcome>| verdict.map_or("none", outcome);
    let (number, them) = match sets {
        0 => return None,
        1 => ("One set".to_owned(), "it"),
        more => (format!("{more} sets"), "them"),
    };
    Some(format!(
        "{number} struck out. Verdict of the visit without {them}: {}; with {them}: {}.",
        word(without),
        word(with)
    ))
}

/// "third set as left, two before it outside".
pub fn repeated(repeated: Repeated) -> String {
    const ORDINALS: [&str; 10] = [
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
        "tenth",
    ];
    const NUMBERS: [&str; 10] = [
        "none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
    ];
    let ordinal = ORDINALS.get(repeated.number - 1);
    let which = ordinal.map_or_else(
        || format!("set number {} as left", repeated.number),
        |ordinal| format!("{ordinal} set as left"),
    );
    let count = |count: usize| {
        let word = NUMBERS.get(count).copied();
        word.map_or_else(|| count.to_string(), str::to_owned)
    };
    let before = match (repeated.outside, repeated.undecided) {
        (outside, 0) => format!("{} before it outside", count(outside)),
        (0, undecided) => format!("{} before it undecided", count(undecided)),
        (outside, undecided) => format!(
            "{} before it outside, {} undecided",
            count(outside),
            count(undecided)
        ),
    };
    format!("{which}, {before}")
}

/// The verdict's word with a capital.
pub fn outcome_capital(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Accept => "Within limit",
        Outcome::Reject => "Outside limit",
        Outcome::Undecided => "Undecided",
    }
}

/// A figure that a paper states.
pub fn stated_figure(figure: StatedFigure) -> &'static str {
    match figure {
        StatedFigure::PeakN => "peak hold",
        StatedFigure::MeanN => "mean, noted",
        StatedFigure::LowestN => "lowest, noted",
    }
}

/// How a limit reads.
pub fn side(side: Side) -> &'static str {
    match side {
        Side::Lower => "at least",
        Side::Upper => "at most",
    }
}

/// Where a limit comes from; of a share, what it is a share of and where the share comes from.
///
/// In: a judged limit and how a figure is written in its unit.
pub fn limit_from(judged: &Judged, written: impl Fn(f64) -> String) -> String {
    let limit_from = judged.provenance.words();
    let Some(share) = judged.share else {
        return limit_from.to_owned();
    };
    let (percent, nominal) = (share.percent, written(share.nominal));
    match share.provenance {
        Provenance::Maker => {
            format!("{percent} % of the maker's nominal {nominal} ({percent} %: {limit_from})")
        }
        other if other == judged.provenance => {
            format!("{percent} % of the nominal {nominal} ({limit_from})")
        }
        other => format!(
            "{percent} % of the nominal {nominal} ({}; {percent} %: {limit_from})",
            other.words()
        ),
    }
}

/// A limit with where it comes from: "at least 7.00 kN (maker)".
pub fn limit_in_full(judged: &Judged, written: impl Fn(f64) -> String) -> String {
    let limit = format!("{} {}", side(judged.side), written(judged.limit));
    let from = limit_from(judged, written);
    if judged.share.is_some() {
        format!("{limit}, {from}")
    } else {
        format!("{limit} ({from})")
    }
}

/// Where an indicator stood.
pub fn surface(at: Option<At>) -> &'static str {
    match at {
        Some(At::Wall) => "taper wall",
        Some(At::Bar) => "test bar",
        Some(At::Face) => "face",
        Some(At::Axial) => "axial",
        None => "plane",
    }
}

/// Where a height is, as it follows a name: " at 20 mm", " 8 mm inside the mouth".
pub fn at_height(mm: f64) -> String {
    let height = height(mm);
    if mm < 0.0 {
        format!(" {height}")
    } else {
        format!(" at {height}")
    }
}

/// An eccentricity with its TIR: twice as much.
pub fn eccentricity(um: f64, written: impl Fn(f64) -> String) -> String {
    format!("e {} = TIR {}", written(um), written(2.0 * um))
}

/// How a plane was read.
pub fn method(method: Method) -> &'static str {
    match method {
        Method::Stepped => "stepped",
        Method::Free => "free turn",
        Method::Marked => "marked turns",
    }
}

/// A remark as a sentence: large first letter, full stop.
pub fn sentence(text: &str) -> String {
    let text = capital(text.trim());
    if text.ends_with(['.', '!', '?', ':']) {
        text
    } else {
        format!("{text}.")
    }
}

/// A sentence after a colon: without its capital, but for a name in capitals.
pub fn uncapital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next();
    if letters
        .as_str()
        .starts_with(|next: char| next.is_uppercase())
    {
        return text.to_owned();
    }
    first.map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

/// A sentence's first letter made large.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
