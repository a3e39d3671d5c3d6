//! Spindle grip force and taper runout: measure, judge, record, report.
//!
//! In: the words of a command line. Out: results on standard output, messages on standard error, one [`exit::Exit`].

use std::ffi::OsString;

pub mod acknowledge;
pub mod archive;
pub mod args;
pub mod calibrate_csv;
pub mod calibrate_words;
pub mod cautions;
pub mod certificate;
pub mod commands;
pub mod desk;
pub mod doubts;
pub mod error;
pub mod exit;
pub mod figures;
pub mod filing;
pub mod force_csv;
pub mod gauge;
pub mod grip_doubts;
pub mod grip_setup;
pub mod grip_words;
pub mod indicator_csv;
pub mod indicator_words;
pub mod input;
pub mod kept_table;
pub mod later_words;
pub mod lease;
pub mod limits;
pub mod link;
pub mod live;
pub mod office;
pub mod output;
pub mod output_file;
pub mod paper;
pub mod plausible;
pub mod proof;
pub mod readings;
pub mod runout_begun;
pub mod runout_csv;
pub mod runout_doubts;
pub mod runout_plan;
pub mod runout_setup;
pub mod runout_words;
pub mod settings;
pub mod stored_figure;
pub mod study_book;
pub mod study_csv;
pub mod study_words;
pub mod table;
pub mod toml_file;
pub mod verdict_words;

use exit::Exit;

/// Runs the program.
pub fn run(words: impl IntoIterator<Item = OsString>) -> Exit {
    let cli = match args::Cli::read(words) {
        Ok(cli) => cli,
        Err(refusal) => {
            // Help and version go to standard output and are no error; a reader that has gone is none either.
            let _ = refusal.print();
            return if refusal.use_stderr() {
                Exit::Usage
            } else {
                Exit::Done
            };
        }
    };
    match commands::World::new(&cli.global, &cli.command) {
        Ok(mut world) => {
            let result = commands::carry_out(cli.command, &mut world);
            world.console.finish(result)
        }
        Err(error) => output::Console::process(cli.global.json).finish(Err(error)),
    }
}
