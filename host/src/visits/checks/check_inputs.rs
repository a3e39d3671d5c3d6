//! What a check was begun with, as the book keeps it: a versioned form of its own, apart from what is typed on a command line.
//!
//! In: inputs, or the start of a check. Out: the text the book keeps, or the inputs. FORMAT.md has every field.

use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::checks::stored_check::json_of;
use holdtrue_book::{Book, CheckResult, CheckStart, Json};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

/// The field of a result document that says it was judged anew, by what, and in the place of which results.
pub const ANEW: &str = "judged_anew";

/// The version written. Books of schema 1 and 2 hold inputs without a version: the same fields.
pub const VERSION: u64 = 1;

/// Inputs of one kind of check. A field this program does not know is refused, never dropped: it may change the figures.
pub trait CheckInputs: Serialize + DeserializeOwned {}

#[derive(Serialize)]
struct Versioned<'a, T> {
    version: u64,
    #[serde(flatten)]
    inputs: &'a T,
}

/// Inputs as the book keeps them.
///
/// # Errors
/// When they have no JSON form; nothing this program files is such.
pub fn to_keep(inputs: &impl CheckInputs) -> Result<Json, Error> {
    let version = VERSION;
    json_of(&Versioned { version, inputs })
}

/// What a check was begun with.
///
/// # Errors
/// A newer form, or one that does not read back: exit 6.
pub fn read<T: CheckInputs>(book: &Book, start: &CheckStart) -> Result<T, Error> {
    read_json(book, start, &start.content)
}

/// What a result was computed by: what its check was begun with, or what it was judged anew by.
///
/// # Errors
/// As [`read`].
pub fn in_force<T: CheckInputs>(
    book: &Book,
    start: &CheckStart,
    stored: &CheckResult,
) -> Result<T, Error> {
    read_json(book, start, &text_in_force(start, stored))
}

/// The same as the book keeps it.
pub fn text_in_force(start: &CheckStart, stored: &CheckResult) -> Json {
    let document: Option<Map<String, Value>> = stored.content.read().ok();
    let anew = document.and_then(|document| document.get(ANEW)?.get("inputs").cloned());
    let anew = anew.and_then(|inputs| Json::of(&inputs).ok());
    anew.unwrap_or_else(|| start.content.clone())
}

/// Inputs as the book keeps them, of the check that began so.
///
/// # Errors
/// As [`read`].
pub fn read_json<T: CheckInputs>(
    book: &Book,
    start: &CheckStart,
    content: &Json,
) -> Result<T, Error> {
    understand(content).map_err(|why| {
        let (book, check, at) = (
            book.path().display(),
            start.id,
            times::moment(&start.stamp.at),
        );
        Error::book(format!(
            "{book}: what check {check} of {at} was begun with cannot be read back: {why}"
        ))
    })
}

/// Reads any form there was.
pub(crate) fn understand<T: CheckInputs>(content: &Json) -> Result<T, String> {
    let damaged = |why: serde_json::Error| {
        format!("{why}. Another program wrote it, or it is damaged: run `holdtrue book check`")
    };
    let mut fields: Map<String, Value> = content.read().map_err(damaged)?;
    match fields.remove("version") {
        // Written before there was a version.
        None => {}
        Some(version) if version == VERSION => {}
        Some(version) => {
            return Err(format!(
                "found version {version} of its form, expected {VERSION} or an older one. Update this program"
            ));
        }
    }
    serde_json::from_value(Value::Object(fields)).map_err(damaged)
}

/// Holds the fields of one kind of inputs to those FORMAT.md has for it.
#[cfg(test)]
pub(crate) fn stand_on_the_page<T: CheckInputs + std::fmt::Debug>(check: &str) {
    let odd = serde_json::json!({ "no such field": 1 });
    let why = serde_json::from_value::<T>(odd).expect_err("refused");
    let why = why.to_string();
    let (_, known) = why.split_once("expected").expect("fields it knows");
    let between_ticks = |text: &str| -> std::collections::BTreeSet<String> {
        let odd_parts = text.split('`').skip(1).step_by(2);
        odd_parts.map(String::from).collect()
    };
    let known = between_ticks(known);
    let page = include_str!("../../../book/FORMAT.md");
    let (_, table) = page.split_once("### Inputs of a check").expect("there");
    let (table, _) = table.split_once("\n**`").expect("its end");
    let mut told = std::collections::BTreeSet::new();
    for row in table.lines().filter(|line| line.starts_with("| `")) {
        let cells: Vec<&str> = row.split('|').collect();
        if cells[2].contains("all") || cells[2].contains(check) {
            told.append(&mut between_ticks(cells[1]));
        }
    }
    told.remove("version");
    assert_eq!(known, told);
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Deserialize;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Clamps {
        clamps: u32,
    }

    impl CheckInputs for Clamps {}

    fn read(text: &str) -> Result<Clamps, String> {
        understand(&Json::from_text(text).expect("JSON"))
    }

    #[test]
    fn inputs_of_the_older_form_are_read_and_written_in_the_new_one() {
        let old = read(r#"{"clamps":5}"#).expect("the older form");
        let kept = to_keep(&old).expect("kept");
        assert_eq!(kept.text(), r#"{"version":1,"clamps":5}"#);
        assert_eq!(read(kept.text()), Ok(old));
    }

    #[test]
    fn a_newer_form_says_what_to_do_and_an_unknown_field_is_not_dropped() {
        let why = read(r#"{"version":2,"clamps":5}"#).expect_err("newer");
        assert!(
            why.contains("version 2") && why.contains("Update this program"),
            "{why}"
        );
        for odd in ["0", r#""1""#, "null", "1.5"] {
            let odd = format!(r#"{{"version":{odd},"clamps":5}}"#);
            read(&odd).expect_err(&odd);
        }
        let why = read(r#"{"version":1,"clamps":5,"turns":4}"#).expect_err("unknown");
        assert!(why.contains("turns"), "{why}");
    }
}
