//! In: a seed and faults. Out: a runout check of wall and bar through firmware, wire and analysis.

use holdtrue_metrology::decision::{Figure, Limit, Side};
use holdtrue_metrology::provenance::Provenance;
use holdtrue_metrology::runout::taper::Taper;
use holdtrue_metrology::runout::{
    self, At, Indicator, Place, Plane, Readings, RunoutRecord, RunoutSetup, Stop,
};
use holdtrue_protocol::message::Channels;
use holdtrue_simulated_gauge::operator::turning::Way;
use holdtrue_simulated_gauge::recorder::Recorder;
use holdtrue_simulated_gauge::world::plane;
use holdtrue_simulated_gauge::{Faults, Setup, SimulatedGauge};

use super::tally::Checked;

const RATE_HZ: u16 = 90;

/// Runs one.
///
/// # Errors
/// What kept it from being analysed, in words.
pub fn check(seed: u64, faults: Faults) -> Result<Checked, String> {
    let mut gauge = SimulatedGauge::new(Setup::with_faults(seed, faults));
    let planes = plane::visit_planes(8);
    let mut record = RunoutRecord::default();
    for _ in &planes {
        record.planes.push(read_plane(&mut gauge)?);
    }
    if !gauge.misuses().is_empty() {
        return Err(format!("{:?}", gauge.misuses()));
    }
    let setup = RunoutSetup {
        indicator: Some(Indicator::in_force(1.0)),
        // Service limits on what is the spindle's own: 10 µm at the nose, 25 µm far out.
        limits: vec![spindle_limit(20.0, 10.0), spindle_limit(300.0, 25.0)],
        square_to_wall: Some(Taper::SevenTwentyFour),
        ..RunoutSetup::default()
    };
    let result = runout::analyse(&record, &setup).map_err(|error| error.to_string())?;
    Ok(Checked {
        outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
        hints: result.hints,
        error_percent: 0.0,
        clamps: 0,
        wrong_clamps: 0,
    })
}

fn spindle_limit(height_mm: f64, limit: f64) -> Limit {
    Limit {
        figure: Figure::SpindlePart,
        height_mm: Some(height_mm),
        side: Side::Upper,
        limit,
        unit: "um".to_owned(),
        provenance: Provenance::CommonPractice,
        watch: None,
    }
}

/// Reads one plane, position by position: each reading just before the spindle is turned on.
fn read_plane(gauge: &mut SimulatedGauge) -> Result<Plane, String> {
    const READ_S: f64 = 0.5;
    let channels = Channels {
        displacement: true,
        ..Channels::default()
    };
    let recording = Recorder::new(gauge)
        .record(RATE_HZ, channels, |gauge, recording| {
            let ends_s = gauge.plane().map_or(0.0, |plane| plane.turning().ends_s());
            recording.samples.len() as f64 > (ends_s + 2.5) * f64::from(RATE_HZ)
        })
        .map_err(|failure| format!("{failure:?}"))?;
    let plane = gauge.plane().ok_or("no plane was measured")?;
    let setup = plane.setup();
    let Way::Stepped { stops } = setup.way else {
        return Err("not stepped".to_owned());
    };
    let first_us = recording.samples.first().map_or(0.0, |sample| sample.at_us);
    let readings: Vec<Stop> = plane
        .turning()
        .rests()
        .into_iter()
        .filter(|(from, to, _)| to - from > 1.5)
        .zip(0_u16..)
        .filter_map(|((from, to, _), stop)| {
            let until = to.min(from + 2.4);
            let inside: Vec<f64> = recording
                .samples
                .iter()
                .filter(|sample| {
                    let at = (sample.at_us - first_us) * 1e-6;
                    (until - READ_S..until).contains(&at)
                })
                .filter_map(|sample| Some(f64::from(sample.displacement?) * 0.1))
                .collect();
            let reading_um = inside.iter().sum::<f64>() / inside.len() as f64;
            let angle_deg = f64::from(stop) * 360.0 / f64::from(stops);
            reading_um.is_finite().then_some(Stop {
                angle_deg,
                reading_um,
            })
        })
        .collect();
    let at = match setup.at {
        plane::At::Wall => At::Wall,
        plane::At::Bar => At::Bar,
        plane::At::Face => At::Face,
        plane::At::Axial => At::Axial,
    };
    let bar = at == At::Bar;
    Ok(Plane {
        place: Place {
            at: Some(at),
            height_mm: Some(setup.height_mm),
            seating: bar.then_some(setup.seating),
            orientation_deg: bar.then_some(setup.orientation_deg),
        },
        readings: Readings::Stepped(readings),
    })
}
