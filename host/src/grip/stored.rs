//! Grip checks in the book. In: a check of the book. Out: what it was computed from and held to, ready to be computed again.

use crate::grip::{force_csv, noted, replay, setup};
use crate::limits::LimitsFile;
use crate::tables::readings;
use crate::terminal::error::Error;
use crate::visits::checks::check_inputs;
use crate::visits::checks::check_inputs::CheckInputs;
use crate::visits::checks::stored_check;
use crate::visits::checks::stored_check::{
    FinishedCheck, PaperFigure, Record, Typed, json_of, read,
};
use crate::visits::corrected;
use holdtrue_book::{Book, Check, CheckKind, Recorded, RecordedKind, Source};
use holdtrue_metrology::copied;
use holdtrue_metrology::copied::{ClampSeen, Room, Series};
use holdtrue_metrology::grip;
use holdtrue_metrology::grip::GripError;
use holdtrue_metrology::grip::excluded::Discard;
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::{ANALYSIS_VERSION, Clamp, GripResult, Stated};
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_metrology::limits::SourcedLimit;
use holdtrue_terms::units::ForceUnit;
use holdtrue_terms::vocabulary::Outcome;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What a grip check was begun with, as the book keeps it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GripInputs {
    /// Clamps that must count; none: the whole record.
    #[serde(default)]
    pub clamps: Option<u32>,
    /// Unit of typed forces.
    #[serde(default)]
    pub unit: Option<ForceUnit>,
    /// What is known besides the forces.
    pub setup: GripSetup,
    /// SHA-256 of the calibration record it is computed by; none where no gauge brought one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_sha256: Option<String>,
    /// Calibration of what reads the gauge's end face: its id in the book; none where nothing does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub end_probe: Option<Uuid>,
}

impl CheckInputs for GripInputs {}

impl GripInputs {
    /// The same with the clamps that were set aside while the check was taken.
    ///
    /// # Errors
    /// When the book cannot be read: exit 6.
    pub fn with_set_aside(mut self, book: &Book, check: Uuid) -> Result<Self, Error> {
        let remarks = book.remarks()?;
        let discards = &mut self.setup.discards;
        for row in book.recorded(check)? {
            let known = discards.iter().any(|known| known.number == row.number);
            let strike = corrected::strike_on(&remarks, row.id);
            if let Some(strike) = strike.filter(|_| row.kind == RecordedKind::Clamp && !known) {
                discards.push(Discard {
                    number: row.number,
                    reason: strike.reason.clone(),
                });
            }
        }
        Ok(self)
    }
}

/// The forces of a check.
#[derive(Clone, Debug, PartialEq)]
pub enum Forces {
    /// A record against time.
    Record(ForceRecord),
    /// Typed by hand.
    Typed {
        /// Holding forces, N.
        forces_n: Vec<f64>,
        /// Figures without their clamps.
        stated: Vec<Stated>,
    },
}

impl Forces {
    /// The readings alone, N.
    pub fn forces_n(&self) -> &[f64] {
        match self {
            Self::Record(record) => record.force_n(),
            Self::Typed { forces_n, .. } => forces_n,
        }
    }
}

impl GripInputs {
    /// The watch over a record: what is analysed ends where a live check would have ended.
    ///
    /// # Errors
    /// A record that is not sound.
    pub fn watch(&self, record: &ForceRecord) -> Result<Watch, GripError> {
        Ok(Watch::replay(record, self.clamps, self.setup.clone())?)
    }

    /// The result, by the one analysis there is.
    ///
    /// # Errors
    /// Forces it cannot take.
    pub fn analyse(&self, forces: &Forces) -> Result<GripResult, GripError> {
        match forces {
            Forces::Typed { forces_n, stated } => {
                grip::analyse_noted(forces_n, stated, &self.setup)
            }
            // At the machine what comes later is no clamp of the check.
            Forces::Record(record) if self.clamps.is_some() && self.setup.at_spindle => {
                self.watch(record)?.finish()
            }
            Forces::Record(record) if self.clamps.is_some() => {
                self.watch(record)?.finish_of(record)
            }
            Forces::Record(record) => grip::analyse(record, &self.setup),
        }
    }

    /// Whether the figures of the spindle's page alone limit it, and the gauge's uncertainty is not known: nobody asked for a
    /// verdict, and but for a force that is far too low by any gauge there can be none.
    pub fn hangs_on_page(&self, limits: &LimitsFile) -> bool {
        let of_page = |limit: &SourcedLimit| limit.source.as_deref() == Some(setup::SPINDLE_PAGE);
        let only_page = limits.limits.iter().all(of_page);
        let any = !limits.limits.is_empty();
        any && only_page && self.setup.gauge.expanded_percent.is_none()
    }

    /// The same for typed forces. Where it [hangs on the page](Self::hangs_on_page), what is not far too low by any gauge stays
    /// without a verdict, and the page's limits are taken out.
    ///
    /// # Errors
    /// Forces it cannot take.
    pub fn analyse_typed(
        &mut self,
        forces: &Forces,
        limits: &mut LimitsFile,
    ) -> Result<GripResult, GripError> {
        let result = self.analyse(forces)?;
        let outcome = result.verdict.as_ref().map(|verdict| verdict.outcome);
        if outcome == Some(Outcome::Reject) || !self.hangs_on_page(limits) {
            return Ok(result);
        }
        limits.limits.clear();
        self.setup.limits.clear();
        self.analyse(forces)
    }

    /// Forces and figures typed by hand.
    ///
    /// # Errors
    /// What is no reading: exit 4. No unit: exit 2.
    pub fn typed(&self, text: Option<&str>, figures: &[PaperFigure]) -> Result<Forces, Error> {
        let read = |text| {
            let unit = self.unit.ok_or_else(setup::no_unit)?;
            readings::read("--readings", text, unit.newtons())
        };
        Ok(Forces::Typed {
            forces_n: text.map(read).transpose()?.unwrap_or_default(),
            stated: figures.iter().filter_map(noted::stated).collect(),
        })
    }
}

/// The forces of a grip check, and the name of the file they came in; none where the book holds no record of them.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn forces(
    book: &Book,
    check: &Check,
    begun: &GripInputs,
) -> Result<Option<(Forces, Option<String>)>, Error> {
    let Some(capture) = check.captures.first() else {
        return Ok(None);
    };
    match capture.source {
        Source::Gauge => {
            let record = replay::force_record(book, check.start.id, begun.end_probe)?;
            Ok(Some((Forces::Record(record), None)))
        }
        Source::Typed => {
            let typed: Typed = read(book, &capture.content)?;
            if typed.typed.is_none() && typed.figures.is_empty() {
                return Ok(None);
            }
            let forces = begun.typed(typed.typed.as_deref(), &typed.figures)?;
            Ok(Some((forces, None)))
        }
        Source::File => match book.original(capture.id)? {
            None => Ok(None),
            Some(original) => {
                let record = force_csv::read(&original.name, &original.bytes)?;
                Ok(Some((Forces::Record(record), Some(original.name))))
            }
        },
    }
}

/// The readings of a stored grip check that may be those of this result; of a record only one with a clamp held as long.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn readings(
    book: &Book,
    check: &Check,
    result: &GripResult,
) -> Result<Option<Vec<f64>>, Error> {
    let held_s = |clamp: &Clamp| Some(clamp.released_s? - clamp.clamped_s?);
    let holds: Vec<f64> = result.clamps.iter().filter_map(held_s).collect();
    let as_long = |row: &Recorded| {
        let stored: Option<Clamp> = row.content.read().ok();
        let stored_s = stored.as_ref().and_then(held_s);
        stored_s.is_some_and(|held| holds.iter().any(|s| (s - held).abs() < SAME_HOLD_S))
    };
    if !holds.is_empty() && !check.recorded.iter().any(as_long) {
        return Ok(None);
    }
    let begun: GripInputs = check_inputs::read(book, &check.start)?;
    let forces = forces(book, check, &begun)?;
    Ok(forces.map(|(forces, _file)| forces.forces_n().to_vec()))
}

/// Whether a stored grip check shows the clamps of this result, in a record at other times, in other steps or cut.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn same_clamps(
    book: &Book,
    check: &Check,
    result: &GripResult,
    record: &ForceRecord,
) -> Result<bool, Error> {
    let rows = check.recorded.iter();
    let stored: Vec<Clamp> = rows
        .filter(|row| row.kind == RecordedKind::Clamp)
        .filter_map(|row| row.content.read().ok())
        .collect();
    let (before, now) = (seen(&stored), seen(&result.clamps));
    // Reading a record back takes long: only one that may be the same, however coarse.
    let widest = Room {
        force_n: WIDEST_SHARE * now.iter().map(|clamp| clamp.force_n).fold(0.0, f64::max),
        time_s: WIDEST_S,
    };
    let alone = Room {
        force_n: CUT_SHARE * widest.force_n,
        time_s: CUT_S,
    };
    let may_be_cut = copied::agree_in(&before, &now, alone) >= COPIED_CLAMPS;
    if !may_be_cut && !copied::may_be_same_clamps(&before, &now, widest) {
        return Ok(false);
    }
    let begun: GripInputs = check_inputs::read(book, &check.start)?;
    let Some((Forces::Record(earlier), _file)) = forces(book, check, &begun)? else {
        return Ok(false);
    };
    let [once, again] = [&earlier, record].map(|record| Series::of(record.force_n()));
    if may_be_cut && once.clamps_in_both(&again) >= COPIED_CLAMPS {
        return Ok(true);
    }
    let of = |record: &ForceRecord| {
        (
            copied::least_step(record.force_n()),
            record.median_spacing_s().unwrap_or(0.0),
        )
    };
    let ((step_n, spacing_s), (other_n, other_s)) = (of(&earlier), of(record));
    let room = Room {
        // A mean of rounded readings is off by a half of a step, where noise does not help.
        force_n: (0.5 * (step_n + other_n) + LEAST_SHARE * widest.force_n).min(widest.force_n),
        time_s: (spacing_s + other_s).min(widest.time_s),
    };
    Ok(copied::same_clamps(&before, &now, room))
}

/// Two looks at one clamp are never farther apart: share of the force, and s.
const WIDEST_SHARE: f64 = 0.01;
const WIDEST_S: f64 = 0.25;
/// What other samples of the same hold leave of that.
const LEAST_SHARE: f64 = 0.03;

/// A clamp without its neighbours: its zero may have moved by their pauses.
const CUT_SHARE: f64 = 0.1;
const CUT_S: f64 = 0.1;
/// So many clamps of an earlier record make a set that was put together from it.
const COPIED_CLAMPS: usize = 2;

/// Clamps with all that tells them.
fn seen(clamps: &[Clamp]) -> Vec<ClampSeen> {
    let seen = |clamp: &Clamp| {
        Some(ClampSeen {
            force_n: clamp.settled_n?,
            clamped_s: clamp.clamped_s?,
            released_s: clamp.released_s?,
        })
    };
    clamps.iter().filter_map(seen).collect()
}

/// Two readings of one hold differ by less, s.
const SAME_HOLD_S: f64 = 0.01;

/// A grip check as it goes into the book.
///
/// # Errors
/// When a part of it has no form to be kept in; nothing this program files is such.
pub fn to_file<'a>(
    begun: &GripInputs,
    limits: &'a LimitsFile,
    result: &GripResult,
    record: Record<'a>,
    gauge: Option<Uuid>,
) -> Result<FinishedCheck<'a>, Error> {
    let parts = result.clamps.iter().map(|clamp| {
        let content = stored_check::part(clamp)?;
        Ok((RecordedKind::Clamp, clamp.number, content))
    });
    Ok(FinishedCheck {
        kind: CheckKind::Grip,
        state: result.state,
        gauge,
        setup: check_inputs::to_keep(begun)?,
        limits,
        record,
        parts: parts.collect::<Result<_, Error>>()?,
        analysis: format!("grip-{ANALYSIS_VERSION}"),
        outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
        result: json_of(&stored_check::document(result)?)?,
        same_as: None,
    })
}

/// A grip check out of a book.
#[derive(Clone, Debug)]
pub struct StoredGrip {
    /// What it was begun with.
    pub begun: GripInputs,
    /// Its forces.
    pub forces: Forces,
}

/// What a stored grip check was begun with, and its forces; none where the book holds no record of them.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn of_check(book: &Book, check: &Check) -> Result<Option<StoredGrip>, Error> {
    let begun: GripInputs = check_inputs::read(book, &check.start)?;
    let begun = begun.with_set_aside(book, check.start.id)?;
    let forces = forces(book, check, &begun)?;
    Ok(forces.map(|(forces, _file)| StoredGrip { begun, forces }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_of_its_inputs_is_in_the_description_of_the_book() {
        check_inputs::stand_on_the_page::<GripInputs>("grip");
    }
}
