//! `settings`: what is shown, in which units. In: changes. Out: the settings in force and where they are kept.

use crate::terminal::app::App;
use crate::terminal::console::{Finished, NOTHING_WRITTEN};
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::lease::Lease;
use crate::terminal::settings::{DayOrder, KEYS, OnOff, Paper, Settings, absolute, written};
use crate::terminal::settings_arguments::{Forgotten, SettingsArgs};
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use serde::Serialize;
use serde_json::{Map, Value};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

#[derive(Serialize)]
struct SettingsDocument {
    schema: u32,
    force: ForceUnit,
    length: LengthUnit,
    technician: Option<String>,
    book: Option<String>,
    backup: Option<String>,
    every_months: Option<u32>,
    currency: Option<String>,
    bell: OnOff,
    screen: OnOff,
    paper: Paper,
    appendix: OnOff,
    letterhead: Vec<String>,
    logo: Option<String>,
    dates: Option<DayOrder>,
    file: Option<String>,
    /// Where each value that holds comes from, by its name here.
    origins: Map<String, Value>,
}

/// Where each value comes from.
struct Origins {
    /// What the file says.
    written: BTreeSet<String>,
    /// Variables that outrank the file: what they are called and say.
    variables: Vec<(&'static str, &'static str, String)>,
}

/// Names in the file of what is shown under another name.
const IN_FILE: [(&str, &str); 1] = [("visits", "every_months")];

impl Origins {
    fn of(app: &App, path: Option<&Path>) -> Self {
        let written = path.map(written).unwrap_or_default();
        let variable = |name: &'static str, of: &'static str| {
            let value = std::env::var(name).ok().filter(|value| !value.is_empty())?;
            Some((of, name, value))
        };
        let named = variable("HOLDTRUE_TECHNICIAN", "technician");
        let book = variable("HOLDTRUE_BOOK", "book").filter(|_| app.book.is_some());
        Self {
            written,
            variables: named.into_iter().chain(book).collect(),
        }
    }

    /// The name a value has in the file.
    fn key(label: &str) -> &str {
        let renamed = IN_FILE.iter().find(|(shown, _)| *shown == label);
        renamed.map_or(label, |(_, key)| key)
    }

    fn words(&self, label: &str) -> &'static str {
        match self.written.contains(Self::key(label)) {
            true => "settings",
            false => "usual",
        }
    }

    /// What holds instead, as long as a variable says so.
    fn outranked(&self) -> impl Iterator<Item = String> {
        self.variables
            .iter()
            .map(|(of, name, value)| format!("For now {name} says another {of}: {value}"))
    }

    fn document(&self) -> Map<String, Value> {
        let each = KEYS.iter().map(|label| {
            let variable = self.variables.iter().find(|(of, _, _)| of == label);
            let origin = variable.map_or_else(|| self.words(label), |(_, name, _)| *name);
            ((*label).to_owned(), Value::from(origin))
        });
        each.collect()
    }
}

/// `to_be_set` makes of what was typed a book that is there, or says only where it would be; `to_be_logo` refuses what is no picture for a paper.
pub(crate) fn run(
    args: &SettingsArgs,
    to_be_set: fn(&Path) -> Result<PathBuf, Error>,
    to_be_logo: fn(&Path) -> Result<(), Error>,
    app: &mut App,
) -> Result<Finished, Error> {
    if let Some(spoilt) = app.settings_spoilt.take().filter(|_| !args.overwrite) {
        return Err(spoilt);
    }
    // Another program may change them at the same time: what it wrote is read once it is done.
    let lease = app.settings_path.as_deref().map(Lease::of_file);
    let _lease = lease.transpose()?;
    let before = match Settings::load(app.settings_path.as_deref()) {
        Err(_) if args.overwrite => None,
        loaded => Some(loaded?),
    };
    let mut settings = before.clone().unwrap_or_default();
    settings.force = args.force.unwrap_or(settings.force);
    settings.length = args.length.unwrap_or(settings.length);
    settings.bell = args.bell.unwrap_or(settings.bell);
    settings.screen = args.screen.unwrap_or(settings.screen);
    settings.paper = args.paper.unwrap_or(settings.paper);
    settings.appendix = args.appendix.unwrap_or(settings.appendix);
    settings.technician = args.technician.clone().or(settings.technician);
    // A global option everywhere else; here it is what is to be set. The variable names a book for a while only.
    if let Some(typed) = app.book.as_deref().filter(|typed| !is_from_variable(typed)) {
        settings.book = Some(to_be_set(typed)?);
    }
    if let Some(place) = &args.backup {
        settings.backup = Some(absolute(place)?);
    }
    if !args.letterhead.is_empty() {
        settings.letterhead = lines_of(&args.letterhead)?;
    }
    if let Some(logo) = &args.logo {
        let logo = absolute(logo)?;
        to_be_logo(&logo)?;
        settings.logo = Some(logo);
    }
    settings.every_months = args.every_months.or(settings.every_months);
    settings.currency = args.currency.clone().or(settings.currency);
    settings.dates = args.dates.or(settings.dates);
    for forgotten in &args.forget {
        match forgotten {
            Forgotten::Book => settings.book = None,
            Forgotten::Backup => settings.backup = None,
            Forgotten::EveryMonths => settings.every_months = None,
            Forgotten::Currency => settings.currency = None,
            Forgotten::Letterhead => settings.letterhead = Vec::new(),
            Forgotten::Logo => settings.logo = None,
            Forgotten::Dates => settings.dates = None,
        }
    }
    let set = set(args, &settings, before.as_ref());
    let there = app.settings_path.as_deref().map(written);
    let is_new = |key: &&str| !there.iter().flatten().any(|there| there == key);
    if !args.dry_run && (before.as_ref() != Some(&settings) || set.iter().any(is_new)) {
        let path = app.settings_path.as_deref().ok_or_else(|| {
            Error::book(
                "no folder of your own was found for settings. Set HOLDTRUE_SETTINGS to a file.",
            )
        })?;
        settings.store(path, &set)?;
    }
    let file = app
        .settings_path
        .as_ref()
        .map(|path| path.display().to_string());
    let origins = Origins::of(app, app.settings_path.as_deref());
    let rows = [
        ("force", settings.force.word().to_owned()),
        ("length", settings.length.word().to_owned()),
        (
            "technician",
            settings
                .technician
                .clone()
                .unwrap_or_else(|| "not named".to_owned()),
        ),
        (
            "book",
            shown(&settings.book).unwrap_or_else(|| "none set".to_owned()),
        ),
        (
            "backup",
            shown(&settings.backup).unwrap_or_else(|| "none set".to_owned()),
        ),
        (
            "visits",
            settings.every_months.map_or_else(
                || "no time set from one to the next".to_owned(),
                |months| format!("due after {months} months"),
            ),
        ),
        (
            "currency",
            settings
                .currency
                .clone()
                .unwrap_or_else(|| "named with each cost".to_owned()),
        ),
        ("bell", settings.bell.word().to_owned()),
        ("screen", settings.screen.word().to_owned()),
        ("paper", settings.paper.word().to_owned()),
        ("appendix", settings.appendix.word().to_owned()),
        (
            "letterhead",
            match settings.letterhead.is_empty() {
                true => "none set".to_owned(),
                false => settings.letterhead.join(" / "),
            },
        ),
        (
            "logo",
            shown(&settings.logo).unwrap_or_else(|| "none set".to_owned()),
        ),
        (
            "dates",
            settings.dates.map_or_else(
                || "a day that may be two is asked back".to_owned(),
                |order| order.word().to_owned(),
            ),
        ),
    ];
    let mut lines: Vec<String> = rows
        .iter()
        .map(|(label, value)| {
            let would_be_set = args.dry_run && set.contains(Origins::key(label));
            let origin = match would_be_set {
                true => "would be set",
                false => origins.words(label),
            };
            format!("{label:<11} {value}   ({origin})")
        })
        .collect();
    lines.push(format!(
        "kept in     {}",
        file.as_deref().unwrap_or("no file")
    ));
    lines.extend(origins.outranked());
    if args.dry_run {
        lines.push(NOTHING_WRITTEN.to_owned());
    }
    let text = lines.join("\n");
    let document = SettingsDocument {
        schema: 1,
        force: settings.force,
        length: settings.length,
        book: shown(&settings.book),
        backup: shown(&settings.backup),
        every_months: settings.every_months,
        currency: settings.currency,
        bell: settings.bell,
        screen: settings.screen,
        paper: settings.paper,
        appendix: settings.appendix,
        letterhead: settings.letterhead,
        logo: shown(&settings.logo),
        dates: settings.dates,
        technician: settings.technician,
        file,
        origins: origins.document(),
    };
    Finished::new(Exit::Done, &document, text)
}

/// What was typed, by its name in the file; the book, where it is another than before.
fn set(
    args: &SettingsArgs,
    settings: &Settings,
    before: Option<&Settings>,
) -> BTreeSet<&'static str> {
    let book = before.and_then(|before| before.book.as_ref()) != settings.book.as_ref();
    let typed = [
        ("force", args.force.is_some()),
        ("length", args.length.is_some()),
        ("technician", args.technician.is_some()),
        ("book", book),
        ("backup", args.backup.is_some()),
        ("every_months", args.every_months.is_some()),
        ("currency", args.currency.is_some()),
        ("bell", args.bell.is_some()),
        ("screen", args.screen.is_some()),
        ("paper", args.paper.is_some()),
        ("appendix", args.appendix.is_some()),
        ("letterhead", !args.letterhead.is_empty()),
        ("logo", args.logo.is_some()),
        ("dates", args.dates.is_some()),
    ];
    let typed = typed.iter().filter(|(_, is_typed)| *is_typed);
    typed.map(|(key, _)| *key).collect()
}

/// More lines leave no room for the answer on the first page.
const MOST_LINES: usize = 5;

fn lines_of(letterhead: &[String]) -> Result<Vec<String>, Error> {
    match letterhead.len() {
        ..=MOST_LINES => Ok(letterhead.to_vec()),
        more => Err(Error::usage(format!(
            "--letterhead: found {more} lines, expected {MOST_LINES} at most, since the first page has to hold the answer too: \
             leave some out. Nothing was set"
        ))),
    }
}

fn shown(path: &Option<PathBuf>) -> Option<String> {
    path.as_ref().map(|path| path.display().to_string())
}

fn is_from_variable(book: &Path) -> bool {
    std::env::var_os("HOLDTRUE_BOOK").is_some_and(|named| named == book.as_os_str())
}
