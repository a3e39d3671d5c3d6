//! The commands. In: what is asked and the world around it. Out: how it ended.

use crate::args::{Cli, Command, Global};
use crate::error::Error;
use crate::exit::Exit;
use crate::output::{Console, Finished};
use crate::settings::{self, Settings};
use clap::CommandFactory;
use serde_json::json;
use std::path::PathBuf;

mod book;
mod doubt;
mod finding;
mod gauge;
mod gauge_calibrate;
mod gauge_certificate;
mod gauge_check;
mod gauge_history;
mod gauge_indicator;
mod gauge_led;
mod gauge_press;
mod gauge_write;
mod grip;
mod grip_live;
mod limits;
mod prove;
mod recheck;
mod recheck_causes;
mod rehearse;
mod report;
mod runout;
mod runout_live;
mod schema;
mod settings_command;
mod spindle;
pub(crate) mod study;
mod visit;

/// What a command finds around it.
pub struct World {
    /// The two outputs.
    pub console: Console,
    /// The book named by option or variable.
    pub book: Option<PathBuf>,
    /// Whose name goes under what is written.
    pub technician: Option<String>,
    /// Whether cautions and questions are acknowledged by flag.
    pub yes: bool,
    /// Units on screen.
    pub settings: Settings,
    /// Why the settings are the usual ones although there is a file of them.
    pub settings_spoilt: Option<Error>,
    /// Where they are stored.
    pub settings_path: Option<PathBuf>,
}

impl World {
    /// The world as the command line names it.
    ///
    /// # Errors
    /// Settings that cannot be understood, where the command needs them.
    pub fn new(global: &Global, command: &Command) -> Result<Self, Error> {
        let settings_path = settings::path();
        let loaded = Settings::load(settings_path.as_deref());
        let (settings, settings_spoilt) = match loaded {
            Ok(settings) => (settings, None),
            Err(error) if needs_settings(command) => return Err(error),
            Err(error) => (Settings::default(), Some(error)),
        };
        Ok(Self {
            technician: global
                .technician
                .clone()
                .or_else(|| settings.technician.clone()),
            console: Console::process(global.json),
            book: global.book.clone(),
            yes: global.yes,
            settings,
            settings_spoilt,
            settings_path,
        })
    }
}

/// Whether a command shows figures in somebody's units or writes under somebody's name.
fn needs_settings(command: &Command) -> bool {
    !matches!(
        command,
        Command::Settings(_)
            | Command::Prove
            | Command::Schema { .. }
            | Command::Completions { .. }
            | Command::Man { .. }
    )
}

/// Carries out one command.
///
/// # Errors
/// Whatever kept it from ending with a result.
pub fn carry_out(command: Command, world: &mut World) -> Result<Finished, Error> {
    match command {
        Command::Rehearse(args) => rehearse::run(&args, world),
        Command::Grip(args) => grip::run(&args, world),
        Command::Runout(args) => runout::run(&args, world),
        Command::Spindle(which) => spindle::run(which, world),
        Command::Visit(which) => visit::run(which, world),
        Command::Finding(which) => finding::run(which, world),
        Command::Report(args) => report::run(&args, world),
        Command::Recheck(args) => recheck::run(&args, world),
        Command::Book(which) => book::run(&which, world),
        Command::Gauge(which) => gauge::run(which, world),
        Command::Limits(which) => limits::run(which, world),
        Command::Study(args) => study::run(&args, world),
        Command::Prove => prove::run(),
        Command::Settings(args) => settings_command::run(&args, world),
        Command::Schema { name } => schema::run(name.as_deref()),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "holdtrue", &mut script);
            printed(&script)
        }
        Command::Man { command } => manual(command.as_deref()),
    }
}

/// The manual page of the program, or of one command.
fn manual(command: Option<&str>) -> Result<Finished, Error> {
    let program = Cli::command();
    let page = match command {
        None => program,
        Some(name) => {
            let found = program.find_subcommand(name).cloned().ok_or_else(|| {
                Error::usage(format!("no command \"{name}\": holdtrue --help lists them"))
            })?;
            found
                .display_name(format!("holdtrue-{name}"))
                .bin_name(format!("holdtrue {name}"))
        }
    };
    let mut bytes = Vec::new();
    clap_mangen::Man::new(page)
        .render(&mut bytes)
        .map_err(|e| Error::cannot_write("manual page", &e))?;
    printed(&bytes)
}

/// A text that is the result itself.
fn printed(bytes: &[u8]) -> Result<Finished, Error> {
    let text = String::from_utf8_lossy(bytes).into_owned();
    Finished::new(Exit::Done, &json!({ "schema": 1, "text": text }), text)
}
