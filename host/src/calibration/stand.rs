//! Readings on a bench: somebody sets a load or a block, says so, and the gauge is read. In: a session, what is typed. Out:
//! one steady reading at a time.

use crate::terminal::error::Error;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::{Lines, Typed};
use crate::terminal::prompt::Prompt;
use holdtrue_gauge::capture::{Capture, fault_words, gravest};
use holdtrue_gauge::displacement::DisplacementBuilder;
use holdtrue_gauge::link::RawFrame;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::calibration::{NotSteady, steady};
use holdtrue_metrology::statistics::mean;
use holdtrue_protocol::message::{CalibrationRecord, Channels, Signal};
use std::time::Duration;

/// Samples per second.
const RATE_HZ: u16 = 1_000;
/// A reading is the mean over this long: fifty periods of 50 Hz mains, sixty of 60 Hz.
const READING_S: f64 = 1.0;
/// What arrives at once may have been on its way when the key was pressed.
const ON_ITS_WAY_S: f64 = 0.3;
/// An indicator that shows a figure this often at least is read, a second.
const FEWEST_SHOWN: usize = 3;
/// A held load may fall by this share before the holding begins anew.
const FALLS: f64 = 0.05;

/// What is read.
pub enum Sensor {
    /// Counts of the load cell.
    Force(Capture),
    /// Readings of a probe or an indicator, µm, which steps this far at least.
    Length {
        /// Makes the readings.
        builder: Box<DisplacementBuilder>,
        /// Smallest step, µm.
        step_um: f64,
    },
}

/// A gauge on a bench, streaming.
pub struct CalibrationStand<'a> {
    session: &'a mut Session,
    sensor: Sensor,
    /// Reading at no load, once it is known.
    pub zero: Option<f64>,
    lines: Lines,
    interrupt: &'a Interrupt,
}

/// What the person answered.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// It stands there.
    There,
    /// It stands there, and this is what the reference shows.
    Shows(String),
    /// The last reading again.
    Back,
}

impl<'a> CalibrationStand<'a> {
    /// Starts the load cell.
    ///
    /// # Errors
    /// The gauge goes away or refuses.
    pub fn of_force(
        session: &'a mut Session,
        lines: Lines,
        interrupt: &'a Interrupt,
    ) -> Result<Self, Error> {
        session.show(Signal::Wait)?;
        let channels = Channels {
            force: true,
            ..Channels::default()
        };
        let started = session.start(RATE_HZ, channels)?;
        Ok(Self {
            sensor: Sensor::Force(Capture::new(started.boot)),
            session,
            zero: None,
            lines,
            interrupt,
        })
    }

    /// Starts the probe or the indicator, read by this calibration.
    ///
    /// # Errors
    /// The gauge goes away or refuses.
    pub fn of_length(
        session: &'a mut Session,
        calibration: &CalibrationRecord,
        step_um: f64,
        lines: Lines,
        interrupt: &'a Interrupt,
    ) -> Result<Self, Error> {
        session.show(Signal::Wait)?;
        let channels = DisplacementBuilder::channels(calibration, session.hello().fitted);
        let started = session.start(RATE_HZ, channels)?;
        let builder = DisplacementBuilder::new(calibration.clone(), started.boot);
        Ok(Self {
            sensor: Sensor::Length {
                builder: Box::new(builder),
                step_um,
            },
            session,
            zero: None,
            lines,
            interrupt,
        })
    }

    /// Waits for the person; what the gauge says meanwhile is heard and let go.
    ///
    /// # Errors
    /// The gauge goes away or reports a fault, nobody is there any more, or somebody interrupts.
    pub fn answer(&mut self) -> Result<Answer, Error> {
        loop {
            match self.lines.typed() {
                Some(Typed::Line(line)) if line.trim().is_empty() => return Ok(Answer::There),
                Some(Typed::Line(line)) if line.trim().eq_ignore_ascii_case("b") => {
                    return Ok(Answer::Back);
                }
                Some(Typed::Line(line)) => return Ok(Answer::Shows(line.trim().to_owned())),
                Some(Typed::End) => {
                    return Err(Error::usage(
                        "nobody is at the keyboard: each load is told by pressing Enter. Run it on a terminal",
                    ));
                }
                None => {}
            }
            self.hear()?;
        }
    }

    /// A steady reading from now on; says why there is none and waits for Enter as often as it takes.
    ///
    /// # Errors
    /// As [`CalibrationStand::answer`].
    pub fn read(&mut self, prompt: &mut dyn Prompt) -> Result<f64, Error> {
        self.session.show(Signal::Hold)?;
        loop {
            let values = self.listen(ON_ITS_WAY_S, READING_S)?;
            match self.judge(&values) {
                Ok(reading) => {
                    self.session.show(Signal::Wait)?;
                    return Ok(reading);
                }
                Err(why) => {
                    prompt.say(&format!("  {why}. Hold it still, then press Enter again."));
                    self.session.show(Signal::Wait)?;
                    self.answer()?;
                    self.session.show(Signal::Hold)?;
                }
            }
        }
    }

    /// The reading after a load was held for so long by the gauge's clock; begins anew where the load comes off.
    ///
    /// # Errors
    /// As [`CalibrationStand::answer`].
    pub fn hold(&mut self, dwell_s: f64, prompt: &mut dyn Prompt) -> Result<f64, Error> {
        const SAY_EVERY_S: f64 = 10.0;
        self.session.show(Signal::Hold)?;
        let first = mean(&self.listen(ON_ITS_WAY_S, READING_S)?);
        let mut last = first;
        let mut held_s = READING_S;
        let mut say_at_s = SAY_EVERY_S;
        while held_s < dwell_s {
            let part_s = READING_S.min(dwell_s - held_s).max(0.1);
            last = mean(&self.listen(0.0, part_s)?);
            held_s += part_s;
            let above = |value: f64| (value - self.zero.unwrap_or(0.0)).abs();
            if above(last) < (1.0 - FALLS) * above(first) {
                prompt.say(
                    "  the load came off: bring it back, then press Enter; the time begins anew.",
                );
                self.answer()?;
                return self.hold(dwell_s, prompt);
            }
            if held_s >= say_at_s && held_s < dwell_s {
                prompt.say(&format!("  held {held_s:.0} s of {dwell_s:.0} s"));
                say_at_s += SAY_EVERY_S;
            }
        }
        self.session.show(Signal::Wait)?;
        Ok(last)
    }

    /// Ends the stream and gives the keyboard back.
    pub fn end(self) -> (Lines, Result<(), Error>) {
        let stopped = self.session.stop();
        let ended = stopped.and_then(|()| self.session.show(Signal::Off));
        (self.lines, ended.map_err(Error::from))
    }

    fn judge(&self, values: &[f64]) -> Result<f64, String> {
        match &self.sensor {
            Sensor::Force(_) => steady(values, self.zero)
                .map(|steady| steady.mean_counts)
                .map_err(|e: NotSteady| e.to_string()),
            Sensor::Length { step_um, .. } => {
                if values.len() < FEWEST_SHOWN {
                    return Err(format!("only {} readings arrived", values.len()));
                }
                let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
                if highest - lowest > 1.5 * step_um {
                    return Err(format!(
                        "it moved by {:.1} µm while it was read",
                        highest - lowest
                    ));
                }
                Ok(mean(values))
            }
        }
    }

    /// Values over `for_s` of the gauge's clock, after `skip_s` of it; begun anew where samples were lost.
    fn listen(&mut self, skip_s: f64, for_s: f64) -> Result<Vec<f64>, Error> {
        let mut began_s = None;
        let mut values = Vec::new();
        loop {
            let Some(raw) = self.frame()? else { continue };
            let heard = self.take(&raw)?;
            if heard.lost {
                began_s = None;
                values.clear();
            }
            for (time_s, value) in heard.values {
                let from_s = *began_s.get_or_insert(time_s) + skip_s;
                if time_s >= from_s + for_s {
                    return Ok(values);
                }
                if time_s >= from_s {
                    values.push(value);
                }
            }
        }
    }

    fn hear(&mut self) -> Result<(), Error> {
        if let Some(raw) = self.frame()? {
            self.take(&raw)?;
        }
        Ok(())
    }

    fn frame(&mut self) -> Result<Option<RawFrame>, Error> {
        if self.interrupt.is_set() {
            return Err(Error::interrupted(match self.sensor {
                Sensor::Force(_) => "stopped: take the load off",
                Sensor::Length { .. } => "stopped: take the blocks out",
            }));
        }
        Ok(self.session.next(Duration::from_millis(100))?)
    }

    fn take(&mut self, raw: &RawFrame) -> Result<Heard, Error> {
        let port = self.session.port();
        let first = match self.sensor {
            Sensor::Force(_) => "take the load off, then see",
            Sensor::Length { .. } => "see",
        };
        let faulty =
            |why: &str| Error::gauge(format!("{port}: {why}; {first} `holdtrue gauge check`"));
        match &mut self.sensor {
            Sensor::Force(capture) => {
                let added = capture.take(raw);
                let spoilt = added.samples.iter().find_map(|s| gravest(s.faults));
                if let Some(fault) = spoilt {
                    return Err(faulty(fault_words(fault)));
                }
                Ok(Heard {
                    lost: added.lost.is_some(),
                    values: added
                        .samples
                        .iter()
                        .filter_map(|sample| Some((sample.time_s, f64::from(sample.force?))))
                        .collect(),
                })
            }
            Sensor::Length { builder, .. } => {
                let seen = builder.take(raw);
                if let Some(trouble) = seen.trouble {
                    return Err(faulty(trouble));
                }
                let values = seen.readings.iter();
                Ok(Heard {
                    lost: false,
                    values: values.map(|r| (r.time_s, r.reading_um)).collect(),
                })
            }
        }
    }
}

/// What one frame told.
struct Heard {
    lost: bool,
    values: Vec<(f64, f64)>,
}
