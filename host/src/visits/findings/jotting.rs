//! A note or a finding written down while a check runs. In: keys. Out: a question over the picture of the step, and a finding of
//! the visit.

use crate::terminal::error::Error;
use crate::terminal::keys::Key;
use crate::terminal::prompt::{Entry, Prompt};
use crate::visits::book::book_writer::BookWriter;
use holdtrue_book::{Finding, FindingKind, Json};
use holdtrue_screen::{Key as ShownKey, Picture, Scene};
use holdtrue_terms::vocabulary::Severity;
use uuid::Uuid;

/// Signs of a text that is being typed which stay in sight; the newest.
const IN_SIGHT: usize = 100;

/// How far a question over the picture is.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer<T> {
    /// Not answered yet.
    Open,
    /// Left without an answer.
    Left,
    /// Answered.
    Done(T),
    /// The check is to stop.
    Stop,
}

/// What is being written down.
#[derive(Clone, Debug, Default)]
pub struct Jotting {
    severity: Option<Severity>,
    text: String,
}

impl Jotting {
    /// A note: nothing urgent.
    pub fn note() -> Self {
        Self {
            severity: Some(Severity::Note),
            text: String::new(),
        }
    }

    /// A finding, of which the urgency is asked first.
    pub fn finding() -> Self {
        Self::default()
    }

    /// Takes what was typed since the last look; in the end how urgent it is, and the words.
    pub fn hear(&mut self, prompt: &mut dyn Prompt) -> Answer<(Severity, String)> {
        let Some(severity) = self.severity else {
            match chosen(Severity::ALL, prompt) {
                Answer::Done(severity) => self.severity = Some(severity),
                Answer::Open => {}
                Answer::Left => return Answer::Left,
                Answer::Stop => return Answer::Stop,
            }
            return Answer::Open;
        };
        match typed(&mut self.text, prompt) {
            Answer::Done(text) => Answer::Done((severity, text)),
            Answer::Open => Answer::Open,
            Answer::Left => Answer::Left,
            Answer::Stop => Answer::Stop,
        }
    }

    /// The picture of the step with the question over it.
    pub fn over(&self, scene: Scene) -> Scene {
        match self.severity {
            None => choice_over(
                scene,
                "How urgent is what was seen?",
                Severity::ALL.iter().map(|severity| severity.words()),
            ),
            Some(Severity::Note) => text_over(scene, "Note", &self.text),
            Some(severity) => text_over(
                scene,
                &format!("Seen ({}), in a few words", severity.words()),
                &self.text,
            ),
        }
    }
}

/// One of these, by its digit.
pub fn chosen<T: Copy>(of: &[T], prompt: &mut dyn Prompt) -> Answer<T> {
    match prompt.typed() {
        Some(Key::Choice(number)) => {
            let place = usize::from(number).checked_sub(1);
            let choice = place.and_then(|place| of.get(place));
            choice.map_or(Answer::Open, |choice| Answer::Done(*choice))
        }
        Some(Key::Back) => Answer::Left,
        // Only Ctrl-C: letters are typed too soon, by somebody who takes this for the line of text, and the check would be over.
        Some(Key::Stop) => Answer::Stop,
        _ => Answer::Open,
    }
}

/// A line of text, ended by Enter; an empty one is none.
pub fn typed(text: &mut String, prompt: &mut dyn Prompt) -> Answer<String> {
    match prompt.enter(text) {
        Entry::Typing => Answer::Open,
        Entry::Stop => Answer::Stop,
        Entry::Done => match text.trim() {
            "" => Answer::Left,
            some => Answer::Done(some.to_owned()),
        },
    }
}

/// A question takes the room of the circle.
fn without_circle(picture: Picture) -> Picture {
    match picture {
        Picture::Circle(_) => Picture::None,
        other => other,
    }
}

/// The picture of a step with a choice over it.
pub fn choice_over<'a>(scene: Scene, question: &str, of: impl Iterator<Item = &'a str>) -> Scene {
    Scene {
        picture: without_circle(scene.picture),
        sentence: format!("{question} Type its number."),
        steps: of.map(str::to_owned).collect(),
        keys: vec![ShownKey::new("PageUp", "leave it")],
        ..scene
    }
}

/// The picture of a step with a line being typed over it.
pub fn text_over(scene: Scene, what: &str, text: &str) -> Scene {
    let hidden = text.chars().count().saturating_sub(IN_SIGHT);
    let shown: String = text.chars().skip(hidden).collect();
    Scene {
        picture: without_circle(scene.picture),
        sentence: format!("{what}: {shown}_"),
        keys: vec![ShownKey::new(
            "Enter",
            "write it down; with nothing typed: leave it",
        )],
        ..scene
    }
}

/// Puts it into the visit.
///
/// # Errors
/// When the book does not take it.
pub fn file(
    severity: Severity,
    text: String,
    item: &str,
    visit: Uuid,
    writer: &mut BookWriter,
) -> Result<(), Error> {
    let (id, stamp) = (writer.id(), writer.stamp());
    writer.book.find(&Finding {
        id,
        visit,
        kind: FindingKind::Found,
        severity: Some(severity),
        assembly: "spindle".to_owned(),
        item: item.to_owned(),
        text,
        content: Json::empty(),
        stamp,
    })?;
    Ok(())
}
