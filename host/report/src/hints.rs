//! Likely causes with their evidence.
//!
//! In: hints of a check. Out: a list that says where each rule comes from; never a verdict.

use holdtrue_wording::HintWords;
use holdtrue_wording::words;
use maud::{Markup, html};

/// The hints of a check; nothing where there is none.
pub(crate) fn hints(hints: &[HintWords]) -> Markup {
    html! {
        @if !hints.is_empty() {
            h4 { "What the pattern points to" }
            table class="hints" {
                thead { tr { th { "evidence" } th { "look at" } th { "rule from" } } }
                tbody {
                    @for hint in hints {
                        tr {
                            td { (words::sentence(&hint.evidence)) }
                            td { (words::sentence(&hint.text)) }
                            td { (hint.provenance.words()) }
                        }
                    }
                }
            }
        }
    }
}
