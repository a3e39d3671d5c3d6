//! The PDF beside the page: the same text, checked by the standard as it is written, and no label on another.

#![allow(clippy::unwrap_used)]

mod common;

use common::*;
use holdtrue_report::document::*;
use holdtrue_report::{Day, Form, Letterhead, Made, Sheet, is_pdf};

fn pages(pdf: &[u8]) -> Vec<String> {
    pdf_extract::extract_text_from_mem_by_pages(pdf).unwrap()
}

/// Without blanks, which the two outputs break lines at differently.
fn dense(text: &str) -> String {
    text.chars().filter(|sign| !sign.is_whitespace()).collect()
}

/// The text of a page in order, an element each; words in pictures too.
fn elements(page: &str) -> Vec<String> {
    let body = page.split_once("<main>").unwrap().1;
    let mut out = Vec::new();
    let mut skipped = false;
    for piece in body.split('<').filter_map(|piece| piece.split_once('>')) {
        let (tag, text) = piece;
        match tag.split([' ', '/']).next().unwrap_or_default() {
            "title" | "desc" => skipped = true,
            _ if tag.starts_with("/title") || tag.starts_with("/desc") => skipped = false,
            _ => {}
        }
        if !skipped && !dense(text).is_empty() {
            let text = text
                .replace("&quot;", "\"")
                .replace("&lt;", "<")
                .replace("&gt;", ">");
            out.push(dense(&text.replace("&#39;", "'").replace("&amp;", "&")));
        }
    }
    out
}

/// Every element of the page stands in the PDF, in its order; what else is there is feet and heads that were repeated.
fn same_text(made: &Made) {
    let pdf = made.pdf().unwrap();
    assert!(is_pdf(&pdf));
    let pages = pages(&pdf);
    let many = pages.len();
    let page = made.html();
    let heads: Vec<String> = page
        .split("<thead>")
        .skip(1)
        .map(|rest| rest.split_once("</thead>").unwrap().0)
        .map(|head| elements(&format!("<main>{head}")).concat())
        .collect();
    let mut rest = String::new();
    for (number, text) in pages.iter().enumerate() {
        let mut text = dense(text);
        let foot = format!("page{}of{many}", number + 1);
        let at = text
            .rfind(&foot)
            .unwrap_or_else(|| panic!("no foot on page {}: {text}", number + 1));
        text.truncate(at);
        rest.push_str(&text);
    }
    let mut rest = rest.as_str();
    for element in elements(&page) {
        let at = rest.find(&element).unwrap_or_else(|| {
            let near: String = rest.chars().take(300).collect();
            panic!("\"{element}\" is not in the PDF after: {near}")
        });
        let between = &rest[..at];
        // Signs of a list are no text of a page.
        let between = between.trim_start_matches('–');
        let number = between
            .strip_suffix('.')
            .is_some_and(|number| number.parse::<u8>().is_ok());
        let ignored = between.is_empty() || number || heads.iter().any(|head| head == between);
        assert!(ignored, "\"{between}\" is in the PDF only");
        rest = &rest[at + element.len()..];
    }
    assert!(rest.is_empty(), "\"{rest}\" is in the PDF only");
}

#[test]
fn both_outputs_have_the_same_text() {
    for (name, document) in hard() {
        for sheet in [Sheet::A4, Sheet::Letter] {
            for appendix in [true, false] {
                println!("{name}, {sheet:?}, {appendix}");
                let form = Form {
                    sheet,
                    appendix,
                    ..Form::default()
                };
                same_text(&Made::of_visit(&document, &form));
            }
        }
    }
}

/// As many lines as there may be.
fn with_letterhead() -> Form {
    let line = |number: u8| format!("Tern Point buoy yard, line {number} of its letterhead");
    Form {
        letterhead: Letterhead {
            lines: (1..=5).map(line).collect(),
            logo: None,
        },
        ..Form::default()
    }
}

#[test]
fn a_letterhead_stands_above_all_and_costs_the_answer_no_room() {
    let form = with_letterhead();
    for (name, document) in hard() {
        let made = Made::of_visit(&document, &form);
        same_text(&made);
        let first = dense(&pages(&made.pdf().unwrap())[0]);
        assert!(
            first.starts_with(&dense(&form.letterhead.lines[0])),
            "{first}"
        );
        for words in [
            "What we found",
            "What to do",
            "for the owner of the machine",
        ] {
            assert!(
                first.contains(&dense(words)),
                "{name}: \"{words}\" is not on page 1"
            );
        }
    }
}

#[test]
fn a_day_is_its_visits_one_after_the_other_told_apart_first() {
    let visits: Vec<Document> = hard().into_iter().map(|(_, document)| document).collect();
    let day = Day {
        day: "29 November 2026".into(),
        made: "2026-11-29".into(),
        visits,
        program: "holdtrue 0.1.0".into(),
    };
    let made = Made::of_day(&day, &with_letterhead());
    same_text(&made);
    let all = pages(&made.pdf().unwrap());
    assert!(all[0].contains("29 November 2026"), "{}", all[0]);
    // Each visit begins a page of its own, as it would alone.
    let answers = "What this paper says";
    let fronts = all
        .iter()
        .filter(|text| dense(text).contains(&dense(answers)));
    assert_eq!(fronts.count(), day.visits.len());
    assert!(!dense(&all[0]).contains(&dense(answers)));
}

#[test]
fn the_first_page_holds_what_decides_whatever_there_is() {
    for (name, document) in hard() {
        let pages = pages(&Made::of_visit(&document, &Form::default()).pdf().unwrap());
        let first = dense(&pages[0]);
        for words in [
            "What we found",
            "What to do",
            "What this paper says",
            "for the owner of the machine",
        ] {
            assert!(
                first.contains(&dense(words)),
                "{name}: \"{words}\" is not on page 1"
            );
        }
    }
}

#[test]
fn the_same_visit_gives_the_same_file() {
    let made = || Made::of_visit(&weak(), &Form::default()).pdf().unwrap();
    assert!(made() == made());
}

#[test]
fn the_paper_for_everybody_names_no_command() {
    let form = Form {
        appendix: false,
        ..Form::default()
    };
    for (name, document) in hard() {
        let page = Made::of_visit(&document, &form).html();
        let text = page
            .split_once("<main>")
            .unwrap()
            .1
            .replace(&document.program, "");
        assert!(
            !text.contains("holdtrue") && !text.contains(" --"),
            "{name}"
        );
    }
}

#[test]
fn a_sign_the_font_does_not_have_prints_as_its_number() {
    let mut document = sound();
    document.visit.technician = Some("技 A".to_owned());
    let pdf = Made::of_visit(&document, &Form::default()).pdf().unwrap();
    assert!(dense(&pages(&pdf).concat()).contains("\\u{6280}A"));
}

#[test]
fn a_photo_that_is_none_is_named() {
    let mut document = weak();
    document.findings[0].photos = vec![Photo {
        jpeg: b"not a photo".to_vec(),
        width: 4,
        height: 3,
        caption: "photo 1".to_owned(),
    }];
    let error = Made::of_visit(&document, &Form::default())
        .pdf()
        .unwrap_err();
    assert!(error.to_string().contains("photo 1"), "{error}");
}

/// Writes the papers to look at: `cargo test -p holdtrue-report -- --ignored`.
#[test]
#[ignore = "writes files to look at"]
fn write_papers() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR"));
    for (name, document) in hard() {
        let made = Made::of_visit(&document, &Form::default());
        let file = folder.join(name.replace(' ', "-"));
        std::fs::write(file.with_extension("html"), made.html()).unwrap();
        std::fs::write(file.with_extension("pdf"), made.pdf().unwrap()).unwrap();
        println!("{}", file.display());
    }
}
