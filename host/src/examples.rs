//! One example a command. In: the words of a command. Out: the same command with its example under the help.

use clap::Command;

/// Every command that does something, as it is typed on an ordinary day.
const EXAMPLES: &[(&str, &str)] = &[
    ("rehearse", "--condition weak-springs"),
    ("grip", "--gauge auto --state as-found"),
    ("runout", "--gauge auto --state as-found --paced 6"),
    (
        "spindle add",
        "\"Centre 1\" --interface BT40 --drawbar disc-springs --nominal-n 10kN",
    ),
    ("spindle list", ""),
    ("spindle show", "\"Centre 1\""),
    (
        "spindle event",
        "\"Centre 1\" --what springs-changed --on 2026-03-12",
    ),
    ("spindle edit", "\"Centre 1\" --minimum-n 8kN"),
    (
        "visit start",
        "--spindle \"Centre 1\" --consent-of \"yard office\" --tool T12",
    ),
    ("visit enter", "--from notebook.csv --dry-run"),
    ("visit status", ""),
    ("visit edit", "--tool-back"),
    ("visit finish", ""),
    ("visit amend", "--because \"the maker's figure came later\""),
    ("visit strike", "--because \"another machine\""),
    ("check strike", "2 --because \"the knob was loose\""),
    (
        "finding add",
        "--item \"gripper fingers\" --severity soon --photo fingers.jpg \"two shiny\"",
    ),
    ("finding round", ""),
    ("finding list", ""),
    ("finding photos", "photos-of-centre-2"),
    (
        "finding edit",
        "3 --cost \"400 to 600 EUR\" --because \"asked the maker\"",
    ),
    ("finding strike", "3 --because \"another machine\""),
    ("report", "--html centre-1.html"),
    ("recheck", ""),
    ("study", "--from study.csv"),
    ("overview", ""),
    ("trend", "--figure grip-mean --spindle \"Centre 1\""),
    ("book check", ""),
    ("book backup", "/media/stick"),
    ("book merge", "other.holdtrue"),
    ("book verify", ""),
    ("gauge list", ""),
    ("gauge info", "--gauge auto"),
    ("gauge check", "--gauge auto"),
    ("gauge history", ""),
    ("gauge knob", ""),
    ("gauge update", "gauge.uf2"),
    (
        "gauge certificate",
        "--gauge auto --certificate TP-F-0118 --laboratory \"Tern Point\" --date 2026-03-02 --due 2027-03-02 --rated-n 25000 \
         --span-n 500 20000 --uncertainty-percent 0.4 --uncertainty-n 8 --coefficients \"0 0.0116\"",
    ),
    (
        "gauge calibrate",
        "--from readings.csv --certificate TP-F-0119 --laboratory \"Tern Point\" --date 2026-03-02 --due 2027-03-02",
    ),
    ("limits list", ""),
    ("limits show", "centre-1.toml"),
    ("limits check", "centre-1.toml"),
    ("prove", ""),
    ("settings", "--name \"Technician A\" --currency EUR"),
    ("schema", "grip"),
    ("completions", "bash"),
    ("man", "gauge calibrate"),
];

/// The command and all below it, each with its example.
pub(crate) fn with_examples(command: Command) -> Command {
    below("", command)
}

fn below(path: &str, command: Command) -> Command {
    let known = EXAMPLES.iter().find(|(of, _)| *of == path);
    let command = match known {
        None => command,
        Some((_, words)) => {
            let line = format!("holdtrue {path} {words}");
            let mut help = format!("Example: {}", line.trim_end());
            if let Some(more) = command.get_after_help() {
                help = format!("{more}\n\n{help}");
            }
            command.after_help(help)
        }
    };
    let path = path.to_owned();
    command.mut_subcommands(move |sub| {
        let name = sub.get_name();
        let path = match path.is_empty() {
            true => name.to_owned(),
            false => format!("{path} {name}"),
        };
        below(&path, sub)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::command_line::Cli;
    use clap::CommandFactory;
    use std::collections::BTreeSet;
    use std::ffi::OsString;

    fn leaves(path: &str, command: &Command, into: &mut BTreeSet<String>) {
        let subs: Vec<&Command> = command.get_subcommands().collect();
        if subs.is_empty() {
            into.insert(path.to_owned());
        }
        for sub in subs {
            leaves(format!("{path} {}", sub.get_name()).trim(), sub, into);
        }
    }

    /// Words as a shell parts them: at blanks that stand in no quotes.
    fn parted(line: &str) -> Vec<OsString> {
        let mut words = vec![String::new()];
        let mut quoted = false;
        for c in line.chars() {
            match c {
                '"' => quoted = !quoted,
                ' ' if !quoted => words.push(String::new()),
                c => words.last_mut().expect("one at least").push(c),
            }
        }
        words.retain(|word| !word.is_empty());
        words.into_iter().map(OsString::from).collect()
    }

    #[test]
    fn every_command_has_an_example_that_can_be_typed() {
        let mut all = BTreeSet::new();
        leaves("", &Cli::command(), &mut all);
        let known: BTreeSet<String> = EXAMPLES.iter().map(|(of, _)| (*of).to_owned()).collect();
        assert_eq!(known, all);
        for (path, words) in EXAMPLES {
            let line = format!("holdtrue {path} {words}");
            let read = Cli::read(parted(&line));
            assert!(
                read.is_ok(),
                "{line}: {}",
                read.err().map_or_else(String::new, |e| e.to_string())
            );
        }
    }
}
