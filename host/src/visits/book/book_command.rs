//! `book`: is it sound, and does it agree with a printed page? In: the file. Out: what was found, exit 6 for damage.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::console::NOTHING_WRITTEN;
use crate::terminal::error::{Error, Place};
use crate::terminal::exit::Exit;
use crate::terminal::working::Working;
use crate::visits::arguments::BookCommand;
use crate::visits::book::opening::{find_visit, short_id};
use crate::visits::book::second_place;
use crate::visits::known_day;
use crate::visits::later_rows::line;
use holdtrue_book::{Book, Digest, Inspection, Trouble, Visit};
use holdtrue_wording::shown;
use serde_json::{Map, Value, json};
use std::path::Path;
use uuid::Uuid;

pub(crate) fn run(command: &BookCommand, app: &App) -> Result<Finished, Error> {
    match command {
        BookCommand::Merge { other, dry_run } => merge(other, *dry_run, app),
        BookCommand::Backup {
            to,
            overwrite,
            dry_run,
        } => backup(&app.read_book()?, to, *overwrite, *dry_run),
        BookCommand::Check => check(&app.read_book()?),
        BookCommand::Verify { digest, .. } if digest.is_empty() => verify_all(&app.read_book()?),
        BookCommand::Verify { digest, visit } => {
            verify_page(&app.read_book()?, &digest.join(" "), visit.as_deref())
        }
    }
}

fn backup(book: &Book, to: &Path, overwrite: bool, dry_run: bool) -> Result<Finished, Error> {
    let working = Working::on("Copying the book, and reading it back");
    let copied = match dry_run {
        true => second_place::looked_over(book, to, overwrite)?,
        false => second_place::copy(book, to, overwrite)?,
    };
    drop(working);
    let place = copied.to.display();
    let result = json!({
        "schema": 1,
        "book": book.path().display().to_string(),
        "copy": place.to_string(),
        "replaced": copied.replaced,
        "dry_run": dry_run,
    });
    if dry_run {
        let replaced = match copied.replaced {
            true => ", in the place of the copy that lies there",
            false => "",
        };
        let text = format!("Would be copied to {place}{replaced}. {NOTHING_WRITTEN}");
        return Finished::new(Exit::Done, &result, text);
    }
    let replaced = if copied.replaced {
        " It took the place of the copy that lay there."
    } else {
        ""
    };
    let text = format!("Copied to {place}; the copy was read back and is sound.{replaced}");
    Finished::new(Exit::Done, &result, text)
}

fn merge(other: &Path, dry_run: bool, app: &App) -> Result<Finished, Error> {
    let mut writer = app.writer_of_existing()?;
    let working = Working::on("Taking over the rows of the other book");
    let (merged, seen) = match dry_run {
        true => writer.book.would_merge(other)?,
        false => (writer.book.merge_from(other)?, writer.book.check()?),
    };
    drop(working);
    let added: Map<String, Value> = merged
        .added
        .iter()
        .map(|(table, count)| ((*table).to_owned(), Value::from(*count)))
        .collect();
    let mut lines = vec![match merged.added.is_empty() {
        true => "Nothing new: this book holds whatever the other one does.".to_owned(),
        false => {
            let rows: usize = merged.added.iter().map(|(_, count)| count).sum();
            let taken = if dry_run { "would be taken" } else { "taken" };
            format!("{rows} rows {taken} over; the other book stays as it is.")
        }
    }];
    lines.extend(
        seen.conflicts
            .iter()
            .map(|trouble| format!("to settle: {}", words(trouble))),
    );
    if dry_run {
        lines.push(NOTHING_WRITTEN.to_owned());
    }
    let result = json!({ "schema": 1, "added": added, "dry_run": dry_run });
    Finished::new(Exit::Done, &result, lines.join("\n"))
}

fn check(book: &Book) -> Result<Finished, Error> {
    let working = Working::on("Looking through the book");
    let seen = book.check()?;
    drop(working);
    let mut lines = vec![if seen.sound() {
        "The book is sound.".to_owned()
    } else {
        "THE BOOK IS DAMAGED.".to_owned()
    }];
    lines.extend(
        seen.damage
            .iter()
            .map(|trouble| format!("damaged: {}", words(trouble))),
    );
    lines.extend(
        seen.conflicts
            .iter()
            .map(|trouble| format!("to settle: {}", words(trouble))),
    );
    lines.extend(seen.cable.iter().map(|damage| {
        format!(
            "on the cable: {} damaged frames in the {} check of {}; their samples are missing from its record",
            damage.damaged_frames + damage.over_long_frames,
            damage.kind,
            damage.at
        )
    }));
    let counted = |number: usize, what: &str| {
        format!("{number} {what}{}", if number == 1 { "" } else { "s" })
    };
    lines.push(format!(
        "{} and {} recomputed and right",
        counted(seen.digests_good, "check code"),
        counted(seen.chains_good, "raw record")
    ));
    let finished = Finished::new(Exit::Done, &check_document(&seen), lines.join("\n"))?;
    if seen.sound() {
        return Ok(finished);
    }
    let name = book.path().display().to_string();
    let error = Error::book(format!(
        "{name}: {} places are damaged. Keep this file, go on with the latest backup and merge what can be read.",
        seen.damage.len()
    ));
    Ok(finished.cut_short(error.about(Place::file(&name))))
}

fn words(trouble: &Trouble) -> String {
    format!("{}: {}", trouble.place, trouble.found)
}

fn check_document(seen: &Inspection) -> Value {
    let troubles = |list: &[Trouble]| -> Vec<Value> {
        list.iter()
            .map(|trouble| json!({ "place": trouble.place, "found": trouble.found }))
            .collect()
    };
    let cable: Vec<Value> = seen
        .cable
        .iter()
        .map(|damage| {
            json!({
                "check": damage.check,
                "kind": damage.kind.word(),
                "at": damage.at,
                "damaged_frames": damage.damaged_frames,
                "over_long_frames": damage.over_long_frames,
            })
        })
        .collect();
    let rows: Map<String, Value> = seen
        .rows
        .iter()
        .map(|(table, count)| ((*table).to_owned(), Value::from(*count)))
        .collect();
    json!({
        "schema": 1,
        "sound": seen.sound(),
        "damage": troubles(&seen.damage),
        "conflicts": troubles(&seen.conflicts),
        "cable": cable,
        "digests_good": seen.digests_good,
        "chains_good": seen.chains_good,
        "rows": rows,
    })
}

/// Recomputes the digest of every finished visit and holds it to the one stored when it was finished.
fn verify_all(book: &Book) -> Result<Finished, Error> {
    let mut visits = Vec::new();
    let mut lines = Vec::new();
    let mut first_error = None;
    let finished = book.finished_visits()?;
    let working = Working::of("Visits held to their check codes", finished.len());
    for visit in finished {
        for finish in book.finishes(visit)? {
            let verified = book.verify(visit, &finish.digest);
            let (line, document) = told(book, visit, &finish.digest, verified.is_ok());
            lines.push(line);
            visits.push(document);
            if let Err(error) = verified {
                first_error.get_or_insert(error);
            }
        }
        working.step();
    }
    drop(working);
    if lines.is_empty() {
        lines.push("No visit is finished yet.".to_owned());
    }
    let result = json!({ "schema": 1, "visits": visits });
    let finished = Finished::new(Exit::Done, &result, lines.join("\n"))?;
    Ok(match first_error {
        Some(error) => finished.cut_short(error.into()),
        None => finished,
    })
}

/// One digest of one visit, for the person and for the program that reads it.
fn told(book: &Book, id: Uuid, digest: &Digest, ok: bool) -> (String, Value) {
    let about = |visit: &Visit| -> String {
        let name = visit
            .spindle
            .as_ref()
            .map_or("unnamed", |each| &each.header().name);
        format!(
            "visit {} to {} of {}",
            short_id(id),
            shown(name),
            known_day::moment(&visit.visit.header().started_at)
        )
    };
    // A visit that does not read back any more is named all the same.
    let visit = book.visit(id);
    let later: Vec<String> = visit
        .iter()
        .flat_map(|visit| visit.later.iter().map(line))
        .collect();
    let mut text = format!(
        "{}  {}\n    {digest}",
        if ok { "agrees " } else { "DIFFERS" },
        visit.map_or_else(|_| format!("visit {}", short_id(id)), |visit| about(&visit)),
    );
    for each in &later {
        text.push_str(&format!("\n    {}", shown(each)));
    }
    let document = json!({ "visit": id, "digest": digest.to_string(), "ok": ok, "later": later });
    (text, document)
}

fn verify_page(book: &Book, printed: &str, visit: Option<&str>) -> Result<Finished, Error> {
    let (visit, digest) = match short(printed) {
        Some(short) => of_short(book, &short, visit)?,
        None => {
            let digest: Digest = printed
                .parse()
                .map_err(|e: holdtrue_book::NotADigest| Error::usage(e.to_string()))?;
            (page_visit(book, &digest, visit)?, digest)
        }
    };
    book.verify(visit, &digest)?;
    let (text, document) = told(book, visit, &digest, true);
    let result = json!({ "schema": 1, "visits": [document] });
    Finished::new(Exit::Done, &result, text)
}

/// The sixteen signs of the foot of a page, without blanks and in small letters; none where this is something else.
fn short(printed: &str) -> Option<String> {
    const SIGNS: usize = 16;
    let signs: String = printed
        .split_whitespace()
        .collect::<String>()
        .to_lowercase();
    let is_short = signs.len() == SIGNS && signs.bytes().all(|sign| sign.is_ascii_hexdigit());
    is_short.then_some(signs)
}

/// The visit with this short check code, and the whole one.
fn of_short(book: &Book, short: &str, visit: Option<&str>) -> Result<(Uuid, Digest), Error> {
    let visits = match visit {
        Some(wanted) => vec![find_visit(book, wanted)?],
        None => book.finished_visits()?.into_iter().collect(),
    };
    let mut found: Vec<(Uuid, Digest)> = Vec::new();
    for visit in visits {
        for finish in book.finishes(visit)? {
            let whole = finish.digest.to_string();
            let signs = whole.split_once('-').map_or("", |(_, signs)| signs);
            if signs.starts_with(short) && !found.iter().any(|(_, other)| *other == finish.digest) {
                found.push((visit, finish.digest));
            }
        }
    }
    if found.len() > 1 {
        return Err(Error::usage(format!(
            "{} visits have a check code that begins {short}. Type the whole one, as its appendix has it, or name the visit with --visit.",
            found.len()
        )));
    }
    found.pop().ok_or_else(|| match visit {
        Some(visit) => Error::book(format!(
            "{}: the check code of visit {visit} does not begin {short}. The page is not of this visit, or the page or the book was \
             changed.",
            book.path().display()
        )),
        None => no_such_code(book, short),
    })
}

fn no_such_code(book: &Book, code: &str) -> Error {
    Error::book(format!(
        "{}: no finished visit has the check code {code}. Is this the book of that page? If it is, the page or the book was \
         changed: name the visit with --visit to see the check code computed from the book.",
        book.path().display()
    ))
}

fn page_visit(book: &Book, digest: &Digest, visit: Option<&str>) -> Result<Uuid, Error> {
    let finished = book.finished_visits()?;
    if let Some(wanted) = visit {
        return find_visit(book, wanted);
    }
    for visit in finished {
        if book
            .finishes(visit)?
            .iter()
            .any(|finish| finish.digest == *digest)
        {
            return Ok(visit);
        }
    }
    Err(no_such_code(book, &digest.to_string()))
}
