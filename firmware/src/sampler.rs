//! Conversions go in, sample blocks and fault changes go out into the outbox.
//!
//! Numbers every sample since the start command, so that one missing anywhere shows as a step; marks every block with
//! the faults in force; closes a block where they change, where a number is missing, and after [`MAX_AGE_US`].

use holdtrue_protocol::block::{BlockEncoder, Taken};
use holdtrue_protocol::message::{Channels, Fault, FaultChange, Faults, FromGauge};

use crate::lines::Conversion;
use crate::outbox::{Kind, Outbox, Room};

/// A block is sent when its first sample is this old, microseconds: the screen must follow at low rates, too.
pub const MAX_AGE_US: u64 = 50_000;
/// A fault that comes with single samples lasts this long after the last of them, microseconds, so that a signal at
/// the edge does not chop the stream into blocks of one.
pub const HOLD_US: u64 = 20_000;
/// The converter is silent after three periods and this, microseconds.
pub const SILENCE_MARGIN_US: u64 = 20_000;

/// Faults that single samples show.
const SAMPLE_FAULTS: [Fault; 3] = [Fault::Saturated, Fault::Overload, Fault::ProbeStep];

/// The bit of a fault.
#[must_use]
pub const fn bit(fault: Fault) -> u16 {
    1 << fault as u16
}

/// Makes the stream of one start command.
#[derive(Clone, Debug)]
pub struct Sampler {
    encoder: BlockEncoder,
    boot: u32,
    channels: Channels,
    next_number: u64,
    before: Option<Before>,
    sign_of_life_us: u64,
    period_us_256: u64,
    faults: Faults,
    held_until_us: [u64; SAMPLE_FAULTS.len()],
}

#[derive(Clone, Copy, Debug)]
struct Before {
    stamp: u32,
    at_us: u64,
    bad_steps: u16,
}

impl Sampler {
    /// A stream about to begin.
    #[must_use]
    pub fn new(boot: u32, channels: Channels, rate_hz: u16, now_us: u64) -> Self {
        Self {
            encoder: BlockEncoder::new(),
            boot,
            channels,
            next_number: 0,
            before: None,
            sign_of_life_us: now_us,
            period_us_256: 256_000_000 / u64::from(rate_hz.max(1)),
            faults: Faults(0),
            held_until_us: [0; SAMPLE_FAULTS.len()],
        }
    }

    /// Samples since the start, sent or not.
    #[must_use]
    pub const fn samples(&self) -> u64 {
        self.next_number
    }

    /// Whether a fault is in force.
    #[must_use]
    pub const fn has(&self, fault: Fault) -> bool {
        self.faults.0 & bit(fault) != 0
    }

    /// Whether any fault is in force.
    #[must_use]
    pub const fn has_any(&self) -> bool {
        self.faults.0 != 0
    }

    /// Takes a conversion read at `at_us`, which may be an overload.
    pub fn take<R: Room>(
        &mut self,
        conversion: &Conversion,
        at_us: u64,
        overload: bool,
        outbox: &mut Outbox<R>,
    ) {
        let stamp = conversion.stamp;
        self.next_number += self.skipped(stamp.number, at_us);
        let stepped_badly = self
            .before
            .is_some_and(|before| before.bad_steps != stamp.bad_steps);
        self.before = Some(Before {
            stamp: stamp.number,
            at_us,
            bad_steps: stamp.bad_steps,
        });
        self.set(Fault::AdcSilent, false, at_us, outbox);
        let shown = [
            conversion.saturated && self.channels.force,
            overload && self.channels.force,
            stepped_badly && self.channels.displacement,
        ];
        for (place, (fault, shown)) in SAMPLE_FAULTS.into_iter().zip(shown).enumerate() {
            self.hold(place, fault, shown, at_us, outbox);
        }
        self.encode(
            &Taken {
                boot: self.boot,
                number: self.next_number,
                at_us,
                force: self.channels.force.then_some(conversion.counts),
                displacement: self.channels.displacement.then_some(stamp.displacement),
                faults: self.faults,
            },
            outbox,
        );
        self.next_number += 1;
    }

    /// A fault begins or ends with the next sample.
    pub fn set<R: Room>(&mut self, fault: Fault, active: bool, at_us: u64, outbox: &mut Outbox<R>) {
        if self.has(fault) == active {
            return;
        }
        self.close(outbox);
        self.faults.0 ^= bit(fault);
        outbox.send(
            Kind::Event,
            &FromGauge::Fault(FaultChange {
                boot: self.boot,
                at_sample: self.next_number,
                at_us,
                fault,
                active,
            }),
        );
    }

    /// Whether the converter has been silent for too long.
    #[must_use]
    pub fn is_silent(&self, now_us: u64) -> bool {
        let limit_us = 3 * self.period_us_256 / 256 + SILENCE_MARGIN_US;
        now_us > self.sign_of_life_us + limit_us
    }

    /// The converter's silence counts from here: it was just heard, or had another task until now.
    pub fn resume(&mut self, now_us: u64) {
        self.sign_of_life_us = now_us;
    }

    /// Sends a block that has waited long enough.
    pub fn send_if_old<R: Room>(&mut self, now_us: u64, outbox: &mut Outbox<R>) {
        let old = self
            .encoder
            .block()
            .is_some_and(|block| now_us >= block.first_us + MAX_AGE_US);
        if old {
            self.close(outbox);
        }
    }

    /// Sends what there is.
    pub fn close<R: Room>(&mut self, outbox: &mut Outbox<R>) {
        if let Some(block) = self.encoder.block() {
            outbox.send(Kind::Block, &FromGauge::Block(block));
            self.encoder.clear();
        }
    }

    /// How many samples lie missing before the one stamped so: by the stamps' numbers, and where data-ready itself
    /// went unseen, by the time passed.
    fn skipped(&mut self, stamp: u32, at_us: u64) -> u64 {
        let Some(before) = self.before else {
            return 0;
        };
        let by_number = u64::from(stamp.wrapping_sub(before.stamp).max(1));
        let passed_us_256 = at_us.saturating_sub(before.at_us) * 256;
        let by_time = (passed_us_256 + self.period_us_256 / 2) / self.period_us_256.max(1);
        let steps = by_number.max(by_time);
        if steps == 1 {
            self.learn_period(passed_us_256);
        }
        steps - 1
    }

    /// The converter's oscillator is its own: follow what it does, slowly.
    fn learn_period(&mut self, passed_us_256: u64) {
        self.period_us_256 = (15 * self.period_us_256 + passed_us_256) / 16;
    }

    fn hold<R: Room>(
        &mut self,
        place: usize,
        fault: Fault,
        shown: bool,
        at_us: u64,
        outbox: &mut Outbox<R>,
    ) {
        if shown {
            self.held_until_us[place] = at_us + HOLD_US;
        }
        self.set(fault, at_us < self.held_until_us[place], at_us, outbox);
    }

    fn encode<R: Room>(&mut self, sample: &Taken, outbox: &mut Outbox<R>) {
        if sample.force.is_none() && sample.displacement.is_none() {
            return;
        }
        if !self.encoder.push(sample) {
            self.close(outbox);
            let _ = self.encoder.push(sample); // an empty one takes any sample
        }
        if self.encoder.is_full() {
            self.close(outbox);
        } else {
            self.send_if_old(sample.at_us, outbox);
        }
    }
}
