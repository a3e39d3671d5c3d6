//! What a command finds around it. In: the options every command takes, the settings. Out: the two outputs, whose name goes
//! under what is written, which book is meant.

use super::console::Console;
use super::error::Error;
use super::name::name;
use super::settings::{self, OnOff, Settings};
use std::path::PathBuf;

/// Options every command takes, before or after its name.
#[derive(Clone, Debug, clap::Args)]
pub struct Global {
    /// The book of visits; else the one in the settings
    #[arg(long, global = true, env = "HOLDTRUE_BOOK", value_name = "FILE")]
    pub book: Option<PathBuf>,
    /// Whose name goes under what is written into the book; else the one from the settings
    #[arg(long, global = true, env = "HOLDTRUE_TECHNICIAN", value_name = "NAME", value_parser = name)]
    pub technician: Option<String>,
    /// One JSON document on standard output; messages go to standard error
    #[arg(long, global = true)]
    pub json: bool,
    /// Plain lines, one an event, instead of the live screen
    #[arg(long, global = true)]
    pub plain: bool,
    /// No bell; the gauge's light says the same
    #[arg(long, global = true)]
    pub quiet: bool,
    /// Take cautions and questions as acknowledged (they still print; the record says "by flag")
    #[arg(long, global = true)]
    pub yes: bool,
}

/// What a command finds around it.
pub struct App {
    /// The two outputs.
    pub console: Console,
    /// The book named by option or variable; else it is the one in the settings.
    pub book: Option<PathBuf>,
    /// Where the person said the first book is to lie.
    pub chosen: Option<PathBuf>,
    /// A book this command began.
    pub begun: Option<PathBuf>,
    /// Whose name goes under what is written.
    pub technician: Option<String>,
    /// Whether cautions and questions are acknowledged by flag.
    pub yes: bool,
    /// The day is led already: a command of it does not lead again.
    pub led: bool,
    /// Units on screen.
    pub settings: Settings,
    /// Why the settings are the usual ones although there is a file of them.
    pub settings_spoilt: Option<Error>,
    /// Where they are stored.
    pub settings_path: Option<PathBuf>,
}

impl App {
    /// The settings again, after a command changed them; where they cannot be read they stay as they were.
    pub fn read_settings(&mut self) {
        if let Ok(settings) = Settings::load(self.settings_path.as_deref()) {
            self.settings = settings;
        }
    }

    /// What the command line names; `settings_needed`: whether the command cannot do without them.
    ///
    /// # Errors
    /// Settings that cannot be understood, where the command needs them.
    pub fn new(global: &Global, settings_needed: bool) -> Result<Self, Error> {
        let settings_path = settings::path();
        let loaded = Settings::load(settings_path.as_deref());
        let (settings, settings_spoilt) = match loaded {
            Ok(settings) => (settings, None),
            Err(error) if settings_needed => return Err(error),
            Err(error) => (Settings::default(), Some(error)),
        };
        Ok(Self {
            technician: global
                .technician
                .clone()
                .or_else(|| settings.technician.clone()),
            console: Console::process(global.json).with_screen(
                global.plain || settings.screen == OnOff::Off,
                global.quiet || settings.bell == OnOff::Off,
            ),
            book: global.book.clone(),
            chosen: None,
            begun: None,
            yes: global.yes,
            led: false,
            settings,
            settings_spoilt,
            settings_path,
        })
    }
}
