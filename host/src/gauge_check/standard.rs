//! In: a session with a gauge, a check standard of known force. Out: what the gauge reads on it, less its free zero before
//! and after.

use crate::gauge_check::guidance;
use crate::gauge_check::look::REST_HZ;
use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::Key;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use holdtrue_gauge::calibration::quantity;
use holdtrue_gauge::capture::{Capture, fault_words, gravest};
use holdtrue_gauge::session::Session;
use holdtrue_metrology::gauge_check::loading::{Loading, Parts, Phase, Read, Step};
use holdtrue_protocol::message::{CalibrationRecord, Channels, Signal};
use std::time::Duration;

/// A person who does nothing for so long has gone away, s.
const PATIENCE_S: f64 = 180.0;

/// Leads the person through one loading.
///
/// # Errors
/// The gauge goes away or reports a fault, nobody puts a load on, or somebody interrupts.
pub fn read(
    session: &mut Session,
    record: &CalibrationRecord,
    load_n: f64,
    prompt: &mut dyn Prompt,
    (subject, settings): (&Subject, &Settings),
    interrupt: &Interrupt,
) -> Result<Read, Error> {
    let channels = Channels {
        force: true,
        ..Channels::default()
    };
    session.show(Signal::Hold)?;
    let started = session.start(REST_HZ, channels)?;
    let done = lead(
        session,
        started.boot,
        record,
        load_n,
        prompt,
        (subject, settings),
        interrupt,
    );
    let stopped = session.show(Signal::Off).and_then(|()| session.stop());
    // A gauge that is gone cannot be stopped; that it is gone has been said already.
    let read = done?;
    stopped?;
    Ok(read)
}

fn lead(
    session: &mut Session,
    boot: u32,
    record: &CalibrationRecord,
    load_n: f64,
    prompt: &mut dyn Prompt,
    (subject, settings): (&Subject, &Settings),
    interrupt: &Interrupt,
) -> Result<Read, Error> {
    let mut capture = Capture::new(boot);
    let mut parts = Parts::default();
    let mut loading = Loading::new(load_n);
    prompt.say_step("Gauge free …");
    loop {
        let typed = prompt.typed();
        if interrupt.is_set() || matches!(typed, Some(Key::Stop | Key::Quit)) {
            return Err(Error::interrupted(
                "stopped: take the load off; nothing of this check was kept",
            ));
        }
        let Some(raw) = session.next(Duration::from_millis(100))? else {
            continue;
        };
        let added = capture.take(&raw);
        if added.lost.is_some() {
            parts = Parts::default();
        }
        for sample in added.samples {
            if let Some(fault) = gravest(sample.faults) {
                return Err(Error::gauge(format!(
                    "{}: {}; take the load off, then see `holdtrue gauge check`",
                    session.port(),
                    fault_words(fault)
                )));
            }
            let Some(counts) = sample.force else { continue };
            let whole = parts.push(sample.time_s, quantity(record, counts), f64::from(counts));
            let Some(part) = whole else { continue };
            if prompt.wants_scene() {
                let force_n = part.force_n - loading.zero().map_or(0.0, |zero| zero.force_n);
                let scene =
                    guidance::on_standard(loading.phase(), load_n, force_n, subject, settings);
                prompt.show(&scene);
            }
            match loading.push(part) {
                Some(Step::Done(read)) => return Ok(read),
                Some(Step::Downwards(read_n)) => {
                    return Err(Error::gauge(format!(
                        "{}: the standard reads downwards ({}, {} expected); take it off. The wires of the bridge are \
                         exchanged, or the slope in the certificate has the wrong sign: put that right, then repeat the command",
                        session.port(),
                        settings.force(read_n),
                        settings.force(load_n)
                    )));
                }
                Some(step) => {
                    prompt.say_step(&words(step, load_n, settings));
                    prompt.ring(2);
                }
                None => {}
            }
            if loading.idle_s() > PATIENCE_S {
                return Err(Error::gauge(format!(
                    "{}: {} for {PATIENCE_S:.0} s; take the load off and repeat the command",
                    session.port(),
                    waits_for(loading.phase())
                )));
            }
        }
    }
}

/// What the person is told.
fn words(step: Step, load_n: f64, settings: &Settings) -> String {
    let force = |newton| settings.force(newton);
    match step {
        Step::PutOn => format!("Put the {} of the standard on, slowly.", force(load_n)),
        Step::StandStill => "  let it stand, hands off …".to_owned(),
        Step::CameOff => {
            "It came off before it had settled: put it on again, and let it stand.".to_owned()
        }
        Step::TakeOff(read_n) => {
            format!("  {} is in. Take the load off, slowly.", force(read_n))
        }
        Step::Downwards(_) | Step::Done(_) => String::new(),
    }
}

/// What there was none of for so long.
fn waits_for(phase: Phase) -> &'static str {
    match phase {
        Phase::Free => "the gauge is not at rest",
        Phase::Waiting => "no load came on the gauge",
        Phase::Loaded => "the load does not settle",
        Phase::Unloading(_) => "the load is still on the gauge",
    }
}
