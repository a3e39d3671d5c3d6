//! In: a gauge, a book, what is wanted. Out: a grip check, led clamp by clamp, on disk before it is shown.

use crate::connection::lost;
use crate::connection::lost::Measured;
use crate::grip::guidance;
use crate::grip::guidance::{CheckSoFar, Clamps, Stage};
use crate::grip::handling::{Act, Handling};
use crate::grip::replay;
use crate::grip::stored::GripInputs;
use crate::terminal::error::Error;
use crate::terminal::interrupt::{Interrupt, cut_off};
use crate::terminal::keys::Key;
use crate::terminal::lease::Lease;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::checks::check_inputs;
use crate::visits::checks::recorder::{Recorder, Stream};
use crate::visits::checks::since::LastTime;
use crate::visits::checks::stored_calibration;
use crate::visits::checks::stored_check;
use crate::visits::checks::stored_check::{json_of, require_state_in_order};
use crate::visits::checks::unfinished::unfinished;
use crate::visits::findings::jotting;
use holdtrue_book::{Book, CheckKind, CheckStart, RecordedKind};
use holdtrue_gauge::calibration;
use holdtrue_gauge::force::{ForceBuilder, Piece};
use holdtrue_gauge::link::Damage;
use holdtrue_gauge::session::{Session, Started};
use holdtrue_metrology::grip::excluded::Discard;
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::remarks::GripNote;
use holdtrue_metrology::grip::result::{ANALYSIS_VERSION, Clamp, GripResult};
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_protocol::message::{CalibrationRecord, Channel, Channels, Overload, Signal};
use serde_json::json;
use std::time::Duration;
use uuid::Uuid;

/// Samples per second of a grip check: 20 samples in the fastest rise a drawbar makes.
pub const RATE_HZ: u16 = 1_000;
/// Said where somebody would else be asked to clamp again.
const OVERLOADED: &str = "STOP: the force gauge was overloaded. Take it off the spindle and clamp no more with it. Look rod and knob over for \
                          cracks, try its zero and a check standard (holdtrue gauge check --standard-n), and have it calibrated. The \
                          check ends here, with the clamps that are in.";
/// What is wanted.
#[derive(Clone, Debug)]
pub struct GripRequest {
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
    /// Overloads it told of before this check.
    pub overloads: Vec<Overload>,
    /// What the screen calls the check.
    pub subject: Subject,
    /// The mean of the last time, to be shown beside it.
    pub last_mean: Option<LastTime>,
    /// Calibration of what reads the gauge's end face.
    pub end_probe: Option<CalibrationRecord>,
}

/// A check as far as it came.
#[derive(Debug)]
pub struct MeasuredGrip {
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
    wanted: u32,
    settings: &'a Settings,
    watch: Watch,
    builder: ForceBuilder,
    shown: u32,
    /// What was said last, so that each thing is said once.
    said: Option<Stage>,
    clamps: Clamps,
    handling: Handling,
    order: &'a GripRequest,
}

/// How a stream ended that nothing went wrong with.
enum Ran {
    /// All clamps are in.
    Whole,
    /// Somebody wants a pause.
    Paused,
}

/// Measures until the clamps wanted have counted, the gauge goes away or somebody interrupts.
///
/// # Errors
/// Only before the stream begins; from then on, what ends the check early is in [`MeasuredGrip::cut_short`].
pub fn measure(
    session: &mut Session,
    calibration: &CalibrationRecord,
    writer: &mut BookWriter,
    prompt: &mut dyn Prompt,
    settings: &Settings,
    order: &GripRequest,
    interrupt: &Interrupt,
) -> Result<MeasuredGrip, Error> {
    require_state_in_order(
        &writer.book,
        order.visit,
        CheckKind::Grip,
        order.setup.state,
    )?;
    let earlier = if order.fresh {
        None
    } else {
        unfinished(writer, order.visit, CheckKind::Grip, order.setup.state)?
    };
    let (check, begun, _lease) = match earlier {
        Some((start, lease)) => {
            let begun = go_on(&writer.book, &start, calibration, order, prompt)?;
            (start.id, begun, lease)
        }
        None => begin(writer, order, calibration)?,
    };
    let mut measurement = Measurement {
        wanted: begun.clamps.unwrap_or(order.clamps),
        settings,
        watch: Watch::new(begun.clamps, begun.setup),
        builder: ForceBuilder::new(calibration.clone(), session.hello().boot)
            .with_end_probe(order.end_probe.clone()),
        shown: 0,
        said: None,
        clamps: Clamps::default(),
        handling: Handling::default(),
        order,
    };
    // Before the stream begins: reading a long check back takes a while, and nobody would listen meanwhile.
    measurement.take_up(writer, check, prompt)?;
    session.show(Signal::Off)?;
    let mut started = Ok(start(session, order)?);
    let cut_short = loop {
        let file = (&mut *writer, check);
        let ran = started
            .and_then(|started| measurement.stream(session, started, file, prompt, interrupt));
        let goes_on = match ran {
            Ok(Ran::Whole) => break None,
            Ok(Ran::Paused) => measurement.pause(session, prompt, interrupt),
            Err(error) => Err(error),
        };
        let goes_on = goes_on.or_else(|error| {
            measurement.wait_for_gauge(session, error, calibration, prompt, interrupt)
        });
        started = match goes_on {
            Ok(()) => start(session, order),
            Err(error) => break Some(error),
        };
    };
    measurement.conclude(writer, check, cut_short)
}

fn start(session: &mut Session, order: &GripRequest) -> Result<Started, Error> {
    let reads = |channel| {
        let end_probe = order.end_probe.as_ref();
        end_probe.is_some_and(|record| record.channel == channel)
    };
    let channels = Channels {
        force: true,
        displacement: reads(Channel::Displacement),
        indicator: reads(Channel::Indicator),
        ..Channels::default()
    };
    Ok(session.start(RATE_HZ, channels)?)
}

fn begin(
    writer: &mut BookWriter,
    order: &GripRequest,
    calibration: &CalibrationRecord,
) -> Result<(Uuid, GripInputs, Lease), Error> {
    let kept = writer.keep_calibration(calibration)?;
    let begun = GripInputs {
        clamps: Some(order.clamps),
        unit: None,
        setup: order.setup.clone(),
        calibration_sha256: Some(stored_calibration::sha256(calibration)),
        end_probe: match &order.end_probe {
            Some(record) => Some(writer.keep_calibration(record)?),
            None => None,
        },
    };
    let content = check_inputs::to_keep(&begun)?;
    let id = writer.id();
    let lease = Lease::of_new_check(id)?;
    let stamp = writer.stamp();
    let limits_sha256 = match &order.limits {
        Some(text) => Some(writer.book.keep_limits(text)?),
        None => None,
    };
    writer.book.start_check(&CheckStart {
        id,
        visit: Some(order.visit),
        kind: CheckKind::Grip,
        state: order.setup.state,
        gauge: Some(order.gauge),
        calibration: Some(kept),
        limits_sha256,
        content,
        stamp,
    })?;
    Ok((id, begun, lease))
}

/// What an unfinished check was begun with stays in force: a check is judged by one set of limits and one calibration.
fn go_on(
    book: &Book,
    start: &CheckStart,
    calibration: &CalibrationRecord,
    order: &GripRequest,
    prompt: &mut dyn Prompt,
) -> Result<GripInputs, Error> {
    if start.calibration != Some(Uuid::from_bytes(calibration.id)) {
        return Err(Error::usage(
            "the unfinished check of this visit was begun with another gauge or calibration: plug that gauge in, \
             or begin another check with --new",
        ));
    }
    let begun: GripInputs = check_inputs::read(book, start)?;
    let begun = begun.with_set_aside(book, start.id)?;
    let id = |record: &CalibrationRecord| Uuid::from_bytes(record.id);
    if begun.end_probe != order.end_probe.as_ref().map(id) {
        return Err(Error::usage(match begun.end_probe {
            Some(_) => {
                "the unfinished check of this visit was begun with a probe on the gauge's end face: add --push-out with the same \
                 probe, or begin another check with --new"
            }
            None => {
                "the unfinished check of this visit was begun without a probe on the gauge's end face: leave --push-out out, \
                 or begin another check with --new"
            }
        }));
    }
    if begun.setup.gauge.standing != order.setup.gauge.standing {
        return Err(Error::usage(
            "since the unfinished check of this visit was begun, the gauge was overloaded or its calibration fell due: \
             begin another check with --new",
        ));
    }
    if begun.clamps != Some(order.clamps) || begun.setup.limits != order.setup.limits {
        prompt.say("It was begun with other limits or another number of clamps; those stay in force (--new begins another).");
    }
    Ok(begun)
}

impl Measurement<'_> {
    /// Takes up what the book has of this check already, frame by frame; of a new one it has nothing.
    fn take_up(
        &mut self,
        writer: &BookWriter,
        check: Uuid,
        prompt: &mut dyn Prompt,
    ) -> Result<(), Error> {
        let pieces = replay::pieces(&writer.book, check, &mut self.builder)?;
        if pieces.is_empty() {
            return Ok(());
        }
        for piece in pieces {
            self.feed(piece)?;
        }
        let recorded = writer.book.recorded(check)?;
        self.shown = recorded.last().map_or(0, |last| last.number);
        let found = self.watch.clone().finish();
        for clamp in found.iter().flat_map(|result| &result.clamps) {
            if clamp.number <= self.shown {
                self.clamps.take(clamp, self.settings);
            }
        }
        prompt.say(&format!(
            "Going on with the unfinished check of this visit: {} of {} clamps are in. (--new begins another.)",
            self.counted_before(),
            self.wanted
        ));
        Ok(())
    }

    /// Reads one stream until all clamps are in or somebody wants a pause.
    fn stream(
        &mut self,
        session: &mut Session,
        started: Started,
        (writer, check): (&mut BookWriter, Uuid),
        prompt: &mut dyn Prompt,
        interrupt: &Interrupt,
    ) -> Result<Ran, Error> {
        self.builder.continue_with(started.boot);
        // What was said before a pause is said again.
        self.said = None;
        let stream = Stream {
            wire: (session.hello().wire_major, session.hello().wire_minor),
            boot: started.boot,
        };
        let about = json_of(
            &json!({ "port": session.port(), "rate_hz": started.rate_hz, "channels": self.channels(), "overloads": self.order.overloads }),
        )?;
        let ended = Recorder::begin(writer, check, stream, about, session.damage())
            .map_err(Error::from)
            .and_then(|mut recorder| {
                let mut ended = self.run(session, &mut recorder, prompt, interrupt);
                if ended.is_err() {
                    // What is shown in the end is what is in the book.
                    ended = self.keep_whole(&mut recorder, prompt).and(ended);
                }
                let flushed = recorder.flush().map_err(Error::from);
                if let Some(words) = recorder.damage().words() {
                    prompt.say(&words);
                }
                ended.and_then(|ran| flushed.map(|()| ran))
            });
        let stopped = session.show(Signal::Off).and_then(|()| session.stop());
        // A gauge that is gone cannot be stopped; that it is gone has been said already.
        ended.and_then(|ran| stopped.map(|()| ran).map_err(Error::from))
    }

    fn channels(&self) -> Vec<&'static str> {
        let end_probe = self.order.end_probe.as_ref();
        let reads = end_probe.map(|record| calibration::channel_word(record.channel));
        std::iter::once("force").chain(reads).collect()
    }

    fn run(
        &mut self,
        session: &mut Session,
        recorder: &mut Recorder<'_>,
        prompt: &mut dyn Prompt,
        interrupt: &Interrupt,
    ) -> Result<Ran, Error> {
        while !self.watch.is_done() {
            if interrupt.is_set() {
                return Err(cut_off());
            }
            let stage = Stage::of(&self.watch, self.builder.is_loaded());
            match self.handling.hear(stage, self.clamps.last(), prompt) {
                None => {}
                Some(Act::Stop) => return Err(cut_off()),
                Some(Act::Pause) => return Ok(Ran::Paused),
                Some(Act::Aside { number, reason }) => {
                    self.set_aside(number, reason, recorder, prompt)?;
                }
                Some(Act::Jot(severity, text)) => {
                    prompt.say(&format!("  in the book ({}): {text}", severity.words()));
                    let visit = self.order.visit;
                    jotting::file(severity, text, "grip force", visit, recorder.book())?;
                }
            }
            let Some(raw) = session.next(Duration::from_millis(100))? else {
                continue;
            };
            recorder.frame(&raw, session.elapsed(), session.damage())?;
            if let Some(told) = session.sleep_to_tell() {
                prompt.say(&told);
            }
            for piece in self.builder.take(&raw) {
                for clamp in self.feed(piece)? {
                    self.record(&clamp, recorder, prompt)?;
                }
                if self.must_stop() {
                    prompt.say(OVERLOADED);
                    prompt.ring(5);
                    // Without a clamp there is no result that could say it.
                    return match self.shown {
                        0 => Err(Error::gauge(OVERLOADED)),
                        _ => Ok(Ran::Whole),
                    };
                }
                self.lead(session, recorder.damage(), prompt)?;
            }
        }
        Ok(Ran::Whole)
    }

    /// Nobody is asked to clamp with a gauge that was overloaded.
    fn must_stop(&self) -> bool {
        self.watch.is_overloaded()
            && Stage::of(&self.watch, self.builder.is_loaded()) == Stage::Clamp
    }

    /// Reads nothing until somebody goes on.
    fn pause(
        &mut self,
        session: &mut Session,
        prompt: &mut dyn Prompt,
        interrupt: &Interrupt,
    ) -> Result<(), Error> {
        prompt.forget_typed();
        loop {
            match prompt.typed() {
                Some(Key::Take) => return Ok(()),
                Some(Key::Stop | Key::Quit) => return Err(cut_off()),
                _ if interrupt.is_set() => return Err(cut_off()),
                _ => {}
            }
            if prompt.wants_scene() {
                let so_far = self.so_far(Damage::default());
                prompt.show(&guidance::paused(&so_far, self.settings));
            }
            session.next(Duration::from_millis(100))?;
        }
    }

    /// The gauge was lost: until it is plugged in again, or somebody ends it.
    fn wait_for_gauge(
        &self,
        session: &mut Session,
        error: Error,
        calibration: &CalibrationRecord,
        prompt: &mut dyn Prompt,
        interrupt: &Interrupt,
    ) -> Result<(), Error> {
        let so_far = self.so_far(Damage::default());
        let picture = guidance::scene(Stage::Clamp, &so_far, self.settings).picture;
        let kept = match self.shown {
            0 => "No clamp was taken yet.".to_owned(),
            1 => "Clamp 1 is in the book.".to_owned(),
            last => format!("Clamps 1 to {last} are in the book."),
        };
        let measured = Measured {
            subject: &self.order.subject,
            picture: &picture,
            kept: &kept,
            calibration: Some(calibration),
        };
        lost::wait_for(session, error, &measured, prompt, interrupt)
    }

    /// A clamp does not count: in the book before it is said.
    fn set_aside(
        &mut self,
        number: u32,
        reason: String,
        recorder: &mut Recorder<'_>,
        prompt: &mut dyn Prompt,
    ) -> Result<(), Error> {
        recorder.strike(RecordedKind::Clamp, number, reason.clone())?;
        self.clamps.set_last_aside();
        self.said = None;
        let told = format!("  clamp {number} does not count: {reason}");
        self.watch.discard(Discard { number, reason });
        let (counted, wanted) = (self.watch.counted(), self.wanted);
        prompt.say(&format!("{told}  ({counted} of {wanted} in)"));
        Ok(())
    }

    fn so_far(&self, damage: Damage) -> CheckSoFar<'_> {
        CheckSoFar {
            subject: &self.order.subject,
            watch: &self.watch,
            clamps: &self.clamps,
            wanted: self.wanted,
            limits: &self.order.setup.limits,
            last_mean: self.order.last_mean.as_ref(),
            damage,
        }
    }

    fn feed(&mut self, piece: Piece) -> Result<Vec<Clamp>, Error> {
        match piece {
            Piece::Span(span) => {
                self.watch.mark(span);
                Ok(Vec::new())
            }
            Piece::Travel(travel) => {
                self.watch.push_travel(travel);
                Ok(Vec::new())
            }
            Piece::Sample(sample) => self
                .watch
                .push(sample)
                .map_err(|error| Error::gauge(error.to_string())),
        }
    }

    fn record(
        &mut self,
        clamp: &Clamp,
        recorder: &mut Recorder<'_>,
        prompt: &mut dyn Prompt,
    ) -> Result<(), Error> {
        if clamp.number <= self.shown {
            return Ok(());
        }
        recorder.record(
            RecordedKind::Clamp,
            clamp.number,
            stored_check::part(clamp)?,
        )?;
        self.shown = clamp.number;
        self.said = None;
        self.clamps.take(clamp, self.settings);
        prompt.say(&self.clamp_line(clamp));
        Ok(())
    }

    /// Of the clamps in the book those that count; the last of them may still wait for the zero behind it.
    fn counted_before(&self) -> usize {
        let found = self.watch.clone().finish();
        let clamps = found.iter().flat_map(|result| &result.clamps);
        clamps
            .filter(|clamp| clamp.counted && clamp.number <= self.shown)
            .count()
    }

    /// Of a check that is broken off, the clamps that had ended and waited only for the zero behind them.
    fn keep_whole(
        &mut self,
        recorder: &mut Recorder<'_>,
        prompt: &mut dyn Prompt,
    ) -> Result<(), Error> {
        let found = self.watch.clone().finish();
        let whole = |clamp: &Clamp| clamp.released_s.is_some();
        for clamp in found.iter().flat_map(|result| &result.clamps) {
            if !whole(clamp) {
                break;
            }
            self.record(clamp, recorder, prompt)?;
        }
        Ok(())
    }

    fn clamp_line(&self, clamp: &Clamp) -> String {
        let force = clamp.settled_n.map_or_else(
            || "no holding force".to_owned(),
            |force| self.settings.force(force),
        );
        let tally = format!("({} of {} in)", self.watch.counted(), self.wanted);
        match &clamp.excluded {
            None => format!("  clamp {}: {force}  {tally}", clamp.number),
            Some(why) => format!(
                "  clamp {}: {force}, does not count: {}  {tally}",
                clamp.number,
                why.words()
            ),
        }
    }

    /// Says what to do now, once, and shows it on the gauge's light and on the screen.
    fn lead(
        &mut self,
        session: &mut Session,
        damage: Damage,
        prompt: &mut dyn Prompt,
    ) -> Result<(), Error> {
        let stage = Stage::of(&self.watch, self.builder.is_loaded());
        self.clamps.follow(stage, self.watch.load_n());
        let news = self.said.is_none_or(|said| !said.is_like(stage));
        if news && let Some(line) = guidance::line(stage, &self.watch, self.wanted, self.settings) {
            self.said = Some(stage);
            prompt.say_step(&line);
            prompt.ring(stage.bells());
            if let Some(signal) = stage.signal() {
                session.show(signal)?;
            }
        }
        if prompt.wants_scene() {
            let scene = guidance::scene(stage, &self.so_far(damage), self.settings);
            prompt.show(&self.handling.over(scene));
        }
        Ok(())
    }

    fn conclude(
        self,
        writer: &mut BookWriter,
        check: Uuid,
        cut_short: Option<Error>,
    ) -> Result<MeasuredGrip, Error> {
        let mut result = self.watch.finish().ok();
        if let (Some(result), Some(_)) = (&mut result, &cut_short) {
            result
                .notes
                .push(GripNote::BrokenOff { clamps: self.shown });
        }
        let record = self.watch.record().clone();
        if let (Some(result), None) = (&result, &cut_short) {
            let stored = end(writer, check, result);
            return Ok(MeasuredGrip {
                check,
                result: Some(result.clone()),
                record,
                cut_short: stored.err(),
            });
        }
        Ok(MeasuredGrip {
            check,
            result,
            record,
            cut_short,
        })
    }
}

fn end(writer: &mut BookWriter, check: Uuid, result: &GripResult) -> Result<(), Error> {
    let analysis = format!("grip-{ANALYSIS_VERSION}");
    stored_check::end(writer, check, analysis, result.verdict.as_ref(), result)
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

/// What the record of what reads the end face says, as the analysis takes it.
pub fn end_probe_of(record: &CalibrationRecord) -> holdtrue_metrology::grip::setup::EndProbe {
    holdtrue_metrology::grip::setup::EndProbe {
        expanded_percent: 100.0 * record.expanded_relative,
        expanded_mm: 1e-3 * record.expanded_fixed,
    }
}
