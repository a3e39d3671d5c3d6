//! `settings`: what is shown, in which units. In: changes. Out: the settings in force and where they are kept.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::lease::Lease;
use crate::terminal::settings::Settings;
use crate::terminal::settings_arguments::SettingsArgs;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use serde::Serialize;

#[derive(Serialize)]
struct SettingsDocument {
    schema: u32,
    force: ForceUnit,
    length: LengthUnit,
    technician: Option<String>,
    file: Option<String>,
}

pub(crate) fn run(args: &SettingsArgs, app: &mut App) -> Result<Finished, Error> {
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
    settings.technician = args.technician.clone().or(settings.technician);
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
        "force       {}\nlength      {}\ntechnician  {}\nkept in     {}",
        settings.force.word(),
        settings.length.word(),
        settings.technician.as_deref().unwrap_or("not named"),
        file.as_deref().unwrap_or("no file")
    );
    let document = SettingsDocument {
        schema: 1,
        force: settings.force,
        length: settings.length,
        technician: settings.technician,
        file,
    };
    Finished::new(Exit::Done, &document, text)
}
