//! In: stops of its program that a gauge tells of, what the book knows of them. Out: which nobody was told of before, and
//! each in words with what to do.

use crate::visits::told;
use crate::visits::told::Told;
use holdtrue_book::{Entity, GaugeHeader, GaugeStop};
use holdtrue_protocol::message::{Stop, StopCause};
use serde_json::{Value, json};

/// What a gauge tells of a stop, as a book keeps it; told on this day.
pub fn kept(stop: &Stop, day: &str) -> GaugeStop {
    GaugeStop {
        boot: stop.boot,
        at_us: stop.at_us,
        image: format!("{:08x}", stop.build),
        cause: word(stop.cause).to_owned(),
        places: places(stop),
        told_on: day.to_owned(),
    }
}

impl Told for GaugeStop {
    fn is_same(&self, other: &Self) -> bool {
        let event = |stop: &Self| (stop.boot, stop.at_us);
        event(self) == event(other) && self.cause == other.cause
    }

    fn day(&mut self) -> &mut String {
        &mut self.told_on
    }
}

/// What a book knows after a gauge has told its history on a day.
pub fn seen(known: &[GaugeStop], history: &[Stop], day: &str) -> Vec<GaugeStop> {
    told::add(known, history.iter().map(|stop| kept(stop, day)))
}

/// All that the book knows of a gauge.
pub fn of(gauge: &Entity<GaugeHeader>) -> Vec<GaugeStop> {
    told::union(gauge.heads.iter().flat_map(|head| &head.header.stops))
}

/// What a program reads of it.
pub fn document(stop: &GaugeStop) -> Value {
    json!({
        "boot": stop.boot,
        "after_s": after_s(stop),
        "image": stop.image,
        "cause": stop.cause,
        "places": stop.places,
    })
}

/// What happened, when and where.
pub fn words(stop: &GaugeStop) -> String {
    let after = after_s(stop).map_or_else(String::new, |after| format!(", after {after:.1} s"));
    let places = match stop.places.as_slice() {
        [] => String::new(),
        places => format!(" at {}", places.join(" ")),
    };
    format!(
        "in its start {}{after}: {} (image {}{places})",
        stop.boot,
        cause_words(&stop.cause),
        stop.image
    )
}

/// What to do after a stop.
pub fn next(stop: &GaugeStop) -> &'static str {
    match stop.cause.as_str() {
        "converter" => {
            "it restarted by itself, its calibration is as it was; see that converter and board are wired firmly, and if it comes \
             again have the gauge repaired"
        }
        _ => {
            "it restarted by itself, its calibration is as it was; load its newest firmware, and if it comes again with that, give \
             this line to whoever built it"
        }
    }
}

/// Seconds since that start; none where only the watchdog's bite is known.
fn after_s(stop: &GaugeStop) -> Option<f64> {
    #[expect(
        clippy::cast_precision_loss,
        reason = "285 years of microseconds are exact"
    )]
    (stop.at_us > 0).then_some(stop.at_us as f64 * 1e-6)
}

fn places(stop: &Stop) -> Vec<String> {
    let addresses = stop.trail.iter();
    addresses.map(|address| format!("{address:08x}")).collect()
}

fn word(cause: StopCause) -> &'static str {
    match cause {
        StopCause::Panic => "panic",
        StopCause::Fault => "fault",
        StopCause::MainLoop => "main-loop",
        StopCause::Converter => "converter",
    }
}

/// A book written by a later release may hold another word: it is told as it stands.
fn cause_words(cause: &str) -> &str {
    match cause {
        "panic" => "its program found what cannot be, and gave up",
        "fault" => "its processor could not go on",
        "main-loop" => "its program hung",
        "converter" => "the part that reads its converter hung",
        other => other,
    }
}
