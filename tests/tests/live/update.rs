//! Another image for the gauge: the file is looked at, the gauge leaves for its boot mode, and what answers then is read back.

use crate::standing::calibrated;
use holdtrue_firmware::flash::{SECTOR, SECTORS};
use holdtrue_gauge::firmware_file::RECORDS_BYTES;
use holdtrue_protocol::frame::crc32;
use holdtrue_protocol::message::{FromGauge, Refusal, Reply};
use holdtrue_simulated_gauge::{Condition, Setup};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::port::{Measuring, OwnPort};
use holdtrue_tests::schema::differences;
use serde_json::{Value, json};
use std::fs;

const FLASH_AT: u32 = 0x1000_0000;

/// A program of so many pages with the name every gauge's has in it.
fn program(pages: usize) -> Vec<u8> {
    let mut program: Vec<u8> = (0..=u8::MAX)
        .map(|at| at.wrapping_mul(7))
        .cycle()
        .take(pages * 256)
        .collect();
    program[300..314].copy_from_slice(b"holdtrue gauge");
    program
}

/// Written as the tool writes it that makes such files of an image.
fn uf2(program: &[u8], at: u32) -> Vec<u8> {
    let pages = program.chunks(256);
    let total = u32::try_from(pages.len()).expect("few pages");
    let mut file = Vec::new();
    for (number, page) in (0..).zip(pages) {
        let address = at + number * 256;
        let head = [
            0x0a32_4655,
            0x9e5d_5157,
            0x2000,
            address,
            256,
            number,
            total,
            0xe48b_ff56_u32,
        ];
        file.extend(head.iter().flat_map(|word| word.to_le_bytes()));
        file.extend(page);
        file.resize(file.len() + 476 - 256, 0);
        file.extend(0x0ab1_6f30_u32.to_le_bytes());
    }
    file
}

fn put(bench: &Bench, name: &str, bytes: &[u8]) {
    fs::write(bench.path(name), bytes).expect("a file");
}

fn gauge(bench: &Bench) -> Setup {
    Setup {
        drive: Some(bench.path("drive")),
        ..calibrated(3, Condition::Sound, 60)
    }
}

fn image_of(bench: &Bench, port: &OwnPort) -> Value {
    let line = format!("gauge info --json --gauge {}", port.path);
    bench.line(&line).json()["hardware"]["build"].clone()
}

#[test]
fn the_gauge_takes_the_image_keeps_its_calibrations_and_is_read_back() {
    let bench = bench!();
    let port = OwnPort::at_pace(gauge(&bench), 10.0);
    let program = program(40);
    put(&bench, "gauge.uf2", &uf2(&program, FLASH_AT));
    let image = format!("{:08x}", crc32(&program));
    let line = format!("gauge update gauge.uf2 --drive drive --gauge {}", port.path);
    // Looked at, and nothing done.
    let looked = bench
        .line(&format!("{line} --dry-run --json"))
        .exits(0)
        .json();
    assert_eq!(looked["image"], image);
    assert_eq!(looked["image_before"], "7e570001");
    assert_eq!(
        (&looked["written"], &looked["dry_run"]),
        (&json!(false), &json!(true))
    );
    assert_eq!(image_of(&bench, &port), "7e570001");
    // Nobody to ask, and somebody who says no.
    bench.line(&line).exits(2).tells("add --yes");
    let mut refusing =
        Measuring::at_terminal(&mut bench.command(format!("{line} --json").split_whitespace()));
    refusing.until("Load the image of the file now?");
    refusing.types("no");
    refusing.end().exits(2).tells("nothing was written");
    assert_eq!(image_of(&bench, &port), "7e570001");
    let run = bench.line(&format!("{line} --yes --json")).exits(0);
    let document = run.json();
    assert_eq!(document["written"], true);
    assert_eq!(document["image_before"], "7e570001");
    assert_eq!(document["records"], json!(["force", "probe", "indicator"]));
    let schema = bench.run(["schema", "gauge-update"]).exits(0).json();
    assert_eq!(differences(&schema, &document), Vec::<String>::new());
    assert_eq!(image_of(&bench, &port), image);
    // Its leaving was no stop of its program, and it is as fit as before.
    let info = bench
        .line(&format!("gauge info --json --gauge {}", port.path))
        .json();
    assert_eq!(info["stops"], json!([]));
    bench
        .line(&format!("gauge check --gauge {}", port.path))
        .exits(0);
    bench
        .line(&format!("{line} --yes"))
        .exits(0)
        .shows("runs this image already; nothing was written");
}

#[test]
fn a_file_that_is_no_whole_image_for_a_gauge_never_reaches_it() {
    let bench = bench!();
    let good = uf2(&program(40), FLASH_AT);
    let changed = |at: usize, to: &[u8]| {
        let mut file = good.clone();
        file[at..at + to.len()].copy_from_slice(to);
        file
    };
    let block = |number: usize| number * 512;
    let records_at = (FLASH_AT + 2 * 1024 * 1024 - 48 * 1024).to_le_bytes();
    let mut nameless = program(40);
    nameless[300] = b'H';
    let mut short = good.clone();
    short.truncate(block(39));
    let mut holed = good[..block(20)].to_vec();
    holed.extend(&good[block(21)..]);
    let cases: &[(&str, Vec<u8>, &str)] = &[
        ("empty", Vec::new(), "0 bytes"),
        (
            "half a block",
            good[..block(3) + 100].to_vec(),
            "whole blocks of 512 bytes",
        ),
        (
            "an ELF file",
            [b"\x7fELF\x01".as_slice(), &[0; 507]].concat(),
            "not the .elf",
        ),
        (
            "end mark",
            changed(block(5) - 4, &[0; 4]),
            "no UF2 block as block 5",
        ),
        (
            "cut off",
            short,
            "block 1 of 40 in the place of block 1 of 39",
        ),
        (
            "a block missing",
            holed,
            "block 1 of 40 in the place of block 1 of 39",
        ),
        (
            "blocks exchanged",
            changed(block(7) + 20, &9_u32.to_le_bytes()),
            "in the place of block 8",
        ),
        (
            "another chip",
            changed(block(2) + 28, &[1; 4]),
            "block 3 for another chip",
        ),
        (
            "no chip",
            changed(block(2) + 8, &[0; 4]),
            "block 3 for another chip",
        ),
        (
            "not for flash",
            changed(block(2) + 8, &0x2001_u32.to_le_bytes()),
            "block 3 with 256 bytes",
        ),
        (
            "half pages",
            changed(block(2) + 16, &128_u32.to_le_bytes()),
            "block 3 with 128 bytes",
        ),
        (
            "memory",
            changed(block(4) + 12, &0x2000_0000_u32.to_le_bytes()),
            "block 5 for 20000000",
        ),
        (
            "records",
            changed(block(39) + 12, &records_at),
            "where the gauge keeps its calibrations",
        ),
        (
            "twice",
            changed(block(8) + 12, &FLASH_AT.to_le_bytes()),
            "two blocks for 10000000",
        ),
        (
            "gap",
            changed(block(39) + 12, &(FLASH_AT + 0x8000).to_le_bytes()),
            "nothing for 10002700",
        ),
        (
            "not from the start",
            uf2(&program(40), FLASH_AT + 256),
            "nothing for 10000000",
        ),
        (
            "another program",
            uf2(&nameless, FLASH_AT),
            "another program",
        ),
    ];
    for (name, bytes, says) in cases {
        println!("{name}");
        put(&bench, "gauge.uf2", bytes);
        let run = bench
            .line("gauge update gauge.uf2 --gauge nowhere --yes")
            .exits(4);
        run.tells(says)
            .tells("Nothing was written")
            .tells("expected");
    }
    bench
        .line("gauge update away.uf2 --dry-run")
        .exits(4)
        .tells("a file that can be read");
    put(&bench, "gauge.uf2", &good);
    let alone = bench
        .line("gauge update gauge.uf2 --dry-run --json")
        .exits(0)
        .json();
    assert_eq!(alone["serial"], Value::Null);
    bench
        .line("gauge update gauge.uf2 --gauge nowhere --yes")
        .exits(5);
    assert_eq!(RECORDS_BYTES, SECTORS * SECTOR);
}

#[test]
fn a_board_that_cannot_leave_by_itself_is_brought_there_by_hand_and_the_old_image_is_told() {
    let bench = bench!();
    let port = OwnPort::at_pace(calibrated(3, Condition::Sound, 60), 10.0);
    put(&bench, "gauge.uf2", &uf2(&program(40), FLASH_AT));
    let line = format!(
        "gauge update gauge.uf2 --drive drive --yes --wait 1 --gauge {}",
        port.path
    );
    let told = bench
        .line(&line)
        .exits(5)
        .shows("hold its BOOTSEL button down");
    told.tells("no drive of a gauge at drive within 1 s")
        .tells("it is as it was");
    // A drive, and it is that of something else.
    fs::create_dir(bench.path("drive")).expect("a folder");
    let about = |board: &str| put(&bench, "drive/INFO_UF2.TXT", board.as_bytes());
    about("UF2 Bootloader v1.0\r\nBoard-ID: SAMD21\r\n");
    bench
        .line(&line)
        .exits(5)
        .tells("the drive of another board")
        .tells("Nothing was written");
    assert!(!bench.path("drive/gauge.uf2").exists());
    // A drive that takes nothing in: here a folder in the place of the file.
    about("UF2 Bootloader v3.0\r\nBoard-ID: RPI-RP2\r\n");
    fs::create_dir(bench.path("drive/gauge.uf2")).expect("a folder");
    bench
        .line(&line)
        .exits(6)
        .tells("copy the file onto the drive by hand");
    fs::remove_dir(bench.path("drive/gauge.uf2")).expect("it was there");
    // One that keeps the file to itself: the gauge goes on with what it had.
    bench
        .line(&line)
        .exits(5)
        .tells("answers with image 7e570001")
        .tells("the file did not get in");
}

#[test]
fn a_gauge_that_does_not_come_back_is_told_with_the_way_out() {
    let bench = bench!();
    // It leaves for a drive, and the file goes to another.
    let port = OwnPort::at_pace(gauge(&bench), 10.0);
    put(&bench, "gauge.uf2", &uf2(&program(40), FLASH_AT));
    fs::create_dir(bench.path("elsewhere")).expect("a folder");
    put(&bench, "elsewhere/INFO_UF2.TXT", b"Board-ID: RPI-RP2\r\n");
    bench
        .line(&format!(
            "gauge update gauge.uf2 --drive elsewhere --yes --wait 1 --gauge {}",
            port.path
        ))
        .exits(5)
        .tells("gauge TP-0031 did not answer within 1 s")
        .tells("BOOTSEL button held");
}

/// What stands between says something else from the moment on that the gauge has started again.
fn altered(
    behind: &OwnPort,
    mut alter: impl FnMut(&mut FromGauge<'_>) + Send + 'static,
) -> OwnPort {
    let mut started_again = false;
    OwnPort::altered(&behind.path, move |message| {
        if let FromGauge::Answer(answer) = message
            && let Ok(Reply::Identity(hello)) = &answer.outcome
        {
            started_again = hello.boot > 1;
        }
        if started_again {
            alter(message);
        }
    })
}

#[test]
fn a_calibration_that_is_gone_and_an_image_for_other_sensors_are_told() {
    type Way = (fn(&mut FromGauge<'_>), &'static str);
    let ways: [Way; 2] = [
        (
            |message| {
                if let FromGauge::Answer(answer) = message
                    && let Ok(Reply::Calibration(_)) = answer.outcome
                {
                    answer.outcome = Err(Refusal::NoRecord);
                }
            },
            "its force calibration (certificate TP-F-0117) is not there any more",
        ),
        (
            |message| {
                if let FromGauge::Answer(answer) = message
                    && let Ok(Reply::Identity(hello)) = &mut answer.outcome
                {
                    hello.fitted.displacement = false;
                }
            },
            "built for what is wired to it",
        ),
    ];
    for (way, says) in ways {
        let bench = bench!();
        let real = OwnPort::at_pace(gauge(&bench), 10.0);
        let port = altered(&real, way);
        put(&bench, "gauge.uf2", &uf2(&program(40), FLASH_AT));
        bench
            .line(&format!(
                "gauge update gauge.uf2 --drive drive --yes --gauge {}",
                port.path
            ))
            .exits(5)
            .tells("answers with the new image")
            .tells(says);
    }
}
