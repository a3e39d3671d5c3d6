//! In: raw frames of one stream, and the probe's or indicator's calibration. Out: readings in µm and passes of the mark.

use crate::calibration::quantity;
use crate::capture::{Added, Capture, Shown, fault_words};
use crate::link::RawFrame;
use holdtrue_metrology::runout::Passing;
use holdtrue_protocol::message::{CalibrationRecord, Channel, Channels, Fault};
use holdtrue_terms::units::MICROMETRES_PER_INCH;

/// What one frame added.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Seen {
    /// Readings, in order.
    pub readings: Vec<Passing>,
    /// Rising edges of the mark, s.
    pub edges_s: Vec<f64>,
    /// When the push button at the gauge was pressed, s.
    pub presses_s: Vec<f64>,
    /// What makes this plane worthless: counts were lost, the indicator fell silent.
    pub trouble: Option<&'static str>,
}

/// Builds the readings of one plane.
#[derive(Clone, Debug)]
pub struct DisplacementBuilder {
    calibration: CalibrationRecord,
    capture: Capture,
}

impl DisplacementBuilder {
    /// A stream of this boot of the gauge.
    pub fn new(calibration: CalibrationRecord, boot: u32) -> Self {
        Self {
            calibration,
            capture: Capture::new(boot),
        }
    }

    /// What to ask of the gauge.
    pub fn channels(calibration: &CalibrationRecord, fitted: Channels) -> Channels {
        Channels {
            // An indicator has no clock of its own to count by; whatever else is fitted gives one.
            force: calibration.channel == Channel::Indicator
                && !fitted.displacement
                && fitted.force,
            displacement: fitted.displacement,
            indicator: calibration.channel == Channel::Indicator,
            mark: fitted.mark,
        }
    }

    /// Smallest step of the readings, µm.
    pub fn resolution_um(calibration: &CalibrationRecord) -> f64 {
        calibration.coefficients[1].abs()
    }

    /// Takes one frame.
    pub fn take(&mut self, raw: &RawFrame) -> Seen {
        let Added {
            samples,
            edges,
            shown,
            absurd,
            presses_s,
            ..
        } = self.capture.take(raw);
        let troubles = [
            Fault::ProbeStep,
            Fault::IndicatorSilent,
            Fault::IndicatorGarbled,
        ];
        let trouble = troubles
            .into_iter()
            .find(|fault| samples.iter().any(|sample| sample.faults.contains(*fault)));
        let readings = match self.calibration.channel {
            Channel::Indicator => shown
                .iter()
                .map(|shown| Passing {
                    time_s: shown.time_s,
                    reading_um: shown_um(&self.calibration, shown),
                })
                .collect(),
            _ => samples
                .iter()
                .filter_map(|sample| {
                    let reading_um = quantity(&self.calibration, sample.displacement?);
                    Some(Passing {
                        time_s: sample.time_s,
                        reading_um,
                    })
                })
                .collect(),
        };
        let edges_s = edges
            .iter()
            .filter(|edge| edge.rising)
            .map(|edge| edge.time_s)
            .collect();
        Seen {
            readings,
            edges_s,
            trouble: trouble.map(fault_words).or(absurd),
            presses_s,
        }
    }
}

/// The display's figure in µm, set right by the calibration curve.
pub(crate) fn shown_um(calibration: &CalibrationRecord, shown: &Shown) -> f64 {
    let reading = shown.reading;
    let figure = f64::from(reading.digits) / 10_f64.powi(i32::from(reading.decimals));
    let shown_um = figure
        * if reading.inch {
            MICROMETRES_PER_INCH
        } else {
            1_000.0
        };
    let [a, b, c, d] = calibration.coefficients;
    a + shown_um * (b + shown_um * (c + shown_um * d))
}
