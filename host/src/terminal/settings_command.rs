//! `settings`: what is shown, in which units. In: changes. Out: the settings in force and where they are kept.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::lease::Lease;
use crate::terminal::settings::{OnOff, Paper, Settings, absolute};
use crate::terminal::settings_arguments::{Forgotten, SettingsArgs};
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use serde::Serialize;
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
    file: Option<String>,
}

/// `to_be_set` makes of what was typed a book that is there.
pub(crate) fn run(
    args: &SettingsArgs,
    to_be_set: fn(&Path) -> Result<PathBuf, Error>,
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
    settings.every_months = args.every_months.or(settings.every_months);
    settings.currency = args.currency.clone().or(settings.currency);
    for forgotten in &args.forget {
        match forgotten {
            Forgotten::Book => settings.book = None,
            Forgotten::Backup => settings.backup = None,
            Forgotten::EveryMonths => settings.every_months = None,
            Forgotten::Currency => settings.currency = None,
        }
    }
    if before.as_ref() != Some(&settings) {
        let path = app.settings_path.as_deref().ok_or_else(|| {
            Error::book(
                "no folder of your own was found for settings. Set HOLDTRUE_SETTINGS to a file.",
            )
        })?;
        settings.store(path)?;
    }
    let file = app
        .settings_path
        .as_ref()
        .map(|path| path.display().to_string());
    let text = format!(
        "force       {}\nlength      {}\ntechnician  {}\nbook        {}\nbackup      {}\nvisits      {}\ncurrency    {}\nbell        {}\nscreen      {}\npaper       {}, appendix {}\nkept in     {}",
        settings.force.word(),
        settings.length.word(),
        settings.technician.as_deref().unwrap_or("not named"),
        shown(&settings.book).as_deref().unwrap_or("none set"),
        shown(&settings.backup).as_deref().unwrap_or("none set"),
        settings.every_months.map_or_else(
            || "no time set from one to the next".to_owned(),
            |months| format!("due after {months} months")
        ),
        settings
            .currency
            .as_deref()
            .unwrap_or("named with each cost"),
        settings.bell.word(),
        settings.screen.word(),
        settings.paper.word(),
        settings.appendix.word(),
        file.as_deref().unwrap_or("no file")
    );
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
        technician: settings.technician,
        file,
    };
    Finished::new(Exit::Done, &document, text)
}

fn shown(path: &Option<PathBuf>) -> Option<String> {
    path.as_ref().map(|path| path.display().to_string())
}

fn is_from_variable(book: &Path) -> bool {
    std::env::var_os("HOLDTRUE_BOOK").is_some_and(|named| named == book.as_os_str())
}
