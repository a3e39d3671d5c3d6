//! `schema`: the JSON of each result, described. In: a name. Out: a JSON Schema document, or the list of names.

mod notation;

use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use serde_json::{Value, json};

/// The document of a command that has no result.
const ERROR: &str = "error";
/// What every other schema says of it.
const WITHOUT_RESULT: &str = "A command that ends without a result prints another document in its place: `holdtrue schema error`.";

/// What several of them have in common.
const SHARED: &str = include_str!("shared.json");

const SCHEMAS: &[(&str, &str)] = &[
    ("book-backup", include_str!("book-backup.json")),
    ("book-check", include_str!("book-check.json")),
    ("book-merge", include_str!("book-merge.json")),
    ("book-verify", include_str!("book-verify.json")),
    ("error", include_str!("error.json")),
    ("finding-list", include_str!("finding-list.json")),
    ("finding-photos", include_str!("finding-photos.json")),
    ("finding-round", include_str!("finding-round.json")),
    ("gauge-calibrate", include_str!("gauge-calibrate.json")),
    (
        "gauge-calibrate-indicator",
        include_str!("gauge-calibrate-indicator.json"),
    ),
    ("gauge-certificate", include_str!("gauge-certificate.json")),
    ("gauge-check", include_str!("gauge-check.json")),
    ("gauge-history", include_str!("gauge-history.json")),
    ("gauge-info", include_str!("gauge-info.json")),
    ("gauge-knob", include_str!("gauge-knob.json")),
    ("gauge-list", include_str!("gauge-list.json")),
    ("gauge-update", include_str!("gauge-update.json")),
    ("grip", include_str!("grip.json")),
    ("limits-check", include_str!("limits-check.json")),
    ("limits-list", include_str!("limits-list.json")),
    ("limits-show", include_str!("limits-show.json")),
    ("overview", include_str!("overview.json")),
    ("prove", include_str!("prove.json")),
    ("recheck", include_str!("recheck.json")),
    ("rehearse", include_str!("rehearse.json")),
    ("rehearse-port", include_str!("rehearse-port.json")),
    ("report", include_str!("report.json")),
    ("runout", include_str!("runout.json")),
    ("settings", include_str!("settings.json")),
    ("spindle-list", include_str!("spindle-list.json")),
    ("spindle-show", include_str!("spindle-show.json")),
    ("study", include_str!("study.json")),
    ("trend", include_str!("trend.json")),
    ("visit", include_str!("visit.json")),
    ("visit-enter", include_str!("visit-enter.json")),
];

pub(crate) fn run(name: Option<&str>) -> Result<Finished, Error> {
    let Some(name) = name else { return list() };
    let Some((_, text)) = SCHEMAS.iter().find(|(known, _)| *known == name) else {
        return Err(Error::usage(format!(
            "no schema \"{name}\". Known: {}",
            names().join(", ")
        )));
    };
    let mut document =
        read(text).map_err(|e| Error::book(format!("schema {name} is damaged: {e}")))?;
    if name != ERROR {
        document["description"] = Value::from(WITHOUT_RESULT);
    }
    Finished::new(Exit::Done, &document, format!("{document:#}"))
}

fn read(text: &str) -> Result<Value, String> {
    let parse = |text| serde_json::from_str::<Value>(text).map_err(|e| e.to_string());
    notation::document(&parse(text)?, &parse(SHARED)?)
}

fn list() -> Result<Finished, Error> {
    let document = json!({ "schema": 1, "names": names() });
    Finished::new(Exit::Done, &document, names().join("\n"))
}

pub(crate) fn names() -> Vec<&'static str> {
    SCHEMAS.iter().map(|(name, _)| *name).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_schema_can_be_read_and_names_its_version() {
        for (name, text) in SCHEMAS {
            let document = read(text).unwrap_or_else(|e| panic!("{name}: {e}"));
            assert!(document["properties"]["schema"]["const"].is_u64(), "{name}");
        }
    }
}
