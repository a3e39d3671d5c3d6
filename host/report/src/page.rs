//! The page as a whole: one self-contained HTML file, no script, nothing fetched from anywhere.
//!
//! In: a document. Out: HTML text that prints on A4 in black and white.

use crate::document::{Document, Fact};
use crate::judged::cell;
use crate::{appendix, found, grip, judged, runout, years};
use holdtrue_wording::shown;
use holdtrue_wording::words::FIRST_LINE;
use maud::{DOCTYPE, Markup, PreEscaped, html};

const STYLE: &str = include_str!("style.css");

/// What every page of this program says of its maker, near its beginning.
const GENERATOR: &str = r#"<meta name="generator" content="holdtrue"#;

/// Whether a file that begins like this is a page of this program.
pub fn is_page(beginning: &[u8]) -> bool {
    const HEAD: usize = 1024;
    let head = String::from_utf8_lossy(&beginning[..beginning.len().min(HEAD)]);
    head.starts_with("<!DOCTYPE html>") && head.contains(GENERATOR)
}

/// The page of a visit.
pub fn html(document: &Document) -> String {
    whole(&page_title(document), &document.program, &body(document))
}

/// A page around its body.
pub(crate) fn whole(title: &str, program: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="generator" content=(program);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            (body)
        }
    };
    let page = page.into_string();
    // The style has lines of its own; in the text nothing that others wrote passes unseen.
    let shown: Vec<_> = page.split(STYLE).map(shown).collect();
    shown.join(STYLE)
}

/// The page without its head.
pub(crate) fn body(document: &Document) -> Markup {
    html! {
        body {
            main {
                p class="first" { (FIRST_LINE) }
                header {
                    h1 { "Spindle condition" span class="name" { (name(document)) } }
                    (title_block(document))
                }
                (found::found(document))
                (found::to_do(document))
                section {
                    h2 { "Evidence" }
                    @for check in &document.grips { (grip::evidence(&document.units, check)) }
                    @for check in &document.runouts { (runout::evidence(&document.units, check)) }
                }
                (years::up_to_here(&document.over_years))
                (judged::judged(document))
                (appendix::appendix(document))
                footer { p { "Made by " (document.program) "." } }
            }
        }
    }
}

fn name(document: &Document) -> &str {
    document
        .spindle
        .name
        .as_deref()
        .unwrap_or("unnamed spindle")
}

fn page_title(document: &Document) -> String {
    format!(
        "{}, {}: spindle condition",
        name(document),
        document.visit.started
    )
}

/// Who, what, where, when: cells like the title block of a drawing.
fn title_block(document: &Document) -> Markup {
    let (spindle, visit) = (&document.spindle, &document.visit);
    let place = spindle.place.as_ref().map(|place| {
        if spindle.invented {
            format!("{place} (invented for demonstration)")
        } else {
            place.clone()
        }
    });
    let invented =
        (spindle.invented && place.is_none()).then(|| "invented for demonstration".to_owned());
    let cells = [
        ("place", place.or(invented)),
        ("technician", visit.technician.clone()),
        ("begun", Some(visit.started.clone())),
        (
            "finished",
            Some(
                visit
                    .finished
                    .clone()
                    .unwrap_or_else(|| "not finished".to_owned()),
            ),
        ),
        ("temperature at the nose", visit.temperature.clone()),
        ("consent of", visit.consent_of.clone()),
        ("operated by", visit.operated_by.clone()),
    ];
    let facts = |facts: &[Fact]| html! { @for fact in facts { (cell(&fact.label, &fact.value)) } };
    html! {
        div class="block" {
            (facts(&spindle.facts))
            @for (label, value) in &cells { @if let Some(value) = value { (cell(label, value)) } }
            (facts(&visit.facts))
            @if let Some(id) = &visit.id { (cell("visit", id)) }
        }
    }
}
