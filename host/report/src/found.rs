//! The first two sections: what we found, and what to do.
//!
//! In: a document. Out: the verdict of each check, its word first; then what follows from it, most pressing first.

use crate::checked::{Checked, checks};
use crate::document::{Document, Finding};
use crate::ladder::judged_name;
use crate::mark::mark;
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::vocabulary::{Outcome, Severity, State};
use holdtrue_wording::{CheckWords, words};
use maud::{Markup, html};

/// What we found.
pub(crate) fn found(document: &Document) -> Markup {
    let checks = checks(document);
    html! {
        section {
            h2 { "What we found" }
            @if let Some(headline) = &document.headline { p class="headline" { "Grip force " (headline) "." } }
            @for check in &checks { (verdict(check)) }
            @if checks.is_empty() { p { "Neither grip force nor runout was measured." } }
            (findings(&document.findings))
            (not_examined(document))
            (later(document))
        }
    }
}

fn verdict(check: &Checked) -> Markup {
    let outcome = check.verdict.map(|verdict| verdict.outcome);
    html! {
        div class="verdict" {
            p class="word" { (outcome.map_or("Not judged", words::outcome_capital)) }
            (mark(outcome))
            div class="what" {
                h3 { (check.title) }
                @for line in &check.summary { p { (line) } }
                @match check.verdict {
                    None => p { "No limit was set, so there is no verdict." },
                    Some(verdict) => (reasons(verdict, check.words)),
                }
                @if check.typed_by_hand { p class="flag" { "Typed by hand, no record." } }
            }
        }
    }
}

fn reasons(verdict: &Verdict, words: &CheckWords) -> Markup {
    let said = words.verdict.iter().flat_map(|verdict| &verdict.reasons);
    html! {
        @for reason in said { p class="reason" { (words::sentence(reason)) } }
        @for limit in verdict.limits.iter().filter(|limit| limit.watch) {
            p class="flag" { "Watch: " (judged_name(limit)) " is within its limit, but near it." }
        }
    }
}

fn findings(findings: &[Finding]) -> Markup {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|finding| finding.severity.map_or(9, |severity| severity as u8));
    html! {
        @if !sorted.is_empty() {
            h3 { "Seen on the machine" }
            table class="findings" {
                thead { tr { th { "urgency" } th { "item" } th { "found" } } }
                tbody {
                    @for finding in sorted {
                        tr {
                            td class="urgency" { (finding.severity.map_or("in order", Severity::words)) }
                            td { (finding.item) }
                            td { (finding.text) }
                        }
                    }
                }
            }
        }
    }
}

/// What came too late to be part of the visit is not part of its findings; that it is there is said where they are.
fn later(document: &Document) -> Markup {
    html! {
        @if !document.later.is_empty() {
            h3 { "Added after the visit was finished" }
            p { "None of this is covered by the check code, and none of it changes a figure or a finding on this page." }
            ul { @for said in &document.later { li { (said.text) " (" (said.who) ", " (said.at) ")" } } }
        }
    }
}

fn not_examined(document: &Document) -> Markup {
    html! {
        @if !document.not_examined.is_empty() {
            h3 { "Not examined" }
            ul class="plain" {
                @for item in &document.not_examined {
                    li { strong { (item.item) } ": not examined, because " (item.because) "." }
                }
            }
        }
    }
}

/// What to do.
pub(crate) fn to_do(document: &Document) -> Markup {
    let steps = steps(document);
    html! {
        section {
            h2 { "What to do" }
            @if steps.is_empty() {
                p { "Nothing follows from the items examined. Measure again at the next visit: one reading says little, a row of them tells whether the spindle is getting weaker." }
            } @else {
                ol class="steps" { @for step in &steps { li { (step) } } }
            }
        }
    }
}

fn steps(document: &Document) -> Vec<Markup> {
    let all = checks(document);
    let overtaken_by = |place: usize| overtaking(&all[place], &all[place + 1..]);
    let standing = |place: &usize| overtaken_by(*place).is_none();
    let checks: Vec<&Checked> = (0..all.len())
        .filter(standing)
        .map(|place| &all[place])
        .collect();
    let mut steps = Vec::new();
    for check in checks
        .iter()
        .filter(|check| outcome(check) == Some(Outcome::Reject))
    {
        steps.push(html! {
            strong { (check.title) " is outside its limit. " }
            "A qualified person decides on further use, after the cause has been looked for."
        });
    }
    steps.extend(of_severity(document, Severity::BeforeUse));
    for check in &checks {
        for hint in &check.words.hints {
            steps.push(html! {
                (words::sentence(&hint.text))
                span class="source" { " Likely cause, " (hint.provenance.words()) "; evidence below." }
            });
        }
    }
    for check in checks.iter().filter(|check| check.verdict.is_none()) {
        steps.push(html! {
            strong { (check.title) " was not judged: " }
            "with a limit, best the machine maker's own figure, the same record gives a verdict."
        });
    }
    for check in &checks {
        let said = check.words.verdict.as_ref();
        if let Some(would_decide) = said.and_then(|verdict| verdict.would_decide.as_deref()) {
            steps.push(
                html! { strong { (check.title) " would be decided by: " } (words::sentence(would_decide)) },
            );
        }
        if check
            .verdict
            .is_some_and(|verdict| verdict.limits.iter().any(|limit| limit.watch))
        {
            steps.push(html! { strong { (check.title) ": " } "measure again at the next visit." });
        }
    }
    for (place, found) in all.iter().enumerate() {
        if let Some(left) = overtaken_by(place).and_then(|left| was_put_right(found, left)) {
            steps.push(left);
        }
    }
    steps.extend(of_severity(document, Severity::Soon));
    steps.extend(of_severity(document, Severity::Later));
    steps
}

/// The set taken as left that says what is still to do in place of this one: one that is judged, or that is judged no
/// less. A verdict is not overtaken by a set without one.
fn overtaking<'a>(check: &Checked, later: &'a [Checked<'a>]) -> Option<&'a Checked<'a>> {
    later.iter().rev().find(|left| {
        left.what == check.what
            && left.state == Some(State::AsLeft)
            && (left.verdict.is_some() || check.verdict.is_none())
    })
}

/// What was not within its limit and is now: whether it lasts is seen at the next visit.
fn was_put_right(found: &Checked, left: &Checked) -> Option<Markup> {
    let was = outcome(found).filter(|was| *was != Outcome::Accept)?;
    (outcome(left) == Some(Outcome::Accept)).then(|| {
        html! {
            strong { (found.title) " was " (words::outcome(was)) ", as left it is within limit: " }
            "measure again at the next visit, to see whether it lasts."
        }
    })
}

fn outcome(check: &Checked) -> Option<Outcome> {
    check.verdict.map(|verdict| verdict.outcome)
}

fn of_severity(document: &Document, severity: Severity) -> impl Iterator<Item = Markup> {
    let chosen = document
        .findings
        .iter()
        .filter(move |finding| finding.severity == Some(severity));
    chosen.map(move |finding| {
        html! { strong { (words::capital(severity.words())) ": " } (finding.item) ", " (finding.text) }
    })
}
