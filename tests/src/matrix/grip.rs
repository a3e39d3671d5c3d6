//! In: a seed and faults. Out: a grip check through firmware, wire and analysis, as a live check would have run it.

use holdtrue_metrology::decision::{Figure, Limit, Side};
use holdtrue_metrology::grip::limits::{MakersFigure, Shares};
use holdtrue_metrology::grip::record::Sample;
use holdtrue_metrology::grip::record::Travel;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Allowance, Gauge, GripSetup, Standing, Turned};
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_protocol::message::{CalibrationRecord, Channels};
use holdtrue_simulated_gauge::certificate::PROBE_NM_PER_COUNT;
use holdtrue_simulated_gauge::recorder::{Recorder, Recording};
use holdtrue_simulated_gauge::world::drawbar::MAKER_NOMINAL_N;
use holdtrue_simulated_gauge::world::end_face::MAKER_MM;
use holdtrue_simulated_gauge::world::force::TrueClamp;
use holdtrue_simulated_gauge::{Faults, Hold, Setup, SimulatedGauge, certificate};
use holdtrue_terms::vocabulary::{Drawbar, Provenance};

use super::tally::Checked;

/// Clamps a check takes.
const CLAMPS: u32 = 5;
const RATE_HZ: u16 = 330;
const MM_PER_COUNT: f64 = 1e-6 * PROBE_NM_PER_COUNT as f64;
const CALIBRATED_DAYS: i32 = 20_468;

/// Runs one.
///
/// # Errors
/// What kept it from being analysed, in words.
pub fn check(seed: u64, faults: Faults) -> Result<Checked, String> {
    measured(seed, faults, false)
}

/// The same with a probe on the gauge's end face, and the maker's figure for the push-out.
///
/// # Errors
/// As [`check`].
pub fn check_with_push_out(seed: u64, faults: Faults) -> Result<Checked, String> {
    measured(seed, faults, true)
}

fn measured(seed: u64, faults: Faults, push_out: bool) -> Result<Checked, String> {
    let mut gauge = SimulatedGauge::new(Setup {
        end_face: push_out,
        ..Setup::with_faults(seed, faults)
    });
    let channels = Channels {
        force: true,
        displacement: push_out,
        ..Channels::default()
    };
    let whole = |gauge: &SimulatedGauge| {
        gauge
            .true_clamps()
            .iter()
            .filter(|clamp| !clamp.short && !clamp.bumped)
            .count()
    };
    let recording = Recorder::new(&mut gauge)
        // Two clamps more than wanted: some may not count for other reasons.
        .record(RATE_HZ, channels, |gauge, _| {
            whole(gauge) >= CLAMPS as usize + 2
        })
        .map_err(|failure| format!("{failure:?}"))?;
    if !gauge.misuses().is_empty() {
        return Err(format!("{:?}", gauge.misuses()));
    }
    let certificate = certificate::force(CALIBRATED_DAYS);
    let (times, forces) = in_newton(&recording, &certificate);
    let mut setup = grip_setup(faults.hold, &certificate);
    if push_out {
        setup.limits.extend(push_out_limits());
    }
    // As a live check would have ended it.
    let mut watch = Watch::new(Some(CLAMPS), setup);
    let mut travel = recording.displacement_counts().into_iter();
    for (time_s, force_n) in times.into_iter().zip(forces) {
        if let Some(counts) = travel.next() {
            watch.push_travel(Travel {
                time_s,
                mm: Some(f64::from(counts) * MM_PER_COUNT),
            });
        }
        let sample = Sample {
            time_s,
            force_n,
            orientation_deg: None,
        };
        watch.push(sample).map_err(|error| error.to_string())?;
    }
    if !watch.is_done() {
        return Err(format!("{} clamps counted of {CLAMPS}", watch.counted()));
    }
    let end_s = watch.record().time_s().last().copied().unwrap_or_default();
    let result = watch.finish().map_err(|error| error.to_string())?;
    let (clamps, wrong_clamps) = clamps_found_wrong(&gauge, &result, end_s);
    let error_percent = mean_error_percent(&gauge, &result);
    Ok(Checked {
        outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
        clamps,
        wrong_clamps,
        hints: result.hints,
        error_percent,
        planes: 0,
        doubted_planes: 0,
    })
}

/// Clamps truly made in the record, and those missed, listed twice or never made.
fn clamps_found_wrong(gauge: &SimulatedGauge, result: &GripResult, end_s: f64) -> (usize, usize) {
    let listed = result.clamps.iter().filter_map(|clamp| clamp.clamped_s);
    let mut listed: Vec<f64> = listed.collect();
    let mut truth = gauge.true_clamps();
    truth.retain(|clamp| clamp.let_go_s < end_s);
    let mut wrong = 0;
    for clamp in &truth {
        let before = listed.len();
        listed.retain(|at| !(clamp.touch_s..clamp.let_go_s).contains(at));
        wrong += (before - listed.len()).abs_diff(1);
    }
    (truth.len(), wrong + listed.len())
}

fn in_newton(recording: &Recording, certificate: &CalibrationRecord) -> (Vec<f64>, Vec<f64>) {
    let (times, counts) = recording.force_counts();
    let [constant, slope, ..] = certificate.coefficients;
    (
        times,
        counts
            .iter()
            .map(|counts| constant + slope * f64::from(*counts))
            .collect(),
    )
}

/// What the invented maker states.
fn push_out_limits() -> [Limit; 2] {
    let [least, most] = MAKER_MM;
    [(Side::Lower, least), (Side::Upper, most)].map(|(side, limit)| Limit {
        side,
        ..Limit::on(Figure::PushOut, limit, Provenance::Maker)
    })
}

fn grip_setup(hold: Hold, certificate: &CalibrationRecord) -> GripSetup {
    let interface = "7/24-40".parse().ok();
    GripSetup {
        // As live: the gauge was seen free before the first clamp.
        at_spindle: true,
        nominal_n: Some(MAKER_NOMINAL_N),
        limits: MakersFigure {
            nominal_n: Some(MAKER_NOMINAL_N),
            minimum_n: None,
        }
        .limits(Shares::usual(false)),
        interface,
        drawbar: match hold {
            Hold::DiscSprings => Drawbar::DiscSprings,
            Hold::GasSpring => Drawbar::GasSpring,
            Hold::Hydraulic => Drawbar::Hydraulic,
        },
        gauge: Gauge {
            standing: Standing::InForce,
            expanded_percent: Some(100.0 * certificate.expanded_relative),
            expanded_n: Some(certificate.expanded_fixed),
            span_n: Some(certificate.span),
            resolution_n: None,
            rated_load_n: Some(certificate.rated),
        },
        allowances: Allowance::usual(interface),
        // The operator turns the gauge half round from clamp to clamp.
        turned: (1..=20)
            .map(|number| Turned {
                number,
                orientation_deg: if number % 2 == 1 { 0.0 } else { 180.0 },
            })
            .collect(),
        ..GripSetup::default()
    }
}

/// The mean found against the mean truly pulled in the same windows, %.
fn mean_error_percent(gauge: &SimulatedGauge, result: &GripResult) -> f64 {
    let truth = gauge.true_clamps();
    let (mut found, mut pulled) = (0.0, 0.0);
    for clamp in result.clamps.iter().filter(|clamp| clamp.counted) {
        let (Some([from, to]), Some(settled)) = (clamp.window_s, clamp.settled_n) else {
            continue;
        };
        let inside = |clamp: &&TrueClamp| (clamp.touch_s..clamp.let_go_s).contains(&from);
        if let Some(clamp) = truth.iter().find(inside) {
            found += settled;
            pulled += clamp.mean_pull_n(from, to);
        }
    }
    if pulled > 0.0 {
        100.0 * (found / pulled - 1.0)
    } else {
        100.0
    }
}
