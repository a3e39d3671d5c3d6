//! In: a session with a gauge that is held free. Out: everything a gauge check looks at.

use crate::gauge_check::knob::Knob;
use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use crate::visits::book::book_writer::today_days;
use crate::visits::stops;
use holdtrue_book::GaugeStop;
use holdtrue_gauge::binding::Belonging;
use holdtrue_gauge::calibration::day_text;
use holdtrue_gauge::calibration::{Standing, quantity, standing};
use holdtrue_gauge::capture::Capture;
use holdtrue_gauge::link::LinkError;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::gauge_check::control::{Shunt, Standard};
use holdtrue_metrology::gauge_check::fitness;
use holdtrue_metrology::gauge_check::fitness::{AtRest, Calibrated, SelfTests};
use holdtrue_protocol::message::{
    CalibrationRecord, Channel, Channels, Refusal, SelfTest, SelfTestResult, Signal, Stop,
};
use std::time::Duration;

/// How long the gauge is watched at rest.
pub const REST_S: f64 = 10.0;
/// Samples per second meanwhile: the usual rate of a grip check.
pub const REST_HZ: u16 = 1_000;

const TESTS: [SelfTest; 6] = [
    SelfTest::ShortedInput,
    SelfTest::Noise,
    SelfTest::Shunt,
    SelfTest::Supply,
    SelfTest::OpenBridge,
    SelfTest::Temperature,
];

/// Everything a gauge check looks at.
#[derive(Clone, Debug, Default)]
pub struct Look {
    /// The calibration record, if the gauge has one.
    pub record: Option<CalibrationRecord>,
    /// What the gauge is built from, and what that record was made on.
    pub belonging: Belonging,
    /// Force at rest, where the record allows it.
    pub at_rest: Option<AtRest>,
    /// Self-tests the gauge has.
    pub tests: SelfTests,
    /// Overloads since the calibration.
    pub overloads: usize,
    /// Stops of its program nobody was told of before, oldest first; none where the gauge cannot tell.
    pub stops: Option<Vec<GaugeStop>>,
    /// The shunt, against its history.
    pub shunt: Option<Shunt>,
    /// A check standard, where the gauge was put on one.
    pub standard: Option<Standard>,
    /// What was found on a check standard before and not taken back, by the book.
    pub open: Option<Open>,
    /// The retention knob, by the book.
    pub knob: Option<Knob>,
    /// Serial number of the gauge.
    pub serial: String,
    /// Day of the check, counted from 1970-01-01.
    pub today_days: i32,
}

/// A finding on a check standard that still stands.
#[derive(Clone, Debug)]
pub struct Open {
    /// What was read on it.
    pub standard: Standard,
    /// When.
    pub at: String,
}

impl Look {
    /// The figures alone.
    pub fn figures(&self) -> fitness::Look {
        let calibrated = |record: &CalibrationRecord| Calibrated {
            rated_n: record.rated,
            days_left: record.due_days - self.today_days,
            in_force: standing(record, self.today_days) == Standing::InForce,
            step_counts: self.belonging.step_then(),
            other_parts: self.belonging.differences().len(),
        };
        fitness::Look {
            calibration: self.record.as_ref().map(calibrated),
            gain: self.belonging.gain(),
            at_rest: self.at_rest,
            tests: self.tests,
            overloads: self.overloads,
            stops: self.stops.as_ref().map(Vec::len),
            shunt: self.shunt.clone(),
            standard: self.standard.clone(),
            open: self.open.as_ref().map(|open| open.standard.clone()),
            knob: self.knob.as_ref().map(Knob::counts),
        }
    }
}

/// Hears how long the gauge was watched, s, and what it reads, N; whether somebody wants to stop.
pub type Watching<'a> = &'a mut dyn FnMut(f64, f64) -> bool;

/// Asks, tests and watches. What only a book can tell is left open: the overloads since the calibration, the knob, what
/// the shunt is compared with.
///
/// # Errors
/// When the gauge goes away or does not answer, or somebody interrupts; a refusal of one self-test is no error, the test is just missing.
pub fn look(
    session: &mut Session,
    interrupt: &Interrupt,
    watching: Watching<'_>,
) -> Result<Look, Error> {
    let record = session.sound_calibration(Channel::Force)?;
    let belonging = session.belonging()?;
    let day = day_text(today_days());
    let kept = |told: Vec<Stop>| told.iter().map(|stop| stops::kept(stop, &day)).collect();
    let stops = session.stops()?.map(kept);
    let tests = self_tests(session)?;
    let at_rest = match &record {
        Some(record) => watch_at_rest(session, record, interrupt, watching)?,
        None => None,
    };
    Ok(Look {
        record,
        belonging,
        at_rest,
        tests,
        stops,
        serial: session.hello().serial.to_string(),
        today_days: today_days(),
        ..Look::default()
    })
}

fn self_tests(session: &mut Session) -> Result<SelfTests, LinkError> {
    let mut found = SelfTests::default();
    for test in TESTS {
        match session.self_test(test)? {
            Ok(result) => take(&mut found, &result),
            Err(Refusal::AdcSilent) => {
                return Err(LinkError::Refused {
                    port: session.port(),
                    request: "test itself",
                    reason: "its converter does not answer; have the gauge repaired".to_owned(),
                });
            }
            Err(_) => {}
        }
    }
    Ok(found)
}

fn take(found: &mut SelfTests, result: &SelfTestResult) {
    let median = f64::from(result.median);
    match result.test {
        SelfTest::ShortedInput => found.shorted_counts = Some(median),
        SelfTest::Noise => {
            found.rest_counts = Some(median);
            found.noise_counts = Some(f64::from(result.deviation));
        }
        SelfTest::Shunt => found.shunt_counts = Some(median),
        SelfTest::Supply => found.supply_mv = Some(median),
        SelfTest::OpenBridge => found.open_wires = Some(result.open),
        SelfTest::Temperature => found.temperature_c = Some(median / 1000.0),
    }
}

fn watch_at_rest(
    session: &mut Session,
    record: &CalibrationRecord,
    interrupt: &Interrupt,
    watching: Watching<'_>,
) -> Result<Option<AtRest>, Error> {
    let channels = Channels {
        force: true,
        ..Channels::default()
    };
    session.show(Signal::Wait)?;
    let started = session.start(REST_HZ, channels)?;
    let mut capture = Capture::new(started.boot);
    let mut forces_n = Vec::new();
    let mut seconds = 0.0;
    while seconds < REST_S {
        let now_n = forces_n.last().copied().unwrap_or(0.0);
        if watching(seconds, now_n) || interrupt.is_set() {
            session.stop()?;
            session.show(Signal::Off)?;
            return Err(Error::interrupted(
                "stopped: nothing of this check was kept; repeat the command",
            ));
        }
        let Some(raw) = session.next(Duration::from_millis(100))? else {
            continue;
        };
        for sample in capture.take(&raw).samples {
            forces_n.extend(sample.force.map(|counts| quantity(record, counts)));
            seconds = sample.time_s;
        }
    }
    session.stop()?;
    session.show(Signal::Off)?;
    Ok(AtRest::of(&forces_n, seconds))
}
