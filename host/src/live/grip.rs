//! In: a gauge, a book, what is wanted. Out: a grip check, led clamp by clamp, on disk before it is shown.

use super::recorder::{Recorder, Stream};
use super::voice::Voice;
use super::{Interrupt, cut_off};
use crate::desk::Desk;
use crate::error::Error;
use crate::filing::{decided, json_of, set_state};
use crate::gauge::calibration;
use crate::gauge::force::{ForceBuilder, Piece};
use crate::gauge::replay;
use crate::gauge::session::Session;
use crate::settings::Settings;
use holdtrue_book::{CheckKind, CheckResult, CheckStart};
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::{ANALYSIS_VERSION, Clamp, GripResult};
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::step::Step;
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_metrology::statistics::median;
use holdtrue_protocol::message::{CalibrationRecord, Channels, Signal};
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::time::Duration;
use uuid::Uuid;

/// Samples per second of a grip check: 20 samples in the fastest rise a drawbar makes.
pub const RATE_HZ: u16 = 1_000;
/// The gauge is free where its reading is this near to the zero of the check, in parts of the last clamp …
const ZERO_BOUND: f64 = 0.05;
/// … but never nearer than this, N: the least force that counts as a clamp.
const ZERO_BOUND_LEAST_N: f64 = 100.0;
/// How long the reading must show the gauge free after a reconnection.
const FREE_S: f64 = 0.5;

/// What is wanted.
#[derive(Clone, Debug)]
pub struct Order {
    /// Clamps that must count.
    pub clamps: u32,
    /// What is known besides the forces, the gauge's calibration included.
    pub setup: GripSetup,
    /// The limits in force as a limits file; none where nothing limits the check.
    pub limits: Option<String>,
    /// Begin a new check although an unfinished one could be continued.
    pub fresh: bool,
    /// The visit it belongs to.
    pub visit: Uuid,
    /// The gauge in the book.
    pub gauge: Uuid,
}

/// A check's beginning as the book keeps it: enough to go on with it, or to recompute it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Begun {
    /// Clamps that must count.
    pub clamps: u32,
    /// What is known besides the forces.
    pub setup: GripSetup,
}

/// A check as far as it came.
#[derive(Debug)]
pub struct Taken {
    /// The check in the book.
    pub check: Uuid,
    /// Its result; none if there is no clamp yet.
    pub result: Option<GripResult>,
    /// The force record it was computed from.
    pub record: ForceRecord,
    /// What cut it short.
    pub cut_short: Option<Error>,
}

/// One check under way.
struct Measurement<'a> {
    order: &'a Order,
    settings: &'a Settings,
    watch: Watch,
    builder: ForceBuilder,
    shown: u32,
    said: Option<Spoken>,
    gate: Option<FreeGate>,
}

/// What was said last, so that each thing is said once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Spoken {
    Clamp,
    Hold,
    Unclamp,
}

/// After a reconnection nothing counts until the gauge has been seen free.
struct FreeGate {
    zero_n: f64,
    bound_n: f64,
    recent: Vec<(f64, f64)>,
    said: bool,
}

/// Measures until the clamps wanted have counted, the gauge goes away or somebody interrupts.
///
/// # Errors
/// Only when nothing was begun; once a check is begun, what ends it early is in [`Taken::cut_short`].
pub fn measure(
    session: &mut Session,
    calibration: &CalibrationRecord,
    desk: &mut Desk,
    voice: &mut dyn Voice,
    settings: &Settings,
    order: &Order,
    interrupt: &Interrupt,
) -> Result<Taken, Error> {
    let earlier = if order.fresh {
        None
    } else {
        unfinished(desk, order)?
    };
    let check = match &earlier {
        Some(start) => start.id,
        None => begin(desk, order, calibration)?,
    };
    let channels = Channels {
        force: true,
        ..Channels::default()
    };
    let started = session.start(RATE_HZ, channels)?;
    let mut measurement = Measurement {
        order,
        settings,
        watch: Watch::new(Some(order.clamps), order.setup.clone()),
        builder: ForceBuilder::new(calibration.clone(), started.boot),
        shown: 0,
        said: None,
        gate: None,
    };
    if earlier.is_some() {
        measurement.take_up(desk, check, started.boot, voice)?;
    }
    let stream = Stream {
        wire: (session.hello().wire_major, session.hello().wire_minor),
        boot: started.boot,
    };
    let about = json_of(
        &json!({ "port": session.port(), "rate_hz": started.rate_hz, "channels": ["force"] }),
    )?;
    let ended = Recorder::begin(desk, check, stream, about)
        .map_err(Error::from)
        .and_then(|mut recorder| {
            let ended = measurement.run(session, &mut recorder, voice, interrupt);
            let flushed = recorder.flush().map_err(Error::from);
            ended.and(flushed)
        });
    let stopped = session.show(Signal::Off).and_then(|()| session.stop());
    // A gauge that is gone cannot be stopped; that it is gone has been said already.
    let cut_short = ended.and_then(|()| stopped.map_err(Error::from)).err();
    measurement.conclude(desk, check, cut_short)
}

fn unfinished(desk: &Desk, order: &Order) -> Result<Option<CheckStart>, Error> {
    let state = order.setup.state.map(set_state);
    Ok(desk
        .book
        .open_check(order.visit, CheckKind::Grip, state, &crate::desk::now())?)
}

fn begin(desk: &mut Desk, order: &Order, calibration: &CalibrationRecord) -> Result<Uuid, Error> {
    let kept = desk.keep_calibration(calibration)?;
    let content = json_of(&Begun {
        clamps: order.clamps,
        setup: order.setup.clone(),
    })?;
    let id = desk.id();
    let stamp = desk.stamp();
    let limits_sha256 = match &order.limits {
        Some(text) => Some(desk.book.keep_limits(text)?),
        None => None,
    };
    desk.book.start_check(&CheckStart {
        id,
        visit: order.visit,
        kind: CheckKind::Grip,
        state: order.setup.state.map(set_state),
        gauge: Some(order.gauge),
        calibration: Some(kept),
        limits_sha256,
        content,
        stamp,
    })?;
    Ok(id)
}

impl Measurement<'_> {
    /// Goes on with an unfinished check: what was taken before is read back from the book, byte for byte.
    fn take_up(
        &mut self,
        desk: &Desk,
        check: Uuid,
        boot: u32,
        voice: &mut dyn Voice,
    ) -> Result<(), Error> {
        let calibration = replay::calibration_of(&desk.book, check)?;
        self.builder = ForceBuilder::new(calibration, boot);
        for piece in replay::pieces(&desk.book, check, &mut self.builder)? {
            self.feed(piece)?;
        }
        self.shown = u32::try_from(desk.book.recorded(check)?.len()).unwrap_or(u32::MAX);
        if let Some(gap) = self.builder.continue_with(boot) {
            self.watch.mark(gap);
        }
        self.gate = FreeGate::behind(self.watch.record(), &self.watch);
        voice.say(&format!(
            "Going on with the unfinished check of this visit: {} of {} clamps are in. (--new begins another.)",
            self.watch.counted(),
            self.order.clamps
        ));
        Ok(())
    }

    fn run(
        &mut self,
        session: &mut Session,
        recorder: &mut Recorder<'_>,
        voice: &mut dyn Voice,
        interrupt: &Interrupt,
    ) -> Result<(), Error> {
        while !self.watch.is_done() {
            if interrupt.is_set() {
                return Err(cut_off());
            }
            let Some(raw) = session.next(Duration::from_millis(100))? else {
                continue;
            };
            recorder.frame(&raw, session.elapsed())?;
            for piece in self.builder.take(&raw) {
                for clamp in self.feed(piece)? {
                    self.record(&clamp, recorder, voice)?;
                }
                self.lead(session, voice)?;
            }
        }
        Ok(())
    }

    /// Hands a piece of the record to the watch, unless the gauge has yet to be seen free.
    fn feed(&mut self, piece: Piece) -> Result<Vec<Clamp>, Error> {
        match piece {
            Piece::Span(span) => {
                self.watch.mark(span);
                Ok(Vec::new())
            }
            Piece::Sample(sample) => {
                if let Some(gate) = &mut self.gate {
                    if !gate.is_free(sample.time_s, sample.force_n) {
                        return Ok(Vec::new());
                    }
                    self.gate = None;
                }
                self.watch
                    .push(sample)
                    .map_err(|error| Error::gauge(error.to_string()))
            }
        }
    }

    fn record(
        &mut self,
        clamp: &Clamp,
        recorder: &mut Recorder<'_>,
        voice: &mut dyn Voice,
    ) -> Result<(), Error> {
        if clamp.number <= self.shown {
            return Ok(());
        }
        recorder.clamp(clamp.number, json_of(clamp)?)?;
        self.shown = clamp.number;
        self.said = None;
        voice.say(&self.clamp_line(clamp));
        Ok(())
    }

    fn clamp_line(&self, clamp: &Clamp) -> String {
        let force = clamp.settled_n.map_or_else(
            || "no settled force".to_owned(),
            |force| self.settings.force(force),
        );
        let tally = format!("({} of {} in)", self.watch.counted(), self.order.clamps);
        match &clamp.excluded {
            None => format!("  clamp {}: {force}  {tally}", clamp.number),
            Some(why) => format!(
                "  clamp {}: {force}, does not count: {}  {tally}",
                clamp.number,
                why.words()
            ),
        }
    }

    /// Says what to do now, once, and shows it on the gauge's light.
    fn lead(&mut self, session: &mut Session, voice: &mut dyn Voice) -> Result<(), Error> {
        if let Some(gate) = &mut self.gate {
            if gate.must_say() {
                voice.say("Gauge loaded: unclamp it, hold it free, then go on.");
                session.show(Signal::Unclamp)?;
            }
            return Ok(());
        }
        let (spoken, signal, line) = match self.watch.step() {
            Step::Free => (
                Spoken::Clamp,
                Signal::Wait,
                format!(
                    "Clamp {} of {}: clamp now.",
                    self.watch.counted() + 1,
                    self.order.clamps
                ),
            ),
            Step::Hold { .. } => (Spoken::Hold, Signal::Hold, "  hold …".to_owned()),
            Step::Unclamp { .. } => (
                Spoken::Unclamp,
                Signal::Unclamp,
                "  now unclamp.".to_owned(),
            ),
            Step::Rising | Step::WaitFree { .. } | Step::Done => return Ok(()),
        };
        if self.said != Some(spoken) {
            self.said = Some(spoken);
            voice.say(&line);
            session.show(signal)?;
        }
        Ok(())
    }

    fn conclude(
        self,
        desk: &mut Desk,
        check: Uuid,
        cut_short: Option<Error>,
    ) -> Result<Taken, Error> {
        let result = self.watch.finish().ok();
        let record = self.watch.record().clone();
        if let (Some(result), None) = (&result, &cut_short) {
            let stored = end(desk, check, result);
            return Ok(Taken {
                check,
                result: Some(result.clone()),
                record,
                cut_short: stored.err(),
            });
        }
        Ok(Taken {
            check,
            result,
            record,
            cut_short,
        })
    }
}

/// Stores the result of a check.
///
/// # Errors
/// When the book does not take it.
pub fn end(desk: &mut Desk, check: Uuid, result: &GripResult) -> Result<(), Error> {
    let id = desk.id();
    let stamp = desk.stamp();
    let start = desk.book.check_start(check)?;
    desk.book.end_check(&CheckResult {
        id,
        check,
        analysis: format!("grip-{ANALYSIS_VERSION}"),
        outcome: result
            .verdict
            .as_ref()
            .map(|verdict| decided(verdict.outcome)),
        calibration: start.calibration,
        limits_sha256: start.limits_sha256,
        content: json_of(result)?,
        stamp,
    })?;
    Ok(())
}

impl FreeGate {
    /// The zero of the check so far; none if it has not begun to measure.
    fn behind(record: &ForceRecord, watch: &Watch) -> Option<Self> {
        let result = watch.finish().ok();
        let level = result
            .as_ref()
            .and_then(|result| {
                result
                    .clamps
                    .iter()
                    .filter_map(|clamp| clamp.settled_n)
                    .next_back()
            })
            .unwrap_or(0.0);
        // The first half second of a check is the gauge held free: the technician was asked for it.
        let begin = record.time_s().first()?;
        let free: Vec<f64> = record
            .samples()
            .take_while(|sample| sample.time_s < begin + FREE_S)
            .map(|sample| sample.force_n)
            .collect();
        let bound_n = (ZERO_BOUND * level.abs()).max(ZERO_BOUND_LEAST_N);
        Some(Self {
            zero_n: median(&free),
            bound_n,
            recent: Vec::new(),
            said: false,
        })
    }

    /// Whether the gauge has been free for long enough.
    fn is_free(&mut self, time_s: f64, force_n: f64) -> bool {
        self.recent.push((time_s, force_n));
        self.recent.retain(|(when, _)| *when > time_s - FREE_S);
        let long_enough = self
            .recent
            .first()
            .is_some_and(|(first, _)| time_s - first > 0.9 * FREE_S);
        long_enough && self.is_near_zero()
    }

    fn is_near_zero(&self) -> bool {
        let forces: Vec<f64> = self.recent.iter().map(|(_, force)| *force).collect();
        (median(&forces) - self.zero_n).abs() <= self.bound_n
    }

    fn must_say(&mut self) -> bool {
        let seen_long_enough = self.recent.len() > 50;
        let must = seen_long_enough && !self.said && !self.is_near_zero();
        self.said |= must;
        must
    }
}

/// What the gauge's calibration record says, as the analysis takes it.
pub fn gauge_of(
    record: &CalibrationRecord,
    today_days: i32,
    overloaded: bool,
) -> holdtrue_metrology::grip::setup::Gauge {
    use holdtrue_metrology::grip::setup::{Gauge, Standing};
    let standing = match calibration::standing(record, today_days) {
        _ if overloaded => Standing::Exceeded,
        calibration::Standing::InForce => Standing::InForce,
        calibration::Standing::Lapsed | calibration::Standing::NotYet => Standing::Lapsed,
    };
    Gauge {
        standing,
        expanded_percent: Some(100.0 * record.expanded_relative),
        expanded_n: Some(record.expanded_fixed),
        span_n: Some(record.span),
        resolution_n: Some(record.coefficients[1].abs()),
        rated_load_n: Some(record.rated),
    }
}
