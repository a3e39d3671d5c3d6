//! A visit as it stands, for the person and for the program that reads it. In: the visit, who judges its checks. Out: lines
//! and a document.

use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::times;
use crate::visits::amendments;
use crate::visits::book::book_writer::is_from_paper;
use crate::visits::book::opening::{described, short_id};
use crate::visits::checks::anew;
use crate::visits::checks::anew::{Judges, LIMIT_THEN_KNOWN, page_now};
use crate::visits::checks::same_record;
use crate::visits::checks::since;
use crate::visits::checks::since::AmongVisits;
use crate::visits::corrected::{
    VisitVerdict, finding_lines, findings, repeated_lines, strike_document, strike_on, strike_words,
};
use crate::visits::counters::Counter;
use crate::visits::findings::condition_list;
use crate::visits::findings::estimate::{Sum, sum_lines};
use crate::visits::known_day;
use crate::visits::last_visit;
use crate::visits::last_visit::LastVisit;
use crate::visits::later_rows;
use holdtrue_book::{Amended, Book, Check, CheckResult, Digest, FindingKind, Visit, VisitHeader};
use holdtrue_terms::vocabulary::{Outcome, State};
use holdtrue_wording::digits::Units;
use holdtrue_wording::joined_lines;
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use uuid::Uuid;

/// A visit read back whole, with what has to be said of it besides its rows.
struct Shown {
    visit: Visit,
    digest: Option<Digest>,
    amended: Vec<Amended>,
    /// Checks whose spindle says something else now.
    overtaken: BTreeSet<Uuid>,
    /// Those of them that an amendment judged by what it says.
    put_right: BTreeSet<Uuid>,
    also_open: Vec<String>,
    /// As found beside as left.
    headline: Option<String>,
    /// Of each check, how it stands to the last one.
    since: Vec<Vec<String>>,
    /// Of each check, whose record it has once more.
    same_as: Vec<Option<String>>,
    last: Option<LastVisit>,
}

/// The visit as it stands, with what just happened above it.
pub(crate) fn told(
    book: &Book,
    id: Uuid,
    what: &[String],
    judges: Judges,
    units: &Units,
) -> Result<Finished, Error> {
    let digest = book.sealed(id)?;
    let visit = book.visit(id)?;
    let now = page_now(book, &visit)?;
    let overtaken = anew::overtaken(book, &visit, now.as_ref(), judges)?;
    let found = || overtaken.iter().filter(|found| found.verdict);
    let put_right = found().filter(|found| amendments::has_judged(&visit, found));
    let put_right = put_right.map(|found| found.check.start.id).collect();
    let overtaken = found().map(|found| found.check.start.id).collect();
    let among = AmongVisits::read(book, id)?;
    let among = among.as_ref();
    let shown = Shown {
        digest,
        amended: book.amended(id)?,
        overtaken,
        put_right,
        also_open: also_open(book, id)?,
        headline: among.and_then(|among| among.headline(units)),
        since: visit
            .checks
            .iter()
            .map(|check| {
                let since = among.map(|among| among.of_check(check.start.id));
                since::lines(&since.unwrap_or_default(), units)
            })
            .collect(),
        same_as: visit
            .checks
            .iter()
            .map(|check| same_record::remark(book, &visit, check))
            .collect::<Result<_, _>>()?,
        last: match among.filter(|_| visit.finishes.is_empty()) {
            Some(among) => last_visit::before(book, among)?,
            None => None,
        },
        visit,
    };
    let mut lines = what.to_vec();
    lines.extend(shown.lines(units));
    Finished::new(Exit::Done, &shown.document(), joined_lines(&lines))
}

impl Shown {
    fn name(&self) -> &str {
        let spindle = self.visit.spindle.as_ref();
        spindle.map_or("unnamed", |spindle| &spindle.header().name)
    }

    fn is_finished(&self) -> bool {
        !self.visit.finishes.is_empty()
    }

    fn lines(&self, units: &Units) -> Vec<String> {
        let visit = &self.visit;
        let header = visit.visit.header();
        let mut lines = vec![
            format!("spindle   {}", self.name()),
            format!(
                "visit     {} of {}, by {}",
                short_id(visit.visit.id),
                known_day::moment(&header.started_at),
                header.technician
            ),
        ];
        lines.extend(fact_lines(header));
        lines.extend(self.also_open.iter().cloned());
        lines.extend(self.headline.iter().map(|line| format!("grip      {line}")));
        lines.extend(repeated_lines(
            visit,
            &visit.remarks,
            &amendments::outcomes(visit),
        ));
        let struck = strike_on(&visit.remarks, visit.visit.id);
        lines.extend(struck.map(|strike| format!("The whole visit is {}", strike_words(strike))));
        lines.extend(VisitVerdict::of(visit, &visit.remarks, &amendments::outcomes(visit)).words());
        for (place, check) in visit.checks.iter().enumerate() {
            lines.push(check_line(place + 1, check));
            let since = self.since.get(place).into_iter().flatten();
            lines.extend(since.map(|line| format!("          {line}")));
            let same_as = self.same_as.get(place).into_iter().flatten();
            lines.extend(same_as.map(|line| format!("    {line}")));
            lines.extend(
                self.below(check)
                    .into_iter()
                    .map(|line| format!("    {line}")),
            );
        }
        let findings = findings(visit);
        lines.extend(findings.iter().flat_map(finding_lines));
        lines.extend(sum_lines(&findings));
        lines.extend(self.last.iter().flat_map(|last| last.lines(units)));
        lines.extend(self.todo_lines());
        lines.extend(
            self.digest
                .iter()
                .map(|digest| format!("check code  {digest}")),
        );
        for amended in &self.amended {
            lines.extend(amendments::lines(visit, amended));
        }
        lines.extend(visit.later.iter().map(later_rows::line));
        lines
    }

    /// What is said of a check besides its line.
    fn below(&self, check: &Check) -> Vec<String> {
        let mut lines: Vec<String> = earlier(check)
            .map(|result| {
                let outcome = anew::outcome_words(result.outcome);
                format!(
                    "before: {outcome}, judged {} by {}",
                    times::moment(&result.stamp.at),
                    result.stamp.author
                )
            })
            .collect();
        if self.overtaken.contains(&check.start.id) {
            lines.push(match self.is_finished() {
                true if self.put_right.contains(&check.start.id) => {
                    format!("{LIMIT_THEN_KNOWN}; the amendment below judges it by the one known now")
                }
                true => format!(
                    "{LIMIT_THEN_KNOWN}: its spindle says something else now, and holdtrue visit amend judges it anew"
                ),
                false => "judged by a limit that is no longer its spindle's: holdtrue visit edit judges it anew".to_owned(),
            });
        }
        lines.extend(strike_on(&self.visit.remarks, check.start.id).map(strike_words));
        lines
    }

    fn todo_lines(&self) -> Vec<String> {
        if self.is_finished() {
            return Vec::new();
        }
        let mut lines = Vec::new();
        if self.visit.visit.header().spindle.is_none() {
            lines.push(
                "To do: say which spindle it is: holdtrue visit edit --spindle NAME".to_owned(),
            );
        }
        let header = self.visit.visit.header();
        if header.consent_of.is_none() && header.entered_from.is_none() {
            lines.push("To do: whose consent? holdtrue visit edit --consent-of NAME".to_owned());
        }
        lines.extend(condition_list::left_words(&self.visit).map(|left| format!("To do: {left}")));
        for (number, check) in (1..).zip(&self.visit.checks) {
            let struck = strike_on(&self.visit.remarks, check.start.id).is_some();
            if check.start.state.is_none() && !struck {
                lines.push(format!(
                    "Set {number} was said to be neither as found nor as left (--state): no trend follows it"
                ));
            }
        }
        lines
    }

    fn document(&self) -> Value {
        let visit = &self.visit;
        let checks = visit.checks.iter().enumerate();
        let checks: Vec<Value> = checks
            .map(|(place, check)| self.check_document(place + 1, check))
            .collect();
        let not_examined = visit.findings.iter();
        let not_examined = not_examined.filter(|finding| finding.kind == FindingKind::NotExamined);
        let verdict = VisitVerdict::of(visit, &visit.remarks, &|_| None);
        let amended = self
            .amended
            .iter()
            .map(|amended| amendments::document(visit, amended));
        json!({
            "schema": 1,
            "last_visit": self.last.as_ref().map_or(Value::Null, LastVisit::document),
            "headline": self.headline,
            "visit": {
                "id": visit.visit.id,
                "conflict": visit.visit.conflict(),
                "spindle_name": self.name(),
                "finished": self.is_finished(),
                "digest": self.digest.as_ref().map(Digest::to_string),
                "header": visit.visit.header(),
                "struck": strike_document(strike_on(&visit.remarks, visit.visit.id)),
                "outcome": verdict.without.map(Outcome::word),
                "sets_struck": verdict.struck,
                "outcome_with_struck": verdict.with.map(Outcome::word),
                "checks": checks,
                "findings": visit.findings.len(),
                "not_examined": not_examined.count(),
                "sums": Sum::of(&findings(visit)),
                "amendments": amended.collect::<Vec<_>>(),
                "later": visit.later.iter().map(later_rows::line).collect::<Vec<_>>(),
            }
        })
    }

    fn check_document(&self, number: usize, check: &Check) -> Value {
        let earlier = earlier(check).map(|result| {
            json!({
                "outcome": result.outcome.map(Outcome::word),
                "analysis": result.analysis,
                "at": result.stamp.at,
                "by": result.stamp.author,
            })
        });
        json!({
            "id": check.start.id,
            "number": number,
            "check": check.start.kind.word(),
            "state": check.start.state.map(State::word),
            "at": check.start.stamp.at,
            "recorded": check.recorded.len(),
            "planned": planned(check),
            "finished": !check.results.is_empty(),
            "outcome": check.result().and_then(|result| result.outcome).map(Outcome::word),
            "judged_before": earlier.collect::<Vec<_>>(),
            "limit_then_known": self.overtaken.contains(&check.start.id),
            "struck": strike_document(strike_on(&self.visit.remarks, check.start.id)),
            "same_record": self.same_as.get(number - 1),
        })
    }
}

/// The results that no longer hold.
fn earlier(check: &Check) -> impl Iterator<Item = &CheckResult> {
    let holding = check.result().map(|result| result.id);
    check
        .results
        .iter()
        .filter(move |result| Some(result.id) != holding)
}

/// Clamps or planes a check was begun for; none where its record decides.
pub fn planned(check: &Check) -> Option<u32> {
    #[derive(Deserialize)]
    struct Inputs {
        #[serde(default)]
        clamps: Option<u32>,
        #[serde(default)]
        planes: Option<u32>,
    }
    let inputs: Inputs = check.start.content.read().ok()?;
    inputs.clamps.or(inputs.planes)
}

/// Clamps, planes or readings a check has recorded, and what they are called.
fn recorded(check: &Check) -> (usize, &'static str) {
    use holdtrue_book::{CheckKind, RecordedKind};
    let (part, parts) = match check.start.kind {
        CheckKind::Runout => (RecordedKind::Plane, "planes"),
        CheckKind::Grip => (RecordedKind::Clamp, "clamps"),
        CheckKind::Calibration => (RecordedKind::Reading, "readings"),
    };
    let rows = check.recorded.iter().filter(|row| row.kind == part);
    (rows.count(), parts)
}

/// Whether a check has less than it was begun for.
pub fn fell_short(check: &Check) -> bool {
    let (recorded, _) = recorded(check);
    planned(check).is_some_and(|planned| recorded < usize::try_from(planned).unwrap_or(usize::MAX))
}

/// "3 of 5 clamps", as far as it came.
pub fn progress(check: &Check) -> String {
    let (recorded, parts) = recorded(check);
    match planned(check) {
        // Some of them did not count.
        Some(planned) if usize::try_from(planned).is_ok_and(|planned| recorded > planned) => {
            format!("{recorded} {parts} ({planned} have to count)")
        }
        Some(planned) => format!("{recorded} of {planned} {parts}"),
        None => format!("{recorded} {parts}"),
    }
}

/// What is known of it, without what has a line of its own.
fn fact_lines(header: &VisitHeader) -> Vec<String> {
    let counter = |counter: Counter| Some(format!("{} {}", counter.of(header)?, counter.words()));
    let counters: Vec<String> = Counter::ALL.into_iter().filter_map(counter).collect();
    let degrees = |what: &str, celsius: Option<f64>| Some(format!("{what} {} °C", celsius?));
    let warm: Vec<String> = [
        degrees("air", header.ambient_c),
        degrees("nose", header.temperature_c),
        header
            .running_min
            .map(|min| format!("run {min} min before")),
    ]
    .into_iter()
    .flatten()
    .collect();
    let all = |parts: Vec<String>| (!parts.is_empty()).then(|| parts.join(", "));
    let paper = || {
        let day = known_day::words(&header.started_at);
        format!("from paper, of {day}")
    };
    [
        ("entered", is_from_paper(header).then(paper)),
        ("reason", header.purpose.clone()),
        ("customer", header.customer.clone()),
        ("order", header.order_number.clone()),
        ("consent", header.consent_of.clone()),
        ("operator", header.operated_by.clone()),
        ("counters", all(counters)),
        ("warmth", all(warm)),
    ]
    .into_iter()
    .filter_map(|(label, value)| Some(format!("{label:<9} {}", value?)))
    .collect()
}

/// Other visits that are open beside this one.
fn also_open(book: &Book, visit: Uuid) -> Result<Vec<String>, Error> {
    let open = book.open_visits()?;
    let others = open.iter().filter(|other| other.id != visit);
    let line = |other| Ok(format!("Open too: visit {}", described(book, other)?));
    others.map(line).collect()
}

/// "1  grip      within limit, as found, 12 May 2026, 09:12".
pub(crate) fn check_line(number: usize, check: &Check) -> String {
    let state = check.start.state.map_or("", |state| match state {
        State::AsFound => ", as found",
        State::AsLeft => ", as left",
    });
    let ended = match check.result() {
        None => format!("not finished, {} recorded", progress(check)),
        Some(result) => anew::outcome_words(result.outcome).to_owned(),
    };
    format!(
        "{number:>2}  {:<9} {ended}{state}, {}",
        check.start.kind.word(),
        times::moment(&check.start.stamp.at)
    )
}
