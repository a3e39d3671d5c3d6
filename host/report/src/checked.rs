//! Grip and runout checks seen alike: title, verdict, hints, and the figures in a sentence.
//!
//! In: a document. Out: one [`Checked`] a check, for the sections that do not care what was measured.

use crate::document::{Document, Grip, Runout};
use crate::paper::{Block, flag, note};
use holdtrue_metrology::grip::result::Uncertainty;
use holdtrue_metrology::verdict::{Set, Verdict, overtaken_by};
use holdtrue_terms::vocabulary::{At, Outcome, Provenance, State};
use holdtrue_wording::CheckWords;
use holdtrue_wording::digits::{Units, percent};
use holdtrue_wording::{paper, words};

/// Of figures without a record.
pub(crate) const TYPED: &str = "Typed by hand, no record.";

/// A check, whatever was measured.
pub(crate) struct Checked<'a> {
    /// What was measured.
    pub what: &'static str,
    /// The same within a sentence.
    pub in_sentence: &'static str,
    pub state: Option<State>,
    pub title: String,
    pub at: &'a str,
    pub verdict: Option<&'a Verdict>,
    pub words: &'a CheckWords,
    /// The figures, in sentences.
    pub summary: Vec<String>,
    /// The figure that stands for it where none is judged, with its name.
    pub first_figure: Option<(String, String)>,
    pub since_last: &'a [String],
    pub typed_by_hand: bool,
    pub file: Option<&'a str>,
    pub assumptions: &'a [String],
    pub limit_sources: &'a [String],
    pub analysis: &'a str,
    /// Struck out: why, who, when.
    pub struck: Option<&'a str>,
    /// Broken off: how far it came.
    pub broken_off: Option<&'a str>,
    pub remarks: &'a [String],
    /// What an amendment made of it, in words and as an outcome.
    pub amended: Option<&'a str>,
    pub amended_to: Option<Outcome>,
    /// What it is held to is known; a verdict lacks only the instrument.
    pub limit_known: bool,
}

/// All checks of a document in the order they are printed.
pub(crate) fn checks(document: &Document) -> Vec<Checked<'_>> {
    let units = &document.units;
    let grips = document.grips.iter().map(|check| grip(units, check));
    grips
        .chain(document.runouts.iter().map(|check| runout(units, check)))
        .collect()
}

impl Checked<'_> {
    pub(crate) fn outcome(&self) -> Option<Outcome> {
        self.verdict.map(|verdict| verdict.outcome)
    }

    /// What it came to in the end: an amendment judges anew.
    pub(crate) fn comes_to(&self) -> Option<Outcome> {
        self.amended_to.or(self.outcome())
    }

    /// Neither struck out nor broken off.
    pub(crate) fn plain(&self) -> bool {
        self.struck.is_none() && self.broken_off.is_none()
    }

    /// What must not be missed where its figures stand large.
    pub(crate) fn flags(&self) -> Vec<String> {
        let struck = self.struck.map(|why| {
            let was = self.outcome().map_or("not judged", words::outcome);
            format!("Struck out: {why}. By itself it was {was}.")
        });
        let broken_off = self.broken_off.map(broken_off_words);
        let typed = self.typed_by_hand.then(|| TYPED.to_owned());
        let amended = self.amended.map(words::sentence);
        [struck, broken_off, amended, typed]
            .into_iter()
            .flatten()
            .collect()
    }

    /// What stands under its figures on the first page.
    pub(crate) fn front_sentences(&self) -> Vec<String> {
        let mut lines: Vec<String> = self
            .since_last
            .iter()
            .map(|line| words::sentence(line))
            .collect();
        match self.outcome() {
            None if self.broken_off.is_none() => {
                lines.push(paper::no_verdict(self.limit_known).to_owned());
            }
            None | Some(Outcome::Accept) => {}
            Some(_) => lines.extend(self.reasons()),
        }
        lines.extend(self.remarks.iter().map(|remark| words::sentence(remark)));
        lines
    }

    /// Reasons for which the spindle must not run before something is known or put right.
    pub(crate) fn stops(&self) -> Vec<String> {
        let values = self.verdict.map_or(&[][..], |verdict| &verdict.reasons);
        let said: Vec<String> = self.reasons().collect();
        let pairs = values.iter().zip(said);
        pairs
            .filter(|(value, _)| value.forbids_running())
            .map(|(_, said)| said)
            .collect()
    }

    /// Why the verdict is what it is.
    pub(crate) fn reasons(&self) -> impl Iterator<Item = String> {
        let said = self
            .words
            .verdict
            .iter()
            .flat_map(|verdict| &verdict.reasons);
        said.map(|reason| words::sentence(reason))
    }
}

fn broken_off_words(so_far: &str) -> String {
    format!("Broken off, {so_far} recorded: a set that is not finished is not judged.")
}

/// What is said of a set before its figures are shown: struck out, broken off, judged anew.
pub(crate) fn standing(
    struck: Option<&str>,
    broken_off: Option<&str>,
    remarks: &[String],
) -> Vec<Block> {
    let struck = struck.map(|why| {
        flag(format!(
            "Struck out: {why}. Its figures stand here and do not count."
        ))
    });
    let broken_off = broken_off.map(|so_far| flag(broken_off_words(so_far)));
    let remarks = remarks.iter().map(|remark| note(words::sentence(remark)));
    struck
        .into_iter()
        .chain(broken_off)
        .chain(remarks)
        .collect()
}

/// Each clamp or plane with the remarks on it.
pub(crate) fn each<'a, T>(parts: &'a [T], words: &'a [Vec<String>]) -> Vec<(&'a T, &'a [String])> {
    let notes = words
        .iter()
        .map(Vec::as_slice)
        .chain(std::iter::repeat(&[][..]));
    parts.iter().zip(notes).collect()
}

/// "Grip force, as found".
pub(crate) fn title(what: &str, state: Option<State>) -> String {
    state.map_or_else(
        || what.to_owned(),
        |state| format!("{what}, {}", state.words()),
    )
}

fn grip<'a>(units: &Units, check: &'a Grip) -> Checked<'a> {
    Checked {
        what: "Grip force",
        in_sentence: "grip force",
        state: check.result.state,
        title: title("Grip force (drawbar force)", check.result.state),
        at: &check.at,
        verdict: check.result.verdict.as_ref(),
        words: &check.words,
        summary: and_since(grip_summary(units, check), &check.since_last),
        first_figure: check
            .result
            .statistics
            .as_ref()
            .map(|statistics| ("mean grip force".to_owned(), units.force(statistics.mean_n))),
        since_last: &check.since_last,
        typed_by_hand: check.typed_by_hand,
        file: check.file.as_deref(),
        assumptions: &check.assumptions,
        limit_sources: &check.limit_sources,
        analysis: &check.analysis,
        struck: check.struck.as_deref(),
        broken_off: check.broken_off.as_deref(),
        remarks: &check.remarks,
        amended: check.amended.as_deref(),
        amended_to: check.amended_to,
        limit_known: check.nominal_n.is_some(),
    }
}

/// What was found, and how it changed.
fn and_since(mut lines: Vec<String>, since_last: &[String]) -> Vec<String> {
    lines.extend(since_last.iter().map(|line| words::sentence(line)));
    lines
}

fn grip_summary(units: &Units, check: &Grip) -> Vec<String> {
    let found = check.result.clamps.len();
    let noted = check.result.stated.iter().map(|stated| {
        let what = words::stated_figure(stated.figure);
        format!("Noted: {what} {}.", units.force(stated.value_n))
    });
    let noted: Vec<String> = noted.collect();
    let Some(statistics) = &check.result.statistics else {
        let none = || vec![format!("{found} clamps found, none of them counts.")];
        return if found == 0 && !noted.is_empty() {
            noted
        } else {
            none()
        };
    };
    let mean = units.force(statistics.mean_n);
    let clamps = if statistics.count == 1 {
        "clamp"
    } else {
        "clamps"
    };
    let spread = |u: &Uncertainty| units.force_spread(u.expanded_n, statistics.mean_n);
    let uncertainty = check.result.uncertainty.as_ref();
    let uncertainty =
        uncertainty.map_or_else(String::new, |u| format!(" ± {} (95\u{a0}%)", spread(u)));
    let mut lines = vec![format!(
        "Mean {mean}{uncertainty}, over {} {clamps}; lowest clamp {}.",
        statistics.count,
        units.force(statistics.lowest_n)
    )];
    if let Some((nominal_n, provenance)) = check.nominal_n {
        let share = 100.0 * statistics.mean_n / nominal_n;
        let nominal = units.force(nominal_n);
        lines.push(format!(
            "{} of {} {nominal}{}.",
            percent(share),
            if provenance == Provenance::Maker {
                "the maker's nominal"
            } else {
                "the nominal"
            },
            if provenance == Provenance::Maker {
                String::new()
            } else {
                format!(" ({})", provenance.words())
            }
        ));
    }
    if found > statistics.count {
        lines.push(format!(
            "{found} clamps were found; {} not counted.",
            found - statistics.count
        ));
    }
    lines.extend(noted);
    lines
}

fn runout<'a>(units: &Units, check: &'a Runout) -> Checked<'a> {
    Checked {
        what: "Taper runout",
        in_sentence: "taper runout",
        state: check.result.state,
        title: title("Taper runout", check.result.state),
        at: &check.at,
        verdict: check.result.verdict.as_ref(),
        words: &check.words,
        summary: and_since(runout_summary(units, check), &check.since_last),
        first_figure: first_runout(units, check),
        since_last: &check.since_last,
        typed_by_hand: check.typed_by_hand,
        file: check.file.as_deref(),
        assumptions: &[],
        limit_sources: &check.limit_sources,
        analysis: &check.analysis,
        struck: check.struck.as_deref(),
        broken_off: check.broken_off.as_deref(),
        remarks: &check.remarks,
        amended: check.amended.as_deref(),
        amended_to: check.amended_to,
        limit_known: false,
    }
}

/// The runout of the spindle alone farthest out, else the largest TIR.
fn first_runout(units: &Units, check: &Runout) -> Option<(String, String)> {
    let at = |mm: Option<f64>| mm.map_or_else(String::new, words::at_height);
    if let Some(part) = check.result.reversal.last() {
        let name = format!("runout of the spindle alone{}", at(part.height_mm));
        return Some((name, units.length(2.0 * part.spindle_eccentricity_um)));
    }
    let read = check
        .result
        .planes
        .iter()
        .filter_map(|plane| Some((plane, plane.tir_um?)));
    let (plane, tir_um) = read.max_by(|one, other| one.1.total_cmp(&other.1))?;
    let name = format!("TIR, {}", place(plane.place.at, plane.place.height_mm));
    Some((name, units.length(tir_um)))
}

/// The largest TIR of each surface and height, then what stays with the spindle.
fn runout_summary(units: &Units, check: &Runout) -> Vec<String> {
    let mut largest: Vec<(Option<At>, Option<f64>, f64)> = Vec::new();
    for plane in &check.result.planes {
        let Some(tir_um) = plane.tir_um else { continue };
        let known = largest
            .iter_mut()
            .find(|(at, mm, _)| *at == plane.place.at && *mm == plane.place.height_mm);
        match known {
            Some((_, _, most)) => *most = most.max(tir_um),
            None => largest.push((plane.place.at, plane.place.height_mm, tir_um)),
        }
    }
    let places: Vec<String> = largest
        .into_iter()
        .map(|(at, mm, tir_um)| format!("{} {}", place(at, mm), units.length(tir_um)))
        .collect();
    let mut lines = if places.is_empty() {
        vec![]
    } else {
        vec![format!("Largest TIR: {}.", places.join("; "))]
    };
    for part in &check.result.reversal {
        let stays = words::eccentricity(part.spindle_eccentricity_um, |um| units.length(um));
        let follows = words::eccentricity(part.bar_eccentricity_um, |um| units.length(um));
        let bar = if part.bar_or_seat {
            "bar or seat"
        } else {
            "bar"
        };
        let at = part.height_mm.map_or_else(String::new, words::at_height);
        lines.push(format!(
            "Runout of the spindle alone{at}: {stays}. Of the {bar}: {follows}."
        ));
    }
    lines
}

/// "test bar at 300 mm".
pub(crate) fn place(at: Option<At>, height_mm: Option<f64>) -> String {
    let surface = words::surface(at);
    let at = height_mm.map_or_else(String::new, words::at_height);
    format!("{surface}{at}")
}

/// A check as it counts for the verdict of its visit.
pub(crate) fn set(check: &Checked) -> Set<&'static str> {
    Set {
        outcome: check.comes_to(),
        ..Set::of(check.what, check.state, check.verdict)
    }
}

/// Sets that say what is still to do: not struck out, and not overtaken by one as left that is judged no less.
pub(crate) fn not_overtaken<'a, 'b>(checks: &'b [Checked<'a>]) -> Vec<&'b Checked<'a>> {
    let counted: Vec<&Checked> = checks
        .iter()
        .filter(|check| check.struck.is_none())
        .collect();
    let stands = |place: usize| overtaking(counted[place], &counted[place + 1..]).is_none();
    (0..counted.len())
        .filter(|place| stands(*place))
        .map(|place| counted[place])
        .collect()
}

pub(crate) fn overtaking<'a, 'b>(
    check: &Checked,
    later: &[&'b Checked<'a>],
) -> Option<&'b Checked<'a>> {
    let sets: Vec<_> = later.iter().map(|check| set(check)).collect();
    overtaken_by(&set(check), &sets).map(|place| later[place])
}
