//! A laptop that sleeps in a check: its lid is closed, and opened again. Its clock that stands still meanwhile is this test's.

use crate::{BOOK, grip, is_sound};
use holdtrue::grip::live::{GripRequest, MeasuredGrip, gauge_of, measure};
use holdtrue::terminal::interrupt::Interrupt;
use holdtrue::terminal::prompt::Prompt;
use holdtrue::terminal::settings::Settings;
use holdtrue::visits::book::book_writer::{BookWriter, today_days};
use holdtrue_book::{GaugeHeader, RecordedKind};
use holdtrue_gauge::link::simulated::SimulatedLink;
use holdtrue_gauge::link::{Damage, Link, LinkError, RawFrame};
use holdtrue_gauge::session::Session;
use holdtrue_metrology::grip::setup::GripSetup;
use holdtrue_protocol::message::{Channel, ToGauge};
use holdtrue_simulated_gauge::{Condition, Setup, SimulatedGauge};
use holdtrue_tests::bench;
use holdtrue_tests::port::{Measuring, Port};
use std::time::Duration;

/// A laptop that sleeps at a second of the check, for so long; the gauge goes on without anybody who reads or speaks.
struct Laptop {
    link: SimulatedLink,
    sleeps: Option<(f64, u64)>,
    slept: Duration,
    unplugged: bool,
}

impl Laptop {
    fn new(sleeps: Option<(f64, u64)>) -> Self {
        let setup = Setup::new(3, Condition::Sound).calibrated_on(today_days() - 60);
        Self {
            link: SimulatedLink::new(SimulatedGauge::new(setup)),
            sleeps,
            slept: Duration::ZERO,
            unplugged: false,
        }
    }
}

impl Link for Laptop {
    fn receive(&mut self, wait: Duration) -> Result<Option<RawFrame>, LinkError> {
        if let Some((at_s, for_s)) = self.sleeps
            && self.link.elapsed().as_secs_f64() >= at_s
        {
            self.sleeps = None;
            self.link.gauge().advance_us(for_s * 1_000_000);
            self.slept += Duration::from_secs(for_s);
            if self.unplugged {
                let port = self.name().to_owned();
                let found = "no such device".to_owned();
                return Err(LinkError::Lost { port, found });
            }
        }
        self.link.receive(wait)
    }

    fn send(&mut self, message: &ToGauge) -> Result<(), LinkError> {
        self.link.send(message)
    }

    /// As the clock of the system that stands still in a sleep.
    fn elapsed(&self) -> Duration {
        self.link.elapsed() - self.slept
    }

    fn name(&self) -> &str {
        self.link.name()
    }

    fn damage(&self) -> Damage {
        self.link.damage()
    }

    fn slept(&self) -> Duration {
        self.slept
    }
}

#[derive(Default)]
struct Lines(Vec<String>);

impl Prompt for Lines {
    fn say(&mut self, line: &str) {
        self.0.push(line.to_owned());
    }
}

/// A book with an open visit, and the checks of three clamps made in it.
struct Yard {
    writer: BookWriter,
    _folder: tempfile::TempDir,
}

impl Yard {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("yard.holdtrue");
        Self {
            writer: BookWriter::open(&path, "Technician A").expect("a book"),
            _folder: folder,
        }
    }

    fn check(&mut self, laptop: Laptop) -> (MeasuredGrip, Vec<String>) {
        let mut session = Session::open(Box::new(laptop)).expect("a gauge");
        let calibration = session.calibration(Channel::Force).expect("an answer");
        let calibration = calibration.expect("a calibration");
        let order = GripRequest {
            clamps: 3,
            setup: GripSetup {
                gauge: gauge_of(&calibration, today_days(), false),
                ..GripSetup::default()
            },
            limits: None,
            fresh: false,
            visit: self.writer.visit_at_hand().expect("a visit"),
            gauge: self.writer.gauge(GaugeHeader::default()).expect("a gauge"),
            overloads: Vec::new(),
            subject: holdtrue::terminal::scene_words::Subject::default(),
            last_mean: None,
            end_probe: None,
        };
        let mut lines = Lines::default();
        let taken = measure(
            &mut session,
            &calibration,
            &mut self.writer,
            &mut lines,
            &Settings::default(),
            &order,
            &Interrupt::default(),
        );
        let taken = taken.expect("a check that was begun");
        assert!(self.writer.book.check().expect("a book").sound());
        (taken, lines.0)
    }

    /// Numbers of the clamps the book has.
    fn recorded(&self, taken: &MeasuredGrip) -> Vec<u32> {
        let rows = self.writer.book.recorded(taken.check).expect("rows");
        let clamps = rows.iter().filter(|row| row.kind == RecordedKind::Clamp);
        clamps.map(|row| row.number).collect()
    }
}

/// When the clamps of an undisturbed check of this gauge are let go, s of the gauge's time: its record begins a moment later.
fn released_s() -> Vec<f64> {
    let (taken, _) = Yard::new().check(Laptop::new(None));
    let result = taken.result.expect("three clamps");
    let released = result.clamps.iter().filter_map(|clamp| clamp.released_s);
    released.collect()
}

fn counted(taken: &MeasuredGrip) -> usize {
    let clamps = taken.result.iter().flat_map(|result| &result.clamps);
    clamps.filter(|clamp| clamp.counted).count()
}

#[test]
fn a_long_sleep_is_told_as_one_and_what_was_whole_before_is_kept() {
    let released = released_s();
    // Let go a second ago and not listed yet; in the pause; in the next clamp's hold.
    for after_s in [1.2, 3.0, 6.0] {
        for unplugged in [false, true] {
            let mut yard = Yard::new();
            let laptop = Laptop {
                unplugged,
                ..Laptop::new(Some((released[0] + after_s, 20)))
            };
            let (broken, said) = yard.check(laptop);
            let case = format!("{after_s} s, {said:?}");
            let told = broken.cut_short.as_ref().expect("cut short");
            assert_eq!(told.exit.code(), 5, "{case}");
            let told = &told.message;
            assert!(told.contains("this computer slept for 20 s"), "{told}");
            let became = if unplugged {
                "port went away"
            } else {
                "stopped by itself"
            };
            assert!(told.contains(became) && told.contains("goes on"), "{told}");
            assert!(!told.contains("heard nothing"), "{told}");
            // What is shown is what is in the book.
            let kept = counted(&broken);
            assert!(kept >= 1, "{case}");
            assert_eq!(yard.recorded(&broken).len(), kept, "{case}");
            let lines = said.iter().filter(|line| line.contains(" in)")).count();
            assert_eq!(lines, kept, "{case}");
            let (whole, said) = yard.check(Laptop::new(None));
            assert!(
                said[0].contains(&format!("{kept} of 3 clamps are in")),
                "{said:?}"
            );
            assert!(
                whole.cut_short.is_none() && counted(&whole) == 3,
                "{said:?}"
            );
            assert_eq!(whole.check, broken.check);
            let first = |taken: &MeasuredGrip| taken.result.as_ref().map(|r| r.clamps[0].settled_n);
            let (was, is) = (first(&broken).flatten(), first(&whole).flatten());
            let off_n = was.zip(is).map(|(was, is)| (was - is).abs());
            assert!(off_n.is_some_and(|off_n| off_n < 10.0), "{was:?} {is:?}");
        }
    }
}

#[test]
fn a_short_sleep_is_told_and_the_check_goes_on() {
    let mut yard = Yard::new();
    let (taken, said) = yard.check(Laptop::new(Some((released_s()[0] + 3.0, 4))));
    assert!(taken.cut_short.is_none(), "{:?}", taken.cut_short);
    assert_eq!(counted(&taken), 3);
    let told = said.iter().filter(|line| line.contains("slept for 4 s"));
    assert_eq!(told.count(), 1, "{said:?}");
}

#[test]
fn a_gauge_that_stopped_without_a_sleep_is_not_put_down_to_one() {
    let mut yard = Yard::new();
    let mut laptop = Laptop::new(None);
    laptop.sleeps = Some((5.0, 0));
    laptop.unplugged = true;
    let (taken, _) = yard.check(laptop);
    let told = taken.cut_short.expect("cut short").message;
    assert!(
        told.contains("the gauge is gone") && !told.contains("slept"),
        "{told}"
    );
}

/// The system's own program is asked while the stream runs, and let go however the check ends.
#[test]
#[cfg(target_os = "linux")]
fn while_a_check_runs_the_system_is_asked_not_to_sleep() {
    use std::os::unix::fs::PermissionsExt;
    let bench = bench!();
    let script = format!(
        "#!/bin/sh\necho \"asked $*\" >>{0}\ncat >/dev/null\necho released >>{0}\n",
        bench.path("inhibit.log").display()
    );
    bench.file("systemd-inhibit", script);
    let mode = std::fs::Permissions::from_mode(0o755);
    std::fs::set_permissions(bench.path("systemd-inhibit"), mode).expect("a program");
    let path = std::env::var("PATH").unwrap_or_default();
    let path = format!("{}:{path}", bench.folder().display());
    let port = Port::offer(&bench, "--seed 3 --pace 8");
    let log = || std::fs::read_to_string(bench.path("inhibit.log")).unwrap_or_default();
    let mut first = Measuring::start(grip(&bench, &port.path, "").env("PATH", &path));
    first.until("clamp 1:");
    let asked = log();
    assert!(
        asked.contains("--what=idle:sleep:handle-lid-switch") && asked.contains("--mode=block"),
        "{asked}"
    );
    assert!(!asked.contains("released"), "{asked}");
    first.signal("KILL");
    first.end();
    for _ in 0..200 {
        if log().contains("released") {
            break;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    assert!(log().contains("released"), "a killed program holds nothing");
    bench.line(&format!("book check --book {BOOK}")).exits(0);
    is_sound(&bench);
}
