//! The manual. In: the words of a command. Out: its page, with what every page needs: exit codes, variables, files.

use crate::command_line::Cli;
use crate::terminal::error::Error;
use std::io;

/// What a shell gets back, in the order in which one outranks the other.
const EXITS: [(&str, &str); 9] = [
    ("0", "done; within limit, or nothing to judge"),
    (
        "1",
        "outside limit; a reference check out of tolerance; a stored result that differs",
    ),
    ("2", "the command line, or a question nobody could be asked"),
    (
        "3",
        "undecided, or clamps were found and none counts while a limit is set",
    ),
    ("4", "input that cannot be read"),
    ("5", "gauge or link"),
    ("6", "book, output file, disk, a digest that differs"),
    ("130", "stopped with Ctrl-C"),
    ("", "Failures outrank verdicts: 6, 5, 4, then 1, 3, 0."),
];

const VARIABLES: [(&str, &str); 3] = [
    (
        "HOLDTRUE_BOOK",
        "the book of visits, where --book names none",
    ),
    (
        "HOLDTRUE_TECHNICIAN",
        "whose name goes under what is written, where --technician names nobody",
    ),
    (
        "HOLDTRUE_SETTINGS",
        "the file of settings, in place of the usual one",
    ),
];

const EXAMPLES: [(&str, &str); 4] = [
    (
        "holdtrue rehearse",
        "a whole visit against a simulated gauge",
    ),
    (
        "holdtrue grip --gauge auto --interface BT40 --nominal-n 12000 --limit-percent 70",
        "five clamps with the gauge on this computer",
    ),
    (
        "holdtrue grip --from clamps.csv --limit-n 8400 --uncertainty-percent 1",
        "a record taken elsewhere",
    ),
    (
        "holdtrue report --html page.html",
        "the page of the latest visit",
    ),
];

/// The page of the program, or of the command these words name.
///
/// # Errors
/// There is no such command: exit 2.
pub(crate) fn page(words: &[String]) -> Result<Vec<u8>, Error> {
    let mut command = Cli::whole();
    command.build();
    for word in words {
        let found = command.find_subcommand(word).cloned();
        command = found.ok_or_else(|| {
            Error::usage(format!(
                "no command \"{}\": {} --help lists them",
                words.join(" "),
                command.get_bin_name().unwrap_or("holdtrue")
            ))
        })?;
    }
    let name = command
        .get_bin_name()
        .unwrap_or("holdtrue")
        .replace(' ', "-");
    let man = clap_mangen::Man::new(command.display_name(name));
    let mut page = Vec::new();
    written(man.render(&mut page))?;
    let mut more = String::new();
    section(&mut more, "EXIT STATUS", &EXITS);
    section(&mut more, "ENVIRONMENT", &VARIABLES);
    if words.is_empty() {
        section(&mut more, "EXAMPLES", &EXAMPLES);
    }
    page.extend(more.into_bytes());
    Ok(page)
}

fn written(done: io::Result<()>) -> Result<(), Error> {
    done.map_err(|e| Error::cannot_write("manual page", &e))
}

/// A heading and its labelled paragraphs, in the macros of manual pages.
fn section(page: &mut String, heading: &str, rows: &[(&str, &str)]) {
    page.push_str(&format!(".SH \"{heading}\"\n"));
    for (label, text) in rows {
        match *label {
            "" => page.push_str(&format!(".PP\n{text}\n")),
            label => page.push_str(&format!(
                ".TP\n\\fB{}\\fR\n{text}\n",
                label.replace('-', "\\-")
            )),
        }
    }
}
