//! How it was judged: the rule, the limits and where they come from, gauges and calibrations, cautions, and what the
//! paper may say.
//!
//! In: a document. Out: the last section before the appendix.

use crate::checked::{Checked, checks};
use crate::document::{Calibration, Document, How, Instrument, Said};
use crate::ladder::{judged_name, ladder};
use holdtrue_metrology::verdict::Verdict;
use holdtrue_wording::digits::Units;
use holdtrue_wording::words;
use maud::{Markup, html};

/// Each judged limit drawn to scale.
pub(crate) fn ladders(units: &Units, verdict: &Verdict) -> Markup {
    html! {
        @if !verdict.limits.is_empty() {
            h4 { "Against the limits" }
            div class="ladders" {
                @for judged in &verdict.limits {
                    div class="against" {
                        p {
                            strong { (words::capital(&judged_name(judged))) } " "
                            (units.in_unit(judged.measured, &judged.unit))
                            ", ± " (units.spread_in_unit(judged.guard, judged.measured, &judged.unit)) " allowed for measuring uncertainty" br;
                            "limit " (words::limit_in_full(judged, |value| units.in_unit(value, &judged.unit))) ": "
                            strong { (words::outcome(judged.outcome)) }
                            @if judged.watch { ", watch" }
                        }
                        (ladder(units, judged))
                    }
                }
            }
        }
    }
}

/// The whole section.
pub(crate) fn judged(document: &Document) -> Markup {
    let checks = checks(document);
    html! {
        section {
            h2 { "How it was judged" }
            p {
                "A figure is " em { "within limit" } " only if it clears its limit by what is allowed for measuring uncertainty, so that the risk of saying so wrongly is at most 5\u{a0}%. It is "
                em { "outside limit" } " only if it misses by as much. Everything between is " em { "undecided" }
                ", which is not a pass. The 5\u{a0}% holds for each limit by itself."
            }
            @for check in &checks { (check_basis(&document.units, check)) }
            (instruments(&checks))
            (cautions(document))
            (said("Notes", &document.notes))
            (said("Amended after the visit was finished", &document.amendments))
            (may_say(document))
            (digest(document))
        }
    }
}

fn check_basis(units: &Units, check: &Checked) -> Markup {
    html! {
        article {
            h3 { (check.title) }
            @match check.verdict {
                Some(verdict) => (limits_table(units, verdict)),
                None if check.broken_off.is_some() => p { "Not judged: it was broken off." },
                None => p { "Not judged: a limit and the uncertainty of the force gauge or indicator were not both known." },
            }
            @for line in check.limit_sources { p class="note" { "Limits: " (line) } }
            @for line in check.assumptions { p class="note" { "Assumed: " (line) } }
            p class="note" {
                @if check.typed_by_hand { "Figures typed by hand, no record. " }
                @if let Some(file) = check.file { "Read from the file " (file) ". " }
                "Taken " (check.at) ", analysis version " (check.analysis) "."
            }
        }
    }
}

fn limits_table(units: &Units, verdict: &Verdict) -> Markup {
    html! {
        table class="figures" {
            thead {
                tr {
                    th { "figure" }
                    th class="figure" { "measured" }
                    th class="figure" { "allowed for measuring uncertainty" }
                    th class="figure" { "limit" }
                    th { "limit from" }
                    th { "outcome" }
                }
            }
            tbody {
                @for judged in &verdict.limits {
                    @let figure = |value| units.in_unit(value, &judged.unit);
                    tr {
                        td { (judged_name(judged)) }
                        td class="figure" { (figure(judged.measured)) }
                        td class="figure" { "± " (units.spread_in_unit(judged.guard, judged.measured, &judged.unit)) }
                        td class="figure" { (words::side(judged.side)) " " (figure(judged.limit)) }
                        td { (words::limit_from(judged, figure)) }
                        td { (words::outcome(judged.outcome)) @if judged.watch { ", watch" } }
                    }
                }
            }
        }
    }
}

/// Every gauge once, however many checks it took.
fn instruments(checks: &[Checked]) -> Markup {
    let mut seen: Vec<&Instrument> = Vec::new();
    for instrument in checks
        .iter()
        .flat_map(|check| check.instruments.iter().copied())
    {
        if !seen.contains(&instrument) {
            seen.push(instrument);
        }
    }
    html! {
        @if !seen.is_empty() {
            h3 { "Force gauge and indicator, and their calibration" }
            @for instrument in seen { (instrument_block(instrument)) }
        }
    }
}

fn instrument_block(instrument: &Instrument) -> Markup {
    html! {
        div class="block" {
            (cell(&words::capital(&instrument.what), instrument.serial.as_deref().unwrap_or("no serial number")))
            @if instrument.simulated { (cell("kind", "simulated gauge: no spindle was measured")) }
            @for fact in &instrument.facts { (cell(&fact.label, &fact.value)) }
            @match &instrument.calibration {
                None => (cell("calibration", "none known")),
                Some(calibration) => (calibration_cells(calibration)),
            }
        }
    }
}

fn calibration_cells(calibration: &Calibration) -> Markup {
    let cells = [
        ("certificate", &calibration.certificate),
        ("calibrated by", &calibration.laboratory),
        ("calibrated on", &calibration.date),
        ("due", &calibration.due),
        ("expanded uncertainty", &calibration.uncertainty),
        ("calibrated span", &calibration.span),
        ("record", &calibration.id),
    ];
    html! {
        (cell("calibration", &calibration.standing))
        @for (label, value) in cells {
            @if let Some(value) = value { (cell(label, value)) }
        }
    }
}

/// One cell of a title block.
pub(crate) fn cell(label: &str, value: &str) -> Markup {
    html! { div { span class="label" { (label) } span class="value" { (value) } } }
}

fn cautions(document: &Document) -> Markup {
    html! {
        @if !document.acknowledged.is_empty() {
            h3 { "Cautions acknowledged" }
            table {
                thead { tr { th { "caution" } th { "how" } th { "by" } th { "when" } } }
                tbody {
                    @for row in &document.acknowledged {
                        tr class=[(row.how != How::Asked).then_some("out")] {
                            td { (row.caution) }
                            td { (row.how.words()) }
                            td { (row.who) }
                            td { (row.at) }
                        }
                    }
                }
            }
        }
    }
}

fn said(heading: &str, said: &[Said]) -> Markup {
    html! {
        @if !said.is_empty() {
            h3 { (heading) }
            ul class="plain" {
                @for each in said { li { (each.text) span class="source" { " " (each.who) ", " (each.at) } } }
            }
        }
    }
}

/// What a paper like this may and may not say.
fn may_say(document: &Document) -> Markup {
    let visit = &document.visit;
    let unknown = "not recorded";
    html! {
        h3 { "What this paper says, and what it does not" }
        ul class="plain" {
            li {
                "The state found on " (visit.started)
                @if let Some(temperature) = &visit.temperature { ", at " (temperature) } @else { ", temperature not recorded" }
                ", on the items listed here only. An item that was not looked at is not \"in order\"."
            }
            li { "No statement on remaining life, on hidden damage, or on bearings at working speed." }
            li { "Costs, where named, are an estimate and not an offer." }
            li {
                "Examined with the consent of: " (visit.consent_of.as_deref().unwrap_or(unknown))
                ". Machine operated by: " (visit.operated_by.as_deref().unwrap_or(unknown)) "."
            }
            li { "The result supports a decision by a qualified person; it is not an approval to run." }
        }
    }
}

fn digest(document: &Document) -> Markup {
    html! {
        h3 { "Check code of the visit" }
        @match &document.digest {
            Some(digest) => {
                p class="digest" { (grouped(digest)) }
                p class="note" { "The book recomputes it with " code { "holdtrue book verify" } ". It shows whether the stored visit is the one on this paper; it does not show who wrote either." }
            }
            None => p { "The visit is not finished: figures can still be added, and there is no check code yet." },
        }
    }
}

/// Groups of eight, to be read aloud.
fn grouped(digest: &str) -> String {
    let (form, rest) = digest
        .split_once('-')
        .map_or(("", digest), |(form, rest)| (form, rest));
    let letters: Vec<char> = rest.chars().collect();
    let groups: Vec<String> = letters
        .chunks(8)
        .map(|group| group.iter().collect())
        .collect();
    let body = groups.join(" ");
    if form.is_empty() {
        body
    } else {
        format!("{form}-{body}")
    }
}
