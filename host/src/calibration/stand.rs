//! Readings on a bench: somebody sets a load or a block, says so, and the gauge is read. In: a session, what is typed. Out:
//! one steady reading at a time.

use crate::calibration::guidance::{Answer, Guide, Live, Stage};
use crate::terminal::console::Console;
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
use std::collections::VecDeque;
use std::time::Duration;

/// Samples per second.
const RATE_HZ: u16 = 1_000;
/// A reading is the mean over this long: fifty periods of 50 Hz mains, sixty of 60 Hz.
const READING_S: f64 = 1.0;
/// What arrives at once may have been on its way when the key was pressed.
const ON_ITS_WAY_S: f64 = 0.3;
/// An indicator that shows a figure this often at least is read, a second.
const FEWEST_SHOWN: usize = 3;
/// What the screen shows is the mean over this long: five periods of 50 Hz mains, six of 60 Hz.
const SHOWN_S: f64 = 0.1;
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

/// Where somebody says that it stands.
pub enum Typing {
    /// Lines; a pipe will do.
    Lines(Lines),
    /// Single keys, which the live screen hears.
    Keys,
}

impl Typing {
    /// The live screen's keys where there is one, else lines.
    pub fn of(console: &Console) -> Self {
        match console.listens() {
            true => Self::Keys,
            false => Self::Lines(Lines::of_standard_input()),
        }
    }

    /// What takes the last reading back.
    pub fn back(&self) -> &'static str {
        match self {
            Self::Lines(_) => "b",
            Self::Keys => "PageUp",
        }
    }
}

/// A gauge on a bench, streaming.
pub struct CalibrationStand<'a> {
    session: &'a mut Session,
    sensor: Sensor,
    /// Reading at no load, once it is known.
    pub zero: Option<f64>,
    typing: Typing,
    /// Time and value of what came within the last [`READING_S`], where it is shown.
    recent: VecDeque<(f64, f64)>,
    interrupt: &'a Interrupt,
}

impl<'a> CalibrationStand<'a> {
    /// Starts the load cell.
    ///
    /// # Errors
    /// The gauge goes away or refuses.
    pub fn of_force(
        session: &'a mut Session,
        typing: Typing,
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
            typing,
            recent: VecDeque::new(),
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
        typing: Typing,
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
            typing,
            recent: VecDeque::new(),
            interrupt,
        })
    }

    /// What is to be done changes: on the gauge's light, and for whoever does it.
    ///
    /// # Errors
    /// The gauge goes away.
    pub fn lead(&mut self, stage: Stage, guide: &mut Guide<'_>) -> Result<(), Error> {
        self.session.show(stage.signal())?;
        guide.lead(stage);
        Ok(())
    }

    /// Waits for the person; what the gauge says meanwhile is shown and let go.
    ///
    /// # Errors
    /// The gauge goes away or reports a fault, nobody is there any more, or somebody interrupts.
    pub fn answer(&mut self, guide: &mut Guide<'_>) -> Result<Answer, Error> {
        loop {
            let answer = match &self.typing {
                Typing::Keys => guide.answer(),
                Typing::Lines(lines) => answer_of(lines)?,
            };
            match answer {
                Some(Answer::Stop) => return Err(self.stopped()),
                Some(answer) => return Ok(answer),
                None => {}
            }
            if let Some(raw) = self.frame()? {
                self.take(&raw)?;
            }
            self.show(guide);
        }
    }

    /// A steady reading from now on; says why there is none and waits for a word as often as it takes.
    ///
    /// # Errors
    /// As [`CalibrationStand::answer`].
    pub fn read(&mut self, guide: &mut Guide<'_>) -> Result<f64, Error> {
        self.lead(Stage::Reading, guide)?;
        loop {
            let values = self.listen(ON_ITS_WAY_S, READING_S, guide)?;
            match self.judge(&values) {
                Ok(reading) => return Ok(reading),
                Err(why) => {
                    guide.say_step(&format!("  {why}. Hold it still, then press Enter again."));
                    let why = format!("{why}. Hold it still, then take it again.");
                    self.lead(Stage::Wrong(why), guide)?;
                    self.answer(guide)?;
                    self.lead(Stage::Reading, guide)?;
                }
            }
        }
    }

    /// The reading after a load was held for so long by the gauge's clock; begins anew where the load comes off.
    ///
    /// # Errors
    /// As [`CalibrationStand::answer`].
    pub fn hold(&mut self, dwell_s: f64, guide: &mut Guide<'_>) -> Result<f64, Error> {
        const SAY_EVERY_S: f64 = 10.0;
        let holding = |held_s| Stage::Holding {
            held_s,
            of_s: dwell_s,
        };
        self.lead(holding(0.0), guide)?;
        let first = mean(&self.listen(ON_ITS_WAY_S, READING_S, guide)?);
        let mut last = first;
        let mut held_s = READING_S;
        let mut say_at_s = SAY_EVERY_S;
        while held_s < dwell_s {
            guide.lead(holding(held_s));
            let part_s = READING_S.min(dwell_s - held_s).max(0.1);
            last = mean(&self.listen(0.0, part_s, guide)?);
            held_s += part_s;
            let above = |value: f64| (value - self.zero.unwrap_or(0.0)).abs();
            if above(last) < (1.0 - FALLS) * above(first) {
                guide.say_step(
                    "  the load came off: bring it back, then press Enter; the time begins anew.",
                );
                let why = "The load came off. Bring it back; the time begins anew.";
                self.lead(Stage::Wrong(why.to_owned()), guide)?;
                self.answer(guide)?;
                return self.hold(dwell_s, guide);
            }
            if held_s >= say_at_s && held_s < dwell_s {
                guide.say_step(&format!("  held {held_s:.0} s of {dwell_s:.0} s"));
                say_at_s += SAY_EVERY_S;
            }
        }
        Ok(last)
    }

    /// Ends the stream and gives the keyboard back.
    pub fn end(self) -> (Typing, Result<(), Error>) {
        let stopped = self.session.stop();
        let ended = stopped.and_then(|()| self.session.show(Signal::Off));
        (self.typing, ended.map_err(Error::from))
    }

    fn show(&self, guide: &mut Guide<'_>) {
        guide.show(&|| self.live(), self.session.damage());
    }

    /// What the gauge reads now, and whether that would be taken.
    fn live(&self) -> Live {
        let Some((newest_s, _)) = self.recent.back() else {
            return Live::default();
        };
        let since = |seconds: f64| {
            let recent = self.recent.iter();
            let values = recent.filter(|(time_s, _)| newest_s - time_s < seconds);
            values.map(|(_, value)| *value).collect::<Vec<f64>>()
        };
        let oldest_s = self.recent.front().map_or(*newest_s, |(time_s, _)| *time_s);
        let is_long = newest_s - oldest_s > 0.9 * READING_S;
        Live {
            reading: Some(mean(&since(SHOWN_S))),
            rests: is_long.then(|| self.judge(&since(READING_S)).is_ok()),
        }
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
    fn listen(
        &mut self,
        skip_s: f64,
        for_s: f64,
        guide: &mut Guide<'_>,
    ) -> Result<Vec<f64>, Error> {
        let mut began_s = None;
        let mut values = Vec::new();
        loop {
            if matches!(self.typing, Typing::Keys) && guide.stops() {
                return Err(self.stopped());
            }
            self.show(guide);
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

    fn frame(&mut self) -> Result<Option<RawFrame>, Error> {
        if self.interrupt.is_set() {
            return Err(self.stopped());
        }
        Ok(self.session.next(Duration::from_millis(100))?)
    }

    fn stopped(&self) -> Error {
        Error::interrupted(match self.sensor {
            Sensor::Force(_) => "stopped: take the load off",
            Sensor::Length { .. } => "stopped: take the blocks out",
        })
    }

    fn take(&mut self, raw: &RawFrame) -> Result<Heard, Error> {
        let heard = self.heard(raw)?;
        if matches!(self.typing, Typing::Lines(_)) {
            return Ok(heard);
        }
        if heard.lost {
            self.recent.clear();
        }
        self.recent.extend(&heard.values);
        if let Some((newest_s, _)) = self.recent.back().copied() {
            let is_old = |(time_s, _): &(f64, f64)| newest_s - time_s > READING_S;
            while self.recent.front().is_some_and(is_old) {
                self.recent.pop_front();
            }
        }
        Ok(heard)
    }

    fn heard(&mut self, raw: &RawFrame) -> Result<Heard, Error> {
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

/// What a line that was typed answers; none where none was.
fn answer_of(lines: &Lines) -> Result<Option<Answer>, Error> {
    match lines.typed() {
        Some(Typed::Line(line)) if line.trim().is_empty() => Ok(Some(Answer::There)),
        Some(Typed::Line(line)) if line.trim().eq_ignore_ascii_case("b") => Ok(Some(Answer::Back)),
        Some(Typed::Line(line)) => Ok(Some(Answer::Shows(line.trim().to_owned()))),
        Some(Typed::End) => Err(Error::usage(
            "nobody is at the keyboard: each load is told by pressing Enter. Run it on a terminal",
        )),
        None => Ok(None),
    }
}

/// What one frame told.
struct Heard {
    lost: bool,
    values: Vec<(f64, f64)>,
}
