//! One question after the other. In: questions with the keys that answer them. Out: a key or a line of text; from the live
//! screen with one stroke, else from a typed line, else nothing: nobody can be asked. One press is one answer, however long the
//! key is held down.

use crate::terminal::console::Console;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::Stroke;
use crate::terminal::one_press::OnePress;
use crate::terminal::prompt::Prompt;
use holdtrue_screen::{Figure, Key, Picture, Scene};
use std::cell::Cell;

/// One question.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Question {
    /// What it is about.
    pub title: String,
    /// How much is left; the time of day where empty.
    pub corner: String,
    /// What it is, in block letters.
    pub word: String,
    /// The question.
    pub sentence: String,
    /// How many, in blocks.
    pub figure: Option<Figure>,
    /// What is done and what comes next, step by step, beside the figure.
    pub steps: Vec<String>,
    /// The keys that answer it, at most four, in block letters.
    pub choices: Vec<Key>,
    /// What is known.
    pub lines: Vec<String>,
    /// The other keys that work now.
    pub keys: Vec<Key>,
}

impl Question {
    /// What it looks like.
    pub fn scene(&self) -> Scene {
        let picture = match self.choices.is_empty() {
            true => Picture::None,
            false => Picture::Choices(self.choices.clone()),
        };
        Scene {
            corner: self.corner.clone(),
            word: self.word.clone(),
            sentence: self.sentence.clone(),
            figure: self.figure.clone(),
            picture,
            steps: self.steps.clone(),
            lines: self.lines.clone(),
            keys: self.keys.clone(),
            ..Scene::new(self.title.clone())
        }
    }

    fn said(&self, console: &mut Console) {
        let parts = [&self.title, &self.corner, &self.word];
        let head: Vec<&str> = parts
            .into_iter()
            .map(String::as_str)
            .filter(|part| !part.is_empty())
            .collect();
        console.say("");
        console.say(&head.join(" · "));
        if let Some(figure) = &self.figure {
            console.say(&format!("{} {}", figure.digits, figure.unit));
        }
        console.say(&self.sentence);
        let lines = self.steps.iter().chain(&self.lines);
        lines.for_each(|line| console.say(line));
    }

    /// "Enter fine, S seen, L not looked."
    /// What a line says: a key, or the word that stands beside it. A word that is meant for somebody else, such as "exit",
    /// is no key for its first letter.
    fn answered_by(&self, line: &str) -> Option<Answer> {
        let typed = line.trim().to_lowercase();
        if typed.chars().count() <= 1 {
            return Some(Answer::of_line(line));
        }
        let said = |key: &&Key| {
            key.name.chars().count() == 1 && key.does.to_lowercase().starts_with(&typed)
        };
        let key = self.choices.iter().chain(&self.keys).find(said)?;
        Some(Answer::of_line(&key.name))
    }

    fn keys_said(&self) -> String {
        let all = self.choices.iter().chain(&self.keys);
        let all: Vec<String> = all.map(said_key).collect();
        match all.is_empty() {
            true => "Enter goes on.".to_owned(),
            false => format!("{}. Type one of them, then Enter.", all.join(", ")),
        }
    }
}

/// A key as a line is typed for it.
fn said_key(key: &Key) -> String {
    let does = key.does.to_lowercase();
    match key.name.as_str() {
        SPACE => format!("Enter: {does}"),
        "Enter" => format!("Enter alone: {does}"),
        BACK => format!("<: {does}"),
        name => format!("{name}: {does}"),
    }
}

/// What the big key is called.
pub const SPACE: &str = "SPACE";
/// What goes back.
pub const BACK: &str = "PageUp";
/// Says nothing, where something stands there already.
const NOTHING: &str = "-";

/// A key that answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// The big key, Enter or a clicker.
    Forward,
    /// Page up, the left arrow.
    Back,
    /// A letter or digit, as a capital.
    Sign(char),
    /// Nobody answered: something else changed.
    Changed,
}

impl Answer {
    fn of(stroke: Stroke) -> Option<Self> {
        match stroke {
            Stroke::Enter | Stroke::Forward | Stroke::Sign(' ') => Some(Self::Forward),
            Stroke::Backward => Some(Self::Back),
            Stroke::Sign(sign) => Some(Self::Sign(sign.to_ascii_uppercase())),
            Stroke::Erase | Stroke::Interrupt => None,
        }
    }

    /// The place of one of several that are numbered from 1; none of another key.
    pub fn place(self) -> Option<usize> {
        let Self::Sign(sign) = self else { return None };
        let number = usize::try_from(sign.to_digit(10)?).ok()?;
        number.checked_sub(1)
    }

    fn of_line(line: &str) -> Self {
        match line.trim().chars().next() {
            None => Self::Forward,
            Some('<') => Self::Back,
            Some(sign) => Self::Sign(sign.to_ascii_uppercase()),
        }
    }
}

/// Whoever is asked, on the live screen as long as this lives.
pub struct Asking<'a> {
    console: &'a mut Console,
    interrupt: Interrupt,
    press: OnePress,
    /// What the last stroke was an answer to, or none.
    asked: Option<Question>,
}

/// Why a key did nothing.
const ONE_PRESS: &str =
    "One press an answer: a key held down, or pressed before this was shown, answers nothing.";

impl<'a> Asking<'a> {
    /// Takes the terminal over, where there is one that can.
    pub fn begin(console: &'a mut Console, interrupt: Interrupt) -> Self {
        console.open_screen();
        Self {
            console,
            interrupt,
            press: OnePress::new(),
            asked: None,
        }
    }

    /// A line that stays when the screen is left.
    pub fn say(&mut self, line: &str) {
        self.console.say(line);
    }

    /// A key that answers; none where whoever is asked is gone or stops.
    pub fn key(&mut self, question: &Question) -> Option<Answer> {
        self.key_until(question, || false)
    }

    /// The same, until something else has `changed` and the question is no longer the same: [`Answer::Changed`]. Lines wait for
    /// a line.
    pub fn key_until(&mut self, question: &Question, changed: impl Fn() -> bool) -> Option<Answer> {
        let interrupt = self.interrupt.clone();
        let Some(screen) = self.console.screen_mut() else {
            return self.key_of_line(question);
        };
        if self.asked.as_ref() != Some(question) {
            // What was pressed before answers nothing that comes: counted from before it is seen, so that on a slow computer
            // nobody's answer is taken for one that came too soon.
            screen.forget_answers();
            self.press.asks();
            self.asked = Some(question.clone());
        }
        screen.ask(&question.scene());
        let is_changed = Cell::new(false);
        loop {
            let press = &self.press;
            let stop = || {
                is_changed.set(is_changed.get() || changed());
                is_changed.get() || interrupt.is_set() || press.is_due()
            };
            let stroke = match screen.wait(stop) {
                Some(Stroke::Interrupt) => return None,
                Some(stroke) => self.press.pressed(stroke),
                None if interrupt.is_set() => return None,
                None => match self.press.due() {
                    None if is_changed.get() => return Some(Answer::Changed),
                    None => return None,
                    due => due,
                },
            };
            if let Some(answer) = stroke.and_then(Answer::of) {
                return Some(answer);
            }
            if self.press.has_dropped() {
                let mut scene = question.scene();
                scene.lines.insert(0, ONE_PRESS.to_owned());
                screen.ask(&scene);
            }
        }
    }

    /// Answered by a line. Enter alone comes as fast as a key that is held down where a terminal sends it.
    fn key_of_line(&mut self, question: &Question) -> Option<Answer> {
        question.said(self.console);
        loop {
            self.press.asks();
            let line = self.console.line(&question.keys_said()).ok()??;
            if self.interrupt.is_set() {
                return None;
            }
            let is_answer = !line.is_empty()
                || self.press.pressed(Stroke::Enter).is_some()
                || !self.press.has_dropped();
            if is_answer {
                if let Some(answer) = question.answered_by(&line) {
                    return Some(answer);
                }
                let nothing = "answers nothing here: one letter does.";
                self.console.say(&format!("\"{}\" {nothing}", line.trim()));
            } else {
                self.console.say(ONE_PRESS);
            }
        }
    }

    /// A line of text, or the way back; none where whoever is asked is gone or stops.
    pub fn text(&mut self, question: &Question, wanted: &Wanted<'_>) -> Option<Text> {
        let interrupt = self.interrupt.clone();
        let Some(screen) = self.console.screen_mut() else {
            return self.text_of_line(question, wanted);
        };
        let mut text = wanted.before.to_owned();
        self.press.asks();
        self.asked = None;
        let mut nothing_typed = false;
        let mut is_touched = false;
        loop {
            // Nothing typed yet, or what stood there already and nobody touched.
            let is_new = text.is_empty() || !is_touched;
            let mut shown = question.clone();
            shown.choices.clear();
            shown.keys = wanted.keys(&text, is_new, "Backspace");
            shown.sentence = format!("{}: {text}_", wanted.what);
            shown
                .lines
                .splice(0..0, [question.sentence.clone(), String::new()]);
            if is_new && self.press.has_dropped() {
                shown.lines.insert(0, ONE_PRESS.to_owned());
            } else if text.is_empty() && nothing_typed {
                shown.lines.insert(0, wanted.nothing_typed());
            }
            screen.ask(&shown.scene());
            let press = &self.press;
            let stroke = match screen.wait(|| interrupt.is_set() || press.is_due()) {
                // With nothing typed, a key is an answer by itself.
                Some(stroke @ (Stroke::Enter | Stroke::Backward)) if is_new => {
                    self.press.pressed(stroke)
                }
                Some(stroke) => {
                    self.press.typed(stroke);
                    Some(stroke)
                }
                None if interrupt.is_set() => return None,
                None => Some(self.press.due()?),
            };
            let touches = matches!(stroke, Some(Stroke::Sign(_) | Stroke::Erase));
            is_touched = is_touched || touches;
            match stroke {
                Some(Stroke::Enter) => match text.trim() {
                    "" if wanted.alone.is_none() => nothing_typed = true,
                    typed => return Some(Text::Typed(typed.to_owned())),
                },
                Some(Stroke::Backward) if is_new && wanted.back.is_some() => {
                    return Some(Text::Back);
                }
                // What stands there already goes as a whole, as a text that is marked does.
                Some(Stroke::Sign(sign)) if is_new => text = sign.to_string(),
                Some(Stroke::Sign(sign)) => text.push(sign),
                Some(Stroke::Erase) if is_new => text.clear(),
                Some(Stroke::Erase) => _ = text.pop(),
                Some(Stroke::Interrupt) => return None,
                Some(Stroke::Forward | Stroke::Backward) | None => {}
            }
        }
    }

    fn text_of_line(&mut self, question: &Question, wanted: &Wanted<'_>) -> Option<Text> {
        question.said(self.console);
        let keys = wanted.keys(wanted.before, true, NOTHING);
        let keys = keys.iter().map(|key| format!("; {}", said_key(key)));
        let asked = format!("{}, then Enter{}:", wanted.what, keys.collect::<String>());
        loop {
            let line = self.console.line(&asked).ok()??;
            if self.interrupt.is_set() {
                return None;
            }
            match line.as_str() {
                "<" if wanted.back.is_some() => return Some(Text::Back),
                "" if !wanted.before.is_empty() => {
                    return Some(Text::Typed(wanted.before.to_owned()));
                }
                NOTHING if !wanted.before.is_empty() && wanted.alone.is_some() => {
                    return Some(Text::Typed(String::new()));
                }
                "" if wanted.alone.is_none() => self.console.say(&wanted.nothing_typed()),
                _ => return Some(Text::Typed(line)),
            }
        }
    }
}

/// A line of text that is asked for.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// What is to be typed.
    pub what: &'a str,
    /// What Enter alone says; none where something has to be typed.
    pub alone: Option<&'a str>,
    /// Where the way back leads, as long as nothing is typed; none where there is none.
    pub back: Option<&'a str>,
    /// What was typed before somebody went back: it stands there already. Empty where it is asked for the first time.
    pub before: &'a str,
}

impl Wanted<'_> {
    /// The keys that work now; `is_new`: nobody touched the text that stands there already, which `erases` takes away.
    fn keys(&self, text: &str, is_new: bool, erases: &str) -> Vec<Key> {
        let back = self.back.map(|back| Key::new(BACK, back));
        let alone = self.alone.map(|alone| Key::new("Enter", alone));
        match text {
            "" => alone.into_iter().chain(back).collect(),
            _ if is_new => {
                let kept = Key::new("Enter", format!("{text}, as before"));
                let erase = Key::new(erases, "erases it");
                [kept, erase].into_iter().chain(back).collect()
            }
            _ => vec![Key::new("Enter", "takes it")],
        }
    }

    fn nothing_typed(&self) -> String {
        let back = match self.back {
            Some(back) => format!(" {BACK}: {back}."),
            None => String::new(),
        };
        format!("Nothing was typed: a few words are wanted, then Enter.{back}")
    }
}

/// What came of a line of text that was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Text {
    /// It was typed; empty where Enter alone says something.
    Typed(String),
    /// Back to where it was asked from.
    Back,
}

impl Drop for Asking<'_> {
    fn drop(&mut self) {
        self.console.close_screen();
    }
}
