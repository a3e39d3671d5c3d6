//! `recheck`: every stored result computed again from its record. In: a book. Out: what differs, and why.
//!
//! A result differs if its word or a clamp's fate is another, or a figure by more than a billionth: the mathematics
//! of another machine may round the last digits otherwise.

use crate::grip::stored as grip_stored;
use crate::grip::stored::GripInputs;
use crate::judge;
use crate::recheck::arguments::RecheckArgs;
use crate::recheck::causes::{Cause, Grounds, SPINDLE, Why};
use crate::runout::stored as runout_stored;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::working::Working;
use crate::visits::amendments;
use crate::visits::book::opening::{find_visit, short_id};
use crate::visits::checks::anew;
use crate::visits::checks::anew::Overtaken;
use crate::visits::checks::check_inputs;
use crate::visits::checks::stored_check;
use crate::visits::corrected::strike_on;
use crate::visits::known_day;
use holdtrue_book::{Amendment, Book, Check, CheckKind, CheckResult, Visit, sha256_hex};
use holdtrue_metrology::{grip, runout};
use holdtrue_terms::vocabulary::Outcome;
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

/// Figures closer than this, relative to the larger, are the same.
const SAME: f64 = 1e-9;
/// At most so many differences of one check are listed for a person.
const SHOWN: usize = 5;

/// One stored check, computed again.
#[derive(Serialize)]
struct Rechecked {
    visit: Uuid,
    check: Uuid,
    kind: &'static str,
    at: String,
    /// Whether it could be computed again; typed figures and records can, what was entered without one cannot.
    recomputed: bool,
    analysis_stored: String,
    analysis_now: String,
    differences: Vec<Difference>,
    /// Why they differ, each cause once.
    causes: Vec<Why>,
    /// Of a finished visit: its spindle says something else now, and what the verdict would be by that. No difference.
    limit_then_known: Option<ByNow>,
    /// The set was struck out.
    struck: bool,
    /// The amendment that holds this result; null for the one of the visit itself.
    amendment: Option<Uuid>,
}

/// What a verdict would be by what is known of the spindle now.
#[derive(Serialize)]
struct ByNow {
    outcome: Option<Outcome>,
}

/// One place where what is stored differs from what is computed now.
#[derive(Serialize)]
pub(crate) struct Difference {
    pub(crate) place: String,
    pub(crate) stored: Value,
    pub(crate) now: Value,
    /// Each of these can be why.
    pub(crate) causes: Vec<Cause>,
}

#[derive(Serialize)]
struct Document {
    check: &'static str,
    schema: u32,
    checks: Vec<Rechecked>,
    differing: usize,
}

pub(crate) fn run(args: &RecheckArgs, app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let visits = match &args.visit {
        Some(wanted) => vec![find_visit(&book, wanted)?],
        None => {
            let all = book.visits()?.into_iter();
            all.filter(|visit| !visit.removed)
                .map(|visit| visit.id)
                .collect()
        }
    };
    let mut checks = Vec::new();
    let working = Working::of("Visits computed again", visits.len());
    for id in visits {
        let visit = book.visit(id)?;
        let page = anew::page_now(&book, &visit)?;
        let overtaken = anew::overtaken(&book, &visit, page.as_ref(), judge::of)?;
        for check in &visit.checks {
            let Some(stored) = check.result() else {
                continue;
            };
            let by_now = overtaken
                .iter()
                .find(|found| found.verdict && found.stored.id == stored.id);
            let mut one = recheck(&book, &visit, check, stored)?;
            // A result that is not what it was judged by says nothing of its spindle.
            if let Some(found) = by_now.filter(|_| one.differences.is_empty()) {
                one.hold_to_spindle(&visit, found);
            }
            checks.push(one);
        }
        for amendment in &visit.amendments {
            checks.extend(recheck_amendment(&book, &visit, amendment)?);
        }
        working.step();
    }
    drop(working);
    let differing = checks
        .iter()
        .filter(|check| !check.differences.is_empty())
        .count();
    let exit = if differing > 0 {
        Exit::Rejected
    } else {
        Exit::Done
    };
    let text = words(&checks, differing);
    let document = Document {
        check: "recheck",
        schema: 1,
        checks,
        differing,
    };
    Finished::new(exit, &document, text)
}

fn recheck(
    book: &Book,
    visit: &Visit,
    check: &Check,
    stored: &CheckResult,
) -> Result<Rechecked, Error> {
    let mut before: Value = stored_check::read(book, &stored.content)?;
    without_inputs(&mut before);
    let (analysis_now, now) = match check.start.kind {
        CheckKind::Grip => (
            format!("grip-{}", grip::result::ANALYSIS_VERSION),
            grip_again(book, check, stored)?,
        ),
        CheckKind::Runout => (
            format!("runout-{}", runout::ANALYSIS_VERSION),
            runout_again(book, check, stored)?,
        ),
        // Its result is a record with a sum of its own; its readings are computed again by the command that reads their table.
        CheckKind::Calibration => (stored.analysis.clone(), None),
    };
    let grounds = Grounds::of(book, check, stored, &analysis_now)?;
    let mut differences = grounds.differences();
    if let Some(now) = &now {
        differences.extend(outcome_column(stored, now));
        compare(&before, now, String::new(), &mut differences);
    }
    grounds.attribute(&mut differences, &before);
    let causes = grounds.of_all(&differences);
    Ok(Rechecked {
        visit: visit.visit.id,
        check: check.start.id,
        kind: check.start.kind.word(),
        at: check.start.stamp.at.clone(),
        recomputed: now.is_some(),
        analysis_stored: stored.analysis.clone(),
        analysis_now,
        differences,
        causes,
        limit_then_known: None,
        struck: strike_on(&visit.remarks, check.start.id).is_some(),
        amendment: None,
    })
}

/// By what it was judged is held against the spindle, and is no figure of the result.
fn without_inputs(document: &mut Value) {
    if let Value::Object(fields) = document {
        fields.remove(check_inputs::ANEW);
    }
}

/// The sets an amendment judged anew, computed again by the inputs it names.
fn recheck_amendment(
    book: &Book,
    visit: &Visit,
    amendment: &Amendment,
) -> Result<Vec<Rechecked>, Error> {
    let content: amendments::Content = amendment.content.read().unwrap_or_default();
    let mut rechecked = Vec::new();
    for then in content.judged {
        let Some(check) = visit
            .checks
            .iter()
            .find(|check| check.start.id == then.check)
        else {
            continue;
        };
        let limits_sha256 = then
            .limits
            .as_deref()
            .map(|text| sha256_hex(text.as_bytes()));
        let row = CheckResult {
            id: amendment.id,
            check: then.check,
            analysis: then.analysis,
            outcome: then.outcome,
            calibration: check.start.calibration,
            limits_sha256,
            content: stored_check::json_of(&then.result)?,
            stamp: amendment.stamp.clone(),
        };
        let mut one = recheck(book, visit, check, &row)?;
        one.amendment = Some(amendment.id);
        rechecked.push(one);
    }
    Ok(rechecked)
}

impl Rechecked {
    /// Of an open visit it differs; of a finished one the limit then known stays, and it is told.
    fn hold_to_spindle(&mut self, visit: &Visit, found: &Overtaken<'_>) {
        let outcome = found.judged.outcome;
        if !visit.finishes.is_empty() {
            self.limit_then_known = Some(ByNow { outcome });
            return;
        }
        let word = |outcome: Option<Outcome>| Value::from(outcome.map(Outcome::word));
        let mut difference = Difference::new(SPINDLE, word(found.stored.outcome), word(outcome));
        difference.causes = vec![Cause::Spindle];
        self.differences.push(difference);
        self.causes.push(Why::spindle());
    }
}

fn grip_again(book: &Book, check: &Check, stored: &CheckResult) -> Result<Option<Value>, Error> {
    let begun: GripInputs = check_inputs::in_force(book, &check.start, stored)?;
    let begun = begun.with_set_aside(book, check.start.id)?;
    let Some((forces, _file)) = grip_stored::forces(book, check, &begun)? else {
        return Ok(None);
    };
    let result = begun.analyse(&forces);
    Ok(Some(value_or_refusal(result.map_err(|e| e.to_string()))))
}

fn runout_again(book: &Book, check: &Check, stored: &CheckResult) -> Result<Option<Value>, Error> {
    let begun: runout_stored::Begun = check_inputs::in_force(book, &check.start, stored)?;
    let Some((record, _file)) = runout_stored::readings_of(book, check, &begun)? else {
        return Ok(None);
    };
    let result = runout::analyse(&record, &begun.setup);
    Ok(Some(value_or_refusal(result.map_err(|e| e.to_string()))))
}

/// What cannot be computed any more differs from every stored result, and says why.
fn value_or_refusal(result: Result<impl Serialize, String>) -> Value {
    match result.map(|result| serde_json::to_value(result)) {
        Ok(Ok(value)) => value,
        Ok(Err(e)) => Value::from(e.to_string()),
        Err(why) => Value::from(why),
    }
}

/// Walks both documents together. Remarks in words may be worded better tomorrow and do not count.
fn compare(stored: &Value, now: &Value, place: String, found: &mut Vec<Difference>) {
    match (stored, now) {
        (Value::Object(before), Value::Object(after)) => {
            for (name, value) in before.iter().filter(|(name, _)| !is_wording(name)) {
                let now = after.get(name).unwrap_or(&Value::Null);
                compare(value, now, format!("{place}/{name}"), found);
            }
        }
        (Value::Array(before), Value::Array(after)) if before.len() == after.len() => {
            for (index, (before, after)) in before.iter().zip(after).enumerate() {
                compare(before, after, format!("{place}/{index}"), found);
            }
        }
        (Value::Number(before), Value::Number(after)) if close(before.as_f64(), after.as_f64()) => {
        }
        (before, after) if before == after => {}
        (before, after) => found.push(Difference::new(place, before.clone(), after.clone())),
    }
}

impl Difference {
    pub(crate) fn new(place: impl Into<String>, stored: Value, now: Value) -> Self {
        Self {
            place: place.into(),
            stored,
            now,
            causes: Vec::new(),
        }
    }
}

/// The outcome stands beside the result too, where lists and counts read it.
fn outcome_column(stored: &CheckResult, now: &Value) -> Option<Difference> {
    let stored = Value::from(stored.outcome.map(|outcome| outcome.word()));
    let now = now.pointer("/verdict/outcome").cloned().unwrap_or_default();
    (stored != now).then(|| Difference::new("outcome", stored, now))
}

fn is_wording(name: &str) -> bool {
    matches!(
        name,
        "notes"
            | "text"
            | "evidence"
            | "reasons"
            | "in_words"
            | "source"
            | "note_values"
            | "reason_values"
            | "evidence_values"
            | "values"
    )
}

fn close(a: Option<f64>, b: Option<f64>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= SAME * a.abs().max(b.abs()).max(1.0),
        _ => false,
    }
}

fn words(checks: &[Rechecked], differing: usize) -> String {
    let mut lines: Vec<String> = checks.iter().flat_map(check_words).collect();
    lines.push(match (checks.len(), differing) {
        (0, _) => "No result is stored in this book.".to_owned(),
        (count, 0) => format!("{count} results computed again: all the same."),
        (count, differing) => format!("{differing} of {count} results DIFFER."),
    });
    lines.join("\n")
}

fn check_words(check: &Rechecked) -> Vec<String> {
    let word = match (check.recomputed, check.differences.is_empty()) {
        (false, _) => "no record to compute it from",
        (true, true) => "the same",
        (true, false) => "DIFFERS",
    };
    let mut lines = vec![format!(
        "{:<7} {}  of {}: {word}",
        check.kind,
        short_id(check.check),
        known_day::moment(&check.at)
    )];
    if check.analysis_stored != check.analysis_now && check.differences.is_empty() {
        lines.push(format!(
            "        stored by analysis {}, computed by {}: no figure is another",
            check.analysis_stored, check.analysis_now
        ));
    }
    if check.amendment.is_some() {
        lines.push("        as an amendment judged it".to_owned());
    }
    if check.struck {
        lines.push("        struck out".to_owned());
    }
    if let Some(by_now) = &check.limit_then_known {
        lines.push(format!(
            "        {}; by what is known of its spindle now: {}",
            anew::LIMIT_THEN_KNOWN,
            anew::outcome_words(by_now.outcome)
        ));
    }
    lines.extend(check.differences.iter().take(SHOWN).map(|difference| {
        format!(
            "        {}: stored {}, now {}",
            difference.place, difference.stored, difference.now
        )
    }));
    if check.differences.len() > SHOWN {
        lines.push(format!(
            "        and {} more",
            check.differences.len() - SHOWN
        ));
    }
    let why = |why: &Why| format!("        why: {}", why.text);
    lines.extend(check.causes.iter().map(why));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn figures_words_and_lengths_differ_but_not_wording_or_the_last_digit() {
        let stored = json!({ "a": 9800.0, "b": "accept", "c": [1, 2], "notes": ["x"], "d": null });
        let differ = |now: &Value| {
            let mut found = Vec::new();
            compare(&stored, now, String::new(), &mut found);
            found
                .into_iter()
                .map(|difference| difference.place)
                .collect::<Vec<_>>()
        };
        let same = json!({ "a": 9_800.000_000_000_002, "b": "accept", "c": [1, 2], "notes": ["y"], "d": null, "new": 1 });
        assert!(differ(&same).is_empty());
        let other = json!({ "a": 9800.01, "b": "reject", "c": [1], "notes": [], "d": 0.5 });
        assert_eq!(differ(&other), ["/a", "/b", "/c", "/d"]);
        assert_eq!(differ(&Value::from("no clamp")), [""]);
    }
}
