//! A gauge whose frames come whole and say what cannot be: its calibration, itself, its samples, its self-tests.

use crate::{BOOK, grip};
use holdtrue::visits::book::book_writer::{BookWriter, today_days};
use holdtrue_book::{Calibration, GaugeCheck, GaugeHeader};
use holdtrue_protocol::message::{
    Answer, CalibrationRecord, Channel, FromGauge, Hello, Overload, Reply, SelfTest, SelfTestResult,
};
use holdtrue_simulated_gauge::{Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::OwnPort;

/// A sound gauge behind somebody who changes what it says.
struct Changed {
    port: OwnPort,
    _gauge: OwnPort,
}

impl Changed {
    fn new(alter: impl FnMut(&mut FromGauge<'_>) + Send + 'static) -> Self {
        let setup = Setup::new(3, Condition::Sound).calibrated_on(today_days() - 60);
        let gauge = OwnPort::of(setup);
        Self {
            port: OwnPort::altered(&gauge.path, alter),
            _gauge: gauge,
        }
    }

    fn record(channel: Channel, spoil: fn(&mut CalibrationRecord)) -> Self {
        Self::reply(move |reply| match reply {
            Reply::Calibration(record) if record.channel == channel => spoil(record),
            _ => {}
        })
    }

    fn reply(mut alter: impl FnMut(&mut Reply) + Send + 'static) -> Self {
        Self::new(move |message| {
            if let FromGauge::Answer(Answer {
                outcome: Ok(reply), ..
            }) = message
            {
                alter(reply);
            }
        })
    }

    fn hello(spoil: fn(&mut Hello)) -> Self {
        Self::new(move |message| match message {
            FromGauge::Hello(hello)
            | FromGauge::Answer(Answer {
                outcome: Ok(Reply::Identity(hello)),
                ..
            }) => spoil(hello),
            _ => {}
        })
    }

    fn self_test(spoil: fn(&mut SelfTestResult)) -> Self {
        Self::reply(move |reply| {
            if let Reply::SelfTest(found) = reply {
                spoil(found);
            }
        })
    }
}

type Spoil = fn(&mut CalibrationRecord);

#[test]
fn a_calibration_that_no_certificate_states_is_refused_by_name_and_part() {
    let spoilt: [(&str, Spoil); 12] = [
        ("date", |r| r.date_days = -2_000_000_000),
        ("due", |r| r.due_days = 2_000_000_000),
        ("due", |r| r.due_days = r.date_days),
        ("expanded_percent", |r| r.expanded_relative = f64::NAN),
        ("expanded_percent", |r| {
            (r.expanded_relative, r.expanded_fixed) = (0.0, 0.0);
        }),
        ("rated_n", |r| r.rated = f64::NAN),
        ("rated_n", |r| r.rated = -20_000.0),
        ("rated_n", |r| r.rated = f64::INFINITY),
        ("coefficients", |r| r.coefficients = [0.0; 4]),
        ("coefficients", |r| r.coefficients[1] *= -1.0),
        ("coefficients", |r| r.coefficients[0] = f64::MAX),
        ("laboratory", |r| {
            r.laboratory = "\u{1b}[2Jlab".try_into().expect("short");
        }),
    ];
    for (part, spoil) in spoilt {
        let bench = bench!();
        let gauge = Changed::record(Channel::Force, spoil);
        let port = &gauge.port.path;
        let wanted = format!("(certificate TP-F-0117) cannot be used: {part}: found ");
        let refused = bench.finish(&mut grip(&bench, port, "")).exits(5);
        let refused = refused.tells(&wanted).tells(port).tells("expected");
        assert!(!refused.messages.contains("clamp now"), "{refused}");
        assert!(!refused.messages.contains('\u{1b}'), "{refused}");
        // Who the gauge is stays known.
        let info = bench.line(&format!("gauge info --gauge {port}"));
        info.exits(5).shows("TP-0031").tells(&wanted);
        let check = bench.line(&format!("gauge check --gauge {port}"));
        check.exits(5).tells(&wanted);
    }
}

#[test]
fn a_probe_is_held_to_the_same_rules_and_to_what_it_is_built_for() {
    let spoilt: [(&str, Spoil); 4] = [
        ("expanded_um", |r| r.expanded_fixed = f64::NAN),
        ("travel_um", |r| r.rated = 0.0),
        ("date", |r| r.date_days = i32::MIN),
        // Half of what the probe gives for a count: every runout would be half.
        ("coefficients", |r| r.coefficients[1] *= 0.5),
    ];
    for (part, spoil) in spoilt {
        let bench = bench!();
        let gauge = Changed::record(Channel::Displacement, spoil);
        let line = format!(
            "runout --gauge {} --yes --book {BOOK} --json --at bar --height-mm 300",
            gauge.port.path
        );
        let wanted = format!("(certificate TP-D-0042) cannot be used: {part}: found ");
        bench.line(&line).exits(5).tells(&wanted);
    }
}

#[test]
fn a_gauge_with_a_calibration_that_cannot_be_used_takes_another() {
    let bench = bench!();
    let gauge = Changed::record(Channel::Force, {
        // What was in it is bad; what is written is read back as it is.
        |r| {
            if r.certificate.as_str() == "TP-F-0117" {
                r.expanded_relative = f64::NAN;
            }
        }
    });
    let port = &gauge.port.path;
    let line = format!(
        "gauge certificate --gauge {port} --book {BOOK} --certificate TP-F-0200 --laboratory bench --date 2026-03-02 \
         --due 2027-03-02 --rated-n 20000 --span-n 500 20000 --uncertainty-percent 0.4 --coefficients 0;0.0093132 --yes"
    );
    // Held to what is in it first, and nothing written.
    let held = bench.line(&format!("{line} --dry-run")).exits(0);
    held.shows("cannot be used: expanded_percent")
        .shows("Nothing was written: --dry-run.");
    assert!(!bench.path(BOOK).exists());
    let info = bench.line(&format!("gauge info --gauge {port}"));
    assert!(!info.out.contains("TP-F-0200"), "{}", info.out);
    let written = bench.line(&line);
    written.exits(0).shows("cannot be used: expanded_percent");
    let info = bench.line(&format!("gauge info --gauge {port}"));
    info.exits(0).shows("TP-F-0200");
}

/// What the program says of a gauge that introduces itself like this.
#[track_caller]
fn introduced(spoil: fn(&mut Hello), tells: &str) {
    let bench = bench!();
    let gauge = Changed::hello(spoil);
    let line = format!("gauge info --gauge {}", gauge.port.path);
    let run = bench.line(&line).exits(5).tells(tells).tells("expected");
    assert!(!run.messages.contains('\u{1b}') && run.out.is_empty());
}

#[test]
fn a_gauge_says_of_itself_only_what_can_be() {
    introduced(
        |h| h.serial = "TP\u{1b}[2J\u{7}".try_into().expect("short"),
        "serial number",
    );
    introduced(|h| h.serial.clear(), "serial number");
    introduced(
        |h| h.firmware = "1\n2".try_into().expect("short"),
        "firmware",
    );
    introduced(|h| h.probe_nm_per_count = u32::MAX, "nm for each count");
    introduced(|h| h.probe_nm_per_count = 0, "nm for each count");
}

#[test]
fn an_image_with_half_the_gain_is_not_fit_on_its_first_check() {
    for (spoil, fit) in [
        ((|_| ()) as fn(&mut SelfTestResult), true),
        (
            |found| {
                if matches!(found.test, SelfTest::Shunt | SelfTest::Noise) {
                    found.median /= 2;
                }
            },
            false,
        ),
    ] {
        let bench = bench!();
        let gauge = Changed::self_test(spoil);
        let line = format!("gauge check --gauge {} --book {BOOK}", gauge.port.path);
        if fit {
            bench.line(&line).exits(0).shows("Fit to measure");
        } else {
            let run = bench.line(&line).exits(5).shows("NOT fit to measure");
            // Which counts exactly is for the noise to say: half the step, to a thousandth.
            let run = run.shows("step with the shunt: ");
            let after = run.out.split("step with the shunt: ").nth(1);
            let counts: f64 = after
                .and_then(|rest| rest.split(' ').next())
                .and_then(|word| word.parse().ok())
                .expect("counts after the name");
            assert!((counts / 468_940.0 - 1.0).abs() < 1e-3, "{run}");
            run.shows("forces are wrong by as much");
        }
    }
}

#[test]
fn a_self_test_without_a_figure_is_no_result() {
    let bench = bench!();
    let gauge = Changed::self_test(|found| found.deviation = f32::NAN);
    let line = format!("gauge check --gauge {} --json", gauge.port.path);
    bench.line(&line).exits(5).tells("self-test");
    let gauge = Changed::self_test(|found| found.test = SelfTest::Noise);
    let line = format!("gauge check --gauge {}", gauge.port.path);
    bench.line(&line).exits(5).tells("self-test");
}

/// A check of five clamps at a gauge whose stream is changed.
fn streamed(bench: &Bench, alter: impl FnMut(&mut FromGauge<'_>) + Send + 'static) -> String {
    let gauge = Changed::new(alter);
    let run = bench
        .finish(&mut grip(bench, &gauge.port.path, ""))
        .exits(5);
    bench
        .line(&format!("book check --book {BOOK}"))
        .exits(0)
        .shows("sound");
    run.messages
}

#[test]
fn samples_that_contradict_each_other_stop_the_check_with_a_word() {
    let spoilt: [fn(&mut FromGauge<'_>); 5] = [
        |m| {
            if let FromGauge::Block(block) = m {
                (block.first_us, block.last_us) = (block.last_us, block.first_us);
            }
        },
        |m| {
            if let FromGauge::Block(block) = m {
                block.last_us = u64::MAX;
            }
        },
        |m| {
            if let FromGauge::Block(block) = m {
                block.first_sample = u64::MAX - 40;
            }
        },
        |m| {
            if let FromGauge::Block(block) = m {
                block.first_us += block.first_sample.wrapping_mul(1 << 40);
            }
        },
        |m| {
            if let FromGauge::Block(block) = m {
                block.count = 255;
            }
        },
    ];
    for (case, spoil) in spoilt.into_iter().enumerate() {
        let bench = bench!();
        let told = streamed(&bench, spoil);
        assert!(told.contains("contradict"), "case {case}: {told}");
    }
}

#[test]
fn one_block_that_cannot_be_is_a_gap_and_the_check_goes_on() {
    let bench = bench!();
    let mut blocks = 0;
    let gauge = Changed::new(move |message| {
        if let FromGauge::Block(block) = message {
            blocks += 1;
            if blocks == 40 {
                block.first_us = u64::MAX - 5;
                block.last_us = u64::MAX;
            }
        }
    });
    let run = bench
        .finish(&mut grip(&bench, &gauge.port.path, ""))
        .exits(0);
    assert_eq!(run.json()["statistics"]["count"], 5, "{run}");
    crate::is_sound(&bench);
}

#[test]
fn overloads_of_any_boot_and_time_are_counted_and_kept() {
    let bench = bench!();
    let gauge = Changed::reply(|reply| {
        if let Reply::Overloads(stored) = reply {
            stored.clear();
            for (boot, at_us, peak_counts) in [
                (u32::MAX, u64::MAX, i32::MIN),
                (0, 0, 0),
                (u32::MAX, u64::MAX, i32::MAX),
            ] {
                let overload = Overload {
                    boot,
                    at_us,
                    peak_counts,
                };
                assert!(stored.push(overload).is_ok());
            }
        }
    });
    let line = format!("gauge check --gauge {} --book {BOOK}", gauge.port.path);
    for _ in 0..2 {
        bench
            .line(&line)
            .exits(5)
            .shows("overloads since calibration: 3");
    }
    crate::is_sound(&bench);
}

#[test]
fn an_indicator_that_shows_what_no_display_can_gives_no_reading() {
    for spoil in [
        (|m| {
            if let FromGauge::Indicator(reading) = m {
                reading.decimals = 255;
            }
        }) as fn(&mut FromGauge<'_>),
        |m| {
            if let FromGauge::Indicator(reading) = m {
                reading.digits = i32::MIN;
            }
        },
        |m| {
            if let FromGauge::Indicator(reading) = m {
                reading.at_us = u64::MAX;
            }
        },
    ] {
        let bench = bench!();
        let mut setup = Setup::new(3, Condition::Sound).calibrated_on(today_days() - 60);
        setup.fitted.displacement = false;
        let behind = OwnPort::of(setup);
        let port = OwnPort::altered(&behind.path, spoil);
        let line = format!(
            "runout --gauge {} --yes --book {BOOK} --at bar --height-mm 300 --free --json",
            port.path
        );
        bench.line(&line).exits(5).tells("no reading");
    }
}

#[test]
fn a_calibration_in_a_book_is_held_to_the_rules_as_well() {
    let bench = bench!();
    let gauge = Changed::new(|_| ());
    let line = format!("gauge check --gauge {} --book {BOOK}", gauge.port.path);
    bench.line(&line).exits(0);
    let mut writer = BookWriter::open(&bench.path(BOOK), "Technician A").expect("the book");
    let known = writer.book.list::<GaugeHeader>().expect("gauges")[0].id;
    let kept = writer.book.gauge_checks(known).expect("checks").remove(0);
    let good = kept.calibration.expect("a calibration");
    let row = writer
        .book
        .calibration(good)
        .expect("a book")
        .expect("a record");
    let (id, check) = (writer.id(), writer.id());
    let mut record = CalibrationRecord::decode(&row.record).expect("a record");
    (record.id, record.date_days) = (id.into_bytes(), i32::MAX);
    let mut buffer = [0; CalibrationRecord::MAX_ENCODED];
    let record = record.encode(&mut buffer).expect("it fits").to_vec();
    let bad = Calibration { id, record, ..row };
    writer.book.import_calibration(&bad).expect("a row");
    let later = GaugeCheck {
        id: check,
        calibration: Some(id),
        ..kept
    };
    writer.book.keep_gauge_check(&later).expect("a row");
    drop(writer);
    let line = format!("gauge history --book {BOOK}");
    let run = bench.line(&line).exits(5).tells(BOOK);
    run.tells("cannot be used: date: found day 2147483647");
}
