//! The first two sections: what we found, and what to do.
//!
//! In: a document. Out: the verdict of each check, its word first; then what follows from it, most pressing first.

use crate::checked::{Checked, checks};
use crate::document::{Document, Finding, Sum};
use crate::ladder::judged_name;
use crate::mark::mark;
use base64::prelude::{BASE64_STANDARD, Engine as _};
use holdtrue_metrology::verdict::{Set, Verdict, of_visit, overtaken_by, repeated};
use holdtrue_terms::vocabulary::{Outcome, Severity};
use holdtrue_wording::{CheckWords, words};
use maud::{Markup, html};

/// What we found.
pub(crate) fn found(document: &Document) -> Markup {
    let checks = checks(document);
    html! {
        section {
            h2 { "What we found" }
            @if let Some(headline) = &document.headline { p class="headline" { "Grip force " (headline) "." } }
            @if let Some(struck) = struck_out(&checks) { p class="flag" { (struck) } }
            @for line in repeated_until_within(&checks) { p class="flag" { (line) } }
            @for check in &checks { (verdict(check)) }
            @if checks.is_empty() { p { "Neither grip force nor runout was measured." } }
            (findings(&document.findings, &document.sums))
            (not_examined(document))
            (later(document))
        }
    }
}

/// That sets were struck out, and the verdict of the visit without and with them.
fn struck_out(checks: &[Checked]) -> Option<String> {
    let counted: Vec<_> = checks
        .iter()
        .filter(|check| check.struck.is_none())
        .map(set)
        .collect();
    let all: Vec<_> = checks.iter().map(set).collect();
    words::struck_out(
        all.len() - counted.len(),
        of_visit(&counted),
        of_visit(&all),
    )
}

/// "Grip force: third set as left, two before it outside." One within its limit is not all that was measured.
fn repeated_until_within(checks: &[Checked]) -> Vec<String> {
    let counted = checks.iter().filter(|check| check.struck.is_none());
    let counted: Vec<&Checked> = counted.collect();
    let sets: Vec<_> = counted.iter().map(|check| set(check)).collect();
    let told = repeated(&sets).into_iter();
    told.map(|each| {
        let title = &counted[each.place].title;
        format!("{title}: {}.", words::repeated(each))
    })
    .collect()
}

/// A check as it counts for the verdict of its visit.
fn set(check: &Checked) -> Set<&'static str> {
    Set::of(check.what, check.state, check.verdict)
}

fn verdict(check: &Checked) -> Markup {
    let outcome = outcome(check);
    let word = match (check.struck, outcome) {
        (Some(_), _) => "Struck out",
        (None, outcome) => outcome.map_or("Not judged", words::outcome_capital),
    };
    html! {
        div class="verdict" {
            p class="word" { (word) }
            (mark(outcome.filter(|_| check.struck.is_none())))
            div class="what" {
                h3 { (check.title) }
                @if let Some(why) = check.struck {
                    p class="flag" { "Struck out: " (why) "." }
                    p { "By itself it was " (outcome.map_or("not judged", words::outcome)) "." }
                }
                @for line in &check.summary { p { (line) } }
                @match check.verdict {
                    None if check.broken_off.is_some() => p { "Broken off, " (check.broken_off.unwrap_or_default()) " recorded: a set that is not finished is not judged." },
                    None => p { "No verdict: it needs a limit and the uncertainty of the force gauge or indicator, and both were not known." },
                    Some(verdict) => (reasons(verdict, check.words)),
                }
                @for remark in check.remarks { p class="note" { (words::sentence(remark)) } }
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

fn findings(findings: &[Finding], sums_of: &[Sum]) -> Markup {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|finding| finding.severity.map_or(9, |severity| severity as u8));
    html! {
        @if !sorted.is_empty() {
            h3 { "Seen on the machine" }
            table class="findings" {
                thead { tr { th { "urgency" } th { "item" } th { "found" } } }
                tbody {
                    @for finding in &sorted {
                        tr class=[finding.struck.then_some("out")] {
                            td class="urgency" {
                                (finding.severity.map_or("in order", Severity::words))
                                @if finding.struck { span class="remark" { "struck out" } }
                            }
                            td { (finding.item) }
                            td {
                                (finding.text)
                                @for line in finding.measured.iter().chain(&finding.estimate) { div class="note" { (words::sentence(line)) } }
                                @for remark in &finding.remarks { span class="remark" { (remark) } }
                            }
                        }
                    }
                }
            }
            (sums(sums_of))
            (photos(&sorted))
        }
    }
}

/// What mending may cost, by urgency.
fn sums(sums: &[Sum]) -> Markup {
    html! {
        @if !sums.is_empty() {
            h4 { "What mending may cost: an estimate, not an offer" }
            table class="sums" {
                thead { tr { th { "urgency" } th { "findings" } th { "cost" } th { "hours" } } }
                tbody {
                    @for sum in sums {
                        tr {
                            td class="urgency" { (sum.severity.words()) }
                            td { (sum.findings) }
                            td { (sum.cost.as_deref().unwrap_or("not estimated")) }
                            td { (sum.hours.as_deref().unwrap_or("not estimated")) }
                        }
                    }
                }
            }
        }
    }
}

/// Under the table, in its order.
fn photos(findings: &[&Finding]) -> Markup {
    let shown = findings.iter().filter(|finding| !finding.struck);
    let photos: Vec<_> = shown
        .flat_map(|finding| finding.photos.iter().map(move |photo| (finding, photo)))
        .collect();
    html! {
        @if !photos.is_empty() {
            div class="photos" {
                @for (finding, photo) in photos {
                    figure {
                        img src=(data_uri(&photo.jpeg)) width=(photo.width) height=(photo.height) alt=(photo.caption);
                        figcaption { (finding.item) ": " (photo.caption) }
                    }
                }
            }
        }
    }
}

/// The picture in the page itself: nothing is fetched.
fn data_uri(jpeg: &[u8]) -> String {
    format!("data:image/jpeg;base64,{}", BASE64_STANDARD.encode(jpeg))
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
                    li {
                        strong { (item.item) } ": not examined, because " (item.because) "."
                        @for remark in &item.remarks { span class="source" { " " (words::sentence(remark)) } }
                    }
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
    let mut all = checks(document);
    all.retain(|check| check.struck.is_none());
    let left_of = |place: usize| overtaking(&all[place], &all[place + 1..]);
    let standing = |place: &usize| left_of(*place).is_none();
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
    let unjudged = |check: &&&Checked| check.verdict.is_none() && check.broken_off.is_none();
    for check in checks.iter().filter(unjudged) {
        steps.push(html! {
            strong { (check.title) " was not judged: " }
            "with a limit, best the machine maker's own figure, and the uncertainty of the force gauge or indicator by its certificate, the same record gives a verdict."
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
        if let Some(left) = left_of(place).and_then(|left| was_put_right(found, left)) {
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
    let sets: Vec<_> = later.iter().map(set).collect();
    overtaken_by(&set(check), &sets).map(|place| &later[place])
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
        .filter(move |finding| finding.severity == Some(severity) && !finding.struck);
    chosen.map(move |finding| {
        html! { strong { (words::capital(severity.words())) ": " } (finding.item) ", " (finding.text) }
    })
}
