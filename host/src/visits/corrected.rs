//! What was struck out or corrected. In: rows of a visit and the remarks on them. Out: how each reads now, with who said so
//! and why; the rows themselves stay as they were written.

use crate::terminal::times;
use crate::visits::checks::stored_figure::verdict_in;
use crate::visits::findings::estimate;
use crate::visits::findings::estimate::Estimate;
use holdtrue_book::{Check, Finding, FindingKind, Json, Remark, Said, Strikes, Struck, Visit};
use holdtrue_metrology::verdict;
use holdtrue_metrology::verdict::Set;
use holdtrue_terms::vocabulary::{Outcome, Severity};
use serde_json::{Map, Value, json};
use uuid::Uuid;

/// The strike that holds on a row or entity; none where there is none, or it was lifted.
pub fn strike_on(remarks: &[Remark], target: Uuid) -> Option<&Remark> {
    let struck = Remark::struck(remarks);
    remarks.iter().rfind(|remark| {
        remark.said == Said::Strike && remark.target == target && !struck.contains(&remark.id)
    })
}

/// "struck out: the knob was loose (Technician A, 4 Mar 2026, 09:12 (UTC+1))".
pub fn strike_words(strike: &Remark) -> String {
    format!("struck out: {}", because(strike))
}

/// What is struck on a row of a visit, or on the visit, in the words of a list; none where it is not. A strike after the end
/// counts once an amendment takes it up.
pub fn struck_words(strikes: &Strikes, row: Uuid, visit: Uuid) -> Option<String> {
    let said = |struck: &Struck| {
        let stamp = &struck.stamp;
        let when = times::moment(&stamp.at);
        format!("{} ({}, {when})", struck.reason, stamp.author)
    };
    let counted = strikes.counted_on(row, visit);
    let later = strikes.later_on(row, visit);
    let counted = counted.map(|struck| format!("struck out: {}", said(struck)));
    counted.or_else(|| {
        Some(format!(
            "struck out after the visit was finished: {}; it counts until holdtrue visit amend takes that up",
            said(later?)
        ))
    })
}

/// Why, who and when.
pub fn because(remark: &Remark) -> String {
    let (reason, stamp) = (&remark.reason, &remark.stamp);
    format!("{reason} ({}, {})", stamp.author, times::moment(&stamp.at))
}

/// A strike in a document; null where there is none.
pub fn strike_document(strike: Option<&Remark>) -> Value {
    strike.map_or(Value::Null, |strike| {
        json!({ "reason": strike.reason, "by": strike.stamp.author, "at": strike.stamp.at })
    })
}

/// The same of a strike as it counts for its visit.
pub fn struck_document(struck: Option<&Struck>) -> Value {
    struck.map_or(Value::Null, |struck| {
        json!({ "reason": struck.reason, "by": struck.stamp.author, "at": struck.stamp.at })
    })
}

/// A finding as it reads now.
#[derive(Clone, Debug)]
pub struct CorrectedFinding {
    /// Its number in the visit, from 1, in order of time.
    pub number: usize,
    /// With every correction that holds.
    pub finding: Finding,
    /// Whether it counts no longer, and why.
    pub struck: Option<Remark>,
    /// The corrections that hold, in order of time.
    pub corrections: Vec<Remark>,
}

impl CorrectedFinding {
    fn of(number: usize, finding: &Finding, remarks: &[Remark]) -> Self {
        let struck = Remark::struck(remarks);
        let corrections = remarks.iter().filter(|remark| {
            remark.said == Said::Correction
                && remark.target == finding.id
                && !struck.contains(&remark.id)
        });
        let mut corrected = finding.clone();
        let corrections: Vec<Remark> = corrections.cloned().collect();
        for change in corrections
            .iter()
            .filter_map(|remark| remark.change.as_ref())
        {
            let new: Option<Value> = change.new.read().ok();
            if let (Some(part), Some(new)) = (change.field.strip_prefix("content."), &new) {
                corrected.content = with_part(&corrected.content, part, new.clone());
            }
            let text = new.as_ref().and_then(Value::as_str).map(str::to_owned);
            match (change.field.as_str(), text) {
                ("assembly", Some(text)) => corrected.assembly = text,
                ("item", Some(text)) => corrected.item = text,
                ("text", Some(text)) => corrected.text = text,
                ("severity", Some(word)) => {
                    corrected.severity = word.parse().ok().or(corrected.severity);
                }
                // Another tool's correction of what is not shown.
                _ => {}
            }
        }
        Self {
            number,
            finding: corrected,
            struck: strike_on(remarks, finding.id).cloned(),
            corrections,
        }
    }

    /// What was corrected, one line each.
    pub fn correction_lines(&self) -> Vec<String> {
        let each = self.corrections.iter().filter_map(|remark| {
            let change = remark.change.as_ref()?;
            let field = change.field.trim_start_matches("content.");
            let plain = |json: &Json| match json.read::<Value>() {
                Ok(Value::String(text)) => text,
                Ok(Value::Null) => "not said".to_owned(),
                _ => estimate::part_words(field, json).unwrap_or_else(|| json.text().to_owned()),
            };
            let (old, new) = (plain(&change.old), plain(&change.new));
            Some(format!(
                "corrected, {field}: \"{old}\" should read \"{new}\": {}",
                because(remark)
            ))
        });
        each.collect()
    }

    /// The corrections in a document.
    pub fn correction_documents(&self) -> Vec<Value> {
        let each = self.corrections.iter().filter_map(|remark| {
            let change = remark.change.as_ref()?;
            let value = |json: &Json| json.read::<Value>().unwrap_or_default();
            Some(json!({
                "field": change.field,
                "old": value(&change.old),
                "new": value(&change.new),
                "reason": remark.reason,
                "by": remark.stamp.author,
                "at": remark.stamp.at,
            }))
        });
        each.collect()
    }
}

/// The content of a finding with one part of it read otherwise.
fn with_part(content: &Json, part: &str, new: Value) -> Json {
    let mut parts: Map<String, Value> = content.read().unwrap_or_default();
    parts.insert(part.to_owned(), new);
    Json::of(&parts).unwrap_or_else(|_| content.clone())
}

/// The findings of a visit as they read now, struck ones among them.
pub fn findings(visit: &Visit) -> Vec<CorrectedFinding> {
    findings_by(visit, &visit.remarks)
}

/// The same by other remarks than those the visit was finished with.
pub fn findings_by(visit: &Visit, remarks: &[Remark]) -> Vec<CorrectedFinding> {
    read_by(&visit.findings, remarks)
}

/// These findings, in order of time, as they read by these remarks.
pub fn read_by(findings: &[Finding], remarks: &[Remark]) -> Vec<CorrectedFinding> {
    let each = (1..).zip(findings);
    each.map(|(number, finding)| CorrectedFinding::of(number, finding, remarks))
        .collect()
}

/// A finding as a person reads it.
pub fn finding_line(finding: &Finding) -> String {
    let what = match (finding.kind, finding.severity) {
        (FindingKind::InOrder, _) => "in order".to_owned(),
        (FindingKind::NotExamined, _) => format!("not examined, because {}", finding.text),
        (FindingKind::Found, severity) => {
            format!("{}: {}", severity.map_or("", Severity::words), finding.text)
        }
    };
    format!("{}, {}: {what}", finding.assembly, finding.item)
}

/// A finding as it reads now, with its number and whatever was said of it since.
pub fn finding_lines(each: &CorrectedFinding) -> Vec<String> {
    let said = Estimate::of(&each.finding);
    let below = said
        .measured_words()
        .into_iter()
        .chain(said.estimate_words());
    let below = below.chain(each.correction_lines());
    let below = below.chain(each.struck.as_ref().map(strike_words));
    let first = format!("{:>2}  {}", each.number, finding_line(&each.finding));
    std::iter::once(first)
        .chain(below.map(|line| format!("    {line}")))
        .collect()
}

/// What amendments made of a check; none of one that none judged anew.
pub type Amended<'a> = dyn Fn(&Check) -> Option<Outcome> + 'a;

/// A check as it counts for the verdict of its visit. Outcomes are those of the results that hold, or what amendments made of them.
fn set(check: &Check, amended: &Amended) -> Set<&'static str> {
    let result = check.result();
    let verdict = result.and_then(|result| verdict_in(result.content.text()));
    let outcome = result.and_then(|result| result.outcome);
    Set {
        outcome: amended(check).or(outcome),
        ..Set::of(check.start.kind.word(), check.start.state, verdict.as_ref())
    }
}

/// What was repeated as left until it was within, a line each.
pub fn repeated_lines(visit: &Visit, remarks: &[Remark], amended: &Amended) -> Vec<String> {
    let counts = |check: &&Check| strike_on(remarks, check.start.id).is_none();
    let of = |check| set(check, amended);
    let sets: Vec<_> = visit.checks.iter().filter(counts).map(of).collect();
    let repeated = verdict::repeated(&sets).into_iter();
    repeated
        .map(|each| {
            let words = holdtrue_wording::words::repeated(each);
            format!("{:<9} {words}", sets[each.place].what)
        })
        .collect()
}

/// The verdict of a visit without the sets that were struck out, and with them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VisitVerdict {
    /// Sets struck out.
    pub struck: usize,
    /// Without them.
    pub without: Option<Outcome>,
    /// With them.
    pub with: Option<Outcome>,
}

impl VisitVerdict {
    /// Of a visit by these remarks.
    pub fn of(visit: &Visit, remarks: &[Remark], amended: &Amended) -> Self {
        let counts = |check: &&Check| strike_on(remarks, check.start.id).is_none();
        let of = |check| set(check, amended);
        let all: Vec<_> = visit.checks.iter().map(of).collect();
        let counted: Vec<_> = visit.checks.iter().filter(counts).map(of).collect();
        Self {
            struck: all.len() - counted.len(),
            without: verdict::of_visit(&counted),
            with: verdict::of_visit(&all),
        }
    }

    /// "One set struck out. Verdict of the visit without it: within limit; with it: outside limit." None where no set is.
    pub fn words(&self) -> Option<String> {
        holdtrue_wording::words::struck_out(self.struck, self.without, self.with)
    }
}
