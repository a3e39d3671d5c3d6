//! Fixed wording: what stands on every page, and the names of figures and outcomes.
//!
//! In: enumerations. Out: the words of the trade, the same everywhere on the paper.

use holdtrue_metrology::decision::{Figure, Outcome, Side};
use holdtrue_metrology::runout::At;
use holdtrue_metrology::runout::Method;

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

/// The verdict's word with a capital.
pub fn outcome_capital(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Accept => "Within limit",
        Outcome::Reject => "Outside limit",
        Outcome::Undecided => "Undecided",
    }
}

/// The figure a limit is for.
pub fn figure(figure: Figure) -> &'static str {
    match figure {
        Figure::GripMean => "mean grip force",
        Figure::GripLowest => "lowest clamp",
        Figure::GripScatter => "scatter of the clamps",
        Figure::GripSag => "drop while held",
        Figure::Tir => "TIR",
        Figure::FourSeatings => "mean TIR of four seatings",
        Figure::SpindlePart => "spindle part (2 × eccentricity)",
        Figure::Seat => "seat repeatability",
    }
}

/// How a limit reads.
pub fn side(side: Side) -> &'static str {
    match side {
        Side::Lower => "at least",
        Side::Upper => "at most",
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

/// A sentence's first letter made large.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
