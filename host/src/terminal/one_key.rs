//! A question that one key answers: yes or no, or one of two. In: the question. Out: the answer; by one key, with gloves, on the
//! live screen where it is open and under the line where a terminal gives single keys; by a typed line elsewhere. A key that is
//! held down answers one.

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

/// A key, and what it says.
struct Offered {
    sign: char,
    word: &'static str,
}

const YES_OR_NO: [Offered; 2] = [
    Offered {
        sign: 'Y',
        word: "yes",
    },
    Offered {
        sign: 'N',
        word: "no",
    },
];

impl Console {
    /// Asks. `None` when nobody can be asked.
    ///
    /// # Errors
    /// Whoever is asked stops: exit 130.
    pub fn ask(&mut self, question: &str) -> Result<Option<bool>, Error> {
        if self.hears_keys() {
            let answer = by_key(question, &YES_OR_NO, None, self)?;
            return Ok(answer.map(|place| place == 0));
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

    /// Asks which of two it is, each by the letter its word begins with; Enter alone says the one at a place. The place of what
    /// was said; `None` when nobody can be asked.
    ///
    /// # Errors
    /// Whoever is asked stops: exit 130.
    pub(crate) fn ask_which(
        &mut self,
        question: &str,
        words: [&'static str; 2],
        enter: Option<usize>,
    ) -> Result<Option<usize>, Error> {
        if self.hears_keys() {
            let offered = words.map(|word| Offered {
                sign: word
                    .chars()
                    .next()
                    .map_or(' ', |sign| sign.to_ascii_uppercase()),
                word,
            });
            return by_key(question, &offered, enter, self);
        }
        let [one, other] = words;
        let alone = said_by_enter(&words, enter);
        let question = format!("{question} Type {one} or {other}, then Enter.{alone}");
        while let Some(line) = self.line(&question)? {
            let typed = line.trim().to_lowercase();
            let said = |word: &&str| word.starts_with(&typed) || typed.ends_with(*word);
            let place = match typed.is_empty() {
                true => enter,
                false => words.iter().position(said),
            };
            if place.is_some() {
                return Ok(place);
            }
        }
        Ok(None)
    }
}

/// " Enter alone: found."; nothing where Enter says nothing.
fn said_by_enter(words: &[&str], enter: Option<usize>) -> String {
    let word = enter.and_then(|place| words.get(place));
    word.map_or_else(String::new, |word| format!(" Enter alone: {word}."))
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

/// One of the keys offered, and no other: none that a clicker sends, a sleeve, or a space bar held down. What was pressed before
/// answers nothing. None where nobody is there any more.
fn by_key(
    question: &str,
    offered: &[Offered],
    enter: Option<usize>,
    console: &mut Console,
) -> Result<Option<usize>, Error> {
    let interrupt = Interrupt::heard()?;
    let answers = Answers { offered, enter };
    let answer = match console.screen_mut() {
        Some(screen) => {
            screen.forget_typed();
            screen.ask(&answers.asked(question).scene());
            on_screen(screen, &answers, &interrupt)
        }
        None => under_the_line(question, &answers, console, &interrupt),
    };
    match answer {
        _ if interrupt.is_set() => Err(stopped_at_question()),
        Some(Answer::Stop) => Err(stopped_at_question()),
        Some(Answer::Said(place)) => Ok(Some(place)),
        None => Ok(None),
    }
}

fn on_screen(
    screen: &mut LiveScreen,
    answers: &Answers<'_>,
    interrupt: &Interrupt,
) -> Option<Answer> {
    let mut press = OnePress::of_its_own_keys();
    loop {
        let stroke = match screen.wait(|| interrupt.is_set() || press.is_due()) {
            Some(stroke) => answers.counted(&mut press, stroke),
            None if interrupt.is_set() => return None,
            None => Some(press.due()?),
        };
        if let Some(answer) = stroke.and_then(|stroke| answers.of(stroke)) {
            return Some(answer);
        }
    }
}

fn under_the_line(
    question: &str,
    answers: &Answers<'_>,
    console: &mut Console,
    interrupt: &Interrupt,
) -> Option<Answer> {
    let keys = Keys::of_terminal();
    let listening = keys.listen();
    // Said once it is heard: who presses at once is not missed.
    console.say(&format!("{question} {}", answers.in_words()));
    let mut press = OnePress::of_its_own_keys();
    while !interrupt.is_set() && !keys.are_gone() {
        let stroke = match listening.stroke() {
            Some(stroke) => answers.counted(&mut press, stroke),
            None => press.due(),
        };
        if let Some(answer) = stroke.and_then(|stroke| answers.of(stroke)) {
            if let Answer::Said(place) = answer {
                console.say(answers.offered[place].word);
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
    /// The key at this place.
    Said(usize),
    Stop,
}

/// What can be answered.
struct Answers<'a> {
    offered: &'a [Offered],
    /// What Enter alone says.
    enter: Option<usize>,
}

impl Answers<'_> {
    fn of(&self, stroke: Stroke) -> Option<Answer> {
        match stroke {
            Stroke::Sign(sign) => {
                let sign = sign.to_ascii_uppercase();
                let place = self.offered.iter().position(|each| each.sign == sign);
                place.map(Answer::Said)
            }
            Stroke::Enter => self.enter.map(Answer::Said),
            Stroke::Interrupt => Some(Answer::Stop),
            _ => None,
        }
    }

    /// Only a key that answers can be held down to answer what follows; who stops is never kept waiting.
    fn counted(&self, press: &mut OnePress, stroke: Stroke) -> Option<Stroke> {
        match self.of(stroke)? {
            Answer::Stop => Some(stroke),
            Answer::Said(_) => press.pressed(stroke),
        }
    }

    /// "Y yes, N no."
    fn in_words(&self) -> String {
        let keys: Vec<String> = self
            .offered
            .iter()
            .map(|each| format!("{} {}", each.sign, each.word))
            .collect();
        let words: Vec<&str> = self.offered.iter().map(|each| each.word).collect();
        format!("{}.{}", keys.join(", "), said_by_enter(&words, self.enter))
    }

    fn asked(&self, question: &str) -> Question {
        let key = |each: &Offered| Key::new(each.sign.to_string(), each.word.to_uppercase());
        let words: Vec<String> = self
            .offered
            .iter()
            .map(|each| each.word.to_uppercase())
            .collect();
        let enter = self
            .enter
            .map(|place| Key::new("Enter", self.offered[place].word));
        Question {
            title: "Before it goes on".to_owned(),
            word: words.join(" OR "),
            sentence: question.to_owned(),
            choices: self.offered.iter().map(key).collect(),
            keys: enter.into_iter().collect(),
            ..Question::default()
        }
    }
}
