//! The commands. In: what is asked and the app around it. Out: how it ended.

use crate::calibration::{calibrate_command, certificate_command};
use crate::command_line::GaugeCommand;
use crate::command_line::{Cli, Command};
use crate::gauge_check::arguments::{CheckArgs, KnobArgs};
use crate::gauge_check::{command as check_command, history, info_command};
use crate::judge;
use crate::manual;
use crate::page::letterhead::to_be_logo;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::arguments::{FindingCommand, VisitCommand};
use crate::visits::book::dry_run;
use crate::visits::book::which_book::{named_book, to_be_set};
use crate::visits::spindles::spindle_arguments::SpindleCommand;
use clap::CommandFactory;
use serde_json::json;

/// Whether a command shows figures in somebody's units or writes under somebody's name.
pub(crate) fn needs_settings(command: &Command) -> bool {
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
pub fn carry_out(command: Command, app: &mut App) -> Result<Finished, Error> {
    match is_dry_run(&command) {
        true => dry_run::on_a_copy(app, |app| carry_out_here(command, app)),
        false => carry_out_here(command, app),
    }
}

/// Whether a command is only to say what it would write into the book. Those that say more than they would do by themselves
/// carry the option on their own.
fn is_dry_run(command: &Command) -> bool {
    match command {
        Command::Spindle(
            SpindleCommand::Add { dry, .. }
            | SpindleCommand::Event { dry, .. }
            | SpindleCommand::Edit { dry, .. },
        )
        | Command::Visit(VisitCommand::Start { dry, .. } | VisitCommand::Edit { dry, .. })
        | Command::Finding(FindingCommand::Add { dry, .. } | FindingCommand::Edit { dry, .. })
        | Command::Gauge(
            GaugeCommand::Check(CheckArgs { dry, .. }) | GaugeCommand::Knob(KnobArgs { dry, .. }),
        ) => dry.dry_run,
        // Into a gauge it is held to what that carries; the book alone is tried on a copy.
        Command::Gauge(GaugeCommand::Certificate(args)) => args.dry_run && args.serial.is_some(),
        _ => false,
    }
}

fn carry_out_here(command: Command, app: &mut App) -> Result<Finished, Error> {
    match command {
        Command::Rehearse(args) => crate::rehearse::command::run(&args, app),
        Command::Grip(args) => {
            let measured = crate::grip::command::run(&args, app);
            match args.source.gauge {
                Some(_) => judge::settled(measured, app),
                None => measured,
            }
        }
        Command::Runout(args) => {
            let measured = crate::runout::command::run(&args, app);
            match args.source.gauge {
                Some(_) => judge::settled(measured, app),
                None => measured,
            }
        }
        Command::Spindle(which) => {
            let shown = which.shown_whole().map(str::to_owned);
            let mut finished =
                crate::visits::spindles::spindle_command::run(which, judge::of, app)?;
            if let Some(name) = shown {
                // A page that says what cannot be is shown all the same.
                let lines =
                    judge::judged_by(app, &name).unwrap_or_else(|why| vec![why.to_string()]);
                finished.text = format!("{}\n{}", finished.text, lines.join("\n"));
            }
            Ok(finished)
        }
        Command::Visit(VisitCommand::Enter {
            from,
            dry_run,
            as_read,
        }) => crate::notebook::command::run(&from, dry_run, as_read, app),
        // Which spindle it is, is asked before it begins, and not behind it of one without a name.
        Command::Visit(VisitCommand::Start {
            short: true, facts, ..
        }) if facts.spindle.is_none()
            && facts.date.is_none()
            && crate::day::command::is_possible(app)
            && crate::day::command::is_none_open(app)? =>
        {
            crate::day::command::lead_short(*facts, app, carry_out)
        }
        Command::Visit(which) => {
            let short = matches!(which, VisitCommand::Start { short: true, .. });
            let begun = crate::visits::visit_command::run(which, judge::of, app)?;
            if !short || !crate::day::command::is_possible(app) {
                return Ok(begun);
            }
            // Forty minutes are led, one step after the other.
            app.settle_begun();
            app.console.conclude(Ok(begun));
            crate::day::command::lead(app, carry_out)
        }
        Command::Check(which) => crate::visits::visit_command::run_check(&which, judge::of, app),
        Command::Finding(FindingCommand::Round(args)) => crate::round::command::run(&args, app),
        Command::Finding(which) => crate::visits::findings::finding_command::run(which, app),
        Command::Report(args) => crate::page::command::run(&args, app),
        Command::Recheck(args) => crate::recheck::command::run(&args, app),
        Command::Book(which) => crate::visits::book::book_command::run(&which, app),
        Command::Gauge(which) => gauge(which, app),
        Command::Limits(which) => crate::limits::command::run(which, app),
        Command::Study(args) => crate::study::command::run(&args, app),
        Command::Overview(args) => crate::overview::command::run(&args, app),
        Command::Trend(args) => crate::trend::command::run(&args, app),
        Command::Prove => crate::prove::command::run(),
        Command::Settings(args) => {
            let book = match args.dry_run {
                true => named_book,
                false => to_be_set,
            };
            crate::terminal::settings_command::run(&args, book, to_be_logo, app)
        }
        Command::Schema { name } => crate::schemas::run(name.as_deref()),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "holdtrue", &mut script);
            printed(&script)
        }
        Command::Man { command } => printed(&manual::page(&command)?),
    }
}

fn gauge(command: GaugeCommand, app: &mut App) -> Result<Finished, Error> {
    match command {
        GaugeCommand::List => info_command::list(),
        GaugeCommand::Info(port) => info_command::info(&port, app),
        GaugeCommand::Check(args) => check_command::run(&args, app),
        GaugeCommand::History { serial } => history::run(serial.as_deref(), app),
        GaugeCommand::Knob(args) => history::knob(&args, app),
        GaugeCommand::Certificate(args) => certificate_command::run(&args, app),
        GaugeCommand::Calibrate(args) => calibrate_command::run(&args, app),
        GaugeCommand::Update(args) => crate::gauge_update::command::run(&args, app),
    }
}

/// A text that is the result itself.
fn printed(bytes: &[u8]) -> Result<Finished, Error> {
    let text = String::from_utf8_lossy(bytes).into_owned();
    Finished::new(Exit::Done, &json!({ "schema": 1, "text": text }), text)
}
