//! The paper as one self-contained HTML page: no script, nothing fetched from anywhere.
//!
//! In: the document model. Out: HTML that reads on a laptop and a phone and prints with the page breaks of the PDF.

use crate::document::Photo;
use crate::paper::{Block, Cell, Figure, Kind, Look, Paper, Table, Text};
use crate::pdf::Sheet;
use base64::prelude::{BASE64_STANDARD, Engine as _};
use holdtrue_wording::paper::check_code;
use holdtrue_wording::shown;
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

/// The page.
pub(crate) fn page(paper: &Paper, sheet: Sheet) -> String {
    let mut pictures = 0;
    let style = match sheet {
        Sheet::A4 => STYLE.to_owned(),
        Sheet::Letter => STYLE.replace("size: A4;", "size: letter;"),
    };
    // A check code is of letters, figures and blanks.
    let code = paper.code.as_deref().map(check_code).unwrap_or_default();
    let style = style.replace("CHECK CODE", &code);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="generator" content=(paper.program);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (paper.title) }
                style { (PreEscaped(&style)) }
            }
            body {
                main { (blocks(&paper.blocks, &mut pictures)) }
            }
        }
    };
    let page = page.into_string();
    // The style has lines of its own; in the text nothing that others wrote passes unseen.
    let shown: Vec<_> = page.split(&style).map(shown).collect();
    shown.join(&style)
}

fn blocks(all: &[Block], pictures: &mut usize) -> Markup {
    html! { @for each in all { (block(each, pictures)) } }
}

fn block(block: &Block, pictures: &mut usize) -> Markup {
    match block {
        Block::Heading(level, of) => match level {
            1 => html! { h1 { (text(of)) } },
            2 => html! { h2 { (text(of)) } },
            _ => html! { h3 { (text(of)) } },
        },
        Block::Paragraph(kind, of) => html! { p class=[class(*kind)] { (text(of)) } },
        Block::List(numbered, items) => {
            let items = html! { @for item in items { li { (text(item)) } } };
            if *numbered {
                html! { ol { (items) } }
            } else {
                html! { ul { (items) } }
            }
        }
        Block::Facts(facts) => html! {
            dl { @for (label, value) in facts { div { dt { (label) } dd { (value) } } } }
        },
        Block::Table(of) => table(of),
        Block::Figure(of) => figure(of, pictures),
        Block::Photo(of) => photo(of),
        Block::Logo(of) => html! { p class="logo" { (image(of)) } },
        Block::Beside(columns) => html! {
            div class="beside" {
                @for (share, inside) in columns {
                    // Under one another where the window is too narrow for their pictures.
                    @let least = 160 / columns.len().max(1);
                    div style={ "flex-grow:" (share) ";min-width:min(100%," (least) "mm)" } { (blocks(inside, pictures)) }
                }
            }
        },
        Block::Together(inside) => html! { div class="together" { (blocks(inside, pictures)) } },
        Block::Signatures(who) => html! {
            div class="signatures" { @for each in who { p { (each) } } }
        },
        Block::PageBreak => html! { div class="break" {} },
    }
}

fn class(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Body => None,
        Kind::Caution => Some("caution"),
        Kind::Answer => Some("answer"),
        Kind::Large => Some("large"),
        Kind::Word => Some("word"),
        Kind::Label => Some("label"),
        Kind::Flag => Some("flag"),
        Kind::Note => Some("note"),
        Kind::Aside => Some("aside"),
        Kind::Sender => Some("sender"),
    }
}

fn text(text: &Text) -> Markup {
    html! {
        @for span in &text.0 {
            @match span.look {
                Look::Plain => (span.text),
                Look::Strong => strong { (span.text) },
                Look::Soft => small { (span.text) },
            }
        }
    }
}

fn table(table: &Table) -> Markup {
    let figure = |column: usize| {
        let figure = table
            .columns
            .get(column)
            .is_some_and(|column| column.figure);
        figure.then_some("figure")
    };
    html! {
        div class="scrolls" tabindex="0" role="group" aria-label="table" {
            table {
                thead {
                    tr {
                        @for (place, column) in table.columns.iter().enumerate() {
                            th scope="col" class=[figure(place)] { (column.head) }
                        }
                    }
                }
                tbody {
                    @for row in &table.rows {
                        @let class = if row.out { Some("out") } else { row.sum.then_some("sum") };
                        tr class=[class] {
                            @for (place, of) in row.cells.iter().enumerate() {
                                td class=[figure(place)] { (cell(of)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn cell(cell: &Cell) -> Markup {
    html! {
        (text(&cell.text))
        @for remark in &cell.remarks { span class="remark" { (remark) } }
    }
}

fn figure(figure: &Figure, pictures: &mut usize) -> Markup {
    *pictures += 1;
    html! {
        figure {
            div class="scrolls" { (figure.picture.svg(*pictures)) }
            @if !figure.caption.0.is_empty() { figcaption { (text(&figure.caption)) } }
        }
    }
}

fn photo(photo: &Photo) -> Markup {
    html! {
        figure {
            (image(photo))
            @if !photo.caption.is_empty() { figcaption { (photo.caption) } }
        }
    }
}

fn image(photo: &Photo) -> Markup {
    html! {
        img alt=(photo.caption) width=(photo.width) height=(photo.height) src={ "data:image/jpeg;base64," (BASE64_STANDARD.encode(&photo.jpeg)) };
    }
}
