//! In: a gauge, a book, the planes to be read. Out: a runout check, led plane by plane and position by position, on disk
//! before it is shown.

use super::changeover::Cautioned;
use super::keys::{Key, Keys};
use super::recorder::{Recorder, Stream};
use super::voice::Voice;
use super::{Interrupt, cut_off, unfinished};
use crate::desk::Desk;
use crate::error::Error;
use crate::filing::{self, json_of, set_state};
use crate::gauge::displacement::DisplacementBuilder;
use crate::gauge::session::Session;
use crate::lease::Lease;
use crate::runout_begun::{Begun, StoredPlane, StoredReading};
use crate::runout_plan::PlannedPlane;
use crate::settings::Settings;
use holdtrue_book::{CheckKind, CheckStart, RecordedKind};
use holdtrue_metrology::runout::rest::{AtRest, RestWatch, mean_between};
use holdtrue_metrology::runout::{self, ANALYSIS_VERSION, Passing, RunoutRecord, RunoutResult};
use holdtrue_protocol::message::{CalibrationRecord, Signal};
use serde_json::json;
use std::time::Duration;
use uuid::Uuid;

/// Samples per second: many in the tenth of a second that tells rest from movement.
pub const RATE_HZ: u16 = 330;
/// Recorded readings are numbered plane × this + position.
const PER_PLANE: u32 = 1_000;

/// What is wanted.
#[derive(Clone, Debug)]
pub struct Order {
    /// The planes, in order.
    pub plan: Vec<PlannedPlane>,
    /// The bar sits already as the first plane needs it.
    pub bar_is_in: bool,
    /// What is known besides the readings.
    pub begun: Begun,
    /// The limits in force as a limits file; none where nothing limits the check.
    pub limits: Option<String>,
    /// Whole turns of a marked plane.
    pub turns: u32,
    /// Seconds of a free turn.
    pub seconds: f64,
    /// Begin a new check although an unfinished one could be continued.
    pub fresh: bool,
    /// The visit it belongs to.
    pub visit: Uuid,
    /// The gauge in the book.
    pub gauge: Uuid,
    /// How cautions are acknowledged.
    pub cautions: Cautioned,
}

/// A check as far as it came.
#[derive(Debug)]
pub struct Taken {
    /// The check in the book.
    pub check: Uuid,
    /// Its result; none before the first plane is complete.
    pub result: Option<RunoutResult>,
    /// What cut it short.
    pub cut_short: Option<Error>,
}

/// Everything around a measurement.
pub struct Bench<'a> {
    /// The gauge.
    pub session: &'a mut Session,
    /// Its calibration.
    pub calibration: &'a CalibrationRecord,
    /// Where it is stored.
    pub desk: &'a mut Desk,
    /// Who is told.
    pub voice: &'a mut dyn Voice,
    /// Who can say "now".
    pub keys: &'a Keys,
    /// Units on screen.
    pub settings: &'a Settings,
    /// Ctrl-C.
    pub interrupt: &'a Interrupt,
}

/// Measures the planes of the plan that the check does not have yet.
///
/// # Errors
/// Only when nothing was begun; once a check is begun, what ends it early is in [`Taken::cut_short`].
pub fn measure(bench: &mut Bench<'_>, order: &Order) -> Result<Taken, Error> {
    let earlier = if order.fresh {
        None
    } else {
        let state = order.begun.setup.state;
        unfinished(bench.desk, order.visit, CheckKind::Runout, state)?
    };
    let (check, _lease) = match earlier {
        Some((start, lease)) => (start.id, lease),
        None => begin(bench, order)?,
    };
    let have = planes_in(bench.desk, check)?;
    if have > 0 {
        let told = format!(
            "Going on with the unfinished check of this visit: {have} planes are in. (--new begins another.)"
        );
        bench.voice.say(&told);
        if let Some(line) = still_seated(order, have) {
            bench.voice.say(line);
        }
    }
    let mut cautions = order.cautions.clone();
    let seated = order.plan.first().filter(|_| order.bar_is_in);
    let before = std::iter::once(seated).chain(order.plan.iter().map(Some));
    let ended = (1_u32..)
        .zip(before.zip(&order.plan))
        .skip(have)
        .try_for_each(|(number, (before, planned))| {
            if let Some(act) = planned.clamping(before) {
                cautions.change_over(&act, [order.visit, check], bench)?;
            }
            let title = format!(
                "Plane {number} of {}: {}",
                order.plan.len(),
                planned.instruction(before)
            );
            Plane {
                bench,
                order,
                check,
                number,
                planned,
            }
            .read(&title)
        });
    if ended.is_ok() && order.plan.last().is_some_and(PlannedPlane::is_on_bar) {
        bench.voice.say(BAR_OUT);
    }
    conclude(bench.desk, check, ended.err())
}

const BAR_OUT: &str = "Every plane is read. Take the bar out: live only to unclamp, hands clear; then isolated and locked \
out again. A bar left in a warm spindle shrinks on.";

/// A check that goes on inside a seating needs the bar as it was.
fn still_seated(order: &Order, have: usize) -> Option<&'static str> {
    let (before, next) = (order.plan.get(have.checked_sub(1)?)?, order.plan.get(have)?);
    (next.is_on_bar() && next.clamping(Some(before)).is_none()).then_some(
        "The bar must sit as it was clamped for the plane before. Was it unclamped since? Then stop, and begin anew with --new.",
    )
}

fn planes_in(desk: &Desk, check: Uuid) -> Result<usize, Error> {
    Ok(desk
        .book
        .recorded(check)?
        .iter()
        .filter(|row| row.kind == RecordedKind::Plane)
        .count())
}

fn begin(bench: &mut Bench<'_>, order: &Order) -> Result<(Uuid, Lease), Error> {
    let desk = &mut *bench.desk;
    let kept = desk.keep_calibration(bench.calibration)?;
    let content = json_of(&order.begun)?;
    let (id, stamp) = (desk.id(), desk.stamp());
    let lease = Lease::of_new_check(id)?;
    let limits_sha256 = match &order.limits {
        Some(text) => Some(desk.book.keep_limits(text)?),
        None => None,
    };
    desk.book.start_check(&CheckStart {
        id,
        visit: order.visit,
        kind: CheckKind::Runout,
        state: order.begun.setup.state.map(set_state),
        gauge: Some(order.gauge),
        calibration: Some(kept),
        limits_sha256,
        content,
        stamp,
    })?;
    Ok((id, lease))
}

/// One plane being read.
struct Plane<'p, 'a> {
    bench: &'p mut Bench<'a>,
    order: &'p Order,
    check: Uuid,
    number: u32,
    planned: &'p PlannedPlane,
}

impl Plane<'_, '_> {
    fn read(mut self, title: &str) -> Result<(), Error> {
        self.bench.voice.say("");
        self.bench.voice.say(title);
        self.wait_until_set()?;
        self.bench.session.show(Signal::Off)?;
        let channels = DisplacementBuilder::channels(
            self.bench.calibration,
            self.bench.session.hello().fitted,
        );
        let started = self.bench.session.start(RATE_HZ, channels)?;
        let read = self.stream(started.boot, started.rate_hz);
        let stopped = self.bench.session.stop();
        read.and_then(|()| stopped.map_err(Error::from))
    }

    fn wait_until_set(&mut self) -> Result<(), Error> {
        if self.bench.keys.is_somebody() {
            self.bench
                .voice
                .say("Press Enter when it is set and the spindle stands at position 0.");
        }
        if self.bench.keys.wait(|| self.bench.interrupt.is_set()) {
            Ok(())
        } else {
            Err(cut_off())
        }
    }

    fn stream(&mut self, boot: u32, rate_hz: u16) -> Result<(), Error> {
        let Bench {
            session,
            calibration,
            desk,
            voice,
            keys,
            settings,
            interrupt,
        } = &mut *self.bench;
        let wire = (session.hello().wire_major, session.hello().wire_minor);
        let about =
            json_of(&json!({ "port": session.port(), "rate_hz": rate_hz, "plane": self.planned }))?;
        let stream = Stream { wire, boot };
        let mut recorder = Recorder::begin(desk, self.check, stream, about, session.damage())?;
        let mut builder = DisplacementBuilder::new((*calibration).clone(), boot);
        let mut progress = Progress::new(
            self.planned,
            self.order,
            DisplacementBuilder::resolution_um(calibration),
        );
        progress.say_first(*voice);
        while !progress.is_done() {
            if interrupt.is_set() {
                recorder.flush()?;
                return Err(cut_off());
            }
            match keys.typed() {
                Some(Key::Back) => progress.back(*voice),
                Some(Key::Take) => {
                    let now = progress.take_now();
                    record_reading(
                        &mut progress,
                        now,
                        &mut recorder,
                        self.number,
                        *voice,
                        settings,
                    )?;
                }
                None => {}
            }
            let Some(raw) = session.next(Duration::from_millis(100))? else {
                continue;
            };
            recorder.frame(&raw, session.elapsed(), session.damage())?;
            let seen = builder.take(&raw);
            if let Some(trouble) = seen.trouble {
                recorder.flush()?;
                return Err(Error::gauge(format!(
                    "plane {}: {trouble}; set the indicator again and repeat the command: it goes on with this plane",
                    self.number
                )));
            }
            for reading in seen.readings {
                let rest = progress.push(reading);
                record_reading(
                    &mut progress,
                    rest,
                    &mut recorder,
                    self.number,
                    *voice,
                    settings,
                )?;
            }
            progress.add_edges(&seen.edges_s, *voice);
        }
        let stored = StoredPlane {
            capture: recorder.capture(),
            plane: self.planned.clone(),
        };
        recorder.record(RecordedKind::Plane, self.number, json_of(&stored)?)?;
        if let Some(words) = recorder.damage().words() {
            voice.say(&words);
        }
        Ok(())
    }
}

/// Stores a reading and says it, in that order.
fn record_reading(
    progress: &mut Progress,
    rest: Option<AtRest>,
    recorder: &mut Recorder<'_>,
    plane: u32,
    voice: &mut dyn Voice,
    settings: &Settings,
) -> Result<(), Error> {
    let Some((position, rest)) = rest.and_then(|rest| progress.admit(rest)) else {
        return Ok(());
    };
    let stored = StoredReading {
        capture: recorder.capture(),
        position,
        from_s: rest.from_s,
        to_s: rest.to_s,
    };
    recorder.record(
        RecordedKind::Reading,
        plane * PER_PLANE + position,
        json_of(&stored)?,
    )?;
    voice.say(&progress.reading_line(position, &rest, settings));
    Ok(())
}

/// How far a plane is.
struct Progress {
    stops: Option<u32>,
    turns: Option<u32>,
    seconds: f64,
    watch: RestWatch,
    readings: Vec<Passing>,
    taken_um: Vec<f64>,
    edges: u32,
}

impl Progress {
    fn new(planned: &PlannedPlane, order: &Order, resolution_um: f64) -> Self {
        Self {
            stops: planned.stops(),
            turns: planned.way.marked.then_some(order.turns),
            seconds: order.seconds,
            watch: RestWatch::new(resolution_um),
            readings: Vec::new(),
            taken_um: Vec::new(),
            edges: 0,
        }
    }

    fn say_first(&self, voice: &mut dyn Voice) {
        voice.say(&match (self.stops, self.turns) {
            (Some(stops), _) => format!(
                "Hold still: position 0 of {stops} is read when the indicator has come to rest (Enter takes it at once, b takes the last one back)."
            ),
            (None, Some(turns)) => format!("Turn slowly and steadily, one direction, {turns} whole turns past the mark."),
            (None, None) => format!("Turn slowly and steadily, one direction, for {:.0} s.", self.seconds),
        });
    }

    fn is_done(&self) -> bool {
        match (self.stops, self.turns) {
            // One more than the positions: the reading back at the first one tells the drift.
            (Some(stops), _) => self.position() > stops,
            (None, Some(turns)) => self.edges > turns,
            (None, None) => self
                .readings
                .last()
                .is_some_and(|last| last.time_s >= self.seconds),
        }
    }

    fn position(&self) -> u32 {
        u32::try_from(self.taken_um.len()).unwrap_or(u32::MAX)
    }

    fn push(&mut self, reading: Passing) -> Option<AtRest> {
        self.readings.push(reading);
        self.stops?;
        self.watch.push(reading.time_s, reading.reading_um)
    }

    fn take_now(&mut self) -> Option<AtRest> {
        self.stops?;
        self.watch.take_now()
    }

    /// Takes a rest as the reading of the next position.
    fn admit(&mut self, rest: AtRest) -> Option<(u32, AtRest)> {
        let reading_um = mean_between(&self.readings, rest.from_s, rest.to_s)?;
        let position = self.position();
        if self.stops.is_some_and(|stops| position > stops) {
            return None;
        }
        self.taken_um.push(reading_um);
        Some((position, AtRest { reading_um, ..rest }))
    }

    fn back(&mut self, voice: &mut dyn Voice) {
        if self.taken_um.pop().is_some() {
            voice.say(&format!(
                "  position {} again: turn back to it.",
                self.position()
            ));
        }
    }

    fn reading_line(&self, position: u32, rest: &AtRest, settings: &Settings) -> String {
        let stops = self.stops.unwrap_or_default();
        let reading = settings.length(rest.reading_um - self.taken_um[0]);
        let next = match position {
            last if last >= stops => String::new(),
            last if last + 1 == stops => "  now back to position 0".to_owned(),
            other => format!("  now turn to position {}", other + 1),
        };
        format!("  position {position} of {stops}: {reading} from the first{next}")
    }

    fn add_edges(&mut self, edges_s: &[f64], voice: &mut dyn Voice) {
        for _edge in edges_s {
            self.edges += 1;
            if let Some(turns) = self
                .turns
                .filter(|turns| self.edges > 1 && self.edges <= turns + 1)
            {
                voice.say(&format!("  turn {} of {turns}", self.edges - 1));
            }
        }
    }
}

fn conclude(desk: &mut Desk, check: Uuid, cut_short: Option<Error>) -> Result<Taken, Error> {
    let (begun, record) = crate::archive::gauge_readings(&desk.book, check)?;
    let result = analysed(&begun, &record);
    let cut_short = match (&result, cut_short) {
        (Some(result), None) => end(desk, check, result).err(),
        (_, cut_short) => cut_short,
    };
    Ok(Taken {
        check,
        result,
        cut_short,
    })
}

fn analysed(begun: &Begun, record: &RunoutRecord) -> Option<RunoutResult> {
    runout::analyse(record, &begun.setup).ok()
}

fn end(desk: &mut Desk, check: Uuid, result: &RunoutResult) -> Result<(), Error> {
    let analysis = format!("runout-{ANALYSIS_VERSION}");
    filing::end(desk, check, analysis, result.verdict.as_ref(), result)
}
