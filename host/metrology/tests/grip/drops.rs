//! The drop while held: one that goes on is never within limit, one that dies out or is the gauge's own is none.

use crate::words::{remedy, said};
use holdtrue_metrology::decision::Figure;
use holdtrue_metrology::grip::limits::lower;
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Gauge, GripSetup};
use holdtrue_metrology::grip::{analyse, analyse_readings};
use holdtrue_metrology::hint::Cause;
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::vocabulary::{Drawbar, Outcome, Provenance};

/// A check at 10 kN: how long each clamp was held, and what shapes it.
struct Check<'a> {
    holds_s: &'a [f64],
    rate_hz: f64,
    noise_n: f64,
    /// Force of a clamp (from 0) after so long, N.
    force_n: &'a dyn Fn(usize, f64) -> f64,
    /// Reading of the free gauge after so long in the taper, all clamps together, N.
    zero_n: &'a dyn Fn(f64) -> f64,
}

const USUAL_S: [f64; 5] = [5.2, 5.6, 5.1, 5.4, 5.3];
const ONE_LONG_S: [f64; 5] = [5.2, 5.6, 5.1, 5.4, 30.4];

fn steady(_held_s: f64) -> f64 {
    25.0
}

impl<'a> Check<'a> {
    fn of(holds_s: &'a [f64], force_n: &'a dyn Fn(usize, f64) -> f64) -> Self {
        Self {
            holds_s,
            rate_hz: 200.0,
            noise_n: 6.0,
            force_n,
            zero_n: &steady,
        }
    }

    fn record(&self) -> ForceRecord {
        let (mut times, mut forces) = (Vec::new(), Vec::new());
        let mut in_taper_s = 0.0;
        let mut noise = 0x9e37_79b9_7f4a_7c15_u64;
        let mut push = |force_n: f64, zero_n: f64| {
            noise = noise
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(99);
            let unit = (noise >> 33) as f64 / f64::from(1_u32 << 31) - 0.5;
            times.push(times.len() as f64 / self.rate_hz);
            forces.push(force_n + zero_n + 3.46 * self.noise_n * unit);
        };
        let samples = |length_s: f64| {
            let rate_hz = self.rate_hz;
            (0_u32..)
                .map(move |number| f64::from(number) / rate_hz)
                .take_while(move |&at_s| at_s < length_s)
        };
        for (clamp, &hold_s) in self.holds_s.iter().enumerate() {
            samples(2.6).for_each(|_| push(0.0, (self.zero_n)(in_taper_s)));
            for held_s in samples(hold_s) {
                let risen = (held_s / 0.06).min(1.0);
                push(
                    risen * (self.force_n)(clamp, held_s),
                    (self.zero_n)(in_taper_s + held_s),
                );
            }
            in_taper_s += hold_s;
        }
        samples(2.6).for_each(|_| push(0.0, (self.zero_n)(in_taper_s)));
        ForceRecord::new(&times, &forces).unwrap()
    }

    fn judged(&self) -> Verdict {
        self.by(&setup()).verdict.unwrap()
    }

    fn by(&self, setup: &GripSetup) -> GripResult {
        analyse(&self.record(), setup).unwrap()
    }
}

fn setup() -> GripSetup {
    GripSetup {
        limits: vec![lower(Figure::GripMean, 7_000.0, Provenance::Maker, None)],
        gauge: Gauge::stated(0.5),
        ..GripSetup::default()
    }
}

#[track_caller]
fn is_within(check: &Check<'_>) {
    let verdict = check.judged();
    assert_eq!(verdict.outcome, Outcome::Accept, "{:?}", verdict.reasons);
}

#[track_caller]
fn is_held_back(check: &Check<'_>, says: &str) {
    let verdict = check.judged();
    assert_eq!(verdict.outcome, Outcome::Undecided, "{:?}", verdict.reasons);
    assert!(
        said(&verdict.reasons)[0].contains(says),
        "{:?}",
        verdict.reasons
    );
}

#[test]
fn a_drop_that_goes_on_is_undecided_whatever_holds_the_tool() {
    let leaking = |_, held_s: f64| 10_000.0 - 65.0 * held_s;
    for holds_s in [&USUAL_S, &ONE_LONG_S] {
        let check = Check::of(holds_s, &leaking);
        for drawbar in [
            Drawbar::Unknown,
            Drawbar::DiscSprings,
            Drawbar::GasSpring,
            Drawbar::Hydraulic,
        ] {
            let by = |setup: GripSetup| check.by(&GripSetup { drawbar, ..setup });
            let verdict = by(setup()).verdict.unwrap();
            assert_eq!(verdict.outcome, Outcome::Undecided, "{drawbar:?}");
            // 9 870 N two seconds after clamping, 2 870 N above the limit, 65 N/s.
            let told = "drops 0.66 % a second: at this rate below the limit in 45 s; do not run until the cause is found";
            assert_eq!(said(&verdict.reasons)[0], told);
            let because = GripSetup {
                drop_because: Some("accumulator empty, known to the owner".to_owned()),
                ..setup()
            };
            let named = by(because).verdict.unwrap();
            assert_eq!(named.outcome, Outcome::Accept, "{:?}", named.reasons);
            assert!(
                said(&named.reasons)[0].contains("accumulator empty"),
                "{:?}",
                named.reasons
            );
        }
    }
}

#[test]
fn a_force_below_its_limit_stays_outside_and_the_drop_is_said() {
    let check = Check::of(&USUAL_S, &|_, held_s: f64| 6_000.0 - 40.0 * held_s);
    let verdict = check.judged();
    assert_eq!(verdict.outcome, Outcome::Reject);
    assert!(
        said(&verdict.reasons)[0].starts_with("drops 0.68 % a second: do not run"),
        "{verdict:?}"
    );
}

#[test]
fn what_is_slower_than_a_thousandth_a_second_is_within_limit() {
    for n_per_s in [5.0, 0.0, -5.0, -40.0] {
        let force = |_, held_s: f64| 10_000.0 - n_per_s * held_s;
        is_within(&Check::of(&USUAL_S, &force));
        is_within(&Check::of(&ONE_LONG_S, &force));
    }
}

#[test]
fn a_single_clamp_that_drops_is_the_news() {
    let second = |clamp, held_s: f64| 10_000.0 - if clamp == 1 { 60.0 * held_s } else { 0.0 };
    is_held_back(&Check::of(&USUAL_S, &second), "clamp 2 drops 0.6");
    is_held_back(&Check::of(&ONE_LONG_S, &second), "clamp 2 drops 0.6");
}

#[test]
fn a_drop_that_only_the_long_hold_shows_is_seen() {
    let late = |_, held_s: f64| 10_000.0 - 30.0 * (held_s - 6.0).max(0.0);
    is_within(&Check::of(&USUAL_S, &late));
    is_held_back(&Check::of(&ONE_LONG_S, &late), "clamp 5 drops");
    let growing = |_, held_s: f64| 10_000.0 - 2.0 * held_s * held_s;
    is_held_back(&Check::of(&ONE_LONG_S, &growing), "drops");
}

#[test]
fn settling_that_dies_out_is_no_drop() {
    let quick = |_, held_s: f64| 10_000.0 * (1.0 + 0.02 * (-held_s / 0.6).exp());
    is_within(&Check::of(&USUAL_S, &quick));
    is_within(&Check::of(&ONE_LONG_S, &quick));
    // One that takes seconds looks like a leak until a long hold shows its end.
    let slow = |_, held_s: f64| 10_000.0 * (1.0 + 0.02 * (-held_s / 2.0).exp());
    is_held_back(&Check::of(&USUAL_S, &slow), "drops");
    let remedy = remedy(&Check::of(&USUAL_S, &slow).judged());
    assert!(remedy.contains("one clamp held for 30 s"), "{remedy:?}");
    is_within(&Check::of(&ONE_LONG_S, &slow));
}

#[test]
fn a_zero_that_moves_while_the_gauge_warms_is_no_drop() {
    for rate in [-12.0, 12.0] {
        let warming = |in_taper_s: f64| rate * in_taper_s;
        for holds_s in [&USUAL_S, &ONE_LONG_S] {
            let check = Check {
                zero_n: &warming,
                ..Check::of(holds_s, &|_, _| 10_000.0)
            };
            // Its zero ends up far enough from 0 N to be asked about; the answer is that it was free.
            let as_read = GripSetup {
                as_read: true,
                ..setup()
            };
            let verdict = check.by(&as_read).verdict.unwrap();
            assert_eq!(verdict.outcome, Outcome::Accept, "{:?}", verdict.reasons);
        }
    }
}

#[test]
fn a_coarse_and_noisy_record_shows_a_drop_by_all_its_clamps_together() {
    let leaking = |_, held_s: f64| 10_000.0 - 45.0 * held_s;
    let noisy = Check {
        rate_hz: 40.0,
        noise_n: 90.0,
        ..Check::of(&USUAL_S, &leaking)
    };
    is_held_back(&noisy, "drops 0.4");
    let sound = Check {
        rate_hz: 40.0,
        noise_n: 90.0,
        ..Check::of(&USUAL_S, &|_, _| 10_000.0)
    };
    is_within(&sound);
}

#[test]
fn the_kind_of_drawbar_chooses_only_the_words() {
    let leaking = |_, held_s: f64| 10_000.0 - 65.0 * held_s;
    let check = Check::of(&USUAL_S, &leaking);
    let words = |drawbar| {
        let result = check.by(&GripSetup { drawbar, ..setup() });
        let causes: Vec<Cause> = result.hints.iter().map(|hint| hint.cause).collect();
        (causes, said(&result.notes).join("; "))
    };
    assert_eq!(words(Drawbar::Hydraulic).0, [Cause::Leak]);
    for drawbar in [Drawbar::DiscSprings, Drawbar::GasSpring, Drawbar::Unknown] {
        assert_eq!(words(drawbar).0, [], "{drawbar:?}");
    }
    assert!(
        words(Drawbar::DiscSprings)
            .1
            .contains("on a spring drawbar not a leak")
    );
    assert!(words(Drawbar::GasSpring).1.contains("over weeks"));
    let unknown = words(Drawbar::Unknown).1;
    assert!(unknown.contains("drops while held"), "{unknown}");
    assert!(
        !unknown.contains("spring") && !unknown.contains("leak"),
        "{unknown}"
    );
    // One rule: what is no drop for the verdict is no leak for a hint.
    let tight = Check::of(&ONE_LONG_S, &|_, held_s: f64| 10_000.0 - 6.0 * held_s);
    let oil = GripSetup {
        drawbar: Drawbar::Hydraulic,
        ..setup()
    };
    assert!(tight.by(&oil).hints.is_empty());
}

#[test]
fn without_a_long_hold_a_slow_drop_counts_as_not_examined() {
    let note = |result: &GripResult| {
        said(&result.notes)
            .iter()
            .any(|note| note.starts_with("slow drop not examined"))
    };
    assert!(note(&Check::of(&USUAL_S, &|_, _| 10_000.0).by(&setup())));
    assert!(!note(
        &Check::of(&ONE_LONG_S, &|_, _| 10_000.0).by(&setup())
    ));
    assert!(note(
        &analyse_readings(&[9_900.0, 9_950.0, 9_920.0], &setup()).unwrap()
    ));
}

#[test]
fn a_cause_named_for_a_drop_that_is_none_is_said() {
    let because = GripSetup {
        drop_because: Some("check valve".to_owned()),
        ..setup()
    };
    let verdict = Check::of(&USUAL_S, &|_, _| 10_000.0)
        .by(&because)
        .verdict
        .unwrap();
    assert_eq!(verdict.outcome, Outcome::Accept);
    assert!(
        said(&verdict.reasons)
            .iter()
            .any(|reason| reason.contains("no drop was found"))
    );
}
