//! How the checks of a visit were judged, each time, and by what. In: a visit of the book, who judges its checks. Out: of each
//! check its judgements in order of time, those that no longer hold among them, as lines and as a document.

use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::amendments;
use crate::visits::checks::anew;
use crate::visits::checks::anew::{Judges, LIMIT_THEN_KNOWN, page_now};
use crate::visits::checks::stored_check::read;
use crate::visits::corrected::{struck_document, struck_words};
use crate::visits::later_rows;
use crate::visits::visit_shown::check_line;
use holdtrue_book::{Book, Check, CheckResult, Stamp, Strikes, Visit, sha256_hex};
use holdtrue_terms::vocabulary::{Outcome, State};
use holdtrue_wording::digits::Units;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use uuid::Uuid;

/// What of a limit stands in a judgement.
const OF_A_LIMIT: [&str; 8] = [
    "figure",
    "height_mm",
    "side",
    "limit",
    "unit",
    "provenance",
    "measured",
    "outcome",
];

/// How a judgement came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum How {
    /// With the end of the check.
    Ended,
    /// What is known of its spindle changed while the visit was open.
    Anew,
    /// By an amendment of the finished visit, whose verdict it leaves as it is.
    Amended,
}

impl How {
    fn word(self) -> &'static str {
        match self {
            Self::Ended => "ended",
            Self::Anew => "judged-anew",
            Self::Amended => "amended",
        }
    }
}

/// One judgement of a check.
struct Judgement {
    /// The result, or the amendment.
    id: Uuid,
    how: How,
    stamp: Stamp,
    analysis: String,
    outcome: Option<Outcome>,
    limits_sha256: Option<String>,
    document: Value,
    replaces: Vec<Uuid>,
    /// The verdict of the visit rests on it.
    holds: bool,
}

impl Judgement {
    fn of_result(book: &Book, result: &CheckResult, holding: Option<Uuid>) -> Result<Self, Error> {
        let replaces = result.replaces();
        Ok(Self {
            id: result.id,
            how: if replaces.is_empty() {
                How::Ended
            } else {
                How::Anew
            },
            stamp: result.stamp.clone(),
            analysis: result.analysis.clone(),
            outcome: result.outcome,
            limits_sha256: result.limits_sha256.clone(),
            document: read(book, &result.content)?,
            replaces,
            holds: holding == Some(result.id),
        })
    }

    /// "mean grip force at least 7.70 kN".
    fn limits(&self, units: &Units) -> Option<String> {
        let limits = anew::limits_words(&self.document, units);
        (!limits.is_empty()).then(|| limits.join("; "))
    }

    /// "judged 12 May 2026, 09:12: outside limit (mean grip force at least 10.50 kN), superseded".
    fn line(&self, units: &Units) -> String {
        let outcome = anew::outcome_words(self.outcome);
        let limits = self.limits(units);
        let limits = limits.map_or_else(String::new, |limits| format!(" ({limits})"));
        let standing = match self.how {
            How::Amended => ", by an amendment: the verdict of the visit stays",
            _ if self.holds => "",
            _ => ", superseded",
        };
        let at = times::moment(&self.stamp.at);
        format!("judged {at}: {outcome}{limits}{standing}")
    }

    fn document(&self) -> Value {
        let limits = self.document.pointer("/verdict/limits");
        let limits = limits.and_then(Value::as_array).into_iter().flatten();
        let limits = limits.map(|limit| {
            let part = |name: &&str| ((*name).to_owned(), limit[*name].clone());
            Value::Object(OF_A_LIMIT.iter().map(part).collect())
        });
        json!({
            "id": self.id,
            "how": self.how.word(),
            "at": self.stamp.at,
            "by": self.stamp.author,
            "analysis": self.analysis,
            "outcome": self.outcome.map(Outcome::word),
            "limits": limits.collect::<Vec<_>>(),
            "limits_sha256": self.limits_sha256,
            "replaces": self.replaces,
            "holds": self.holds,
        })
    }
}

/// The checks of a visit with every judgement of each.
pub(crate) struct JudgedVisit<'a> {
    visit: Visit,
    judgements: Vec<Vec<Judgement>>,
    /// Checks whose spindle says something else now.
    overtaken: BTreeSet<Uuid>,
    strikes: &'a Strikes,
}

impl<'a> JudgedVisit<'a> {
    /// Reads them.
    ///
    /// # Errors
    /// The book does not read back: exit 6.
    pub(crate) fn read(
        book: &Book,
        id: Uuid,
        strikes: &'a Strikes,
        judges: Judges,
    ) -> Result<Self, Error> {
        let visit = book.visit(id)?;
        let now = page_now(book, &visit)?;
        let overtaken = anew::overtaken(book, &visit, now.as_ref(), judges)?;
        let overtaken = overtaken.iter().filter(|found| found.verdict);
        Ok(Self {
            overtaken: overtaken.map(|found| found.check.start.id).collect(),
            judgements: visit
                .checks
                .iter()
                .map(|check| of_check(book, &visit, check))
                .collect::<Result<_, _>>()?,
            visit,
            strikes,
        })
    }

    /// A line a check; below it by what it was judged, or, where that was more than once, each judgement.
    pub(crate) fn lines(&self, units: &Units) -> Vec<String> {
        let id = self.visit.visit.id;
        let mut lines = Vec::new();
        for (place, check) in self.visit.checks.iter().enumerate() {
            let mut line = check_line(place + 1, check);
            if self.overtaken.contains(&check.start.id) {
                line.push_str(&format!(", {LIMIT_THEN_KNOWN}"));
            }
            let struck = struck_words(self.strikes, check.start.id, check.start.id);
            line.extend(struck.map(|struck| format!("; {struck}")));
            lines.push(format!("    {line}"));
            let below = match self.judgements[place].as_slice() {
                [only] => {
                    Vec::from_iter(only.limits(units).map(|limits| format!("held to {limits}")))
                }
                several => several.iter().map(|each| each.line(units)).collect(),
            };
            lines.extend(below.iter().map(|line| format!("        {line}")));
        }
        let results = self.visit.later.iter();
        let results = results.filter(|later| later.table == "result");
        lines.extend(results.map(|later| format!("    {}", later_rows::line(later))));
        let struck = struck_words(self.strikes, id, id);
        lines.extend(struck.map(|struck| format!("    the whole visit {struck}")));
        lines
    }

    /// The checks in a document.
    pub(crate) fn documents(&self) -> Vec<Value> {
        let checks = self.visit.checks.iter().enumerate();
        let checks = checks.map(|(place, check)| {
            let id = check.start.id;
            let visit = self.visit.visit.id;
            json!({
                "id": id,
                "number": place + 1,
                "check": check.start.kind.word(),
                "state": check.start.state.map(State::word),
                "at": check.start.stamp.at,
                "finished": !check.results.is_empty(),
                "outcome": check.result().and_then(|result| result.outcome).map(Outcome::word),
                "limit_then_known": self.overtaken.contains(&id),
                "struck": struck_document(self.strikes.counted_on(id, visit)),
                "struck_later": struck_document(self.strikes.later_on(id, visit)),
                "judgements": self.judgements[place].iter().map(Judgement::document).collect::<Vec<_>>(),
            })
        });
        checks.collect()
    }

    /// Whether the visit has an end.
    pub(crate) fn is_finished(&self) -> bool {
        !self.visit.finishes.is_empty()
    }
}

fn of_check(book: &Book, visit: &Visit, check: &Check) -> Result<Vec<Judgement>, Error> {
    let holding = check.result().map(|result| result.id);
    let results = check.results.iter();
    let results = results.map(|result| Judgement::of_result(book, result, holding));
    let mut judgements: Vec<Judgement> = results.collect::<Result<_, _>>()?;
    for amendment in &visit.amendments {
        let judged = amendments::judged_by(amendment).into_iter();
        for then in judged.filter(|then| then.check == check.start.id) {
            judgements.push(Judgement {
                id: amendment.id,
                how: How::Amended,
                stamp: amendment.stamp.clone(),
                analysis: then.analysis,
                outcome: then.outcome,
                limits_sha256: then.limits.map(|text| sha256_hex(text.as_bytes())),
                replaces: anew::replaced_in(&then.result),
                document: then.result,
                holds: false,
            });
        }
    }
    Ok(judgements)
}
