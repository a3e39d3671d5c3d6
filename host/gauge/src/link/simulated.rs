//! In: the simulated gauge. Out: a [`Link`] in this process, on virtual time.
//!
//! No thread and no waiting: virtual time passes only while somebody receives, so nothing is ever lost.

use crate::link::{Damage, Link, LinkError, RawFrame};
use holdtrue_protocol::frame;
use holdtrue_protocol::frame::{FRAME_END, MAX_FRAME};
use holdtrue_protocol::message::ToGauge;
use holdtrue_protocol::stream::Decoder;
use holdtrue_simulated_gauge::gauge::SimulatedGauge;
use std::collections::VecDeque;
use std::time::Duration;

/// A simulated gauge at the end of a simulated cable.
pub struct SimulatedLink {
    gauge: SimulatedGauge,
    decoder: Decoder,
    ready: VecDeque<RawFrame>,
    to_write: VecDeque<u8>,
}

impl SimulatedLink {
    /// Plugs the gauge in.
    pub fn new(mut gauge: SimulatedGauge) -> Self {
        gauge.on_connect();
        let to_write = VecDeque::from([FRAME_END]);
        Self {
            gauge,
            decoder: Decoder::new(),
            ready: VecDeque::new(),
            to_write,
        }
    }

    /// The gauge at the other end, for what may happen to it.
    pub fn gauge(&mut self) -> &mut SimulatedGauge {
        &mut self.gauge
    }

    fn write_waiting(&mut self) {
        let bytes: Vec<u8> = self.to_write.iter().copied().collect();
        let taken = self.gauge.write(&bytes);
        self.to_write.drain(..taken);
    }

    fn read_ready(&mut self) {
        let mut buffer = [0; 4096];
        loop {
            let length = self.gauge.read(&mut buffer);
            if length == 0 {
                return;
            }
            for &byte in &buffer[..length] {
                let plain = self
                    .decoder
                    .push_from_gauge(byte)
                    .and_then(|received| crate::link::serial::whole(&received));
                self.ready.extend(plain.map(RawFrame));
            }
        }
    }
}

impl Link for SimulatedLink {
    fn receive(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        const STEP_US: u64 = 1_000;
        let until = self.elapsed() + wait;
        loop {
            self.read_ready();
            if let Some(frame) = self.ready.pop_front() {
                return Ok(Some(frame));
            }
            if self.elapsed() >= until {
                return Ok(None);
            }
            self.write_waiting();
            self.gauge.advance_to_bytes(STEP_US);
        }
    }

    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError> {
        let mut buffer = [0; MAX_FRAME];
        let bytes = frame::encode_frame(message, &mut buffer).map_err(|error| LinkError::Io {
            port: self.name().to_owned(),
            found: error.to_string(),
        })?;
        self.to_write.extend(bytes);
        self.write_waiting();
        Ok(())
    }

    fn elapsed(&self) -> Duration {
        Duration::from_micros(self.gauge.now_us())
    }

    fn name(&self) -> &'static str {
        "simulated gauge"
    }

    fn damage(&self) -> Damage {
        let counts = self.decoder.counts();
        Damage {
            damaged: counts.damaged,
            over_long: counts.over_long,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::capture::Capture;
    use crate::session::Session;
    use holdtrue_protocol::message::{Channel, Channels};
    use holdtrue_simulated_gauge::condition::Condition;
    use holdtrue_simulated_gauge::gauge::Setup;

    #[test]
    fn a_session_identifies_the_gauge_and_streams_without_loss() {
        let gauge = SimulatedGauge::new(Setup::new(1, Condition::Sound));
        let mut session = Session::open(Box::new(SimulatedLink::new(gauge))).unwrap();
        assert!(session.hello().fitted.force);
        assert!(session.calibration(Channel::Force).unwrap().is_some());
        let started = session
            .start(
                1_000,
                Channels {
                    force: true,
                    ..Channels::default()
                },
            )
            .unwrap();
        let mut capture = Capture::new(started.boot);
        let mut samples = Vec::new();
        while samples.len() < 5_000 {
            if let Some(raw) = session.next(Duration::from_millis(100)).unwrap() {
                samples.extend(capture.take(&raw).samples);
            }
        }
        assert_eq!(capture.lost_samples(), 0);
        let rate_hz = 4_999.0 / (samples[4_999].time_s - samples[0].time_s);
        assert!(
            (rate_hz / 1_000.0 - 1.0).abs() < 0.021,
            "{rate_hz} Hz: the chip's own oscillator is within 2 %"
        );
        session.stop().unwrap();
    }
}
