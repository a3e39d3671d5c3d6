//! In: what a gauge is built from, what its calibration was made on, how far its shunt moves the reading. Out: what
//! differs between the two, and the step that is to be expected.
//!
//! A calibration holds for one converter, one gain and one bridge: with anything else its figures are wrong by whatever
//! changed, and nothing in the stream would show it.

use holdtrue_metrology::gauge_check::shunt::calibration_bound;
use holdtrue_protocol::message::{Binding, Converter, Hardware, Reference};

/// The gain of every gauge that cannot tell its own.
pub const USUAL_GAIN: u16 = 128;
/// How a gauge and the force calibration in it belong together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Belonging {
    /// What the gauge is built from; none where its firmware does not tell.
    pub hardware: Option<Hardware>,
    /// What the calibration was made on; none where it was stored without.
    pub made_on: Option<Binding>,
}

/// Something that is not as it was at the calibration.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// What.
    pub part: &'static str,
    /// At the calibration.
    pub then: String,
    /// In this gauge.
    pub now: String,
    /// What to do, no sentence of its own.
    pub next: &'static str,
}

impl std::fmt::Display for Difference {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self {
            part,
            then,
            now,
            next,
        } = self;
        write!(f, "{part}: calibrated with {then}, now {now}; {next}")
    }
}

impl Belonging {
    /// The gain the bridge is read with.
    pub fn gain(&self) -> u16 {
        self.converter().map_or(USUAL_GAIN, |now| now.gain)
    }

    /// This gauge's converter, where it tells.
    pub fn converter(&self) -> Option<&Converter> {
        self.hardware.as_ref()?.converter.as_ref()
    }

    /// What differs; empty where nothing is known. A calibration stored without what it was made on was made with the
    /// only full scale there was then.
    pub fn differences(&self) -> Vec<Difference> {
        let Some(now) = self.converter() else {
            return Vec::new();
        };
        let then = self.made_on.as_ref().map(|made_on| &made_on.converter);
        let mut differences = Vec::new();
        let scale = then.map_or((USUAL_GAIN, Reference::Bridge), |then| {
            (then.gain, then.reference)
        });
        if scale != (now.gain, now.reference) {
            differences.push(Difference {
                part: "full scale",
                then: full_scale(scale.0, scale.1),
                now: full_scale(now.gain, now.reference),
                next: "load the firmware it was calibrated with again, or have the gauge calibrated as it is",
            });
        }
        let of_board = |of: &Converter| format!("{} on board {}", of.kind, board(of));
        if let Some(then) = then.filter(|then| (&then.kind, then.board) != (&now.kind, now.board)) {
            differences.push(Difference {
                part: "converter",
                then: of_board(then),
                now: of_board(now),
                next: "it is another gauge's calibration, or the board was exchanged: store this gauge's own, or have it calibrated as it is",
            });
        }
        differences
    }

    /// How far the shunt moved the reading at the calibration, counts with sign.
    pub fn step_then(&self) -> Option<f64> {
        Some(f64::from(self.made_on.as_ref()?.shunt_step?))
    }

    /// In words: what the calibration belongs to.
    pub fn words(&self) -> String {
        match (&self.made_on, &self.hardware) {
            (Some(Binding { converter, .. }), _) => format!(
                "bound to {}, {} on board {}",
                full_scale(converter.gain, converter.reference),
                converter.kind,
                board(converter)
            ),
            (None, Some(_)) => {
                "not bound to this hardware: stored before gauges kept what a calibration was made on; enter the certificate again"
                    .to_owned()
            }
            (None, None) => {
                "not bound to any hardware: this gauge's firmware does not tell its own; update it"
                    .to_owned()
            }
        }
    }
}

/// What is to be done where bridge, resistor or wires are not those of the calibration.
pub const OTHER_BRIDGE: &str = "load cell, cable, shunt or converter are not those of the calibration: put them back, or have the gauge \
     calibrated as it is";

/// Whether the shunt moves the reading otherwise than at the calibration; `now` none where the gauge has none any more.
pub fn bridge_differs(then: f64, now: Option<f64>) -> Option<Difference> {
    let same = now.is_some_and(|now| (now - then).abs() <= calibration_bound(then));
    (!same).then(|| Difference {
        part: "step with the shunt",
        then: format!("{then:.0} counts"),
        now: now.map_or("without a shunt".to_owned(), |now| {
            format!("{now:.0} counts")
        }),
        next: OTHER_BRIDGE,
    })
}

/// What the end of the converter's range stands for.
fn full_scale(gain: u16, reference: Reference) -> String {
    let of = match reference {
        Reference::Bridge => {
            let mv_per_v = 1_000.0 / f64::from(gain);
            return format!("± {mv_per_v:.2} mV/V (gain {gain})");
        }
        Reference::Internal => "the converter's own reference",
        Reference::External => "a reference brought to it",
        Reference::Supply => "the converter's supply",
    };
    format!("gain {gain} against {of}")
}

/// A board's number as people read it.
pub fn board(converter: &Converter) -> String {
    let digits = converter.board.iter().map(|byte| format!("{byte:02X}"));
    digits.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn converter(gain: u16, board: u8) -> Converter {
        Converter {
            kind: "ADS1220".try_into().unwrap(),
            board: [board; 8],
            gain,
            reference: Reference::Bridge,
        }
    }

    fn belonging(now: Converter, then: Option<Converter>) -> Belonging {
        Belonging {
            hardware: Some(Hardware {
                build: 1,
                converter: Some(now),
            }),
            made_on: then.map(|converter| Binding {
                converter,
                shunt_step: None,
            }),
        }
    }

    fn parts(belonging: &Belonging) -> Vec<&'static str> {
        let differences = belonging.differences();
        differences.iter().map(|one| one.part).collect()
    }

    #[test]
    fn gain_and_board_differ_both_ways_and_equal_ones_do_not() {
        for (now, then, differ) in [
            (converter(128, 1), converter(128, 1), vec![]),
            (converter(64, 1), converter(128, 1), vec!["full scale"]),
            (converter(128, 1), converter(64, 1), vec!["full scale"]),
            (converter(64, 1), converter(64, 1), vec![]),
            (converter(128, 1), converter(128, 2), vec!["converter"]),
            (converter(128, 2), converter(128, 1), vec!["converter"]),
        ] {
            assert_eq!(parts(&belonging(now, Some(then))), differ);
        }
    }

    #[test]
    fn a_record_that_is_not_bound_is_held_to_the_only_full_scale_there_was() {
        assert!(parts(&belonging(converter(128, 1), None)).is_empty());
        assert_eq!(parts(&belonging(converter(64, 1), None)), ["full scale"]);
        assert!(Belonging::default().differences().is_empty());
    }

    #[test]
    fn the_reference_belongs_to_the_full_scale() {
        let inside = Converter {
            reference: Reference::Internal,
            ..converter(128, 1)
        };
        let differences = belonging(inside, Some(converter(128, 1))).differences();
        assert!(differences[0].now.contains("own reference"));
    }
}
