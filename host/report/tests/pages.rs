//! Whole pages: what a customer reads, word for word, and what must never get into one.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_metrology::grip::excluded::Excluded;
use holdtrue_report::document::*;
use holdtrue_report::{Form, Made};
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_terms::vocabulary::Outcome;
use holdtrue_wording::digits::Units;
use holdtrue_wording::words;

fn html(document: &Document) -> String {
    Made::of_visit(document, &Form::default()).html()
}

fn without(page: &str, from: &str, to: &str) -> String {
    let mut parts = page.split(from);
    let first = parts.next().unwrap_or_default();
    let kept = parts.map(|part| part.split_once(to).unwrap().1);
    std::iter::once(first).chain(kept).collect()
}

/// The text of a page as a reader sees it, one element a line; style and drawings left out.
fn text(page: &str) -> String {
    let plain = without(&without(page, "<style>", "</style>"), "<svg", "</svg>");
    let mut lines = Vec::new();
    for piece in plain.split('<').filter_map(|piece| piece.split_once('>')) {
        lines.extend(
            piece
                .1
                .lines()
                .map(str::trim)
                .filter(|line| !line.is_empty()),
        );
    }
    lines.join("\n").replace('\u{a0}', " ")
}

#[test]
fn a_sound_spindle_reads_like_this() {
    insta::assert_snapshot!(text(&html(&sound())));
}

#[test]
fn a_weak_spindle_with_a_bent_bar_reads_like_this() {
    insta::assert_snapshot!(text(&html(&weak())));
}

#[test]
fn the_drawings_look_like_this() {
    let page = html(&weak());
    let drawings = page
        .split("<svg")
        .skip(1)
        .map(|part| part.split("</svg>").next().unwrap());
    let without_curve = drawings.filter(|drawing| !drawing.contains("Grip force against time"));
    insta::assert_snapshot!(
        without_curve
            .map(|d| d.replace("><", ">\n<"))
            .collect::<Vec<_>>()
            .join("\n")
    );
}

#[test]
fn the_first_words_are_the_caution_and_the_sections_keep_their_order() {
    for page in [html(&sound()), html(&weak()), html(&Document::default())] {
        let text = text(page.split_once("<main>").unwrap().1);
        assert!(text.starts_with(words::FIRST_LINE), "{text}");
        let places = [
            "What we found",
            "What to do",
            "What this paper says, and what it does not",
            "\nEvidence",
            "\nAppendix",
        ]
        .map(|heading| text.find(heading));
        assert!(
            places.iter().all(Option::is_some) && places.is_sorted(),
            "{places:?}"
        );
    }
}

/// Nothing is fetched, nothing runs: the page can be mailed, printed and kept.
#[test]
fn the_page_is_one_file_without_script() {
    for page in [html(&sound()), html(&weak())] {
        let page = page.to_lowercase();
        for forbidden in [
            "<script",
            "javascript:",
            "http:",
            "https:",
            "src=",
            "href=",
            "url(",
            "@import",
            "<iframe",
            " onload",
        ] {
            assert!(!page.contains(forbidden), "{forbidden}");
        }
    }
}

/// The word of a verdict stands before its picture, and the three words are never each other's.
#[test]
fn the_verdict_says_its_word_first() {
    for (outcome, word) in [
        (Outcome::Accept, "Within limit"),
        (Outcome::Reject, "Outside limit"),
        (Outcome::Undecided, "Undecided"),
    ] {
        let mut document = sound();
        let verdict = document.grips[0].result.verdict.as_mut().unwrap();
        verdict.outcome = outcome;
        verdict.limits[0].outcome = outcome;
        let page = html(&document);
        let found = page.split_once("What we found").unwrap().1;
        let found = found.split_once("What to do").unwrap().0;
        assert!(
            found.contains(&format!("<p class=\"word\">{word}</p>")),
            "{found}"
        );
        assert!(found.find(word).unwrap() < found.find("<svg").unwrap());
    }
    let mut document = sound();
    document.grips[0].result.verdict = None;
    let page = html(&document);
    assert!(page.contains("Not judged") && !page.contains("Within limit"));
}

#[test]
fn an_undecided_check_says_what_would_decide_it() {
    let text = text(&html(&weak()));
    assert!(text.contains("would be decided by:"), "{text}");
    assert!(
        text.contains(
            "A smaller seat uncertainty: clean taper and bar, and take four seatings more."
        )
    );
}

/// Everything a person or a file can put in, with what would break a page.
#[test]
fn no_text_becomes_markup() {
    let evil = "<img src=x onerror=alert(1)>\"'&</style></svg>";
    let mut document = weak();
    let set = |text: &mut String| evil.clone_into(text);
    document.spindle.name = Some(evil.to_owned());
    document.spindle.place = Some(evil.to_owned());
    document.spindle.facts.push(Fact::new(evil, evil));
    let visit = &mut document.visit;
    for field in [
        &mut visit.technician,
        &mut visit.consent_of,
        &mut visit.operated_by,
        &mut visit.temperature,
        &mut visit.id,
        &mut visit.finished,
    ] {
        *field = Some(evil.to_owned());
    }
    set(&mut visit.started);
    set(&mut document.findings[0].item);
    set(&mut document.findings[0].text);
    set(&mut document.not_examined[0].item);
    set(&mut document.not_examined[0].because);
    set(&mut document.acknowledged[0].caution);
    set(&mut document.acknowledged[0].who);
    let said = Said {
        at: evil.to_owned(),
        who: evil.to_owned(),
        text: evil.to_owned(),
    };
    document.notes.push(said.clone());
    document.amendments.push(said);
    document.digest = Some(evil.to_owned());
    set(&mut document.program);
    let grip = &mut document.grips[0];
    grip.file = Some(evil.to_owned());
    grip.assumptions.push(evil.to_owned());
    grip.limit_sources.push(evil.to_owned());
    let gauge = grip.gauge.as_mut().unwrap();
    set(&mut gauge.what);
    set(&mut gauge.calibration.as_mut().unwrap().standing);
    gauge.serial = Some(evil.to_owned());
    set(&mut grip.words.hints[0].text);
    set(&mut grip.words.hints[0].evidence);
    grip.words.notes.push(evil.to_owned());
    grip.words.parts[0].push(evil.to_owned());
    set(&mut grip.words.verdict.as_mut().unwrap().reasons[0]);
    let verdict = grip.result.verdict.as_mut().unwrap();
    set(&mut verdict.limits[0].unit);
    document.runouts[0].words.parts[0].push(evil.to_owned());
    let page = html(&document);
    assert!(!page.contains("<img"));
    assert_eq!(page.matches("</style>").count(), 1);
    assert_eq!(page.matches("<svg").count(), page.matches("</svg>").count());
    assert!(page.matches("&lt;img src=x").count() > 25);
}

/// A terminal's escape codes, and what turns a line round, are read as what they are.
#[test]
fn no_text_moves_or_hides_what_stands_beside_it() {
    let evil = "one\u{1b}[31m\u{202e}two\nthree\u{9b}";
    let mut document = weak();
    document.spindle.name = Some(evil.to_owned());
    document.grips[0].file = Some(evil.to_owned());
    document.grips[0].gauge.as_mut().unwrap().serial = Some(evil.to_owned());
    document.grips[0].words.parts[0].push(evil.to_owned());
    document.findings[0].text = evil.to_owned();
    let page = html(&document);
    let style = page
        .split_once("<style>")
        .unwrap()
        .1
        .split_once("</style>")
        .unwrap()
        .0;
    let text = page.replace(style, "");
    assert!(
        !text.contains(|c: char| c.is_control() || c == '\u{202e}'),
        "{text}"
    );
    let visible = "one\\u{1b}[31m\\u{202e}two\\nthree\\u{9b}";
    assert!(text.matches(visible).count() >= 5, "{text}");
}

#[test]
fn units_follow_the_setting_everywhere() {
    let mut document = weak();
    document.units = Units {
        force: ForceUnit::Lbf,
        length: LengthUnit::Tenth,
        ..Units::default()
    };
    let page = text(&html(&document));
    let figures = page
        .split_once("\nEvidence")
        .unwrap()
        .1
        .split_once("Force gauge and indicator, and their")
        .unwrap()
        .0;
    // 5113 N / 4.4482216152605 = 1149.4 lbf (computed).
    assert!(figures.contains("1149 lbf"), "{figures}");
    assert!(figures.contains("holding force, lbf") && figures.contains("TIR, in"));
    // 24.8 µm / 25400 = 0.000976 in (computed).
    assert!(figures.contains("0.00098"), "{figures}");
    // Words that came with the result are its own; every figure set by the page is in the chosen unit.
    let set_by_page = figures
        .lines()
        .filter(|line| !line.contains("follow the bar at 300 mm"));
    for line in set_by_page {
        assert!(!line.ends_with(" kN") && !line.ends_with(" µm"), "{line}");
    }
}

/// Below five clamps a tolerance bound and a trend mean nothing to a reader, below six there is no outlier, even where
/// the result carries them.
#[test]
fn few_clamps_are_not_given_figures_they_cannot_bear() {
    let shown = |count: usize| {
        let mut document = sound();
        let statistics = document.grips[0].result.statistics.as_mut().unwrap();
        statistics.count = count;
        statistics.outlier = Some(2);
        let page = html(&document);
        (
            page.contains("of clamps like these"),
            page.contains("change from clamp to clamp"),
            page.contains("stands out"),
        )
    };
    assert_eq!(shown(4), (false, false, false));
    assert_eq!(shown(5), (true, true, false));
    assert_eq!(shown(6), (true, true, true));
}

#[test]
fn every_clamp_is_listed_and_an_excluded_one_says_why() {
    for why in [
        Excluded::Discarded,
        Excluded::Fault,
        Excluded::Gap,
        Excluded::Overload,
        Excluded::NotReleased,
        Excluded::Short,
        Excluded::NoZero,
        Excluded::Disturbed,
        Excluded::NotAskedFor,
    ] {
        let mut document = sound();
        let clamp = &mut document.grips[0].result.clamps[2];
        clamp.excluded = Some(why);
        clamp.settled_n = None;
        let page = html(&document);
        assert!(page.contains(&format!("no: {}", why.words())), "{why:?}");
        assert!(page.contains("3 not counted: "), "{why:?}");
    }
}

#[test]
fn a_window_lies_under_every_counted_clamp() {
    let page = html(&sound());
    let trace = page.split_once("Grip force against time").unwrap().1;
    let trace = trace.split_once("</svg>").unwrap().0;
    assert_eq!(trace.matches("fill=\"#dedede\"").count(), 5);
    assert_eq!(trace.matches("stroke-dasharray=\"2 2\"").count(), 1);
}

#[test]
fn figures_typed_by_hand_say_so_and_have_no_trace() {
    let mut document = sound();
    let grip = &mut document.grips[0];
    grip.record = None;
    grip.typed_by_hand = true;
    grip.gauge = None;
    let page = html(&document);
    assert!(page.contains("Typed by hand, no record."));
    assert!(!page.contains("Grip force against time"));
}

#[test]
fn an_invented_place_a_simulated_gauge_and_a_flagged_caution_are_named() {
    let text = text(&html(&sound()));
    for expected in [
        "Tern Point buoy yard (invented for demonstration)",
        "simulated gauge: no spindle was measured",
        "by flag: nobody was asked",
        "not examined, because the owner's operator had left.",
        "it is not an approval to run",
    ] {
        assert!(
            text.replace("&#39;", "'")
                .replace("\n", " ")
                .contains(expected),
            "{expected}"
        );
    }
}

#[test]
fn an_unfinished_visit_has_no_digest() {
    let document = Document {
        digest: None,
        ..sound()
    };
    assert!(html(&document).contains("The visit is not finished"));
    assert!(text(&html(&sound())).contains("1-08a3a848 be5a0553"));
}

#[test]
fn a_struck_set_is_shown_and_neither_judges_nor_asks_for_anything() {
    let mut document = weak();
    document.grips[0].struck = Some("knob loose (Technician A, 2026-03-04)".to_owned());
    let page = text(&html(&document));
    assert!(page.contains("One set struck out. Verdict of the visit without it:"));
    assert!(page.contains("By itself it was outside limit."), "{page}");
    assert!(page.contains("Struck out: knob loose (Technician A, 2026-03-04)."));
    let (_, to_do) = page.split_once("What to do").unwrap();
    let (to_do, _) = to_do.split_once("What this paper says").unwrap();
    assert!(!to_do.contains("Grip force"), "{to_do}");
}

#[test]
fn a_set_that_was_broken_off_is_shown_and_not_judged() {
    let mut document = sound();
    document.runouts.clear();
    document.grips[0].broken_off = Some("3 of 5 clamps".to_owned());
    document.grips[0].result.verdict = None;
    let page = text(&html(&document));
    let told = "Broken off, 3 of 5 clamps recorded: a set that is not finished is not judged.";
    assert_eq!(page.matches(told).count(), 2, "{page}");
    assert!(!page.contains("No verdict: it needs"));
}
