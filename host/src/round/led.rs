//! The round asked item by item. In: keys. Out: answers, each in the book before the next item is shown.

use crate::round::state::{Answer, Round};
use crate::terminal::asking::{Answer as Pressed, Asking, BACK, Question, SPACE, Text, Wanted};
use crate::terminal::console::Console;
use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use crate::visits::findings::estimate::{Allowed, Cost, Estimate, Measured, hours};
use crate::visits::findings::photos;
use crate::visits::findings::photos::NewPhoto;
use holdtrue_book::FindingKind;
use holdtrue_screen::Key;
use holdtrue_terms::quantity;
use holdtrue_terms::vocabulary::Severity;
use std::path::Path;

/// What was measured and photographed of an item before it is answered.
#[derive(Default)]
struct Beside {
    estimate: Estimate,
    photos: Vec<NewPhoto>,
    /// What went wrong last.
    trouble: Option<String>,
}

/// How the person went on.
enum Next {
    /// To the next item.
    On,
    /// The round is left for now.
    Leave,
    /// Nothing is left, and it is to end.
    Done,
}

/// How it went on after something was seen.
enum Seen {
    /// Answered, and on.
    Answered(Next),
    /// Back to the item, as it was.
    Back,
}

/// What Enter alone says where something may be entered.
const NOTHING_OF_IT: &str = "nothing of it";

/// A value as it is usually found, and what a maker may allow, in the unit of an item.
fn example(unit: &str) -> (&'static str, &'static str) {
    match unit {
        "%" => ("85", "at least 80"),
        "µm" => ("8", "at most 10"),
        "°C" => ("45", "at most 60"),
        "bar" => ("60", "55 to 65"),
        "s" => ("0.8", "at most 1.5"),
        _ => ("0.35", "0.3 to 0.5"),
    }
}

/// Where the way back leads from an item's own questions.
const TO_THE_ITEM: &str = "back to the item";

/// Leads through what is open until it is done or left.
///
/// # Errors
/// When the book does not take an answer; stopped, or nobody is there any more: exit 130.
pub fn lead(
    round: &mut Round,
    currency: Option<&str>,
    console: &mut Console,
    interrupt: Interrupt,
) -> Result<(), Error> {
    let mut led = Led {
        round,
        currency,
        asking: Asking::begin(console, interrupt),
        why: None,
    };
    loop {
        let went_on = match led.round.next() {
            Some(at) => led.item(at)?,
            None => led.through()?,
        };
        match went_on {
            Some(Next::On) => {}
            Some(Next::Leave) => return led.leave(),
            Some(Next::Done) => return Ok(()),
            None => {
                return Err(Error::interrupted(
                    "stopped: everything answered is in the book; holdtrue finding round goes on there",
                ));
            }
        }
    }
}

struct Led<'a> {
    round: &'a mut Round,
    currency: Option<&'a str>,
    asking: Asking<'a>,
    /// Why the last one was not looked at.
    why: Option<String>,
}

impl Led<'_> {
    /// One item; none where nobody is there any more.
    fn item(&mut self, at: usize) -> Result<Option<Next>, Error> {
        let mut beside = Beside::default();
        loop {
            let question = self.question(at, &beside);
            beside.trouble = None;
            let Some(pressed) = self.asking.key(&question) else {
                return Ok(None);
            };
            let answer = match pressed {
                Pressed::Forward | Pressed::Sign('F') => Answer::fine(),
                Pressed::Sign('S') => match self.seen(at, &question, &beside)? {
                    Some(Seen::Answered(next)) => return Ok(Some(next)),
                    Some(Seen::Back) => continue,
                    None => return Ok(None),
                },
                Pressed::Sign('L') => match self.why_not(&question) {
                    Some(why) => Answer::not_examined(&why),
                    None => continue,
                },
                Pressed::Sign('A') => {
                    let open = self.round.open_in(&self.round.places[at].assembly);
                    let answers = open.into_iter().map(|place| {
                        let answer = Answer::fine();
                        (
                            place,
                            if place == at {
                                with(answer, &beside)
                            } else {
                                answer
                            },
                        )
                    });
                    self.round.answer(answers.collect())?;
                    return Ok(Some(Next::On));
                }
                Pressed::Back => {
                    if self.round.take_back()?.is_some() {
                        return Ok(Some(Next::On));
                    }
                    beside.trouble = Some("No answer of the round is before this one.".to_owned());
                    continue;
                }
                Pressed::Sign('V') => {
                    self.measured(at, &question, &mut beside);
                    continue;
                }
                Pressed::Sign('I') => {
                    self.photo(&question, &mut beside);
                    continue;
                }
                Pressed::Sign('Q') => return Ok(Some(Next::Leave)),
                Pressed::Sign(_) | Pressed::Changed => continue,
            };
            let answer = with(answer, &beside);
            match answer.estimate.fits(answer.kind) {
                Ok(()) => {
                    self.round.answer(vec![(at, answer)])?;
                    return Ok(Some(Next::On));
                }
                Err(told) => beside.trouble = Some(told),
            }
        }
    }

    fn question(&self, at: usize, beside: &Beside) -> Question {
        let place = &self.round.places[at];
        let (number, of) = place.number;
        let item = &place.item;
        let mut lines: Vec<String> = beside.trouble.iter().cloned().collect();
        lines.extend(photo_lines(&beside.photos));
        lines.extend(beside.estimate.measured_words());
        lines.extend(place.last_time.iter().cloned());
        let mut keys = vec![Key::new("A", "rest of these is fine")];
        if self.round.has_steps() {
            keys.push(Key::new(BACK, "answer back"));
        }
        if item.unit.is_some() {
            keys.push(Key::new("V", "value"));
        }
        keys.extend([Key::new("I", "photo"), Key::new("Q", "leave")]);
        Question {
            title: format!(
                "Condition round · {} · {}, {number} of {of}",
                self.round.spindle, place.assembly
            ),
            corner: format!("{} left", self.round.left()),
            word: item.short.clone(),
            sentence: format!("{} {}", item.look, item.how).trim().to_owned(),
            choices: vec![
                Key::new(SPACE, "FINE"),
                Key::new("S", "SEEN"),
                Key::new("L", "NOT LOOKED"),
            ],
            lines,
            keys,
            ..Question::default()
        }
    }

    /// Something was seen: how urgent, in a few words, and what it comes to.
    fn seen(&mut self, at: usize, item: &Question, beside: &Beside) -> Result<Option<Seen>, Error> {
        let question = Question {
            sentence: "How urgent is what was seen?".to_owned(),
            choices: vec![
                Key::new("1", "BEFORE RUN"),
                Key::new("2", "WEEKS"),
                Key::new("3", "SERVICE"),
                Key::new("4", "NOTE"),
            ],
            lines: Vec::new(),
            keys: vec![Key::new(BACK, TO_THE_ITEM)],
            ..item.clone()
        };
        let severity = loop {
            match self.asking.key(&question) {
                None => return Ok(None),
                Some(Pressed::Back) => return Ok(Some(Seen::Back)),
                Some(other) => {
                    let severity = other.place().and_then(|place| Severity::ALL.get(place));
                    if let Some(severity) = severity {
                        break *severity;
                    }
                }
            }
        };
        let what = format!("Seen ({}), in a few words", severity.words());
        let wanted = Wanted {
            what: &what,
            alone: None,
            back: Some(TO_THE_ITEM),
            before: "",
        };
        let text = match self.asking.text(item, &wanted) {
            None => return Ok(None),
            Some(Text::Back) => return Ok(Some(Seen::Back)),
            Some(Text::Typed(text)) => text,
        };
        let mut answer = with(Answer::seen(severity, &text), beside);
        self.round.answer(vec![(at, answer.clone())])?;
        // In the book; what it comes to may follow.
        let mut trouble: Option<String> = None;
        loop {
            let question = self.comes_to(item, &answer, trouble.take());
            let mut more = Beside {
                estimate: answer.estimate.clone(),
                photos: answer.photos.clone(),
                trouble: None,
            };
            match self.asking.key(&question) {
                None => return Ok(None),
                Some(Pressed::Forward) => return Ok(Some(Seen::Answered(Next::On))),
                Some(Pressed::Sign('C')) => self.cost(&question, &mut more),
                Some(Pressed::Sign('H')) => self.hours(&question, &mut more),
                Some(Pressed::Sign('V')) => self.measured(at, &question, &mut more),
                Some(Pressed::Sign('I')) => self.photo(&question, &mut more),
                Some(Pressed::Back) => {
                    self.round.take_back()?;
                    return Ok(Some(Seen::Answered(Next::On)));
                }
                Some(Pressed::Sign(_) | Pressed::Changed) => continue,
            }
            trouble = more.trouble.clone();
            let changed =
                more.estimate != answer.estimate || more.photos.len() > answer.photos.len();
            if changed {
                answer = with(answer, &more);
                self.round.answer_again(at, answer.clone())?;
            }
        }
    }

    fn comes_to(&self, item: &Question, answer: &Answer, trouble: Option<String>) -> Question {
        let mut lines: Vec<String> = trouble.into_iter().collect();
        lines.extend(photo_lines(&answer.photos));
        lines.extend(answer.estimate.measured_words());
        lines.extend(answer.estimate.estimate_words());
        Question {
            sentence: format!("Written down: {}", answer.text),
            choices: vec![
                Key::new(SPACE, "NEXT"),
                Key::new("C", "COST"),
                Key::new("H", "HOURS"),
                Key::new("V", "VALUE"),
            ],
            lines,
            keys: vec![Key::new("I", "photo"), Key::new(BACK, "take it back")],
            ..item.clone()
        }
    }

    /// Why it was not looked at; Enter alone takes the reason of the one before. None where it leads back.
    fn why_not(&mut self, item: &Question) -> Option<String> {
        let (what, alone) = match &self.why {
            Some(why) => (
                format!("Not looked at, because (Enter alone: {why})"),
                Some("the reason of before"),
            ),
            None => ("Not looked at, because".to_owned(), None),
        };
        let wanted = Wanted {
            what: &what,
            alone,
            back: Some("back"),
            before: "",
        };
        let why = match self.asking.text(item, &wanted)? {
            Text::Back => return None,
            Text::Typed(typed) if typed.is_empty() => self.why.clone(),
            Text::Typed(typed) => Some(typed),
        };
        self.why.clone_from(&why);
        why
    }

    /// A text, empty where Enter alone was pressed; none where it leads back.
    fn typed(&mut self, over: &Question, what: &str, alone: &str) -> Option<String> {
        let wanted = Wanted {
            what,
            alone: Some(alone),
            back: Some("back"),
            before: "",
        };
        match self.asking.text(over, &wanted)? {
            Text::Typed(text) => Some(text),
            Text::Back => None,
        }
    }

    /// What is entered or not, asked again with why where it cannot be `read`: whoever corrects it at once types into the same
    /// question, and not on keys that mean something else. None where nothing of it is entered.
    fn entered<T>(
        &mut self,
        over: &Question,
        what: &str,
        alone: &str,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Option<T> {
        let mut over = over.clone();
        loop {
            let text = self.typed(&over, what, alone)?;
            match read(&text) {
                Ok(read) => return Some(read),
                Err(_) if text.is_empty() => return None,
                Err(told) => over.lines = vec![told],
            }
        }
    }

    fn measured(&mut self, at: usize, over: &Question, beside: &mut Beside) {
        let unit = self.round.places[at].item.unit.clone();
        let usual = unit.as_deref().unwrap_or("mm");
        let (value, allowed) = example(usual);
        let read = |text: &str| {
            // A number alone is in the item's own unit.
            let bare = quantity::number(text).is_ok();
            let text = if bare {
                format!("{text} {usual}")
            } else {
                text.to_owned()
            };
            match quantity::split(&text) {
                ("", _) => Err(format!(
                    "found \"{text}\", expected a figure, such as {value} {usual}"
                )),
                _ => text.parse::<Measured>(),
            }
        };
        let what = format!("Measured, such as {value} {usual}");
        let Some(measured) = self.entered(over, &what, NOTHING_OF_IT, read) else {
            return;
        };
        let of = |maker: Option<Allowed>| Estimate {
            measured: Some(measured.clone()),
            maker,
            ..beside.estimate.clone()
        };
        let read = |text: &str| {
            let maker = Some(text).filter(|text| !text.is_empty());
            let estimate = of(maker.map(str::parse).transpose()?);
            estimate.fits(FindingKind::Found)?;
            Ok(estimate)
        };
        let what = format!("{measured}. The maker's figure, such as {allowed} {usual}");
        if let Some(estimate) = self.entered(over, &what, "not known", read) {
            beside.estimate = estimate;
        }
    }

    fn cost(&mut self, over: &Question, beside: &mut Beside) {
        let currency = self.currency;
        let usual = currency.unwrap_or("EUR");
        let what = format!("What mending may cost, such as 400 to 600 {usual}");
        let read = |text: &str| {
            let cost = text.parse::<Cost>()?;
            cost.in_currency(currency)
        };
        if let Some(cost) = self.entered(over, &what, NOTHING_OF_IT, read) {
            beside.estimate.cost = Some(cost);
        }
    }

    fn hours(&mut self, over: &Question, beside: &mut Beside) {
        let what = "Hours of work, such as 2 to 4";
        if let Some(hours) = self.entered(over, what, NOTHING_OF_IT, hours) {
            beside.estimate.hours = Some(hours);
        }
    }

    fn photo(&mut self, over: &Question, beside: &mut Beside) {
        let what = "Photo: its file, JPEG or PNG";
        let read = |text: &str| match text {
            "" => Err(String::new()),
            text => photos::read(Path::new(text), "").map_err(|error| error.message),
        };
        if let Some(photo) = self.entered(over, what, NOTHING_OF_IT, read) {
            beside.photos.push(photo);
        }
    }

    /// Every item is answered: the last one can still be taken back, as any before it could.
    fn through(&mut self) -> Result<Option<Next>, Error> {
        let mut question = Question {
            title: format!("Condition round · {}", self.round.spindle),
            corner: "0 left".to_owned(),
            word: "THROUGH".to_owned(),
            sentence: "Every item is answered, and in the book.".to_owned(),
            choices: vec![Key::new(SPACE, "END IT")],
            lines: self.round.lines()?,
            ..Question::default()
        };
        if self.round.has_steps() {
            question.keys = vec![Key::new(BACK, "last answer back")];
        }
        loop {
            match self.asking.key(&question) {
                None => return Ok(None),
                Some(Pressed::Forward | Pressed::Sign('Q')) => return Ok(Some(Next::Done)),
                Some(Pressed::Back) if self.round.take_back()?.is_some() => {
                    return Ok(Some(Next::On));
                }
                Some(Pressed::Back | Pressed::Sign(_) | Pressed::Changed) => {}
            }
        }
    }

    /// The round is left with items open: for later, or for good.
    fn leave(&mut self) -> Result<(), Error> {
        let question = Question {
            title: format!("Condition round · {}", self.round.spindle),
            corner: format!("{} left", self.round.left()),
            word: "LEAVE".to_owned(),
            sentence: "Everything answered is in the book. What is left can be answered later."
                .to_owned(),
            choices: vec![Key::new(SPACE, "LATER"), Key::new("L", "NOT LOOKED")],
            lines: vec![
                "L: nothing that is left was looked at; asks once why, for all of it.".to_owned(),
            ],
            ..Question::default()
        };
        loop {
            match self.asking.key(&question) {
                Some(Pressed::Sign('L')) => {
                    if let Some(why) = self.why_not(&question) {
                        let open = self.round.all_open().into_iter();
                        let answers = open.map(|at| (at, Answer::not_examined(&why)));
                        return self.round.answer(answers.collect());
                    }
                }
                Some(Pressed::Sign(_) | Pressed::Changed) => {}
                _ => return Ok(()),
            }
        }
    }
}

/// The newest first: it is the one that somebody waits to see.
fn photo_lines(photos: &[NewPhoto]) -> impl Iterator<Item = String> {
    let newest_first = photos.iter().rev();
    newest_first.map(|photo| photo.line().trim().to_owned())
}

/// An answer with what was measured and photographed.
fn with(answer: Answer, beside: &Beside) -> Answer {
    Answer {
        estimate: beside.estimate.clone(),
        photos: beside.photos.clone(),
        ..answer
    }
}
