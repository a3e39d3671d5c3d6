//! The operator of a stepped plane follows the gauge's light and nothing else, and answers with his hands and the button:
//! all through the real firmware, as a host in small sees it.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use holdtrue_protocol::message::{Channels, Command, Press, Signal};
use holdtrue_simulated_gauge::operator::light::takes_s;
use holdtrue_simulated_gauge::operator::stepping::StepHabits;
use holdtrue_simulated_gauge::operator::turning::Way;
use holdtrue_simulated_gauge::recorder::{Next, Recorder, Recording};
use holdtrue_simulated_gauge::world::plane::{At, PlaneSetup, PlaneWorld, Prescribed};
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};

const RATE_HZ: u16 = 330;
const STOPS: u16 = 8;
const PROBE: Channels = Channels {
    force: false,
    displacement: true,
    mark: false,
    indicator: false,
};

fn setup(seed: u64, stepping: StepHabits) -> Setup {
    let mut setup = Setup::new(seed, Condition::Sound);
    setup.planes = vec![PlaneSetup {
        at: At::Bar,
        height_mm: 300.0,
        seating: 1,
        orientation_deg: 0.0,
        way: Way::Stepped { stops: STOPS },
    }];
    setup.stepping = stepping;
    setup
}

const FAULTLESS: StepHabits = StepHabits {
    follows_light: true,
    presses: true,
    mishaps: false,
    presses_again: true,
    overlooks: 0.0,
};
const SILENT: StepHabits = StepHabits {
    presses: false,
    ..FAULTLESS
};

/// Seconds since the first sample, as far as the host has heard.
fn heard_s(recording: &Recording) -> f64 {
    let ends = recording.samples.first().zip(recording.samples.last());
    ends.map_or(0.0, |(first, last)| (last.at_us - first.at_us) * 1e-6)
}

/// When a press was, seconds since the first sample.
fn pressed_s(recording: &Recording, press: &Press) -> f64 {
    press.at_us as f64 * 1e-6 - recording.samples[0].at_us * 1e-6
}

/// A plane whose light shows these at these times (seconds since the first sample heard), after `first` from before.
fn shown(
    gauge: &mut SimulatedGauge,
    first: Signal,
    shows: &[(f64, Signal)],
    until_s: f64,
) -> Recording {
    let mut host = Recorder::new(gauge);
    host.ask(Command::Show(first)).unwrap();
    let mut shows = shows.iter();
    let mut coming = shows.next();
    let recording = host.lead(RATE_HZ, PROBE, |_, recording| {
        let now_s = heard_s(recording);
        match coming {
            Some(&(at_s, signal)) if now_s >= at_s => {
                coming = shows.next();
                Next::Show(signal)
            }
            _ if now_s >= until_s => Next::Stop,
            _ => Next::Go,
        }
    });
    assert!(gauge.misuses().is_empty(), "{:?}", gauge.misuses());
    recording.unwrap()
}

/// Angles at which the spindle stood for longer than a moment, in steps.
fn stood_at(plane: &PlaneWorld) -> Vec<i32> {
    plane
        .turning()
        .rests()
        .iter()
        .filter(|rest| rest.1 - rest.0 > 0.3)
        .map(|rest| {
            let steps = rest.2 * f64::from(STOPS) / 360.0;
            assert!((steps - steps.round()).abs() < 0.15, "{rest:?}");
            #[expect(clippy::cast_possible_truncation, reason = "a few")]
            let step = steps.round() as i32;
            step
        })
        .collect()
}

/// One round led by button: hold until the first press; after each press taken, then turn. Gives the presses answered.
fn by_button(gauge: &mut SimulatedGauge, positions: usize) -> (Recording, Vec<Press>) {
    let mut host = Recorder::new(gauge);
    host.ask(Command::Show(Signal::Hold)).unwrap();
    let mut answered: Vec<Press> = Vec::new();
    let mut taken_until_s = None;
    let recording = host
        .lead(RATE_HZ, PROBE, |_, recording| {
            let now_s = heard_s(recording);
            if now_s > 200.0 {
                return Next::Stop;
            }
            if let Some(until_s) = taken_until_s {
                if now_s < until_s {
                    return Next::Go;
                }
                taken_until_s = None;
                return Next::Show(Signal::Turn);
            }
            // A press from before the light asked for one is none.
            let since_us = answered.last().map_or(0, |last| last.at_us + 1_500_000);
            let Some(press) = recording
                .presses
                .iter()
                .find(|press| press.at_us > since_us)
            else {
                return Next::Go;
            };
            answered.push(*press);
            if answered.len() == positions {
                return Next::Stop;
            }
            taken_until_s = Some(now_s + 1.0);
            Next::Show(Signal::Taken)
        })
        .unwrap();
    (recording, answered)
}

#[test]
fn led_by_the_button_every_position_is_pressed_once_where_it_stands() {
    for seed in 0..12 {
        let mut gauge = SimulatedGauge::new(setup(seed, StepHabits::default()));
        let (recording, answered) = by_button(&mut gauge, 9);
        assert_eq!(answered.len(), 9, "seed {seed}");
        let plane = gauge.plane().unwrap();
        let rests = plane.turning().rests();
        for (position, press) in answered.iter().enumerate() {
            let at_s = pressed_s(&recording, press);
            let rest = rests
                .iter()
                .find(|rest| rest.0 <= at_s && at_s < rest.1)
                .unwrap_or_else(|| panic!("seed {seed}: pressed at {at_s} while turning"));
            let off_deg = rest.2 - position as f64 * 360.0 / f64::from(STOPS);
            assert!(
                off_deg.abs() < 6.0,
                "seed {seed}, position {position}: {off_deg}°"
            );
            assert!(at_s - rest.0 >= 0.3, "seed {seed}: {at_s} {rest:?}");
        }
        assert_eq!(stood_at(plane), (0..9).collect::<Vec<_>>(), "seed {seed}");
        assert!(gauge.misuses().is_empty());
    }
}

#[test]
fn the_button_s_messages_are_its_presses_counted_through_the_visit() {
    let mut gauge = SimulatedGauge::new(setup(3, FAULTLESS));
    let mut numbers = Vec::new();
    for _ in 0..3 {
        let (recording, _) = by_button(&mut gauge, 9);
        let fingers = gauge.plane().unwrap().turning().fingers().to_vec();
        assert_eq!(recording.presses.len(), 9);
        for (press, finger) in recording.presses.iter().zip(fingers) {
            let late_s = pressed_s(&recording, press) - finger.from_s;
            // The first sample is stamped one period after the plane began; the contact bounces for up to 7 ms.
            let late_s = late_s + 1.0 / f64::from(RATE_HZ);
            assert!((-0.002..0.009).contains(&late_s), "{late_s}");
        }
        numbers.extend(recording.presses.iter().map(|press| press.number));
    }
    assert_eq!(numbers, (1..=27).collect::<Vec<_>>());
}

#[test]
fn standing_still_for_a_minute_nobody_turns_and_nobody_presses() {
    for seed in 0..3 {
        let mut gauge = SimulatedGauge::new(setup(seed, SILENT));
        let recording = shown(&mut gauge, Signal::Hold, &[], 60.0);
        assert!(recording.presses.is_empty());
        assert_eq!(gauge.plane().unwrap().turning().rests().len(), 1);
        // One who presses, told to wait, does neither.
        let mut gauge = SimulatedGauge::new(setup(seed, StepHabits::default()));
        let recording = shown(&mut gauge, Signal::Wait, &[], 60.0);
        assert!(recording.presses.is_empty());
        assert_eq!(gauge.plane().unwrap().turning().rests().len(), 1);
    }
}

/// Turn and hold in a rhythm of so many seconds each.
fn rhythm(turn_s: f64, hold_s: f64, turns: u32) -> Vec<(f64, Signal)> {
    (0..turns)
        .flat_map(|turn| {
            let at_s = 2.0 + f64::from(turn) * (turn_s + hold_s);
            [(at_s, Signal::Turn), (at_s + turn_s, Signal::Hold)]
        })
        .collect()
}

#[test]
fn in_a_rhythm_he_turns_once_for_each_turn_and_only_after_it() {
    let mut late = 0;
    for seed in 0..12 {
        let habits = StepHabits {
            presses: false,
            ..StepHabits::default()
        };
        let mut gauge = SimulatedGauge::new(setup(seed, habits));
        let shows = rhythm(5.0, 3.0, 8);
        let recording = shown(&mut gauge, Signal::Hold, &shows, 70.0);
        assert!(recording.presses.is_empty());
        let plane = gauge.plane().unwrap();
        assert_eq!(stood_at(plane), (0..9).collect::<Vec<_>>(), "seed {seed}");
        let rests: Vec<_> = plane
            .turning()
            .rests()
            .into_iter()
            .filter(|rest| rest.1 - rest.0 > 0.3)
            .collect();
        for (turn, rest) in (0_u32..).zip(rests.windows(2)) {
            let shown_s = 2.0 + 8.0 * f64::from(turn);
            let begins_s = rest[0].1 - shown_s;
            // Understood, then at least the quickest reaction; what is sent arrives up to two blocks later.
            let soonest_s = takes_s(Signal::Turn) + 0.2 - 0.01;
            assert!(
                (soonest_s..6.2).contains(&begins_s),
                "seed {seed}: {begins_s}"
            );
            late += u32::from(rest[1].0 > shown_s + 5.0);
        }
    }
    assert!((1..30).contains(&late), "{late} of 96 came into the hold");
}

#[test]
fn the_light_has_blinked_its_whole_group_before_he_moves() {
    for seed in 0..10 {
        let mut gauge = SimulatedGauge::new(setup(seed, SILENT));
        let mut host = Recorder::new(&mut gauge);
        host.ask(Command::Show(Signal::Hold)).unwrap();
        let (mut blinks, mut lit, mut told) = (0, false, false);
        host.lead(RATE_HZ, PROBE, |gauge, recording| {
            if !told && heard_s(recording) > 3.0 && !gauge.light() {
                told = true;
                return Next::Show(Signal::Turn);
            }
            blinks += u32::from(told && gauge.light() && !lit);
            lit = gauge.light();
            if gauge.plane().unwrap().angle_deg() > 0.0 {
                return Next::Stop;
            }
            Next::Go
        })
        .unwrap();
        assert!(blinks >= 4, "seed {seed}: {blinks} blinks");
    }
}

#[test]
fn a_turn_cut_short_is_not_obeyed_and_one_shown_twice_is_two_only_with_a_signal_between() {
    let stood = |shows: &[(f64, Signal)]| {
        let mut gauge = SimulatedGauge::new(setup(5, SILENT));
        shown(&mut gauge, Signal::Hold, shows, 20.0);
        stood_at(gauge.plane().unwrap())
    };
    assert_eq!(stood(&[(2.0, Signal::Turn), (2.8, Signal::Hold)]), [0]);
    assert_eq!(stood(&[(2.0, Signal::Turn), (9.0, Signal::Turn)]), [0, 1]);
    let between = |at_s, cut_s| {
        stood(&[
            (2.0, Signal::Turn),
            (at_s, Signal::Taken),
            (at_s + cut_s, Signal::Turn),
        ])
    };
    assert_eq!(
        between(9.0, 0.3),
        [0, 1],
        "a light too short to be seen as a long one"
    );
    assert_eq!(between(9.0, 1.0), [0, 1, 2]);
    // While he turns he does not look: hold comes and goes, and the second turn is for him the first.
    assert_eq!(between(3.9, 0.8), [0, 1]);
    // What he has decided he does, though the light says hold by then.
    assert_eq!(stood(&[(2.0, Signal::Turn), (3.4, Signal::Hold)]), [0, 1]);
}

#[test]
fn a_press_that_brings_nothing_is_repeated_after_some_seconds() {
    let mut gauge = SimulatedGauge::new(setup(7, FAULTLESS));
    let recording = shown(&mut gauge, Signal::Hold, &[], 25.0);
    let times: Vec<f64> = recording
        .presses
        .iter()
        .map(|press| pressed_s(&recording, press))
        .collect();
    assert!((4..=5).contains(&times.len()), "{times:?}");
    assert!(
        times
            .windows(2)
            .all(|pair| (5.9..6.1).contains(&(pair[1] - pair[0]))),
        "{times:?}"
    );
}

#[test]
fn a_patient_one_presses_once_and_waits_for_the_light_to_answer_however_long_it_takes() {
    let habits = StepHabits {
        presses_again: false,
        ..FAULTLESS
    };
    let mut gauge = SimulatedGauge::new(setup(7, habits));
    // Held, cut off and held anew: no answer to the press.
    let shows = [(20.0, Signal::Turn), (20.2, Signal::Hold)];
    let recording = shown(&mut gauge, Signal::Hold, &shows, 40.0);
    assert_eq!(recording.presses.len(), 1, "{:?}", recording.presses);
    let mut gauge = SimulatedGauge::new(setup(7, habits));
    let shows = [(20.0, Signal::Taken), (21.0, Signal::Turn)];
    let recording = shown(&mut gauge, Signal::Hold, &shows, 40.0);
    assert_eq!(recording.presses.len(), 2, "{:?}", recording.presses);
    assert_eq!(stood_at(gauge.plane().unwrap()), [0, 1]);
}

#[test]
fn he_presses_again_where_he_stands_when_a_hold_follows_on_taken() {
    let mut gauge = SimulatedGauge::new(setup(8, FAULTLESS));
    let shows = [(4.0, Signal::Taken), (6.0, Signal::Hold)];
    let recording = shown(&mut gauge, Signal::Hold, &shows, 9.5);
    assert_eq!(recording.presses.len(), 2, "{:?}", recording.presses);
    assert_eq!(stood_at(gauge.plane().unwrap()), [0]);
}

#[test]
fn one_who_overlooks_a_turn_stays_where_he_is() {
    let habits = StepHabits {
        overlooks: 1.0,
        ..SILENT
    };
    let mut gauge = SimulatedGauge::new(setup(9, habits));
    shown(&mut gauge, Signal::Hold, &rhythm(5.0, 3.0, 3), 30.0);
    assert_eq!(stood_at(gauge.plane().unwrap()), [0]);
}

#[test]
fn while_the_light_is_dark_he_stands_still_and_one_who_does_not_look_goes_round_by_himself() {
    let mut gauge = SimulatedGauge::new(setup(11, FAULTLESS));
    let recording = shown(&mut gauge, Signal::Off, &[], 30.0);
    assert!(recording.presses.is_empty());
    assert_eq!(stood_at(gauge.plane().unwrap()), [0]);
    let habits = StepHabits {
        follows_light: false,
        ..FAULTLESS
    };
    let mut gauge = SimulatedGauge::new(setup(11, habits));
    let recording = shown(&mut gauge, Signal::Hold, &[(5.0, Signal::Turn)], 60.0);
    assert_eq!(recording.presses.len(), 9);
    let plane = gauge.plane().unwrap();
    assert_eq!(stood_at(plane), (0..9).collect::<Vec<_>>());
    let rests = plane.turning().rests();
    for press in &recording.presses {
        let at_s = pressed_s(&recording, press);
        let stands = |rest: &(f64, f64, f64)| rest.0 + 0.3 < at_s && at_s + 1.0 < rest.1;
        assert!(rests.iter().any(stands), "{at_s}");
    }
}

/// Samples far enough apart for two moments between them.
const SLOW_HZ: u16 = 90;

/// A plane whose light is told to show these at virtual times of the gauge, µs since it was switched on.
fn told_at(shows: &[(u64, Signal)], until_us: u64) -> Recording {
    let mut gauge = SimulatedGauge::new(setup(13, StepHabits::default()));
    let mut shows = shows.iter().peekable();
    let mut host = Recorder::new(&mut gauge);
    host.ask(Command::Show(Signal::Hold)).unwrap();
    host.lead(SLOW_HZ, PROBE, |gauge, _| {
        let now_us = gauge.now_us();
        match shows.next_if(|next| next.0 <= now_us) {
            Some(&(_, signal)) => Next::Show(signal),
            None if now_us >= until_us => Next::Stop,
            None => Next::Go,
        }
    })
    .unwrap()
}

#[test]
fn hands_and_presses_follow_from_the_sample_at_which_a_signal_came_not_from_the_moment_in_between()
{
    let ready_us: Vec<f64> = told_at(&[], 8_000_000)
        .samples
        .iter()
        .map(|sample| sample.at_us)
        .collect();
    let led = |after_us: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "seconds"
        )]
        let at = |number: usize| (ready_us[number] + after_us) as u64;
        let shows = [
            (at(100), Signal::Turn),
            (at(450), Signal::Taken),
            (at(600), Signal::Turn),
        ];
        told_at(&shows, 16_000_000)
    };
    let (early, late) = (led(500.0), led(6_000.0));
    let counts = |recording: &Recording| -> Vec<Option<i32>> {
        let samples = recording.samples.iter().take(1_200);
        samples.map(|sample| sample.displacement).collect()
    };
    assert_eq!(counts(&early).len(), 1_200);
    assert!(counts(&early) == counts(&late), "the counts differ");
    assert_eq!(early.presses, late.presses);
    assert!(early.presses.len() >= 2, "{:?}", early.presses);
    let other = led(500.0 + 3.0 * 11_100.0);
    assert_ne!(
        early.presses, other.presses,
        "three samples later is another world"
    );
}

#[test]
fn a_prescribed_plane_has_its_runout_and_its_noise_and_no_more() {
    for (runout_um, noise_um) in [(0.0, 0.02), (0.3, 0.08), (3.0, 0.3)] {
        for seed in 0..10 {
            let setup = setup(seed, FAULTLESS);
            let prescribed = Prescribed {
                runout_um: Some(runout_um),
                noise_um: Some(noise_um),
            };
            let mut world =
                PlaneWorld::with(seed, &setup.faults, 0, setup.planes[0], SILENT, prescribed);
            world.light_shows(Signal::Hold, 0.0);
            // At rest long after the head has settled: noise and drift alone.
            let at_rest: Vec<f64> = (0..40_000)
                .map(|ms| world.plunger_um(10.0 + f64::from(ms) * 1e-3))
                .collect();
            let steps: Vec<f64> = at_rest
                .windows(500)
                .step_by(500)
                .map(|half_second| {
                    let mean = half_second.iter().sum::<f64>() / 500.0;
                    half_second
                        .iter()
                        .map(|um| (um - mean).powi(2))
                        .sum::<f64>()
                        / 499.0
                })
                .collect();
            let deviation_um = (steps.iter().sum::<f64>() / steps.len() as f64).sqrt();
            assert!(
                (0.75..1.1).contains(&(deviation_um / noise_um)),
                "{deviation_um} of {noise_um}"
            );
            let high_spot = world.prescribed().unwrap();
            assert!((2.0 * high_spot.length_um() - runout_um).abs() < 1e-12);
        }
    }
}
