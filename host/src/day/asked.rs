//! Questions and what was answered to them. In: answers, each as it is given. Out: what they add to a command; and, where the
//! visit they are for was not begun, the same again in this run of the program or the next.

use crate::terminal::app::App;
use crate::terminal::output_file;
use crate::terminal::output_file::Kind;
use crate::terminal::settings::absolute;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Words of a command.
pub type Words = Vec<String>;

/// Questions so far, in turn, each with what its answer adds to the command; none for one that did not arise.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Asked {
    answers: Vec<Option<Words>>,
    /// What was answered before somebody went back, by the question's number: it is offered again.
    before: BTreeMap<usize, Words>,
}

impl Asked {
    /// How many are answered, or did not arise.
    pub fn count(&self) -> usize {
        self.answers.len()
    }

    /// The next one is answered; none where it does not arise.
    pub fn answer(&mut self, words: Option<Words>) {
        self.answers.push(words);
    }

    /// Takes the last answer back, to be offered again; whether there was one.
    pub fn step_back(&mut self) -> bool {
        while self.answers.pop_if(|last| last.is_none()).is_some() {}
        let Some(last) = self.answers.pop().flatten() else {
            return false;
        };
        self.before.insert(self.answers.len(), last);
        true
    }

    /// Takes every answer back, each to be offered again.
    pub fn begin_again(&mut self) {
        while self.step_back() {}
    }

    /// What the answer to a question adds.
    pub fn words(&self, number: usize) -> &[String] {
        let answer = self.answers.get(number);
        answer.and_then(Option::as_deref).unwrap_or(&[])
    }

    /// What was answered before to the question that is asked now; none where it is asked for the first time.
    pub fn before(&self) -> Option<&[String]> {
        self.before.get(&self.answers.len()).map(Vec::as_slice)
    }

    /// What all answers add.
    pub fn all(&self) -> impl Iterator<Item = String> {
        self.answers.iter().flatten().flatten().cloned()
    }

    /// What was said to each, as a person said it.
    fn said(&self) -> impl Iterator<Item = &str> {
        let before = self.before.range(self.answers.len()..);
        let words = self
            .answers
            .iter()
            .flatten()
            .chain(before.map(|(_, words)| words));
        words
            .map(|words| value(words))
            .filter(|said| !said.is_empty())
    }

    /// The same with what options say of questions that were not asked for them.
    fn with(&self, told: impl Fn(usize) -> Option<Words>) -> Self {
        let each = self.answers.iter().enumerate();
        Self {
            answers: each
                .map(|(number, answer)| answer.clone().or_else(|| told(number)))
                .collect(),
            before: self.before.clone(),
        }
    }

    /// The same where other options are typed now: what they say is not asked, and what they no longer say is. Behind that one
    /// the answers are offered again, one by one.
    fn fitted(self, is_told: impl Fn(usize) -> bool) -> Self {
        let mut fitted = Self {
            before: self.before,
            ..Self::default()
        };
        let mut goes_on = true;
        for (number, answer) in self.answers.into_iter().enumerate() {
            match answer {
                _ if is_told(number) && goes_on => fitted.answer(None),
                _ if is_told(number) => {}
                Some(words) if goes_on => fitted.answer(Some(words)),
                Some(words) => _ = fitted.before.insert(number, words),
                None => goes_on = false,
            }
        }
        fitted
    }
}

/// What an answer says, without the option it belongs to; empty where it says nothing.
pub fn value(words: &[String]) -> &str {
    match words {
        [joined] if joined.starts_with("--") => {
            joined.split_once('=').map_or("", |(_, value)| value)
        }
        _ => words.last().map_or("", String::as_str),
    }
}

/// An option with what it says. What begins like an option is taken for one where it stands alone.
pub fn option(name: &str, value: impl Into<String>) -> Words {
    let value = value.into();
    match value.starts_with('-') {
        true => vec![format!("{name}={value}")],
        false => vec![name.to_owned(), value],
    }
}

/// Answers to a new visit that is not begun.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptAnswers {
    /// Which questions they are answers to: those of another release may be others.
    new_visit: u32,
    /// The book the visit was to come into; none where none was named yet.
    book: Option<PathBuf>,
    /// The spindle, where it is in the book.
    pub spindle: Option<String>,
    /// What is known of one that is not.
    pub entered: Asked,
    /// Of the visit.
    pub visit: Asked,
}

/// Raised where a question comes, goes or changes its place.
const QUESTIONS: u32 = 1;
const FILE: &str = "new-visit.json";
const ANSWERS: Kind = Kind {
    name: "the answers to a new visit",
    is: |beginning| beginning.starts_with(b"{\"new_visit\":"),
};

impl KeptAnswers {
    /// Answers so far about a spindle of the book, or else about a new one, and about the visit.
    pub fn of(spindle: Option<&str>, entered: &Asked, visit: &Asked) -> Self {
        Self {
            spindle: spindle.map(str::to_owned),
            entered: entered.clone(),
            visit: visit.clone(),
            ..Self::default()
        }
    }

    /// The same where options say the rest of it, which are not typed the next time.
    #[must_use]
    pub fn with(self, told: impl Fn(usize) -> Option<Words>) -> Self {
        Self {
            visit: self.visit.with(told),
            ..self
        }
    }

    /// The same where other options are typed now.
    #[must_use]
    pub fn fitted(self, is_told: impl Fn(usize) -> bool) -> Self {
        Self {
            visit: self.visit.fitted(is_told),
            ..self
        }
    }

    /// What was said, in a line.
    pub fn words(&self) -> String {
        let spindle = self.spindle.as_deref().into_iter();
        let said: Vec<&str> = spindle
            .chain(self.entered.said())
            .chain(self.visit.said())
            .collect();
        said.join(", ")
    }
}

/// Where they are kept: beside the settings, since there may be no book yet.
#[derive(Clone, Debug)]
pub struct Keeping {
    file: Option<PathBuf>,
    book: Option<PathBuf>,
}

impl Keeping {
    /// Of the book in use.
    pub fn of(app: &App) -> Self {
        let settings = app.settings_path.as_ref();
        let named = app.book.as_ref().or(app.chosen.as_ref());
        let book = named.or(app.settings.book.as_ref());
        Self {
            file: settings.map(|path| path.with_file_name(FILE)),
            book: book.map(|book| absolute(book).unwrap_or_else(|_| book.clone())),
        }
    }

    /// Keeps them. A place that takes nothing keeps nobody from a visit.
    pub fn keep(&self, answers: &KeptAnswers) {
        let answers = KeptAnswers {
            new_visit: QUESTIONS,
            book: self.book.clone(),
            ..answers.clone()
        };
        let (Some(file), Ok(text)) = (&self.file, serde_json::to_string(&answers)) else {
            return;
        };
        let _ = file.parent().map_or(Ok(()), std::fs::create_dir_all);
        let _ = output_file::write(file, ANSWERS, text.as_bytes(), true);
    }

    /// Those that are kept; none where there are none, or they are of another book or release.
    pub fn kept(&self) -> Option<KeptAnswers> {
        let text = std::fs::read_to_string(self.file.as_ref()?).ok()?;
        let kept: KeptAnswers = serde_json::from_str(&text).ok()?;
        let is_of_book = kept.book.is_none() || kept.book == self.book;
        let is_of_this = kept.new_visit == QUESTIONS && is_of_book;
        (is_of_this && !kept.words().is_empty()).then_some(kept)
    }

    /// The visit is begun, or nobody wants them.
    pub fn forget(&self) {
        if self.kept().is_some() {
            let _ = self.file.as_ref().map(std::fs::remove_file);
        }
    }

    /// A command refused them: each is offered again, to be put right.
    pub fn offer_again(&self) {
        if let Some(mut kept) = self.kept() {
            kept.entered.begin_again();
            kept.visit.begin_again();
            self.keep(&kept);
        }
    }
}
