//! In: what is about to be energised. Out: its cautions said, and somebody's yes stored in the book.

use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::terminal::keys::Keys;
use crate::terminal::prompt::Prompt;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::cautions;
use crate::visits::cautions::MachineState;
use holdtrue_book::{Acknowledgement, How};
use holdtrue_wording::words;
use uuid::Uuid;

/// Cautions that were said and acknowledged. Nothing of it is in the book yet: first the gauge has to answer.
#[derive(Debug)]
#[must_use]
pub struct Acknowledged {
    state: MachineState,
    text: String,
    how: How,
}

/// Says the cautions of a state and has them acknowledged: in full once a state and visit, after that in one line that
/// names what is done. `known` is what was acknowledged in the open visit.
///
/// # Errors
/// Nobody there to ask and no `--yes`, or the answer is no: exit 2, with nothing energised.
pub fn before(
    state: MachineState,
    act: &str,
    known: &[Acknowledgement],
    app: &mut App,
) -> Result<Acknowledged, Error> {
    if said_in_full(state, known) {
        let line = format!("{}, {act}", state.short());
        app.console.say(cautions::FIRST_LINE);
        let how = entered(&line, app)?;
        return Ok(Acknowledged {
            state,
            text: line,
            how,
        });
    }
    say(state, &mut app.console);
    let how = how(app)?;
    let text = in_full(state);
    Ok(Acknowledged { state, text, how })
}

/// Has acknowledged, by one key, what only whoever stands at the machine can know.
///
/// # Errors
/// As [`before`].
pub fn also(state: MachineState, line: &str, app: &mut App) -> Result<Acknowledged, Error> {
    let how = entered(line, app)?;
    let text = line.to_owned();
    Ok(Acknowledged { state, text, how })
}

/// Refuses, with the cautions said, where nobody is there to acknowledge them: no gauge is opened for that.
///
/// # Errors
/// Nobody there to ask and no `--yes`: exit 2.
pub fn require_somebody(state: MachineState, app: &mut App) -> Result<(), Error> {
    if app.yes || Keys::of_terminal().is_somebody() {
        return Ok(());
    }
    say(state, &mut app.console);
    Err(nobody_there())
}

/// Whether somebody acknowledged the words of today in full.
pub fn said_in_full(state: MachineState, known: &[Acknowledgement]) -> bool {
    let text = in_full(state);
    known.iter().any(|row| {
        row.caution == state.name() && row.how != How::Printed && row.text.starts_with(&text)
    })
}

impl Acknowledged {
    /// How it was acknowledged.
    pub fn how(&self) -> How {
        self.how
    }

    /// Keeps it with the visit.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn file(&self, visit: Uuid, writer: &mut BookWriter) -> Result<(), Error> {
        store(self.state, self.text.clone(), self.how, visit, None, writer)
    }
}

/// Says the cautions for loading a gauge away from a spindle and has them acknowledged.
///
/// # Errors
/// As [`how`].
pub fn loading(heading: &str, cautions: &[&str], app: &mut App) -> Result<How, Error> {
    app.console.say(cautions::FIRST_LINE);
    app.console.say(heading);
    for caution in cautions {
        app.console.say(&format!("- {caution}"));
    }
    app.console.say("");
    asked("here", app)
}

/// Has what was just said acknowledged.
///
/// # Errors
/// Nobody there to ask and no `--yes`, or the answer is no: exit 2.
pub fn how(app: &mut App) -> Result<How, Error> {
    asked("at this machine", app)
}

/// Says the cautions where nothing is energised, and keeps that they were printed.
///
/// # Errors
/// When the book does not take it.
pub fn only_print(
    state: MachineState,
    visit: Uuid,
    writer: &mut BookWriter,
    app: &mut App,
) -> Result<(), Error> {
    say(state, &mut app.console);
    store(state, in_full(state), How::Printed, visit, None, writer)
}

fn asked(place: &str, app: &mut App) -> Result<How, Error> {
    if app.yes {
        return Ok(How::ByFlag);
    }
    match app
        .console
        .ask(&format!("Read, understood, and in place {place}?"))?
    {
        Some(true) => Ok(How::Asked),
        Some(false) => Err(Error::usage(
            "cautions not acknowledged: nothing was started. Put them in place, then try again",
        )),
        None => Err(nobody_there()),
    }
}

/// Has one line acknowledged by one key that is no clicker's, and that nobody holds down or lies on: a yes.
fn entered(line: &str, app: &mut App) -> Result<How, Error> {
    if app.yes {
        app.console.say(line);
        return Ok(How::ByFlag);
    }
    let question = format!("{}. Is it so?", words::capital(line));
    match app.console.ask(&question)? {
        Some(true) => Ok(How::Asked),
        Some(false) => Err(Error::usage(
            "not acknowledged: nothing was started. Make it so, then try again",
        )),
        None => {
            app.console.say(line);
            Err(nobody_there())
        }
    }
}

fn nobody_there() -> Error {
    Error::usage(
        "the cautions must be acknowledged and nobody can be asked here: nothing was started. \
         Run it on a terminal, or add --yes",
    )
}

/// Prints them.
pub fn say(state: MachineState, prompt: &mut dyn Prompt) {
    prompt.say(cautions::FIRST_LINE);
    prompt.say(state.heading());
    for caution in state.cautions() {
        prompt.say(&format!("- {caution}"));
    }
    prompt.say("");
}

/// The words of a state as the book keeps them.
pub fn in_full(state: MachineState) -> String {
    let lines = [cautions::FIRST_LINE].into_iter();
    let lines: Vec<&str> = lines.chain(state.cautions().iter().copied()).collect();
    lines.join("\n")
}

/// Keeps what was said and how it was acknowledged.
///
/// # Errors
/// When the book does not take it.
pub fn store(
    state: MachineState,
    text: String,
    how: How,
    visit: Uuid,
    check: Option<Uuid>,
    writer: &mut BookWriter,
) -> Result<(), Error> {
    let id = writer.id();
    let stamp = writer.stamp();
    writer.book.acknowledge(&Acknowledgement {
        id,
        visit,
        check,
        caution: state.name().to_owned(),
        text,
        how,
        stamp,
    })?;
    Ok(())
}
