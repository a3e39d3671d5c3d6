//! Where words and results go. In: lines, messages and one result a command. Out: standard output and standard error.
//!
//! With `--json` standard output carries one document and nothing else; every line for a person goes to standard error.

use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::live_screen;
use crate::terminal::live_screen::LiveScreen;
use holdtrue_screen::{Ability, Scene, fitted, plain};
use holdtrue_wording::{shown, shown_json, shown_lines};
use serde::Serialize;
use serde_json::{Map, Value};
use std::borrow::Cow;
use std::io;
use std::io::{ErrorKind, IsTerminal, Write};

/// Version of the document that carries nothing but an error.
const ERROR_SCHEMA: u64 = 1;

/// The two outputs of the program.
pub struct Console {
    json: bool,
    out: Box<dyn Write>,
    messages: Box<dyn Write>,
    broken: Option<io::Error>,
    plain: bool,
    quiet: bool,
    screen: Option<LiveScreen>,
    aside: bool,
    /// Lines and messages go to a terminal, where no word is broken at its edge.
    fits: [bool; 2],
}

/// Text as a terminal of its present width and letters shows it; as it is anywhere else.
fn for_terminal(text: Cow<'_, str>, fits: bool) -> Cow<'_, str> {
    if !fits {
        // Where there is no terminal its width is asked of another program, at the cost of two starts a line.
        return text;
    }
    let text = match live_screen::ability() {
        Ability::Ascii => Cow::Owned(plain(&text, Ability::Ascii)),
        Ability::Unicode => text,
    };
    match crossterm::terminal::size() {
        Ok((width, _)) if width > 0 => {
            let lines: Vec<String> = text
                .split('\n')
                .flat_map(|line| fitted(line, width))
                .collect();
            Cow::Owned(lines.join("\n"))
        }
        _ => text,
    }
}

/// Ends what a command says that only looks.
pub(crate) const NOTHING_WRITTEN: &str = "Nothing was written: --dry-run.";

/// How a command ended: what it found, for the program that reads it and for the person.
#[derive(Debug)]
pub struct Finished {
    /// What the shell is told, unless an error outranks it.
    pub exit: Exit,
    /// The JSON document.
    pub document: Value,
    /// The same for a person; may be empty when everything was already said.
    pub text: String,
    /// What cut the command short; the document is then a partial result.
    pub error: Option<Error>,
}

impl Finished {
    /// A command that ran to its end.
    ///
    /// # Errors
    /// When the result has no JSON form; no result of this program is such.
    pub fn new(exit: Exit, result: &impl Serialize, text: String) -> Result<Self, Error> {
        let document = serde_json::to_value(result)
            .map_err(|e| Error::book(format!("the result cannot be written as JSON: {e}")))?;
        Ok(Self {
            exit,
            document,
            text,
            error: None,
        })
    }

    /// A command whose result was [announced](Console::announce) while it ran.
    pub fn announced(exit: Exit) -> Self {
        Self {
            exit,
            document: Value::Null,
            text: String::new(),
            error: None,
        }
    }

    /// The same, cut short by `error`.
    #[must_use]
    pub fn cut_short(mut self, error: Error) -> Self {
        self.error = Some(error);
        self
    }
}

impl Console {
    /// Standard output and standard error of the process.
    pub fn process(json: bool) -> Self {
        Self {
            fits: [io::stdout().is_terminal(), io::stderr().is_terminal()],
            ..Self::new(json, Box::new(io::stdout()), Box::new(io::stderr()))
        }
    }

    /// Any two writers.
    pub fn new(json: bool, out: Box<dyn Write>, messages: Box<dyn Write>) -> Self {
        Self {
            json,
            out,
            messages,
            broken: None,
            plain: true,
            quiet: true,
            screen: None,
            aside: false,
            fits: [false; 2],
        }
    }

    /// A live screen and bells where the terminal has them, unless `plain` lines or `quiet` are wanted.
    #[must_use]
    pub fn with_screen(self, plain: bool, quiet: bool) -> Self {
        let possible = !self.json && live_screen::is_possible();
        Self {
            plain: plain || !possible,
            quiet: quiet || !possible,
            ..self
        }
    }

    /// Takes the terminal over for what is measured now; without one, lines stay lines.
    pub fn open_screen(&mut self) {
        if !self.plain && self.screen.is_none() {
            // A terminal that cannot be taken over still shows lines.
            self.screen = LiveScreen::begin().ok();
            if self.quiet {
                self.screen_mut().into_iter().for_each(LiveScreen::silence);
            }
        }
    }

    /// Rings once and asks whether it was heard; where it was not, no bell sounds any more. Whoever wants to stop is not asked
    /// again: what runs next hears it too.
    pub fn try_bell(&mut self, stop: impl Fn() -> bool) {
        let Some(screen) = self.screen.as_mut().filter(|_| !self.quiet) else {
            return;
        };
        screen.ring(1);
        if screen.hears(stop) == Some(false) {
            screen.silence();
            self.quiet = true;
            self.say("No bell from now on; the gauge's light says the same. For good: holdtrue settings --bell off.");
        }
    }

    /// Gives the terminal back, and prints what was said meanwhile.
    pub fn close_screen(&mut self) {
        if let Some(screen) = self.screen.take() {
            for line in screen.end() {
                self.say(&line);
            }
        }
    }

    /// Gives the terminal back for lines that have to be read in full.
    pub fn step_aside(&mut self) {
        self.aside |= self.screen.is_some();
        self.close_screen();
    }

    /// Takes the terminal over again, where it was given back for lines.
    pub fn come_back(&mut self) {
        if std::mem::take(&mut self.aside) {
            self.open_screen();
        }
    }

    /// Keeps a picture until a key is pressed or `stop` says so; without a screen it is not shown.
    pub fn keep_scene(&mut self, scene: &Scene, stop: impl Fn() -> bool) {
        if let Some(screen) = &mut self.screen {
            screen.keep(scene, stop);
        }
    }

    /// Whether one JSON document goes to standard output, and no line.
    pub(crate) fn writes_json(&self) -> bool {
        self.json
    }

    /// Whether single keys are heard, and not lines.
    pub(crate) fn hears_keys(&self) -> bool {
        !self.plain
    }

    /// What the big key is called: where lines are typed, a blank is no answer.
    pub fn big_key(&self) -> &'static str {
        if self.plain { "Enter" } else { "Space" }
    }

    pub(crate) fn screen(&self) -> Option<&LiveScreen> {
        self.screen.as_ref()
    }

    pub(crate) fn screen_mut(&mut self) -> Option<&mut LiveScreen> {
        self.screen.as_mut()
    }

    /// Bells, unless nobody wants to hear them.
    pub(crate) fn bell(&mut self, count: u8) {
        if let Some(screen) = self.screen.as_mut().filter(|_| !self.quiet) {
            screen.ring(count);
        }
    }

    /// Whether a program reads standard output.
    pub fn json(&self) -> bool {
        self.json
    }

    /// A line for the person, shown at once.
    pub fn say(&mut self, line: &str) {
        if self.json {
            return self.message(line);
        }
        if let Some(screen) = &mut self.screen {
            return screen.say(&shown_lines(line));
        }
        let text = for_terminal(shown_lines(line), self.fits[0]);
        let written = writeln!(self.out, "{text}").and_then(|()| self.out.flush());
        self.note_broken(written);
    }

    /// A question, where whoever answers it can see it: beside the output where that goes to a file.
    pub fn question(&mut self, line: &str) {
        if self.json || self.fits[0] || self.screen.is_some() {
            self.say(line);
        } else {
            self.message(line);
        }
    }

    /// Whether what is said goes to a terminal, and not to a file or another program.
    pub fn is_terminal(&self) -> bool {
        !self.json && self.fits[0]
    }

    /// A result that is needed before the command ends: for the program that reads it, or for the person.
    pub fn announce(&mut self, document: Value, text: &str) {
        if self.json {
            self.print_document(document);
        } else {
            self.say(text);
        }
    }

    /// A message: standard error, always. Nobody can be told that standard error is gone, so that is ignored.
    pub fn message(&mut self, line: &str) {
        if let Some(screen) = &mut self.screen {
            return screen.say(&shown_lines(line));
        }
        let text = for_terminal(shown_lines(line), self.fits[1]);
        let _ = writeln!(self.messages, "{text}");
    }

    /// Bytes that are the result themselves (a script, a page).
    pub fn raw(&mut self, bytes: &[u8]) {
        let written = self.out.write_all(bytes).and_then(|()| self.out.flush());
        self.note_broken(written);
    }

    /// Prints how the command ended and says what the shell is to be told.
    pub fn finish(mut self, result: Result<Finished, Error>) -> Exit {
        self.conclude(result)
    }

    /// The same of one command of several.
    pub fn conclude(&mut self, result: Result<Finished, Error>) -> Exit {
        self.close_screen();
        let (mut exit, error) = match result {
            Ok(finished) => self.print_result(finished),
            Err(error) => {
                if self.json && error.exit != Exit::Usage {
                    self.print_document(with_error(schema_only(), &error));
                }
                (error.exit, Some(error))
            }
        };
        if let Some(error) = error {
            exit = exit.or_worse(error.exit);
            self.message(&format!("holdtrue: {}", shown(&error.message)));
        }
        match self.broken.take() {
            None => exit,
            // Whoever read us has seen enough: no error.
            Some(source) if source.kind() == ErrorKind::BrokenPipe => exit,
            Some(source) => {
                let error = Error::cannot_write("standard output", &source);
                self.message(&format!("holdtrue: {error}"));
                exit.or_worse(error.exit)
            }
        }
    }

    fn print_result(&mut self, finished: Finished) -> (Exit, Option<Error>) {
        let Finished {
            exit,
            document,
            text,
            error,
        } = finished;
        if self.json {
            match &error {
                Some(error) => self.print_document(with_error(document, error)),
                None if document.is_null() => {}
                None => self.print_document(document),
            }
        } else if !text.is_empty() {
            self.say(text.trim_end());
        }
        (exit, error)
    }

    fn print_document(&mut self, document: Value) {
        // `{:#}` of a Value is its indented JSON; a Value always has one.
        let text = format!("{document:#}\n");
        self.raw(shown_json(&text).as_bytes());
    }

    fn note_broken(&mut self, written: io::Result<()>) {
        if let Err(source) = written {
            self.broken.get_or_insert(source);
        }
    }
}

fn schema_only() -> Value {
    Value::Object(Map::from_iter([(
        "schema".to_owned(),
        Value::from(ERROR_SCHEMA),
    )]))
}

fn with_error(mut document: Value, error: &Error) -> Value {
    let error = serde_json::to_value(error.document())
        .expect("an error document is strings and numbers only");
    if let Value::Object(members) = &mut document {
        members.insert("error".to_owned(), error);
    }
    document
}
