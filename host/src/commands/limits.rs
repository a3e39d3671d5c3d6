//! `limits`: what is built in, and whether a limits file can be used. In: names. Out: lists and refusals.

use super::World;
use crate::args::limits::LimitsCommand;
use crate::error::Error;
use crate::exit::Exit;
use crate::limits::{self, LimitsFile, SourcedLimit};
use crate::output::Finished;
use crate::settings::Settings;
use holdtrue_metrology::decision::Side;
use serde_json::json;

pub(super) fn run(command: LimitsCommand, world: &mut World) -> Result<Finished, Error> {
    match command {
        LimitsCommand::Show { file } => show(&file, &world.settings),
        LimitsCommand::Check { files } => check(&files, world),
    }
}

fn show(name: &str, settings: &Settings) -> Result<Finished, Error> {
    let file = limits::read(name)?;
    let text = words(&file, settings);
    let document = json!({ "schema": 1, "file": name, "title": file.title, "nominal": file.nominal, "limits": file.limits });
    Finished::new(Exit::Done, &document, text)
}

/// Looks at every file before it says which cannot be used.
fn check(names: &[String], world: &mut World) -> Result<Finished, Error> {
    let mut first_error = None;
    let mut checked = Vec::new();
    let mut lines = Vec::new();
    for name in names {
        match limits::read(name) {
            Ok(file) => {
                lines.push(format!("{name}: can be used, {} limits", file.limits.len()));
                checked.push(json!({ "file": name, "ok": true, "limits": file.limits.len() }));
            }
            Err(error) => {
                checked.push(json!({ "file": name, "ok": false, "limits": 0 }));
                match first_error {
                    None => first_error = Some(error),
                    Some(_) => world.console.message(&error.to_string()),
                }
            }
        }
    }
    let document = json!({ "schema": 1, "files": checked });
    let finished = Finished::new(Exit::Done, &document, lines.join("\n"))?;
    Ok(match first_error {
        Some(error) => finished.cut_short(error),
        None => finished,
    })
}

fn words(file: &LimitsFile, settings: &Settings) -> String {
    let nominal = file.nominal.as_ref().map(|nominal| {
        format!(
            "nominal grip   {}   {}",
            settings.force(nominal.force_n),
            provenance(nominal.provenance, nominal.source.as_deref())
        )
    });
    std::iter::once(file.title.clone())
        .chain(nominal)
        .chain(file.limits.iter().map(|limit| limit_words(limit, settings)))
        .collect::<Vec<_>>()
        .join("\n")
}

fn limit_words(sourced: &SourcedLimit, settings: &Settings) -> String {
    let limit = &sourced.limit;
    let side = match limit.side {
        Side::Lower => "at least",
        Side::Upper => "at most",
    };
    let height = limit
        .height_mm
        .map(|height| format!(" at {height} mm"))
        .unwrap_or_default();
    let watch = limit
        .watch
        .map(|watch| format!(", watch from {}", settings.in_unit(watch, &limit.unit)))
        .unwrap_or_default();
    format!(
        "{}{height}   {side} {}{watch}   {}",
        limits::figure_words(limit.figure),
        settings.in_unit(limit.limit, &limit.unit),
        provenance(limit.provenance, sourced.source.as_deref())
    )
}

fn provenance(
    provenance: holdtrue_metrology::provenance::Provenance,
    source: Option<&str>,
) -> String {
    match source {
        Some(source) => format!("({}: {source})", provenance.words()),
        None => format!("({})", provenance.words()),
    }
}
