//! In: the tables and drawings of the hardware notes. Out: whether their figures follow from the formulas beside them,
//! and whether pins and settings are those of the firmware.
//!
//! Constants here are the notes' own example (20 kN, 2 mV/V, 350 Ω, 3.3 V) and the documents the notes name.

#![allow(clippy::unwrap_used)] // a test may stop at what it did not expect

use holdtrue_firmware::adc::{Input, Setup};
use holdtrue_firmware::ads1220::RATES_HZ;
use holdtrue_firmware::bridge::Wiring;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::path::PathBuf;

#[path = "hardware_notes/fixture.rs"]
mod fixture;

const RATED_N: f64 = 20_000.0;
const SIGNAL_V_PER_V: f64 = 2e-3;
const SUPPLY_V: f64 = 3.3;
const GAIN: f64 = 128.0;
const FULL_SCALE_COUNTS: f64 = 8_388_608.0;
const BRIDGE_OHM: f64 = 350.0;
const FILTER_OHM: f64 = 1_000.0;
const ACROSS_F: f64 = 10e-9;
const TO_GROUND_F: f64 = 1e-9;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn read(path: &str) -> String {
    let file = root().join(path);
    std::fs::read_to_string(&file).unwrap_or_else(|error| panic!("{}: {error}", file.display()))
}

/// A row of a table, by the headings of its columns.
#[derive(Debug)]
struct Row(BTreeMap<String, String>);

impl Row {
    fn text(&self, column: &str) -> &str {
        self.0
            .get(column)
            .unwrap_or_else(|| panic!("no column {column:?} in {self:?}"))
    }

    fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse()
            .unwrap_or_else(|_| panic!("{text:?} in column {column:?} is no number"))
    }

    /// The printed figure is `exact` rounded to the digits printed.
    #[track_caller]
    fn says(&self, column: &str, exact: f64) {
        let text = self.text(column);
        let decimals = text.split_once('.').map_or(0, |(_, after)| after.len());
        assert_eq!(text, format!("{exact:.decimals$}"), "{column} in {self:?}");
    }
}

fn cells(line: &str) -> Vec<String> {
    let inside = line.trim().trim_start_matches('|').trim_end_matches('|');
    inside
        .split('|')
        .map(|cell| cell.trim().to_owned())
        .collect()
}

/// The table of a page whose heading row begins with these columns.
fn table(page: &str, first_columns: &[&str]) -> Vec<Row> {
    let text = read(&format!("hardware-notes/{page}"));
    let mut lines = text.lines();
    let heading = lines
        .by_ref()
        .filter(|line| line.starts_with('|'))
        .map(cells)
        .find(|heading| {
            heading
                .iter()
                .zip(first_columns)
                .filter(|(a, b)| a == b)
                .count()
                == first_columns.len()
        })
        .unwrap_or_else(|| panic!("{page}: no table begins with {first_columns:?}"));
    let rows: Vec<Row> = lines
        .skip(1)
        .take_while(|line| line.starts_with('|'))
        .map(|line| {
            let row = cells(line);
            assert_eq!(row.len(), heading.len(), "{page}: {line}");
            Row(heading.iter().cloned().zip(row).collect())
        })
        .collect();
    assert!(rows.len() >= 2, "{page}: {first_columns:?} is empty");
    rows
}

/// The row whose first column says this.
fn row<'t>(rows: &'t [Row], column: &str, says: &str) -> &'t Row {
    rows.iter()
        .find(|row| row.text(column) == says)
        .unwrap_or_else(|| panic!("no row {says:?}"))
}

fn pages() -> Vec<(String, String)> {
    let mut pages: Vec<(String, String)> = std::fs::read_dir(root().join("hardware-notes"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".md"))
        .map(|name| (name.clone(), read(&format!("hardware-notes/{name}"))))
        .collect();
    pages.sort();
    pages
}

#[test]
fn counts_follow_from_signal_and_gain() {
    for row in table("adc.md", &["force N"]) {
        let ratio = row.number("force N") / RATED_N * SIGNAL_V_PER_V;
        row.says("signal µV/V", ratio * 1e6);
        row.says("voltage mV", ratio * SUPPLY_V * 1e3);
        row.says("counts", ratio * GAIN * FULL_SCALE_COUNTS);
    }
    // The sentence below the table.
    let rated_counts = SIGNAL_V_PER_V * GAIN * FULL_SCALE_COUNTS;
    let adc = read("hardware-notes/adc.md");
    let of_a_newton = format!("{:.3} counts per newton", rated_counts / RATED_N);
    let of_a_count = format!("2 147 484 = {:.5} N", RATED_N / rated_counts);
    assert_eq!(format!("{rated_counts:.0}"), "2147484");
    for said in [of_a_newton, of_a_count] {
        assert!(adc.contains(&said), "{said}");
    }
}

#[test]
fn noise_and_resolution_of_every_rate_follow_from_the_converters_noise() {
    let rows = table("adc.md", &["rate /s", "mode"]);
    let rates: Vec<String> = rows
        .iter()
        .map(|row| row.text("rate /s").to_owned())
        .collect();
    assert_eq!(rates, RATES_HZ.map(|rate| rate.to_string()));
    for row in &rows {
        let noise_v = row.number("noise µV") * 1e-6;
        let noise_n = noise_v / (SIGNAL_V_PER_V * SUPPLY_V) * RATED_N;
        row.says("noise N", noise_n);
        row.says(
            "noise counts",
            noise_v / SUPPLY_V * GAIN * FULL_SCALE_COUNTS,
        );
        row.says("peak to peak N", 6.6 * noise_n);
        row.says("noise-free bits", (RATED_N / (6.6 * noise_n)).log2());
        row.says(
            "mean of 2 s N",
            noise_n / (2.0 * row.number("rate /s")).sqrt(),
        );
        if row.text("mode") == "turbo" {
            let half = (row.number("rate /s") / 2.0).to_string();
            // Turbo has no partner for 175 and 330 but the next rate: 2 × 175 = 350, 2 × 330 = 660.
            let normal = self::row(&rows, "rate /s", &half);
            assert_eq!(
                (normal.text("mode"), normal.text("noise µV")),
                ("normal", row.text("noise µV"))
            );
        }
    }
}

/// The page's budget adds up, and its noise rows are those of the noise table.
#[test]
fn the_budget_adds_up() {
    let rows = table("adc.md", &["source", "limit or U"]);
    let (combined, parts) = rows.split_last().unwrap();
    assert_eq!(combined.text("source"), "combined");
    let sum: f64 = parts
        .iter()
        .map(|part| part.number("standard N").powi(2))
        .sum();
    assert!(
        (sum.sqrt() - combined.number("standard N")).abs() < 0.06,
        "{}",
        sum.sqrt()
    );
    for part in parts
        .iter()
        .filter(|part| !part.text("limit or U").is_empty())
    {
        let limit: f64 = part
            .text("limit or U")
            .trim_end_matches(" N")
            .parse()
            .unwrap();
        let divisor = if part.text("source").contains("k = 2") {
            2.0
        } else {
            3.0_f64.sqrt()
        };
        let off = (limit / divisor - part.number("standard N")).abs();
        assert!(off <= 0.051, "{part:?}: {}", limit / divisor);
    }
    let at_1000 = table("adc.md", &["rate /s", "mode"]);
    let noise_n = row(&at_1000, "rate /s", "1000").number("noise N");
    row(parts, "source", "noise, mean of 2 s").says("standard N", noise_n / 2_000.0_f64.sqrt());
    row(parts, "source", "noise, zero of 0.5 s").says("standard N", noise_n / 500.0_f64.sqrt());
}

#[test]
fn the_filter_is_what_its_parts_make_it() {
    let rows = table("adc.md", &["quantity", "value"]);
    let says = |quantity: &str, exact: f64| row(&rows, "quantity", quantity).says("value", exact);
    let source_ohm = 2.0 * FILTER_OHM + BRIDGE_OHM;
    let constant_s = source_ohm * (ACROSS_F + TO_GROUND_F / 2.0);
    let corner_hz = 1.0 / (2.0 * PI * constant_s);
    let weakening_db = |hz: f64| 10.0 * (1.0 + (hz / corner_hz).powi(2)).log10();
    says("corner, kHz", corner_hz / 1e3);
    says("weakening at 256 kHz, dB", weakening_db(256e3));
    says("weakening at 512 kHz, dB", weakening_db(512e3));
    says("time constant, µs", constant_s * 1e6);
    says(
        "corner to ground, kHz",
        1.0 / (2.0 * PI * FILTER_OHM * TO_GROUND_F) / 1e3,
    );
    // Thermal noise √(4 k T R) at 298 K.
    says(
        "resistor noise, nV/√Hz",
        (4.0 * 1.380_649e-23 * 298.0 * source_ohm).sqrt() * 1e9,
    );
    // An open wire's capacitors, taken by 10 µA from the far rail past the middle to an eighth of the supply.
    let volts_per_s = 10e-6 / (ACROSS_F + TO_GROUND_F);
    let way_v = SUPPLY_V / 2.0 + SUPPLY_V / 8.0;
    says(
        "open wire from the far rail found after, ms",
        way_v / volts_per_s * 1e3,
    );
    // The middle one of the readings a look takes, each the mean of its conversion.
    let middle_v = |rate_hz: f64| {
        let after = f64::from(holdtrue_firmware::selftest::SETTLING) + 1.5;
        -SUPPLY_V / 2.0 + volts_per_s * after / rate_hz
    };
    let look_hz = f64::from(holdtrue_firmware::gauge::TEST_HZ);
    assert!(middle_v(look_hz) > SUPPLY_V / 8.0);
    assert!(middle_v(2_000.0) < SUPPLY_V / 8.0, "the page says so");
    let most_f = 10e-6 * (f64::from(holdtrue_firmware::selftest::SETTLING) + 1.5) / look_hz / way_v;
    assert!(
        read("hardware-notes/adc.md").contains(&format!("at most {:.0} nF in all", most_f * 1e9))
    );
}

/// The amplifier's three conditions on its inputs, and what the USB and a short at the plug ask for.
#[test]
fn common_mode_and_supply_have_room() {
    let wiring = read("hardware-notes/wiring.md");
    let swing_v = 0.2 + 0.5 * 32.0 * SUPPLY_V / GAIN;
    let lowest_v = swing_v.max(SUPPLY_V / 4.0);
    let highest_v = SUPPLY_V - swing_v;
    let said = format!("{lowest_v:.3} V to {highest_v:.2} V; 1.65 V is inside by");
    assert!(wiring.contains(&said), "{said}");
    let rows = table("wiring.md", &["consumer", "mA"]);
    let (together, consumers) = rows.split_last().unwrap();
    let sum_ma: f64 = consumers.iter().map(|row| row.number("mA")).sum();
    together.says("mA", sum_ma);
    let bridge_ma = SUPPLY_V / BRIDGE_OHM * 1e3;
    row(&rows, "consumer", "bridge").says("mA", bridge_ma);
    let link = read("firmware/boards/rp2040/src/link.rs");
    let (_, asked) = link.split_once("const CURRENT_MA: usize = ").unwrap();
    let asked_ma = asked
        .split([' ', '{', '}', ';'])
        .filter_map(|word| word.parse().ok());
    let [with_probe_ma, without_ma]: [f64; 2] =
        asked_ma.take(2).collect::<Vec<_>>().try_into().unwrap();
    let left_ma = sum_ma - row(&rows, "consumer", "probe").number("mA");
    assert!(sum_ma <= with_probe_ma && left_ma <= without_ma);
    let said = format!(
        "asks the host for {with_probe_ma} mA, without a probe for {without_ma} mA (what is left is {left_ma:.1} mA)"
    );
    assert!(wiring.contains(&said), "{said}");
    // The limiter lets bridge and converter work and keeps a short within what the converter's switch carries.
    let needed_ma =
        bridge_ma + row(&rows, "consumer", "converter, regulator, shunt switch").number("mA");
    let limit_ma = 0.65 / 27.0 * 1e3;
    assert!(wiring.contains(&format!("0.65 V ÷ 27 Ω = {limit_ma:.0} mA")));
    assert!(
        needed_ma < limit_ma && limit_ma < 30.0,
        "{needed_ma} {limit_ma}"
    );
}

#[test]
fn what_is_left_of_the_mains() {
    for row in table("adc.md", &["window s"]) {
        let window_s = row.number("window s");
        for (hz, periods, left) in [
            (50.0, "periods of 50 Hz", "left of 50 Hz %"),
            (60.0, "periods of 60 Hz", "left of 60 Hz %"),
        ] {
            row.says(periods, hz * window_s);
            assert!((hz * window_s).fract() < 1e-9, "whole periods: {row:?}");
            row.says(left, 100.0 / (PI * hz * window_s));
        }
    }
}

/// The bytes the notes print are the ones the driver sends.
#[test]
fn register_bytes_are_the_drivers() {
    for row in table("adc.md", &["what is measured"]) {
        let (input, rate_hz) = match row.text("what is measured") {
            "bridge" => (Input::Bridge, 1_000),
            "bridge, 20 a second" => (Input::Bridge, 20),
            "input shorted" => (Input::Shorted, 1_000),
            "leads" => (Input::Leads, 1_000),
            "common mode" => (Input::CommonMode, 1_000),
            "supply" => (Input::Supply, 1_000),
            "temperature" => (Input::Temperature, 1_000),
            other => panic!("the driver measures no {other:?}"),
        };
        let setup = Setup {
            input,
            rate_hz,
            shunt: false,
        };
        let sent = Wiring::FOUR_WIRE.config(&setup).registers().unwrap();
        let printed: Vec<String> = (0..4)
            .map(|n| row.text(&format!("register {n}")).to_owned())
            .collect();
        assert_eq!(printed, sent.map(|byte| format!("0x{byte:02X}")), "{row:?}");
    }
}

#[test]
fn bounds_before_use_are_those_of_the_example_gauge() {
    let rows = table("checks.md", &["quantity", "bound"]);
    let full_scale_n = RATED_N / (SIGNAL_V_PER_V * GAIN);
    for row in rows.iter().filter(|row| !row.text("on 20 kN").is_empty()) {
        let (percent, of) = row.text("bound").split_once(" % of ").unwrap();
        let whole_n = match of {
            "full scale" => full_scale_n,
            "rated load" => RATED_N,
            // 350 ohm, 100 kilohm across one arm.
            "the computed step, 937 883 counts (adc.md)" => {
                let step = 350.0 / (4.0 * 100_000.0 + 2.0 * 350.0);
                let counts = step * GAIN * FULL_SCALE_COUNTS;
                assert_eq!(format!("{counts:.0}"), "937883");
                step / SIGNAL_V_PER_V * RATED_N
            }
            other => panic!("{other}"),
        };
        let exact_n = percent.parse::<f64>().unwrap() / 100.0 * whole_n;
        assert_eq!(row.text("on 20 kN"), format!("{exact_n:.0} N"), "{row:?}");
    }
}

/// Table and drawing name exactly the pins that the board's source takes, each for what it is there.
#[test]
fn pins_are_those_of_the_board() {
    let source = read("firmware/boards/rp2040/src/start.rs");
    let in_source = |pin: &str, words: &str| {
        let line = source
            .lines()
            .find(|line| line.contains(&format!("pins.gpio{pin}.")));
        let line = line.unwrap_or_else(|| panic!("the board has no GPIO{pin}"));
        assert!(line.contains(words), "GPIO{pin} {words:?}: {line}");
    };
    let drawing = read("hardware-notes/drawings/wiring.svg");
    let rows = table("wiring.md", &["GPIO", "direction"]);
    let mut named = Vec::new();
    for row in &rows {
        let pin = row.text("GPIO");
        named.push(pin.to_owned());
        assert!(
            drawing.contains(&format!(">GPIO{pin}<")),
            "the drawing lacks GPIO{pin}"
        );
        let words = match row.text("goes to") {
            "indicator clock" => "indicator_clock: ",
            "indicator data" => "indicator_data: ",
            "ADS1220 DRDY" => "data_ready: ",
            "probe A" => "a: ",
            "probe B" => "b: ",
            "mark" => "mark: ",
            "push button" => "button: ",
            "indicator request" => "request: ",
            "shunt switch" => "let shunt = ",
            "light" => "light: ",
            "second light" => "second_light: ",
            "buzzer" => "buzzer: ",
            "ADS1220 CS" => "let select = ",
            "ADS1220 DOUT/DRDY" | "ADS1220 SCLK" | "ADS1220 DIN" => "into_function()",
            other => panic!("the board knows no {other:?}"),
        };
        in_source(pin, words);
        let is_output = source.contains(&format!("pins.gpio{pin}.into_push_pull_output"));
        if !words.contains("function") {
            assert_eq!(
                row.text("direction"),
                if is_output { "out" } else { "in" },
                "GPIO{pin}"
            );
        }
    }
    let taken = source.matches("pins.gpio").count();
    assert_eq!(named.len(), taken, "the board takes {taken} pins");
    // The bus is given as (data out, data in, clock), in that order.
    let bus: Vec<&str> = source
        .lines()
        .filter(|line| line.contains("into_function()"))
        .filter_map(|line| line.split("gpio").nth(1)?.split('.').next())
        .collect();
    let pin_of = |goes_to: &str| row(&rows, "goes to", goes_to).text("GPIO");
    assert_eq!(
        bus,
        ["ADS1220 DIN", "ADS1220 DOUT/DRDY", "ADS1220 SCLK"].map(pin_of)
    );
}

/// The page of the boards and the wiring page give every pin the same work, and neither has a pin more.
#[test]
fn pins_are_those_of_the_boards_page() {
    let page = read("firmware/boards/README.md");
    let (_, board) = page.split_once("\n## RP2040\n").unwrap();
    let board = board.split("\n## ").next().unwrap();
    let mut of_board = BTreeMap::new();
    for line in board.lines().filter(|line| line.starts_with('|')).skip(2) {
        let cells = cells(line);
        let [pin, what, _, other_pin, other_what] = cells.as_slice() else {
            panic!("not two pins beside each other: {line}");
        };
        for (pins, what) in [(pin, what), (other_pin, other_what)] {
            let is_output = what.contains(", out")
                || ["chip select", "clock", "data from the board"]
                    .iter()
                    .any(|line| *what == format!("converter: {line}"))
                || what == "light";
            let direction = if is_output { "out" } else { "in" };
            let goes_to: &[&str] = match what.split(", out").next().unwrap() {
                "converter: data-ready" => &["ADS1220 DRDY"],
                "converter: data to the board" => &["ADS1220 DOUT/DRDY"],
                "converter: chip select" => &["ADS1220 CS"],
                "converter: clock" => &["ADS1220 SCLK"],
                "converter: data from the board" => &["ADS1220 DIN"],
                "probe: A" => &["probe A"],
                "probe: B" => &["probe B"],
                "push button, low while pressed" => &["push button"],
                "indicator: clock" => &["indicator clock"],
                "indicator: data" => &["indicator data"],
                "indicator: request" => &["indicator request"],
                "once-per-turn mark, high while it passes" => &["mark"],
                "shunt switch" => &["shunt switch"],
                "light" => &["light"],
                "second light" => &["second light"],
                "buzzer" => &["buzzer"],
                other => panic!("the wiring page knows no {other:?}"),
            };
            let pins: Vec<&str> = pins.split(", ").collect();
            assert_eq!(pins.len(), goes_to.len(), "{line}");
            for (pin, goes_to) in pins.into_iter().zip(goes_to) {
                let work = (direction.to_owned(), (*goes_to).to_owned());
                assert!(of_board.insert(pin.to_owned(), work).is_none(), "{line}");
            }
        }
    }
    let rows = table("wiring.md", &["GPIO", "direction"]);
    let of_notes: BTreeMap<_, _> = rows
        .iter()
        .map(|row| {
            let work = (row.text("direction"), row.text("goes to"));
            (
                row.text("GPIO").to_owned(),
                (work.0.to_owned(), work.1.to_owned()),
            )
        })
        .collect();
    assert_eq!(of_notes.len(), rows.len(), "a pin named twice");
    assert_eq!(of_notes, of_board);
}

#[test]
fn the_first_line_of_cautions_is_the_programs_own() {
    let safety = read("hardware-notes/safety.md");
    let first = safety
        .lines()
        .filter(|line| !line.is_empty())
        .nth(1)
        .unwrap();
    assert_eq!(
        first,
        format!("*{}*", holdtrue::visits::cautions::FIRST_LINE)
    );
}

#[test]
fn every_page_somebody_builds_or_presses_by_defers_before_it_says_anything() {
    let deference = "*Local codes and site rules, the machine maker's instructions, and licensed or qualified practice come before anything";
    let certificates = "host/docs/certificates.md".to_owned();
    let pages = pages()
        .into_iter()
        .chain([(certificates.clone(), read(&certificates))]);
    for (name, page) in pages {
        let opening: String = page.lines().take(9).collect::<Vec<_>>().join("\n");
        assert!(opening.contains(deference), "{name}");
    }
}

/// A spindle is never turned by its control while somebody or something is at the nose.
#[test]
fn no_page_offers_the_controls_orientation() {
    let readme = "README.md".to_owned();
    for (name, page) in pages().into_iter().chain([(readme.clone(), read(&readme))]) {
        for line in page
            .lines()
            .filter(|line| line.contains("orientation command"))
        {
            assert!(
                line.contains("no orientation command") || line.contains("no tool-change"),
                "{name}: {line}"
            );
        }
        assert!(!page.contains("control's orientation"), "{name}");
    }
}

/// The rule that is offered matches what the image calls itself, and every drawing and page linked to exists.
#[test]
fn usb_names_and_links_hold() {
    let link = read("firmware/boards/rp2040/src/link.rs");
    let plugging = read("hardware-notes/plugging-in.md");
    let product = holdtrue_protocol::usb::PRODUCT;
    assert!(plugging.contains(&format!("ATTRS{{product}}==\"{product}\"")));
    let id = link
        .split("UsbVidPid(")
        .nth(1)
        .unwrap()
        .split(')')
        .next()
        .unwrap();
    let (vendor, device) = id.split_once(", ").unwrap();
    for (name, hex) in [("idVendor", vendor), ("idProduct", device)] {
        let rule = format!("ATTRS{{{name}}}==\"{}\"", hex.trim_start_matches("0x"));
        assert!(plugging.contains(&rule), "{rule}");
    }
    for (name, text) in pages() {
        for target in text
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
        {
            assert!(
                root().join("hardware-notes").join(target).is_file(),
                "{name}: {target}"
            );
        }
    }
}
