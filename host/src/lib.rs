//! Spindle grip force and taper runout: measure, judge, record, report.
//!
//! In: the words of a command line. Out: results on standard output, messages on standard error, one [`terminal::exit::Exit`].

use holdtrue_wording::shown;
use std::ffi::OsString;

pub mod calibration;
pub mod command_line;
pub mod connection;
pub mod day;
mod did_you_mean;
pub mod dispatch;
mod examples;
pub mod gauge_check;
pub mod gauge_update;
pub mod grip;
pub mod judge;
pub mod limits;
pub mod manual;
pub mod notebook;
pub mod overview;
pub mod page;
pub mod prove;
pub mod recheck;
pub mod rehearse;
pub mod round;
pub mod runout;
pub mod schemas;
pub mod study;
pub mod tables;
pub mod terminal;
pub mod trend;
pub mod visits;

use terminal::console::Console;
use terminal::exit::Exit;

/// Runs the program.
pub fn run(words: impl IntoIterator<Item = OsString>) -> Exit {
    let words: Vec<OsString> = words.into_iter().collect();
    let cli = match command_line::Cli::read(words.clone()) {
        Ok(cli) => cli,
        Err(refusal) => {
            if refusal.use_stderr() {
                // Told of the words as they can be shown.
                let words = words
                    .iter()
                    .map(|word| shown(&word.to_string_lossy()).into_owned());
                let told = command_line::Cli::read(words.map(OsString::from));
                let text = told.err().unwrap_or(refusal).render().to_string();
                Console::process(false).message(text.trim_end());
                return Exit::Usage;
            }
            // Help and version go to standard output and are no error; a reader that has gone is none either.
            let _ = refusal.print();
            return Exit::Done;
        }
    };
    let needs_settings = cli.command.as_ref().is_none_or(dispatch::needs_settings);
    match terminal::app::App::new(&cli.global, needs_settings) {
        Ok(mut app) => {
            let result = match cli.command {
                Some(command) => dispatch::carry_out(command, &mut app),
                None if day::command::is_possible(&app) => {
                    day::command::lead(&mut app, dispatch::carry_out)
                }
                None => {
                    // Nobody to lead: what there is to be typed.
                    app.console.message(command_line::Cli::help().trim_end());
                    return Exit::Usage;
                }
            };
            app.settle_begun();
            app.console.finish(result)
        }
        Err(error) => Console::process(cli.global.json).finish(Err(error)),
    }
}
