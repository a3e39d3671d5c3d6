//! What happens to the gauge itself in the middle of a check: a wire breaks, it is overloaded, it restarts, its converter
//! falls silent. The program's own session and check, on a cable that lives in this test.

use holdtrue::grip::live as grip_live;
use holdtrue::grip::live::{GripRequest, MeasuredGrip};
use holdtrue::terminal::interrupt::Interrupt;
use holdtrue::terminal::prompt::Prompt;
use holdtrue::terminal::settings::Settings;
use holdtrue::visits::book::book_writer::{BookWriter, today_days};
use holdtrue_book::{GaugeHeader, VisitHeader};
use holdtrue_gauge::link::simulated::SimulatedLink;
use holdtrue_gauge::link::{Damage, Link, LinkError, RawFrame};
use holdtrue_gauge::session::Session;
use holdtrue_metrology::grip::excluded::Excluded;
use holdtrue_metrology::grip::remarks::GripNote;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_protocol::message::{Channel, ResetCause, ToGauge};
use holdtrue_simulated_gauge::wiring::Wire;
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};
use std::time::Duration;

/// Something done to the gauge at a second of its own time.
type Mishap = (f64, fn(&mut SimulatedGauge));

/// A cable with mishaps.
struct Cable {
    link: SimulatedLink,
    mishaps: Vec<Mishap>,
}

impl Link for Cable {
    fn receive(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        let now_s = self.link.elapsed().as_secs_f64();
        if self.mishaps.first().is_some_and(|(at_s, _)| now_s >= *at_s) {
            let (_, happens) = self.mishaps.remove(0);
            happens(self.link.gauge());
        }
        self.link.receive(wait)
    }

    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError> {
        self.link.send(message)
    }

    fn elapsed(&self) -> Duration {
        self.link.elapsed()
    }

    fn name(&self) -> &str {
        self.link.name()
    }

    fn damage(&self) -> Damage {
        self.link.damage()
    }
}

#[derive(Default)]
struct Lines(Vec<String>);

impl Prompt for Lines {
    fn say(&mut self, line: &str) {
        self.0.push(line.to_owned());
    }
}

/// A check of three clamps with these mishaps, and what was said.
fn check(mishaps: &[Mishap]) -> (MeasuredGrip, Vec<String>) {
    let folder = tempfile::tempdir().expect("a folder");
    let mut writer =
        BookWriter::open(&folder.path().join("yard.holdtrue"), "Technician A").expect("a book");
    let visit = writer.start_visit(VisitHeader::default()).expect("a visit");
    let gauge = writer.gauge(GaugeHeader::default()).expect("a gauge");
    let setup = Setup::new(3, Condition::Sound).calibrated_on(today_days() - 60);
    let link = SimulatedLink::new(SimulatedGauge::new(setup));
    let cable = Cable {
        link,
        mishaps: mishaps.to_vec(),
    };
    let mut session = Session::open(Box::new(cable)).expect("a gauge");
    let calibration = session.calibration(Channel::Force).expect("an answer");
    let calibration = calibration.expect("a calibration");
    let order = GripRequest {
        clamps: 3,
        setup: GripSetup {
            gauge: grip_live::gauge_of(&calibration, today_days(), false),
            ..GripSetup::default()
        },
        limits: None,
        fresh: true,
        visit,
        gauge,
        overloads: Vec::new(),
        subject: holdtrue::terminal::scene_words::Subject::default(),
        last_mean: None,
        end_probe: None,
    };
    let mut lines = Lines::default();
    let taken = grip_live::measure(
        &mut session,
        &calibration,
        &mut writer,
        &mut lines,
        &Settings::default(),
        &order,
        &Interrupt::default(),
    );
    let taken = taken.expect("a check that was begun");
    assert!(writer.book.check().expect("a book").sound());
    (taken, lines.0)
}

fn excluded(taken: &MeasuredGrip) -> Vec<Option<Excluded>> {
    let result = taken.result.as_ref().expect("clamps");
    result.clamps.iter().map(|clamp| clamp.excluded).collect()
}

fn cut_short(taken: &MeasuredGrip) -> String {
    let error = taken.cut_short.as_ref().expect("cut short");
    assert_eq!(error.exit.code(), 5);
    error.message.clone()
}

/// When the second clamp is held, s: from an undisturbed check of the same seed.
fn in_second_clamp_s() -> f64 {
    let (taken, _) = check(&[]);
    let result = taken.result.expect("three clamps");
    assert_eq!(result.statistics.map(|figures| figures.count), Some(3));
    let clamp = &result.clamps[1];
    clamp
        .clamped_s
        .zip(clamp.released_s)
        .map_or(0.0, |(from, to)| f64::midpoint(from, to))
}

#[test]
fn a_wire_that_breaks_in_a_clamp_costs_that_clamp_and_no_other() {
    let at_s = in_second_clamp_s();
    let (taken, said) = check(&[
        (at_s, |gauge| gauge.break_wire(Some(Wire::SignalPlus))),
        (at_s + 1.0, |gauge| gauge.break_wire(None)),
    ]);
    assert!(taken.cut_short.is_none(), "{:?}", taken.cut_short);
    let result = taken.result.as_ref().expect("clamps");
    let lost: Vec<_> = excluded(&taken).into_iter().flatten().collect();
    assert!(lost.contains(&Excluded::Fault), "{lost:?} {said:?}");
    assert_eq!(
        result.statistics.as_ref().map(|figures| figures.count),
        Some(3)
    );
}

/// Nothing saturates then: the force is gone and comes back, as if the drawbar had let go and taken hold again.
#[test]
fn a_supply_wire_open_for_three_tenths_of_a_second_does_not_make_two_clamps_of_one() {
    let (whole, _) = check(&[]);
    let at_s = in_second_clamp_s();
    let (taken, said) = check(&[
        (at_s, |gauge| gauge.break_wire(Some(Wire::Supply))),
        (at_s + 0.3, |gauge| gauge.break_wire(None)),
    ]);
    assert!(taken.cut_short.is_none(), "{:?}", taken.cut_short);
    let lost = [None, Some(Excluded::Fault), None, None];
    assert_eq!(excluded(&taken), lost, "{said:?}");
    let (undisturbed, result) = (whole.result.expect("clamps"), taken.result.expect("clamps"));
    // It is the one clamp, from its own beginning to its own end.
    let (was, is) = (&undisturbed.clamps[1], &result.clamps[1]);
    for (was_s, is_s) in [
        (was.clamped_s, is.clamped_s),
        (was.released_s, is.released_s),
    ] {
        let off_s = was_s.zip(is_s).map(|(was, is)| (was - is).abs());
        assert!(
            // The operator answers a light that the open wire may have moved by a moment.
            off_s.is_some_and(|off_s| off_s < 0.1),
            "{was_s:?}, {is_s:?}"
        );
    }
}

#[test]
fn an_overload_in_a_clamp_is_marked_and_the_calibration_no_longer_carries_an_acceptance() {
    let at_s = in_second_clamp_s();
    let (taken, said) = check(&[
        (at_s, |gauge| gauge.overload(2.0)),
        (at_s + 0.2, |gauge| gauge.overload(0.0)),
    ]);
    assert!(
        excluded(&taken).contains(&Some(Excluded::Overload)),
        "{said:?}"
    );
    // Nobody is asked to clamp with it again.
    let at = said.iter().position(|line| line.contains("STOP"));
    let at = at.unwrap_or_else(|| panic!("no stop: {said:#?}"));
    assert!(said[at].contains("have it calibrated"), "{said:#?}");
    assert_eq!(at, said.len() - 1, "{said:#?}");
    assert!(taken.cut_short.is_none(), "{:?}", taken.cut_short);
    let notes = taken.result.expect("clamps").notes;
    assert!(notes.contains(&GripNote::Overloaded), "{notes:?}");
}

#[test]
fn a_gauge_that_rests_on_something_in_a_pause_is_asked_about_at_once() {
    let (undisturbed, _) = check(&[]);
    let result = undisturbed.result.expect("three clamps");
    let released_s = result.clamps[0].released_s.expect("a release");
    // 800 N either way on a bridge of 2 mV/V at 25 kN; freed after 6 s.
    type LetIt = fn(&mut SimulatedGauge);
    let rests: [(LetIt, &str); 2] = [
        (
            |gauge| gauge.overload(-0.064),
            "rests on something. Let it hang free.",
        ),
        (|gauge| gauge.overload(0.064), "something pulls at it"),
    ];
    for (rests, asked) in rests {
        let (taken, said) = check(&[
            (released_s + 1.0, rests),
            (released_s + 7.0, |gauge| gauge.overload(0.0)),
        ]);
        assert!(taken.cut_short.is_none(), "{:?}", taken.cut_short);
        let at = said.iter().position(|line| line.contains(asked));
        let at = at.unwrap_or_else(|| panic!("{said:#?}"));
        let force = said[at].contains("0.79") || said[at].contains("0.80");
        assert!(force, "{}", said[at]);
        assert!(
            said[at + 1].contains("Clamp 2 of 3: clamp now"),
            "{said:#?}"
        );
        let forces = |taken: &MeasuredGrip| -> Vec<f64> {
            let clamps = taken.result.iter().flat_map(|result| &result.clamps);
            clamps.filter_map(|clamp| clamp.settled_n).collect()
        };
        let count = forces(&taken).len();
        assert_eq!(count, 3, "{said:#?}");
        for (force, clamp) in forces(&taken).iter().zip(&result.clamps) {
            let truth = clamp.settled_n.expect("a force");
            assert!(
                (force / truth - 1.0).abs() < 0.002,
                "{force} N for {truth} N"
            );
        }
    }
}

#[test]
fn a_gauge_that_restarts_is_never_joined_to_what_came_before() {
    let at_s = in_second_clamp_s();
    let (taken, _) = check(&[(at_s, |gauge| gauge.reset(ResetCause::Watchdog))]);
    let told = cut_short(&taken);
    assert!(
        told.contains("restarted") && told.contains("goes on"),
        "{told}"
    );
    let result = taken.result.expect("the first clamp");
    assert!(result.clamps[0].counted);
    assert_eq!(result.statistics.map(|figures| figures.count), Some(1));
}

#[test]
fn a_converter_that_falls_silent_is_not_waited_for() {
    let at_s = in_second_clamp_s();
    let (taken, said) = check(&[(at_s, |gauge| gauge.silence_adc(true))]);
    let told = cut_short(&taken);
    assert!(told.contains("converter fell silent"), "{told} {said:?}");
}

#[test]
fn a_converter_silent_for_a_moment_costs_that_clamp_and_no_other() {
    let at_s = in_second_clamp_s();
    let (taken, said) = check(&[
        (at_s, |gauge| gauge.silence_adc(true)),
        (at_s + 1.0, |gauge| gauge.silence_adc(false)),
    ]);
    assert!(taken.cut_short.is_none(), "{:?}", taken.cut_short);
    assert!(excluded(&taken).iter().any(Option::is_some), "{said:?}");
    let count = taken
        .result
        .and_then(|result| result.statistics)
        .map(|figures| figures.count);
    assert_eq!(count, Some(3));
}
