//! The overview as a person reads it, and as a table. In: the spindles, worst first. Out: lines, or CSV.

use crate::overview::findings::OpenFinding;
use crate::overview::gathered::{LastVisit, NotListed, Standing, Why};
use crate::overview::newest::{BeganAnew, JudgedEarlier};
use crate::terminal::error::Error;
use crate::trend::document::{CrossingAt, GRADUAL_ONLY};
use crate::visits::known_day;
use holdtrue_terms::vocabulary::{Outcome, Severity};
use holdtrue_wording::digits::Units;
use holdtrue_wording::words;
use holdtrue_wording::{joined_lines, shown};
use jiff::civil::Date;
use serde_json::Value;

/// Lines for a person.
pub(crate) fn lines(spindles: &[Standing], on: Date, units: &Units) -> String {
    if spindles.is_empty() {
        return "No such spindle in this book.".to_owned();
    }
    let mut lines = vec![format!(
        "{}, worst first, on {}",
        match spindles.len() {
            1 => "1 spindle".to_owned(),
            several => format!("{several} spindles"),
        },
        known_day::words(&on.to_string())
    )];
    for (number, each) in (1..).zip(spindles) {
        lines.push(String::new());
        lines.extend(of_one(number, each, units));
    }
    let runout_crosses = |each: &Standing| {
        let runout = each.runout.as_ref();
        runout.is_some_and(|runout| runout.crossing.is_some())
    };
    if spindles
        .iter()
        .any(|each| each.crossing.is_some() || runout_crosses(each))
    {
        lines.extend([String::new(), GRADUAL_ONLY.to_owned()]);
    }
    joined_lines(&lines)
}

/// What is in the book and not among the lines.
pub(crate) fn not_listed(not_listed: &NotListed) -> Vec<String> {
    let mut lines = Vec::new();
    if !not_listed.hidden.is_empty() {
        lines.push(format!(
            "Not listed: {} hidden (spindle edit --remove) with something open",
            not_listed.hidden.len()
        ));
    }
    for each in &not_listed.hidden {
        let findings = match each.open_findings {
            0 => String::new(),
            1 => ", 1 finding open".to_owned(),
            several => format!(", {several} findings open"),
        };
        lines.push(format!(
            "     {}: {}{findings}",
            shown(&each.name),
            each.why.words()
        ));
    }
    let unnamed = match not_listed.unnamed_visits {
        0 => return lines,
        1 => "1 visit is".to_owned(),
        several => format!("{several} visits are"),
    };
    lines.push(format!(
        "Not listed: {unnamed} of no spindle; say which with visit edit --spindle. One that is finished stays of none: what it measured is \
         entered again as a visit of its spindle, with visit start --date"
    ));
    lines
}

fn of_one(number: usize, each: &Standing, units: &Units) -> Vec<String> {
    let kind = [each.taper.clone(), each.class.clone(), each.place.clone()];
    let kind: Vec<String> = kind.into_iter().flatten().collect();
    let kind = if kind.is_empty() {
        String::new()
    } else {
        format!(" ({})", kind.join(", "))
    };
    let mut lines = vec![format!(
        "{number:>3}  {}{kind}: {}",
        each.name,
        heading(each)
    )];
    let mut tell = |text: String| lines.push(format!("     {text}"));
    if let Some(last) = &each.last_visit {
        let visits = if each.visits == 1 {
            "1 visit".to_owned()
        } else {
            format!("{} visits", each.visits)
        };
        let judged = match (each.why, last.outcome) {
            (Why::LastNotJudged | Why::NotJudged | Why::DueNotJudged, _) | (_, Some(_)) => "",
            _ => ", not judged",
        };
        tell(format!(
            "last visit {} of {visits}{judged}",
            known_day::words(&last.at)
        ));
    }
    open_lines(&each.open_findings)
        .into_iter()
        .for_each(&mut tell);
    for struck in &each.struck_visits {
        tell(format!(
            "the visit of {} is struck out, and counts nowhere: {}",
            known_day::words(&struck.at),
            struck.reason
        ));
    }
    let told_below = each.grip.as_ref().is_some_and(|grip| grip.overtaken);
    for beyond in &each.beyond_limit {
        let told = |value: f64| units.in_unit(value, beyond.figure.unit());
        let then = match beyond.outcome {
            None => {
                "not judged: holdtrue visit amend judges a set that tells its uncertainty; else measure anew"
            }
            Some(_) if told_below => continue,
            Some(_) => {
                "within the limit then known: holdtrue visit amend judges it by the one known now"
            }
        };
        tell(format!(
            "{} {}{} by the visit of {}, limit {}, {then}",
            beyond.figure.words(),
            if beyond.at_most { "at most " } else { "" },
            told(beyond.value),
            known_day::words(&beyond.at),
            told(beyond.limit.value)
        ));
    }
    let by_last = |last: &LastVisit| {
        each.verdict
            .as_ref()
            .is_some_and(|it| it.visit == last.visit)
    };
    let within = |last: &&LastVisit| last.outcome == Some(Outcome::Accept) && !by_last(last);
    if each.last_visit.as_ref().is_some_and(|last| within(&last)) {
        tell("the last visit, within its limits, did not measure all of that again by limits as strict".to_owned());
    }
    for struck in &each.struck_later {
        let what = match (struck.whole, struck.sets) {
            (true, _) => "the whole visit".to_owned(),
            (false, 1) => "1 set of the visit".to_owned(),
            (false, several) => format!("{several} sets of the visit"),
        };
        tell(format!(
            "{what} of {} struck out after it was finished: counted until holdtrue visit amend takes that up",
            known_day::words(&struck.at)
        ));
    }
    for added in &each.added_later {
        let state = added
            .state
            .map_or_else(String::new, |state| format!(" {}", state.words()));
        let outcome = added.outcome.map_or("not judged", words::outcome);
        tell(format!(
            "a {} set{state}, {outcome}, by {}, was added after the visit of {} was finished: it counts nowhere; measure anew in a visit of its own",
            added.check,
            added.by,
            known_day::words(&added.at)
        ));
    }
    for struck in &each.struck_outside {
        tell(format!(
            "a {} set outside its limit is struck out: {}",
            struck.check, struck.reason
        ));
    }
    if let Some(grip) = &each.grip {
        let limit = grip.limit.as_ref().map_or_else(String::new, |limit| {
            format!(", limit {}", units.force(limit.value))
        });
        let left = grip
            .left_n
            .map_or_else(String::new, |n| format!(", as left {}", units.force(n)));
        let on = not_of_last(each, grip.at.as_deref());
        tell(format!(
            "mean grip force (drawbar force) as found{on} {}{left}{limit}",
            units.force(grip.mean_n)
        ));
        if grip.overtaken {
            tell("that was within the limit then known: holdtrue visit amend judges it by the one known now".to_owned());
        }
    }
    let began = each.grip.as_ref().and_then(|grip| grip.began_anew.as_ref());
    began.map(began_words).into_iter().for_each(&mut tell);
    if let Some(slope) = each.slope_n_per_year.filter(|_| each.trend) {
        tell(runs_by(slope, |n| units.force(n)));
    }
    if let Some(crossing) = &each.crossing {
        tell(crossed_about(crossing));
    }
    if let Some(runout) = &each.runout {
        let limit = runout.limit.as_ref().map_or_else(String::new, |limit| {
            format!(", limit {}", units.length(limit.value))
        });
        let (what, tir) = (runout.figure.words(), units.length(runout.tir_um));
        let on = not_of_last(each, runout.at.as_deref());
        tell(format!("{what} as found{on} {tir}{limit}"));
        let began = runout.began_anew.as_ref();
        began.map(began_words).into_iter().for_each(&mut tell);
        if let Some(slope) = runout.slope_um_per_year.filter(|_| runout.trend) {
            tell(runs_by(slope, |um| units.length(um)));
        }
        if let Some(crossing) = &runout.crossing {
            tell(crossed_about(crossing));
        }
    }
    if let Some(among) = &each.among {
        tell(format!(
            "number {} from the lowest of {} like it; the middle one has {}",
            among.from_lowest,
            among.of,
            units.force(among.median_n)
        ));
    }
    if let Some(due) = &each.next_visit_due {
        tell(format!("next visit due {}", known_day::words(due)));
    }
    for calibration in each
        .calibrations
        .iter()
        .filter(|calibration| calibration.overdue)
    {
        let due = calibration
            .due
            .as_deref()
            .map(known_day::words)
            .unwrap_or_default();
        tell(format!(
            "gauge {}: its calibration was due {due}",
            calibration.serial
        ));
    }
    lines
}

fn urgent(open: &[OpenFinding]) -> impl Iterator<Item = &OpenFinding> {
    let open = open.iter();
    open.filter(|finding| finding.severity == Some(Severity::BeforeUse))
}

/// Each that is to be put right before the next run, and how many others are open.
fn open_lines(open: &[OpenFinding]) -> Vec<String> {
    let mut lines: Vec<String> = urgent(open)
        .map(|finding| {
            format!(
                "{}: {}, {}: {}, seen {}",
                Severity::BeforeUse.words(),
                shown(&finding.assembly),
                shown(&finding.item),
                shown(&finding.text),
                known_day::words(&finding.at)
            )
        })
        .collect();
    let others = open.len() - lines.len();
    let more = if lines.is_empty() { "" } else { " more" };
    match others {
        0 => {}
        1 => lines.push(format!("1{more} finding open")),
        several => lines.push(format!("{several}{more} findings open")),
    }
    lines
}

/// " on 1 May 2021", where a figure is not of the last visit.
fn not_of_last(each: &Standing, at: Option<&str>) -> String {
    let last = each.last_visit.as_ref().map(|last| last.at.as_str());
    match at {
        Some(at) if last != Some(at) => format!(" on {}", known_day::words(at)),
        _ => String::new(),
    }
}

/// Why it stands where it stands; a verdict of an older visit is said to be that.
fn heading(each: &Standing) -> String {
    let why = each.why.words();
    let verdict = each.verdict.as_ref();
    let rests_on_verdict = match each.why {
        Why::OutsideLimit | Why::Undecided | Why::Due | Why::WithinLimit | Why::LastNotJudged => {
            true
        }
        Why::BeforeNextRun
        | Why::AddedLater
        | Why::LimitOvertaken
        | Why::BeyondLimit
        | Why::Crossed
        | Why::RunsToLimit
        | Why::DueNotJudged
        | Why::NotMeasured
        | Why::NotJudged => false,
    };
    let Some(verdict) = verdict.filter(|_| rests_on_verdict) else {
        return why.to_owned();
    };
    let last = each.last_visit.as_ref().map(|last| last.visit);
    let earlier = by_visits(&each.judged_earlier, each.why == Why::LastNotJudged);
    let by = match each.why {
        Why::LastNotJudged => format!("; within limit{earlier}"),
        Why::Due | Why::WithinLimit => earlier,
        _ if Some(verdict.visit) != last => {
            format!(", by the visit of {}", known_day::words(&verdict.at))
        }
        _ => String::new(),
    };
    let amended = if verdict.as_amended {
        ", as amended"
    } else {
        ""
    };
    format!("{why}{by}{amended}")
}

/// " by the visit of 1 May 2026", where that judged all there is; else what was judged by which: ", grip by the visit of …".
fn by_visits(earlier: &[JudgedEarlier], all_there_is: bool) -> String {
    let by = |each: &JudgedEarlier| format!("by the visit of {}", known_day::words(&each.at));
    match earlier {
        [one, others @ ..]
            if all_there_is && others.iter().all(|other| other.visit == one.visit) =>
        {
            format!(" {}", by(one))
        }
        several => {
            let each = several.iter();
            each.map(|each| format!(", {} {}", each.check, by(each)))
                .collect()
        }
    }
}

fn began_words(began: &BeganAnew) -> String {
    let since = match began.visits_since {
        0 => "not measured as found since; a trend told here is of before",
        _ => "too few visits since for a trend",
    };
    format!(
        "{} {}: {since}",
        began.what,
        known_day::words(&began.happened)
    )
}

fn runs_by(slope_per_year: f64, written: impl Fn(f64) -> String) -> String {
    let verb = if slope_per_year < 0.0 {
        "falls"
    } else {
        "rises"
    };
    format!("{verb} by {} a year", written(slope_per_year.abs()))
}

fn crossed_about(crossing: &CrossingAt) -> String {
    let day = |day: &Value| {
        day.as_str()
            .map_or_else(|| "not bounded".to_owned(), known_day::words)
    };
    format!(
        "limit crossed about {} (earliest {}, latest {})",
        day(&crossing.estimate),
        day(&crossing.earliest),
        day(&crossing.latest)
    )
}

/// One row a spindle; absent is empty.
pub(crate) fn csv(spindles: &[Standing]) -> Result<String, Error> {
    let failed = |e: &dyn std::fmt::Display| {
        Error::book(format!("the overview cannot be written as a table: {e}"))
    };
    let mut table = csv::Writer::from_writer(Vec::new());
    table
        .write_record([
            "name",
            "place",
            "taper",
            "class",
            "visits",
            "last_visit",
            "outcome",
            "why",
            "mean_n",
            "limit_n",
            "slope_n_per_year",
            "trend",
            "crossing",
            "earliest",
            "latest",
            "next_visit_due",
            "calibration_due",
            "from_lowest",
            "of",
            "runout_figure",
            "runout_um",
            "runout_limit_um",
            "runout_slope_um_per_year",
            "runout_trend",
            "runout_crossing",
            "runout_earliest",
            "runout_latest",
            "verdict",
            "verdict_at",
            "grip_judged_earlier",
            "runout_judged_earlier",
            "beyond_limit",
            "struck_visits",
            "series_ended_by",
            "open_findings",
            "before_next_run",
        ])
        .map_err(|e| failed(&e))?;
    for each in spindles {
        let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
        let crossing = each.crossing.as_ref();
        let runout = each.runout.as_ref();
        let runout_crossing = runout.and_then(|runout| runout.crossing.as_ref());
        let word = |value: Option<Value>| match value {
            Some(Value::String(word)) => word,
            _ => String::new(),
        };
        let day =
            |value: Option<&Value>| value.and_then(Value::as_str).unwrap_or_default().to_owned();
        let calibration_due = each
            .calibrations
            .iter()
            .filter_map(|calibration| calibration.due.clone())
            .min();
        let earlier = |check: &str| {
            let mut of_it = each.judged_earlier.iter();
            let of_it = of_it.find(|earlier| earlier.check == check);
            of_it.map_or_else(String::new, |earlier| earlier.at.clone())
        };
        let beyond = each.beyond_limit.iter();
        let beyond = beyond.map(|beyond| word(serde_json::to_value(beyond.figure).ok()));
        let began = each.grip.as_ref().and_then(|grip| grip.began_anew.as_ref());
        let row = [
            each.name.clone(),
            each.place.clone().unwrap_or_default(),
            each.taper.clone().unwrap_or_default(),
            each.class.clone().unwrap_or_default(),
            each.visits.to_string(),
            each.last_visit
                .as_ref()
                .map(|last| last.at.clone())
                .unwrap_or_default(),
            each.last_visit
                .as_ref()
                .and_then(|last| last.outcome)
                .map_or("", |outcome| outcome.word())
                .to_owned(),
            word(serde_json::to_value(each.why).ok()),
            number(each.grip.as_ref().map(|grip| grip.mean_n)),
            number(
                each.grip
                    .as_ref()
                    .and_then(|grip| grip.limit.as_ref())
                    .map(|limit| limit.value),
            ),
            number(each.slope_n_per_year),
            u8::from(each.trend).to_string(),
            day(crossing.map(|crossing| &crossing.estimate)),
            day(crossing.map(|crossing| &crossing.earliest)),
            day(crossing.map(|crossing| &crossing.latest)),
            each.next_visit_due.clone().unwrap_or_default(),
            calibration_due.unwrap_or_default(),
            each.among
                .map_or_else(String::new, |among| among.from_lowest.to_string()),
            each.among
                .map_or_else(String::new, |among| among.of.to_string()),
            word(runout.and_then(|runout| serde_json::to_value(runout.figure).ok())),
            number(runout.map(|runout| runout.tir_um)),
            number(runout.and_then(|runout| Some(runout.limit.as_ref()?.value))),
            number(runout.and_then(|runout| runout.slope_um_per_year)),
            runout.map_or_else(String::new, |runout| u8::from(runout.trend).to_string()),
            day(runout_crossing.map(|crossing| &crossing.estimate)),
            day(runout_crossing.map(|crossing| &crossing.earliest)),
            day(runout_crossing.map(|crossing| &crossing.latest)),
            each.verdict
                .as_ref()
                .map_or("", |verdict| verdict.outcome.word())
                .to_owned(),
            each.verdict
                .as_ref()
                .map_or_else(String::new, |verdict| verdict.at.clone()),
            earlier("grip"),
            earlier("runout"),
            beyond.collect::<Vec<_>>().join(" "),
            each.struck_visits.len().to_string(),
            began
                .map(|began| format!("{} {}", began.happened, began.what))
                .unwrap_or_default(),
            each.open_findings.len().to_string(),
            urgent(&each.open_findings).count().to_string(),
        ];
        table.write_record(row).map_err(|e| failed(&e))?;
    }
    let bytes = table.into_inner().map_err(|e| failed(&e))?;
    Ok(String::from_utf8_lossy(&bytes).trim_end().to_owned())
}
