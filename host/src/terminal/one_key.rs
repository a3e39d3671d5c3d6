//! A question that needs a yes. In: the question. Out: yes or no; by one key, with gloves, on the live screen where it is open
//! and under the line where a terminal gives single keys; by a typed line elsewhere. A key that is held down answers one.

use crate::terminal::asking::Question;
use crate::terminal::console::Console;
use crate::terminal::error::Error;
use crate::terminal::interrupt::{Interrupt, stopped_at_question};
use crate::terminal::keys::{Keys, Listening, Stroke};
use crate::terminal::live_screen::LiveScreen;
use crate::terminal::one_press::OnePress;
use crate::terminal::prompt::Prompt;
use holdtrue_screen::Key;
use std::time::{Duration, Instant};

/// How often it is looked whether somebody pressed a key.
const LOOK_EVERY: Duration = Duration::from_millis(30);
/// Two keys of one word follow each other within this.
const REST: Duration = Duration::from_millis(200);

impl Console {
    /// Asks. `None` when nobody can be asked.
    ///
    /// # Errors
    /// Whoever is asked stops: exit 130.
    pub fn ask(&mut self, question: &str) -> Result<Option<bool>, Error> {
        if self.hears_keys() {
            return by_key(question, self);
        }
        loop {
            let Some(line) = self.line(&as_question(question))? else {
                return Ok(None);
            };
            if let Some(answer) = of_line(&line) {
                return Ok(Some(answer));
            }
        }
    }
}

/// A question with how a line answers it.
pub fn as_question(question: &str) -> String {
    format!("{question} Type yes or no, then Enter.")
}

/// What a typed line answers; none where it is neither.
pub fn of_line(line: &str) -> Option<bool> {
    match line.trim().to_lowercase().as_str() {
        "yes" | "y" => Some(true),
        "no" | "n" => Some(false),
        _ => None,
    }
}

/// Y or N, and no other key: none that a clicker sends, a sleeve, or a space bar held down. What was pressed before answers
/// nothing. None where nobody is there any more.
fn by_key(question: &str, console: &mut Console) -> Result<Option<bool>, Error> {
    let interrupt = Interrupt::heard()?;
    let answer = match console.screen_mut() {
        Some(screen) => {
            screen.forget_typed();
            screen.ask(&asked(question).scene());
            on_screen(screen, &interrupt)
        }
        None => under_the_line(question, console, &interrupt),
    };
    match answer {
        _ if interrupt.is_set() => Err(stopped_at_question()),
        Some(Answer::Stop) => Err(stopped_at_question()),
        Some(Answer::Yes) => Ok(Some(true)),
        Some(Answer::No) => Ok(Some(false)),
        None => Ok(None),
    }
}

fn on_screen(screen: &mut LiveScreen, interrupt: &Interrupt) -> Option<Answer> {
    let mut press = OnePress::of_its_own_keys();
    loop {
        let stroke = match screen.wait(|| interrupt.is_set() || press.is_due()) {
            Some(stroke) => counted(&mut press, stroke),
            None if interrupt.is_set() => return None,
            None => Some(press.due()?),
        };
        if let Some(answer) = stroke.and_then(Answer::of) {
            return Some(answer);
        }
    }
}

/// Only a key that answers can be held down to answer what follows; who stops is never kept waiting.
fn counted(press: &mut OnePress, stroke: Stroke) -> Option<Stroke> {
    match Answer::of(stroke)? {
        Answer::Stop => Some(stroke),
        Answer::Yes | Answer::No => press.pressed(stroke),
    }
}

fn under_the_line(question: &str, console: &mut Console, interrupt: &Interrupt) -> Option<Answer> {
    let keys = Keys::of_terminal();
    let listening = keys.listen();
    // Said once it is heard: who presses at once is not missed.
    console.say(&format!("{question} Y yes, N no."));
    let mut press = OnePress::of_its_own_keys();
    while !interrupt.is_set() && !keys.are_gone() {
        let stroke = match listening.stroke() {
            Some(stroke) => counted(&mut press, stroke),
            None => press.due(),
        };
        if let Some(answer) = stroke.and_then(Answer::of) {
            match answer {
                Answer::Yes => console.say("yes"),
                Answer::No => console.say("no"),
                Answer::Stop => {}
            }
            forget_the_rest(&listening);
            return Some(answer);
        }
        std::thread::sleep(LOOK_EVERY);
    }
    None
}

/// Who types the whole word and Enter, out of habit, does not answer what comes next with it.
fn forget_the_rest(listening: &Listening) {
    let mut heard = Instant::now();
    while heard.elapsed() < REST {
        match listening.stroke() {
            Some(_) => heard = Instant::now(),
            None => std::thread::sleep(LOOK_EVERY),
        }
    }
}

enum Answer {
    Yes,
    No,
    Stop,
}

impl Answer {
    fn of(stroke: Stroke) -> Option<Self> {
        match stroke {
            Stroke::Sign('y' | 'Y') => Some(Self::Yes),
            Stroke::Sign('n' | 'N') => Some(Self::No),
            Stroke::Interrupt => Some(Self::Stop),
            _ => None,
        }
    }
}

fn asked(question: &str) -> Question {
    Question {
        title: "Before it goes on".to_owned(),
        word: "YES OR NO".to_owned(),
        sentence: question.to_owned(),
        choices: vec![Key::new("Y", "YES"), Key::new("N", "NO")],
        ..Question::default()
    }
}
