//! How far a condition round is. In: the list, the open visit and what it has; answers. Out: findings in the book, each at
//! once; which item is next.

use crate::terminal::error::Error;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::checks::stored_check::json_of;
use crate::visits::corrected::{CorrectedFinding, finding_line, findings, read_by};
use crate::visits::findings::condition_list::{Assembly, Item};
use crate::visits::findings::estimate::{Estimate, Sum, sum_lines};
use crate::visits::findings::photos;
use crate::visits::findings::photos::NewPhoto;
use crate::visits::known_day;
use holdtrue_book::{Book, Finding, FindingKind, Tombstone};
use holdtrue_terms::vocabulary::Severity;
use serde_json::{Value, json};
use uuid::Uuid;

/// What an item is answered with.
#[derive(Clone, Debug)]
pub struct Answer {
    /// Found, in order, not examined.
    pub kind: FindingKind,
    /// Of something found.
    pub severity: Option<Severity>,
    /// What was seen, or why it was not looked at.
    pub text: String,
    /// What was measured, and what mending takes.
    pub estimate: Estimate,
    /// What shows it.
    pub photos: Vec<NewPhoto>,
}

impl Answer {
    /// Looked at, nothing found.
    pub fn fine() -> Self {
        Self {
            kind: FindingKind::InOrder,
            severity: None,
            text: String::new(),
            estimate: Estimate::default(),
            photos: Vec::new(),
        }
    }

    /// Something was seen.
    pub fn seen(severity: Severity, text: &str) -> Self {
        Self {
            kind: FindingKind::Found,
            severity: Some(severity),
            text: text.trim().to_owned(),
            ..Self::fine()
        }
    }

    /// Not looked at.
    pub fn not_examined(why: &str) -> Self {
        Self {
            kind: FindingKind::NotExamined,
            text: why.trim().to_owned(),
            ..Self::fine()
        }
    }
}

/// An item and how it was answered.
#[derive(Clone, Debug)]
pub struct Place {
    /// Its assembly.
    pub assembly: String,
    /// Its number in the assembly, from 1, and how many that has.
    pub number: (usize, usize),
    /// The item.
    pub item: Item,
    /// What stands in the book.
    pub answer: Option<Answered>,
    /// What it was at the visit before, in words.
    pub last_time: Option<String>,
}

/// What stands in the book for an item.
#[derive(Clone, Debug)]
pub struct Answered {
    /// The finding.
    pub finding: Uuid,
    /// Found, in order, not examined.
    pub kind: FindingKind,
    /// How urgent.
    pub severity: Option<Severity>,
    /// In words.
    pub line: String,
}

/// A condition round of an open visit.
pub struct Round {
    writer: BookWriter,
    visit: Uuid,
    /// The spindle, as people call it.
    pub spindle: String,
    /// Every item, in order.
    pub places: Vec<Place>,
    /// What was answered, step by step, in earlier sittings too.
    steps: Vec<Vec<usize>>,
}

/// A finding by the item it answers: by its id; of one written down otherwise, by assembly and item.
fn is_of(finding: &Finding, assembly: &str, item: &Item) -> bool {
    match Estimate::of(finding).round {
        Some(id) => id == item.id,
        None => finding.assembly == assembly && finding.item == item.name,
    }
}

impl Round {
    /// The round of a visit, as far as it is.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn of(writer: BookWriter, visit: Uuid, assemblies: Vec<Assembly>) -> Result<Self, Error> {
        let whole = writer.book.visit(visit)?;
        let there = findings(&whole);
        let there: Vec<&CorrectedFinding> =
            there.iter().filter(|each| each.struck.is_none()).collect();
        let before = before(&writer.book, visit)?;
        let mut places = Vec::new();
        for assembly in assemblies {
            let of = assembly.items.len();
            for (number, item) in (1..).zip(assembly.items) {
                let answer = there
                    .iter()
                    .rfind(|each| is_of(&each.finding, &assembly.name, &item));
                let last = before
                    .iter()
                    .rfind(|(_, finding)| is_of(finding, &assembly.name, &item));
                let last_time = last.map(|(day, finding)| {
                    let what = what_of(finding);
                    format!("last time, {day}: {what}")
                });
                places.push(Place {
                    assembly: assembly.name.clone(),
                    number: (number, of),
                    answer: answer.map(|each| answered(&each.finding)),
                    last_time,
                    item,
                });
            }
        }
        let spindle = whole
            .spindle
            .as_ref()
            .map(|spindle| spindle.header().name.clone());
        let steps = answered_before(&there, &places);
        Ok(Self {
            writer,
            visit,
            spindle: spindle.unwrap_or_else(|| "unnamed spindle".to_owned()),
            places,
            steps,
        })
    }

    /// The first item without an answer.
    pub fn next(&self) -> Option<usize> {
        self.places.iter().position(|place| place.answer.is_none())
    }

    /// How many have none.
    pub fn left(&self) -> usize {
        self.places
            .iter()
            .filter(|place| place.answer.is_none())
            .count()
    }

    /// Items of an assembly without an answer.
    pub fn open_in(&self, assembly: &str) -> Vec<usize> {
        self.open(|place| place.assembly == assembly)
    }

    /// Items without an answer.
    pub fn all_open(&self) -> Vec<usize> {
        self.open(|_| true)
    }

    fn open(&self, of: impl Fn(&Place) -> bool) -> Vec<usize> {
        let each = self.places.iter().enumerate();
        each.filter(|(_, place)| place.answer.is_none() && of(place))
            .map(|(at, _)| at)
            .collect()
    }

    /// Puts answers into the book, all of them or none.
    ///
    /// # Errors
    /// When the book does not take them.
    pub fn answer(&mut self, answers: Vec<(usize, Answer)>) -> Result<(), Error> {
        let step = answers.iter().map(|(at, _)| *at).collect();
        self.store(answers, &[])?;
        self.steps.push(step);
        Ok(())
    }

    /// Puts another answer in the place of the one that was just given.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn answer_again(&mut self, at: usize, answer: Answer) -> Result<(), Error> {
        let before = self.places[at]
            .answer
            .take()
            .map(|answered| answered.finding);
        self.store(vec![(at, answer)], before.as_slice())
    }

    /// Whether an answer can be taken back.
    pub fn has_steps(&self) -> bool {
        !self.steps.is_empty()
    }

    /// Takes the last answers back; the item that is open again. None where there is none.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn take_back(&mut self) -> Result<Option<usize>, Error> {
        let Some(step) = self.steps.pop() else {
            return Ok(None);
        };
        let answers = step.iter().filter_map(|at| self.places[*at].answer.take());
        let taken: Vec<Uuid> = answers.map(|answered| answered.finding).collect();
        self.store(Vec::new(), &taken)?;
        Ok(step.first().copied())
    }

    /// `gone`: findings that were never meant, or that others take the place of.
    fn store(&mut self, answers: Vec<(usize, Answer)>, gone: &[Uuid]) -> Result<(), Error> {
        let graves = gone.iter().map(|target| Tombstone {
            id: self.writer.id(),
            target: *target,
            reason: "answered otherwise in the condition round".to_owned(),
            stamp: self.writer.stamp(),
        });
        let graves: Vec<Tombstone> = graves.collect();
        let mut rows = Vec::new();
        for (at, answer) in &answers {
            let place = &self.places[*at];
            let estimate = Estimate {
                round: Some(place.item.id.clone()),
                ..answer.estimate.clone()
            };
            rows.push(Finding {
                id: self.writer.id(),
                visit: self.visit,
                kind: answer.kind,
                severity: answer.severity,
                assembly: place.assembly.clone(),
                item: place.item.name.clone(),
                text: answer.text.clone(),
                content: json_of(&estimate)?,
                stamp: self.writer.stamp(),
            });
        }
        let each = answers.iter().zip(&rows);
        let photos: Vec<_> = each
            .flat_map(|((_, answer), row)| photos::rows(&answer.photos, row.id, &self.writer))
            .collect();
        self.writer.book.together(|book| {
            graves.iter().try_for_each(|row| book.bury(row))?;
            rows.iter().try_for_each(|row| book.find(row))?;
            photos.iter().try_for_each(|row| row.attach(book))
        })?;
        for ((at, _), row) in answers.iter().zip(&rows) {
            self.places[*at].answer = Some(answered(row));
        }
        Ok(())
    }

    /// How it stands: counts, what is left, sums.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn lines(&self) -> Result<Vec<String>, Error> {
        let count = |kind: FindingKind| {
            let answers = self.places.iter().filter_map(|place| place.answer.as_ref());
            answers.filter(|answered| answered.kind == kind).count()
        };
        let mut lines = vec![format!(
            "Condition round of {}: {} fine, {} seen, {} not looked at, {} left of {}.",
            self.spindle,
            count(FindingKind::InOrder),
            count(FindingKind::Found),
            count(FindingKind::NotExamined),
            self.left(),
            self.places.len()
        )];
        let visit = self.writer.book.visit(self.visit)?;
        lines.extend(sum_lines(&findings(&visit)));
        if self.left() > 0 {
            lines.push("What is left stays open: holdtrue finding round goes on there.".to_owned());
        }
        Ok(lines)
    }

    /// Every item with its answer.
    pub fn item_lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let mut assembly = "";
        for place in &self.places {
            if place.assembly != assembly {
                assembly = &place.assembly;
                lines.push(assembly.to_owned());
            }
            let item = &place.item;
            lines.push(match &place.answer {
                Some(answered) => format!("  {:<18} {}", item.id, answered.line),
                None => format!("  {:<18} open: {}", item.id, item.look),
            });
        }
        lines
    }

    /// The same for a program.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn document(&self) -> Result<Value, Error> {
        let items = self.places.iter().map(|place| {
            let answer = place.answer.as_ref();
            json!({
                "item": place.item.id,
                "assembly": place.assembly,
                "name": place.item.name,
                "look": place.item.look,
                "how": place.item.how,
                "kind": answer.map(|answered| answered.kind.word()),
                "severity": answer.and_then(|answered| answered.severity).map(Severity::word),
                "finding": answer.map(|answered| answered.finding),
                "text": answer.map(|answered| &answered.line),
                "last_time": place.last_time,
            })
        });
        let items: Vec<Value> = items.collect();
        let visit = self.writer.book.visit(self.visit)?;
        Ok(json!({
            "schema": 1,
            "visit": self.visit,
            "items": items,
            "left": self.left(),
            "sums": Sum::of(&findings(&visit)),
        }))
    }
}

/// The items that earlier sittings answered, in order of time. What was corrected or belongs to no round is no slip of the last
/// key: it is put right where it was said.
fn answered_before(there: &[&CorrectedFinding], places: &[Place]) -> Vec<Vec<usize>> {
    let of_round = |each: &&&CorrectedFinding| {
        each.corrections.is_empty() && Estimate::of(&each.finding).round.is_some()
    };
    let place = |each: &&CorrectedFinding| {
        let answers = |place: &Place| {
            let answer = place.answer.as_ref();
            answer.is_some_and(|answer| answer.finding == each.finding.id)
        };
        places.iter().position(answers).map(|at| vec![at])
    };
    there.iter().filter(of_round).filter_map(place).collect()
}

/// A finding without its assembly and item.
fn what_of(finding: &Finding) -> String {
    let whole = finding_line(finding);
    let head = format!("{}, {}: ", finding.assembly, finding.item);
    whole.strip_prefix(&head).unwrap_or(&whole).to_owned()
}

fn answered(finding: &Finding) -> Answered {
    let estimate = Estimate::of(finding);
    let more = estimate
        .measured_words()
        .into_iter()
        .chain(estimate.estimate_words());
    let line: Vec<String> = std::iter::once(what_of(finding)).chain(more).collect();
    Answered {
        finding: finding.id,
        kind: finding.kind,
        severity: finding.severity,
        line: line.join("; "),
    }
}

/// What the visits before found on this spindle, oldest first, each with its day.
fn before(book: &Book, visit: Uuid) -> Result<Vec<(String, Finding)>, Error> {
    let header = book.get::<holdtrue_book::VisitHeader>(visit)?;
    let Some(spindle) = header.header().spindle else {
        return Ok(Vec::new());
    };
    let remarks = book.remarks()?;
    let mut found = Vec::new();
    for earlier in book.visits_of(spindle)? {
        if earlier.id == visit {
            break;
        }
        let day = known_day::words(&earlier.header().started_at);
        for each in read_by(&book.visit(earlier.id)?.findings, &remarks) {
            if each.struck.is_none() {
                found.push((day.clone(), each.finding));
            }
        }
    }
    Ok(found)
}
