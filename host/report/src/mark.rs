//! The mark beside a verdict: a bar and the edge it has to clear.
//!
//! In: an outcome. Out: a small drawing that tells the three apart in black and white, and in the dark: the bar stands
//! clear of the hatched edge, lies behind it, or lies across it. The word comes first; the mark repeats it.

use holdtrue_terms::vocabulary::Outcome;
use maud::{Markup, html};

/// The mark of an outcome, or of "not judged".
pub(crate) fn mark(outcome: Option<Outcome>) -> Markup {
    html! {
        svg class="mark" viewBox="0 0 64 28" width="64" height="28" aria-hidden="true" {
            path class="hatch" d="M8 26 L16 18 M8 20 L20 8 M8 14 L20 2 M8 8 L14 2 M14 26 L20 20" {}
            path class="edge" d="M22 1 V27" {}
            @match outcome {
                Some(Outcome::Accept) => rect class="bar" x="30" y="9" width="30" height="10" {}
                Some(Outcome::Reject) => rect class="bar open" x="2" y="9" width="16" height="10" {}
                Some(Outcome::Undecided) => {
                    rect class="bar open" x="8" y="9" width="14" height="10" {}
                    rect class="bar" x="22" y="9" width="14" height="10" {}
                }
                None => {}
            }
        }
    }
}
