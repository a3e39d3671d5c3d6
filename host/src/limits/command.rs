//! `limits`: what is built in, and whether a limits file can be used. In: names. Out: lists and refusals.

use crate::limits;
use crate::limits::arguments::LimitsCommand;
use crate::limits::{LimitsFile, SourcedLimit};
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::settings::Settings;
use holdtrue_metrology::grip::limits::{Assumption, UsualRange};
use holdtrue_terms::vocabulary::Class;
use serde_json::json;

pub(crate) fn run(command: LimitsCommand, app: &mut App) -> Result<Finished, Error> {
    match command {
        LimitsCommand::List => list(&app.settings),
        LimitsCommand::Show { file } => show(&file, &app.settings),
        LimitsCommand::Check { files } => check(&files, app),
    }
}

/// The usual ranges of every interface and class that has one.
fn list(settings: &Settings) -> Result<Finished, Error> {
    let mut ranges = Vec::new();
    let mut lines = vec![
        "Usual grip forces. They never accept a spindle: that takes the maker's figure.".to_owned(),
    ];
    for (assumption, range) in usual_ranges() {
        let interface = assumption.interface.to_string();
        let class = assumption.class;
        let span = if range.high_n > range.low_n {
            format!(
                "{} to {}",
                settings.force(range.low_n),
                settings.force(range.high_n)
            )
        } else {
            settings.force(range.low_n)
        };
        lines.push(format!(
            "{interface:<9} {class:<9} {span:<22} ({}: {})",
            range.provenance.words(),
            range.source
        ));
        ranges.push(json!({
            "interface": interface,
            "class": class,
            "low_n": range.low_n,
            "high_n": range.high_n,
            "provenance": range.provenance,
            "source": range.source,
        }));
    }
    lines.push(
        "7/24-45 and the other sizes of HSK are known by name; no usual range is known for them: the maker's figure only."
            .to_owned(),
    );
    Finished::new(
        Exit::Done,
        &json!({ "schema": 1, "ranges": ranges }),
        lines.join("\n"),
    )
}

/// Interfaces with a usual range. Forms A, C and E of one size share theirs.
const INTERFACES: &[&str] = &[
    "7/24-30", "7/24-40", "7/24-50", "HSK-A32", "HSK-A40", "HSK-A50", "HSK-A63", "HSK-A80",
    "HSK-A100", "HSK-A125",
];

fn usual_ranges() -> impl Iterator<Item = (Assumption, UsualRange)> {
    INTERFACES
        .iter()
        .filter_map(|name| name.parse().ok())
        .flat_map(move |interface| {
            Class::ALL
                .iter()
                .map(move |&class| Assumption { interface, class })
        })
        .filter_map(|assumption| Some((assumption, UsualRange::of(assumption)?)))
}

fn show(name: &str, settings: &Settings) -> Result<Finished, Error> {
    let file = limits::read(name, false)?;
    let text = words(&file, settings);
    let document = json!({ "schema": 1, "file": name, "title": file.title, "interface": file.interface, "nominal": file.nominal, "limits": file.limits });
    Finished::new(Exit::Done, &document, text)
}

/// Looks at every file before it says which cannot be used.
fn check(names: &[String], app: &mut App) -> Result<Finished, Error> {
    let mut first_error = None;
    let mut checked = Vec::new();
    let mut lines = Vec::new();
    for name in names {
        match limits::read(name, false) {
            Ok(file) => {
                let holds = match (file.limits.len(), &file.nominal) {
                    (0, None) => "no limit in it, so nothing is judged by it".to_owned(),
                    (0, Some(_)) => "a nominal force and no limit: it judges once a share of it is named (--limit-percent)".to_owned(),
                    (1, _) => "1 limit".to_owned(),
                    (count, _) => format!("{count} limits"),
                };
                lines.push(format!("{name}: can be used, {holds}"));
                checked.push(json!({ "file": name, "ok": true, "limits": file.limits.len(), "message": null }));
            }
            Err(error) => {
                checked.push(
                    json!({ "file": name, "ok": false, "limits": 0, "message": error.to_string() }),
                );
                match first_error {
                    None => first_error = Some(error),
                    Some(_) => app.console.message(&error.to_string()),
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

/// A limit in one line: figure, side, value, where it comes from.
pub(crate) fn limit_words(sourced: &SourcedLimit, settings: &Settings) -> String {
    let limit = &sourced.limit;
    let side = holdtrue_wording::words::side(limit.side);
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
        limit.figure.words(),
        settings.in_unit(limit.limit, &limit.unit),
        provenance(limit.provenance, sourced.source.as_deref())
    )
}

fn provenance(provenance: holdtrue_terms::vocabulary::Provenance, source: Option<&str>) -> String {
    match source {
        Some(source) => format!("({}: {source})", provenance.words()),
        None => format!("({})", provenance.words()),
    }
}
