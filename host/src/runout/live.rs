//! In: a gauge, a book, the planes to be read. Out: a runout check, led plane by plane and position by position, on disk
//! before it is shown.

use crate::connection::lost;
use crate::connection::lost::Measured;
use crate::runout::changeover::Cautioned;
use crate::runout::guidance;
use crate::runout::guidance::{Gone, PlaneSoFar, Stage, Turn};
use crate::runout::plan;
use crate::runout::plan::PlannedPlane;
use crate::runout::stepping::{Act, Stepping};
use crate::runout::stored as runout_stored;
use crate::runout::stored::{Begun, StoredPlane, StoredReading};
use crate::terminal::error::Error;
use crate::terminal::interrupt::{Interrupt, cut_off};
use crate::terminal::keys::{Key, Keys, Listening};
use crate::terminal::lease::Lease;
use crate::terminal::one_press::Vouched;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::checks::check_inputs;
use crate::visits::checks::recorder::{Recorder, Stream};
use crate::visits::checks::stored_check;
use crate::visits::checks::stored_check::{json_of, require_state_in_order};
use crate::visits::checks::unfinished::unfinished;
use crate::visits::findings::jotting;
use crate::visits::findings::jotting::{Answer, Jotting};
use holdtrue_book::{Book, CheckKind, CheckStart, RecordedKind};
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::link::RawFrame;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::runout as metrology;
use holdtrue_metrology::runout::positions::Doubt;
use holdtrue_metrology::runout::{
    ANALYSIS_VERSION, Passing, RunoutRecord, RunoutResult, RunoutSetup,
};
use holdtrue_protocol::frame;
use holdtrue_protocol::message::{CalibrationRecord, FromGauge, Hello, Signal};
use holdtrue_screen::Picture;
use holdtrue_wording::words;
use serde_json::json;
use std::time::Duration;
use uuid::Uuid;

/// Samples per second: many in the tenth of a second that tells rest from movement.
pub const RATE_HZ: u16 = 330;
/// Keys and Ctrl-C are looked at this often.
const LOOK_EVERY: Duration = Duration::from_millis(100);
const READ_AGAIN_OR_KEEP: &str = "Type r to read again from there, k to keep.";
/// Recorded readings are numbered plane × this + position.
const PER_PLANE: u32 = 1_000;

/// What is wanted.
#[derive(Clone, Debug)]
pub struct RunoutRequest {
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
    /// Seconds for a turn and a hold where positions are read in a rhythm; none: when somebody says so.
    pub paced_s: Option<f64>,
    /// Begin a new check although an unfinished one could be continued.
    pub fresh: bool,
    /// The visit it belongs to.
    pub visit: Uuid,
    /// The gauge in the book.
    pub gauge: Uuid,
    /// How cautions are acknowledged.
    pub cautions: Cautioned,
    /// What the screen calls the check.
    pub subject: Subject,
}

/// A check as far as it came.
#[derive(Debug)]
pub struct MeasuredRunout {
    /// The check in the book.
    pub check: Uuid,
    /// Its result; none before the first plane is complete.
    pub result: Option<RunoutResult>,
    /// What cut it short.
    pub cut_short: Option<Error>,
}

/// Everything around a measurement.
pub struct Station<'a> {
    /// The gauge.
    pub session: &'a mut Session,
    /// Its calibration.
    pub calibration: &'a CalibrationRecord,
    /// Where it is stored.
    pub writer: &'a mut BookWriter,
    /// Who is told.
    pub prompt: &'a mut dyn Prompt,
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
/// Only when nothing was begun; once a check is begun, what ends it early is in [`MeasuredRunout::cut_short`].
pub fn measure(station: &mut Station<'_>, order: &RunoutRequest) -> Result<MeasuredRunout, Error> {
    let state = order.begun.setup.state;
    require_state_in_order(&station.writer.book, order.visit, CheckKind::Runout, state)?;
    let earlier = if order.fresh {
        None
    } else {
        unfinished(station.writer, order.visit, CheckKind::Runout, state)?
    };
    let (check, _lease) = match earlier {
        Some((start, lease)) => (start.id, lease),
        None => begin(station, order)?,
    };
    let have = planes_in(&station.writer.book, check)?;
    require_same_plan(&have, &order.plan)?;
    let have = have.len();
    if have > 0 {
        let are_in = match have {
            1 => "plane 1 is in".to_owned(),
            several => format!("{several} planes are in"),
        };
        let told = format!(
            "Going on with the unfinished check of this visit: {are_in}. (--new begins another.)"
        );
        station.prompt.say(&told);
        if let Some(line) = still_seated(order, have) {
            station.prompt.say(line);
        }
    }
    let mut cautions = order.cautions.clone();
    let seated = order.plan.first().filter(|_| order.bar_is_in);
    let before = before_each(&order.plan, seated);
    // The plane whose bar was seated last, in this run of the check.
    let mut reached = None;
    let ended = (1_u32..)
        .zip(before.zip(&order.plan))
        .skip(have)
        .try_for_each(|(number, (before, planned))| {
            if let Some(act) = planned.clamping(before) {
                cautions.change_over(&act, [order.visit, check], &order.subject, station)?;
            }
            reached = Some(planned);
            let instruction = planned.instruction(before);
            loop {
                let mut plane = Plane {
                    station,
                    order,
                    check,
                    number,
                    planned,
                };
                match plane.read(&instruction) {
                    Ok(()) => return Ok(()),
                    Err(error) => plane.wait_for_gauge(error)?,
                }
            }
        });
    if ended.is_ok() && order.plan.last().is_some_and(PlannedPlane::is_on_bar) {
        station.prompt.say(BAR_OUT);
    } else if ended.is_err() && reached.is_some_and(PlannedPlane::is_on_bar) {
        station.prompt.say(BAR_LEFT);
    }
    conclude(station.writer, check, ended.err())
}

/// What was read before each plane of a plan; `seated`: before the first, the bar sits already as that one needs it.
fn before_each<'a>(
    plan: &'a [PlannedPlane],
    seated: Option<&'a PlannedPlane>,
) -> impl Iterator<Item = Option<&'a PlannedPlane>> {
    std::iter::once(seated).chain(plan.iter().map(Some))
}

/// What the machine has to be live for before anything is read, of a check that has so many planes; none where it stays isolated.
pub fn first_act(
    plan: &[PlannedPlane],
    have: usize,
    seated: Option<&PlannedPlane>,
) -> Option<String> {
    let (before, next) = before_each(plan, seated).zip(plan).nth(have)?;
    next.clamping(before)
}

/// A check that goes on with other planes than it was begun with would take one plane for another.
fn require_same_plan(have: &[PlannedPlane], plan: &[PlannedPlane]) -> Result<(), Error> {
    let alike = have
        .iter()
        .zip(plan)
        .all(|(read, planned)| read.place.place() == planned.place.place());
    if alike && have.len() <= plan.len() {
        return Ok(());
    }
    Err(Error::usage(
        "the unfinished runout check of this visit was begun with other planes than these: repeat the command it was \
         begun with, or add --new to begin another check",
    ))
}

const BAR_OUT: &str = "Every plane is read. Take the bar out: live only to unclamp, hands clear; then isolated and locked \
out again. A bar left in a warm spindle shrinks on.";

const BAR_LEFT: &str = "The bar is still clamped: go on with it, or take it out: live only to unclamp, hands clear; then isolated and \
locked out again. No start and no tool change with a bar in the nose.";

/// A check that goes on inside a seating needs the bar as it was.
fn still_seated(order: &RunoutRequest, have: usize) -> Option<&'static str> {
    let (before, next) = (order.plan.get(have.checked_sub(1)?)?, order.plan.get(have)?);
    (next.is_on_bar() && next.clamping(Some(before)).is_none()).then_some(
        "The bar must sit as it was clamped for the plane before. Was it unclamped since? Then stop, and begin anew with --new.",
    )
}

/// The planes a check has.
///
/// # Errors
/// When the book cannot be read.
pub fn planes_in(book: &Book, check: Uuid) -> Result<Vec<PlannedPlane>, Error> {
    let recorded = book.recorded(check)?;
    let planes = recorded
        .iter()
        .filter(|row| row.kind == RecordedKind::Plane);
    planes
        .map(|row| Ok(stored_check::read::<StoredPlane>(book, &row.content)?.plane))
        .collect()
}

fn begin(station: &mut Station<'_>, order: &RunoutRequest) -> Result<(Uuid, Lease), Error> {
    let writer = &mut *station.writer;
    let kept = writer.keep_calibration(station.calibration)?;
    let content = check_inputs::to_keep(&order.begun)?;
    let (id, stamp) = (writer.id(), writer.stamp());
    let lease = Lease::of_new_check(id)?;
    let limits_sha256 = match &order.limits {
        Some(text) => Some(writer.book.keep_limits(text)?),
        None => None,
    };
    writer.book.start_check(&CheckStart {
        id,
        visit: Some(order.visit),
        kind: CheckKind::Runout,
        state: order.begun.setup.state,
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
    station: &'p mut Station<'a>,
    order: &'p RunoutRequest,
    check: Uuid,
    number: u32,
    planned: &'p PlannedPlane,
}

impl Station<'_> {
    /// Single keys from now on; what was typed before is forgotten.
    pub(crate) fn listen(&mut self) -> Listening {
        self.prompt.forget_typed();
        self.keys.listen()
    }

    /// Whether the check goes on, by what was typed and what happened meanwhile.
    ///
    /// # Errors
    /// Ctrl-C, the key that stops, or a keyboard that is gone.
    pub(crate) fn goes_on(&self, typed: Option<Key>) -> Result<(), Error> {
        let stopped = matches!(typed, Some(Key::Stop | Key::Quit));
        if stopped || self.interrupt.is_set() || self.keys.are_gone() {
            return Err(cut_off());
        }
        Ok(())
    }
}

/// What was typed since the last look, on the live screen or without one.
pub(crate) fn typed(prompt: &mut dyn Prompt, keyboard: &Listening) -> Option<Key> {
    prompt.typed().or_else(|| keyboard.typed())
}

impl Plane<'_, '_> {
    /// The gauge was lost: until it is plugged in again, or somebody ends it.
    fn wait_for_gauge(&mut self, error: Error) -> Result<(), Error> {
        let kept = match self.number {
            1 => "Then this plane is read from the beginning.".to_owned(),
            2 => "Plane 1 is in the book; this one begins again.".to_owned(),
            number => format!(
                "Planes 1 to {} are in the book; this one begins again.",
                number - 1
            ),
        };
        let measured = Measured {
            subject: &self.order.subject,
            picture: &Picture::None,
            kept: &kept,
            calibration: Some(self.station.calibration),
        };
        let Station {
            session,
            prompt,
            interrupt,
            ..
        } = &mut *self.station;
        lost::wait_for(session, error, &measured, *prompt, interrupt)
    }

    fn read(&mut self, instruction: &str) -> Result<(), Error> {
        let (number, of) = (self.number, self.order.plan.len());
        self.station.prompt.say("");
        let title = format!("Plane {number} of {of}: {instruction}");
        self.station.prompt.say_step(&title);
        self.wait_until_set(instruction)?;
        self.station.session.show(Signal::Off)?;
        let channels = DisplacementBuilder::channels(
            self.station.calibration,
            self.station.session.hello().fitted,
        );
        let started = self.station.session.start(RATE_HZ, channels)?;
        let read = self.stream(started.boot, started.rate_hz);
        let stopped = self.station.session.stop();
        read?;
        match stopped.map_err(Error::from) {
            // The plane is in the book: it is not read again for a gauge that was lost behind it.
            Err(error) if error.loss.is_some() => self.wait_for_gauge(error),
            stopped => stopped,
        }
    }

    /// Somebody says that it is set: by a key, or by the gauge's button. Without a keyboard nobody is waited for.
    fn wait_until_set(&mut self, instruction: &str) -> Result<(), Error> {
        if !self.station.keys.is_somebody() {
            return Ok(());
        }
        let plane = (self.number, self.order.plan.len());
        let scene = guidance::set_up(self.planned, instruction, plane, &self.order.subject);
        let station = &mut *self.station;
        let keyboard = station.listen();
        station
            .prompt
            .say_step("Press Enter when it is set and the spindle stands at position 1.");
        station.prompt.ring(1);
        let mut vouched = Vouched::new();
        loop {
            let key = vouched.taken(|| typed(station.prompt, &keyboard));
            station.goes_on(key)?;
            if key == Some(Key::Take) {
                return Ok(());
            }
            if station.prompt.wants_scene() {
                station.prompt.show(&scene);
            }
            let heard = station.session.next(LOOK_EVERY)?;
            if heard.is_some_and(|raw| is_press(&raw)) {
                return Ok(());
            }
        }
    }

    fn stream(&mut self, boot: u32, rate_hz: u16) -> Result<(), Error> {
        let (number, planned, order) = (self.number, self.planned, self.order);
        let keyboard = self.station.listen();
        let Station {
            session,
            calibration,
            writer,
            prompt,
            keys,
            settings,
            interrupt,
        } = &mut *self.station;
        let hello = session.hello();
        let wire = (hello.wire_major, hello.wire_minor);
        let button = has_button(hello);
        let about =
            json_of(&json!({ "port": session.port(), "rate_hz": rate_hz, "plane": planned }))?;
        let stream = Stream { wire, boot };
        let mut recorder = Recorder::begin(writer, self.check, stream, about, session.damage())?;
        let mut builder = DisplacementBuilder::new((*calibration).clone(), boot);
        let step_um = DisplacementBuilder::resolution_um(calibration);
        let mut progress = Progress::new(planned, order, step_um);
        let mut stage = Stage::Begin {
            keys: keys.is_somebody(),
            button,
        };
        let mut doubted: Option<(Doubt, String)> = None;
        let mut acts = vec![Act::Lead(stage)];
        let mut now_um = None;
        let mut jotting: Option<Jotting> = None;
        loop {
            let mut news = false;
            for act in acts.drain(..) {
                if let Act::Lead(next) = act {
                    (stage, news) = (next, true);
                }
                carry_out(
                    act,
                    progress.turn(),
                    number,
                    session,
                    &mut recorder,
                    *prompt,
                    settings,
                )?;
            }
            if news {
                prompt.ring(stage.bells(progress.turn()));
            }
            if progress.is_done() && doubted.is_none() {
                let Some(doubt) = progress.doubt(planned, &order.begun.setup) else {
                    break;
                };
                let words = progress.doubt_words(&doubt);
                if !keys.is_somebody() {
                    prompt.say(&format!(
                        "{words}. Nobody can be asked here: kept, with a remark."
                    ));
                    break;
                }
                prompt.say_step(&format!("{words}: read again? {READ_AGAIN_OR_KEEP}"));
                doubted = Some((doubt, format!("{words}.")));
                acts = vec![Act::Lead(Stage::Doubt)];
                continue;
            }
            if prompt.wants_scene() {
                let so_far = PlaneSoFar {
                    subject: &order.subject,
                    planned,
                    plane: (number, order.plan.len()),
                    seatings: plan::seatings(&order.plan),
                    turn: progress.turn(),
                    taken_um: progress.taken_um(),
                    now_um,
                    gone: progress.gone(),
                    doubt: doubted.as_ref().map(|(_, words)| words.as_str()),
                    damage: recorder.damage(),
                };
                let scene = guidance::scene(stage, &so_far, settings);
                prompt.show(&match &jotting {
                    Some(jotting) => jotting.over(scene),
                    None => scene,
                });
            }
            let key = match &mut jotting {
                None => typed(*prompt, &keyboard),
                Some(asked) => match asked.hear(*prompt) {
                    Answer::Open => None,
                    Answer::Stop => Some(Key::Stop),
                    Answer::Left => {
                        jotting = None;
                        None
                    }
                    Answer::Done((severity, text)) => {
                        jotting = None;
                        prompt.say(&format!("  in the book ({}): {text}", severity.words()));
                        jotting::file(severity, text, "runout", order.visit, recorder.book())?;
                        None
                    }
                },
            };
            let stopped = matches!(key, Some(Key::Stop | Key::Quit));
            if interrupt.is_set() || keys.are_gone() || stopped {
                recorder.flush()?;
                return Err(cut_off());
            }
            match (key, &doubted) {
                (Some(Key::Note), _) if prompt.listens() => jotting = Some(Jotting::note()),
                (Some(Key::Finding), _) if prompt.listens() => jotting = Some(Jotting::finding()),
                (Some(Key::Keep), Some(_)) => break,
                (Some(Key::Again | Key::Back), Some((doubt, _))) => {
                    acts = progress.again(doubt);
                    doubted = None;
                    continue;
                }
                (Some(Key::Take), Some(_)) => prompt.say(READ_AGAIN_OR_KEEP),
                (Some(Key::Pause), None) => acts.extend(progress.pause()),
                (Some(Key::Back), None) => acts.extend(progress.back()),
                (Some(Key::Take), None) => acts.extend(progress.now(None)),
                _ => {}
            }
            let Some(raw) = session.next(LOOK_EVERY)? else {
                continue;
            };
            recorder.frame(&raw, session.elapsed(), session.damage())?;
            if let Some(told) = session.sleep_to_tell() {
                prompt.say(&told);
            }
            let seen = builder.take(&raw);
            if let Some(trouble) = seen.trouble {
                recorder.flush()?;
                return Err(Error::gauge(format!(
                    "plane {number}: {trouble}; set the indicator again and repeat the command: it goes on with this plane"
                )));
            }
            let lit = session.light_is_shown();
            now_um = seen.readings.last().map(|last| last.reading_um).or(now_um);
            for reading in seen.readings {
                // What is still to be done may change the light: nobody has seen that before it is carried out.
                let lit = lit && acts.is_empty();
                acts.extend(progress.push(reading, lit));
            }
            for at_s in seen.presses_s {
                acts.extend(progress.now(Some(at_s)));
            }
            acts.extend(progress.add_edges(&seen.edges_s));
        }
        let stored = StoredPlane {
            capture: recorder.capture(),
            plane: planned.clone(),
        };
        recorder.record(RecordedKind::Plane, number, json_of(&stored)?)?;
        if let Some(words) = recorder.damage().words() {
            prompt.say(&words);
        }
        Ok(())
    }
}

/// A reading is stored before it is said.
fn carry_out(
    act: Act,
    turn: Turn,
    plane: u32,
    session: &mut Session,
    recorder: &mut Recorder<'_>,
    prompt: &mut dyn Prompt,
    settings: &Settings,
) -> Result<(), Error> {
    match act {
        Act::Lead(stage) => {
            if let Some(line) = stage.line(turn, settings) {
                prompt.say_step(&line);
            }
            if let Some(light) = stage.signal(turn) {
                session.show(known_light(light, session.hello()))?;
            }
        }
        Act::Read(position, rest) => {
            let stored = StoredReading {
                capture: recorder.capture(),
                position,
                from_s: rest.from_s,
                to_s: rest.to_s,
            };
            let number = plane * PER_PLANE + position;
            recorder.record(RecordedKind::Reading, number, json_of(&stored)?)?;
        }
    }
    Ok(())
}

/// Whether this gauge may have a push button: its firmware knows of one.
pub fn has_button(hello: &Hello) -> bool {
    (hello.wire_major, hello.wire_minor) >= (1, 1)
}

/// A light this gauge knows: one of the first version knows neither turn nor taken.
fn known_light(light: Signal, hello: &Hello) -> Signal {
    match light {
        Signal::Turn | Signal::Taken if !has_button(hello) => Signal::Wait,
        known => known,
    }
}

fn is_press(raw: &RawFrame) -> bool {
    matches!(frame::decode_checked(&raw.0), Ok(FromGauge::Pressed(_)))
}

/// How far a plane is.
enum Progress {
    Stepping(Box<Stepping>),
    Turning(Turning),
}

/// A spindle that is turned without stopping, until a mark has passed so often or a time is over.
struct Turning {
    turn: Turn,
    last_s: f64,
    edges: u32,
}

impl Turning {
    fn gone(&self) -> Gone {
        match self.turn {
            Turn::Marked { turns } => Gone {
                share: (f64::from(self.edges.saturating_sub(1)) / f64::from(turns)).min(1.0),
                left_s: 0.0,
            },
            Turn::Free { seconds } => Gone::of(self.last_s, seconds),
            Turn::Stepped { .. } => Gone::default(),
        }
    }

    fn is_done(&self) -> bool {
        match self.turn {
            Turn::Marked { turns } => self.edges > turns,
            Turn::Free { seconds } => self.last_s >= seconds,
            Turn::Stepped { .. } => true,
        }
    }
}

impl Progress {
    fn new(planned: &PlannedPlane, order: &RunoutRequest, step_um: f64) -> Self {
        let turn = match planned.stops() {
            Some(positions) => {
                let stepping = Stepping::new(positions, order.paced_s, step_um);
                return Self::Stepping(Box::new(stepping));
            }
            None if planned.way.marked => Turn::Marked { turns: order.turns },
            None => Turn::Free {
                seconds: order.seconds,
            },
        };
        Self::Turning(Turning {
            turn,
            last_s: 0.0,
            edges: 0,
        })
    }

    fn turn(&self) -> Turn {
        match self {
            Self::Stepping(stepping) => stepping.turn(),
            Self::Turning(turning) => turning.turn,
        }
    }

    fn gone(&self) -> Gone {
        match self {
            Self::Stepping(stepping) => stepping.gone(),
            Self::Turning(turning) => turning.gone(),
        }
    }

    fn taken_um(&self) -> Vec<f64> {
        match self {
            Self::Stepping(stepping) => stepping.taken_um(),
            Self::Turning(_) => Vec::new(),
        }
    }

    fn is_done(&self) -> bool {
        match self {
            Self::Stepping(stepping) => stepping.is_done(),
            Self::Turning(turning) => turning.is_done(),
        }
    }

    fn push(&mut self, reading: Passing, lit: bool) -> Vec<Act> {
        match self {
            Self::Stepping(stepping) => stepping.push(reading, lit),
            Self::Turning(turning) => {
                turning.last_s = reading.time_s;
                Vec::new()
            }
        }
    }

    fn now(&mut self, at_s: Option<f64>) -> Vec<Act> {
        match self {
            Self::Stepping(stepping) => stepping.now(at_s),
            Self::Turning(_) => Vec::new(),
        }
    }

    fn pause(&mut self) -> Vec<Act> {
        match self {
            Self::Stepping(stepping) => stepping.pause(),
            Self::Turning(_) => Vec::new(),
        }
    }

    fn back(&mut self) -> Vec<Act> {
        match self {
            Self::Stepping(stepping) => stepping.back(),
            Self::Turning(_) => Vec::new(),
        }
    }

    fn add_edges(&mut self, edges_s: &[f64]) -> Vec<Act> {
        let Self::Turning(turning) = self else {
            return Vec::new();
        };
        let mut acts = Vec::new();
        for _edge in edges_s {
            turning.edges += 1;
            let done = turning.edges - 1;
            let marked = matches!(turning.turn, Turn::Marked { turns } if done <= turns);
            if marked && done > 0 {
                acts.push(Act::Lead(Stage::Turned { done }));
            }
        }
        acts
    }

    /// What the readings say against themselves, by the rule the result will be computed by.
    fn doubt(&self, planned: &PlannedPlane, setup: &RunoutSetup) -> Option<Doubt> {
        let Self::Stepping(stepping) = self else {
            return None;
        };
        let plane = metrology::Plane::stepped(planned.place.place(), stepping.stops());
        metrology::doubt_of(&plane, setup)
    }

    fn doubt_words(&self, doubt: &Doubt) -> String {
        let positions = self.taken_um().len().saturating_sub(1);
        words::capital(&holdtrue_wording::doubt(
            doubt.mistake,
            doubt.between,
            positions,
        ))
    }

    fn again(&mut self, doubt: &Doubt) -> Vec<Act> {
        match self {
            Self::Stepping(stepping) => stepping.again_from(stepping.doubtful_from(doubt)),
            Self::Turning(_) => Vec::new(),
        }
    }
}

fn conclude(
    writer: &mut BookWriter,
    check: Uuid,
    cut_short: Option<Error>,
) -> Result<MeasuredRunout, Error> {
    let (begun, record) = runout_stored::gauge_readings(&writer.book, check)?;
    let result = analysed(&begun, &record);
    let cut_short = match (&result, cut_short) {
        (Some(result), None) => end(writer, check, result).err(),
        (_, cut_short) => cut_short,
    };
    Ok(MeasuredRunout {
        check,
        result,
        cut_short,
    })
}

fn analysed(begun: &Begun, record: &RunoutRecord) -> Option<RunoutResult> {
    metrology::analyse(record, &begun.setup).ok()
}

fn end(writer: &mut BookWriter, check: Uuid, result: &RunoutResult) -> Result<(), Error> {
    let analysis = format!("runout-{ANALYSIS_VERSION}");
    stored_check::end(writer, check, analysis, result.verdict.as_ref(), result)
}
