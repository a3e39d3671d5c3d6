//! What is asked before a runout: by which limit it is judged, and how a position is taken. In: the command so far, keys. Out: the
//! command with what was said.

use crate::command_line::{Cli, Command};
use crate::day::asked::{Words, option};
use crate::runout::arguments::RunoutArgs;
use crate::runout::before;
use crate::terminal::app::App;
use crate::terminal::asking::{Answer, Asking, BACK, Question, SPACE, Text, Wanted};
use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use holdtrue_screen::Key;
use std::ffi::OsString;

/// The command as it is to be carried out; none where it is left.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn asked(
    mut words: Words,
    app: &mut App,
    interrupt: &Interrupt,
) -> Result<Option<Words>, Error> {
    loop {
        let (judged, goes_on) = match arguments(&words) {
            Ok(args) => before::of_command(&args, app)?,
            // The command says so itself.
            Err(_) => (Vec::new(), true),
        };
        let question = question(judged, goes_on, app);
        let mut asking = Asking::begin(&mut app.console, interrupt.clone());
        match asking.key(&question) {
            None | Some(Answer::Back) => return Ok(None),
            Some(Answer::Forward) => return Ok(Some(words)),
            Some(Answer::Sign('6')) => {
                words.extend(option("--paced", "6"));
                return Ok(Some(words));
            }
            Some(Answer::Sign('L')) if !goes_on => match limit(&words, &mut asking) {
                None => return Ok(None),
                Some(more) => words.extend(more),
            },
            Some(Answer::Sign(_) | Answer::Changed) => {}
        }
    }
}

fn question(judged: Vec<String>, goes_on: bool, app: &App) -> Question {
    let mut lines = judged;
    lines.extend([
        format!(
            "By key: {}, a clicker or the gauge's button says that it stands still.",
            app.console.big_key()
        ),
        "Every 6 s: bell and light lead, 4 s to turn and 2 s to hold still.".to_owned(),
    ]);
    let limit = (!goes_on).then(|| Key::new("L", "give a limit"));
    Question {
        title: "Runout".to_owned(),
        word: "POSITIONS".to_owned(),
        sentence: "How is a position taken?".to_owned(),
        choices: vec![Key::new(SPACE, "BY KEY"), Key::new("6", "EVERY 6 S")],
        lines,
        keys: limit
            .into_iter()
            .chain([Key::new(BACK, "leave it")])
            .collect(),
        ..Question::default()
    }
}

/// A limit as a person types it, with where it comes from; nothing where none is given. None where nobody is there any more.
fn limit(words: &[String], asking: &mut Asking<'_>) -> Option<Words> {
    let mut asked = Question {
        title: "Runout".to_owned(),
        word: "LIMIT".to_owned(),
        sentence: "In the unit it is given in. Two figures with = between them: only at that height, mm from the nose."
            .to_owned(),
        ..Question::default()
    };
    let wanted = Wanted {
        what: "Runout (TIR) at most, such as 10 um or 20=10 um",
        alone: Some("none"),
        back: Some("back"),
        before: "",
    };
    let limit = loop {
        let typed = match asking.text(&asked, &wanted)? {
            Text::Typed(typed) if !typed.is_empty() => typed,
            Text::Typed(_) | Text::Back => return Some(Words::new()),
        };
        let limit = option("--limit-um", typed);
        match arguments(&[words, &limit].concat()) {
            Ok(_) => break limit,
            Err(told) => asked.lines = vec![told],
        }
    };
    // One source of all limits of a command.
    if words.iter().any(|word| word == "--provenance") {
        return Some(limit);
    }
    let question = Question {
        title: "Runout".to_owned(),
        word: "WHOSE".to_owned(),
        sentence: "Whose limit is it? The paper says so.".to_owned(),
        choices: vec![Key::new(SPACE, "MAKER"), Key::new("2", "USUAL")],
        lines: vec!["Usual: what technicians hold it to, with no source.".to_owned()],
        ..Question::default()
    };
    loop {
        let provenance = match asking.key(&question)? {
            Answer::Forward => "maker",
            Answer::Sign('2') => "common-practice",
            _ => continue,
        };
        return Some([limit, option("--provenance", provenance)].concat());
    }
}

/// What the command line makes of these words, or why nothing.
fn arguments(words: &[String]) -> Result<RunoutArgs, String> {
    let whole = std::iter::once("holdtrue").chain(words.iter().map(String::as_str));
    match Cli::read(whole.map(OsString::from)) {
        Ok(Cli {
            command: Some(Command::Runout(args)),
            ..
        }) => Ok(*args),
        Ok(_) => Err(String::new()),
        Err(refused) => {
            let told = refused.render().to_string();
            let first = told.lines().next().unwrap_or_default();
            // "error: invalid value 'ten' for '--limit-um': found …": nobody typed an option here.
            let why = first.split_once("': ").map_or(first, |(_, why)| why);
            Err(why.trim_start_matches("error: ").to_owned())
        }
    }
}
