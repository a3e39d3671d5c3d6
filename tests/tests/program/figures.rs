//! Every figure a limit can be set on, by every way in: limits file, typed, schema, documentation, verdict.
//!
//! In: the table of figures. Out: each of them known wherever figures are known, so that a limit never vanishes unsaid.

use holdtrue_terms::figure::{Figure, GivenBy, Measure, Side};
use holdtrue_tests::bench;
use holdtrue_tests::bench::Bench;
use holdtrue_tests::force::{Made, MadeClamp};
use holdtrue_tests::schema::differences;
use serde_json::Value;
use std::fmt::Write;

/// Five clamps, held long enough for a drop; a bar at two heights, in four seatings 90° apart, and in four of which two are
/// in one orientation.
fn with_records() -> Bench {
    let bench = bench!();
    let forces_n = [9_810.0, 9_790.0, 9_805.0, 9_795.0, 9_800.0];
    let clamps = forces_n.map(|force_n| MadeClamp {
        hold_s: 12.0,
        ..MadeClamp::of(force_n)
    });
    let made = Made {
        push_out_mm: Some(0.5),
        ..Made::default()
    };
    bench.file("grip.csv", made.csv(&clamps));
    bench.file("four.csv", seated(&[0, 90, 180, 270]));
    bench.file("again.csv", seated(&[0, 180, 0, 180]));
    bench
}

fn seated(orientations_deg: &[i32]) -> String {
    let mut csv = "seating,orientation_deg,at,height_mm,angle_deg,reading_um\n".to_owned();
    for (seating, orientation) in (1..).zip(orientations_deg) {
        for height in [20, 300] {
            for angle in (0..=360).step_by(45) {
                let turn = |of: i32| f64::from(of).to_radians().cos();
                let reading_um = 2.0 * turn(angle - 30)
                    + 0.5 * turn(angle - orientation)
                    + 0.02 * f64::from(seating * turn_of(angle));
                writeln!(
                    csv,
                    "{seating},{orientation},bar,{height},{angle},{reading_um:.2}"
                )
                .expect("text");
            }
        }
    }
    csv
}

/// Something each reading has of its own, the same at 0° and 360°.
fn turn_of(angle: i32) -> i32 {
    (angle / 45 * 5) % 8
}

fn command_of(figure: Figure) -> String {
    let check = match figure.facts().given_by {
        GivenBy::Grip => "grip --from grip.csv --uncertainty-percent 0.5",
        GivenBy::Runout if figure == Figure::FourSeatings => {
            "runout --from four.csv --uncertainty-um 0.5"
        }
        GivenBy::Runout => "runout --from again.csv --uncertainty-um 0.5",
    };
    format!("{check} --as-read --json")
}

/// A limit that each of these records meets, in the unit the figure is judged in.
fn met(figure: Figure) -> f64 {
    match (figure.facts().measure, figure.facts().good) {
        (Measure::Travel, _) => 0.3,
        (_, Side::Lower) => 8_000.0,
        (_, Side::Upper) => 100.0,
    }
}

fn limits_file(figure: Figure, limit: f64, unit: &str, more: &str) -> String {
    // A push-out is judged by the maker's figure only.
    let provenance = match figure {
        Figure::PushOut => "maker\"\nsource = \"sheet, page 4",
        _ => "common-practice",
    };
    format!(
        "schema = 1\ntitle = \"Tern Point\"\n[[limit]]\nfigure = \"{figure}\"\nlimit = {limit}\nunit = \"{unit}\"\n\
         provenance = \"{provenance}\"\n{more}"
    )
}

/// The rows of a verdict on one figure.
fn judged(document: &Value, figure: Figure) -> Vec<Value> {
    let rows = document["verdict"]["limits"].as_array();
    let rows = rows.into_iter().flatten();
    rows.filter(|row| row["figure"] == figure.word())
        .cloned()
        .collect()
}

#[test]
fn a_limit_on_each_figure_in_a_file_is_read_in_each_of_its_units_and_on_each_side() {
    let bench = bench!();
    let schema = bench.line("schema limits-show").json();
    for &figure in Figure::ALL {
        for (unit, factor) in figure.facts().measure.units() {
            let limit = met(figure) / factor;
            bench.file("limits.toml", limits_file(figure, limit, &unit, ""));
            let run = bench.line("limits show limits.toml --json").exits(0);
            let document = run.json();
            assert_eq!(differences(&schema, &document), Vec::<String>::new());
            let read = &document["limits"][0];
            assert_eq!(read["figure"], figure.word(), "{run}");
            assert_eq!(read["unit"], figure.unit(), "{run}");
            assert_eq!(read["side"], figure.facts().good.word(), "{run}");
            let value = read["limit"].as_f64().expect("a number");
            assert!((value / met(figure) - 1.0).abs() < 1e-12, "{run}");
        }
        bench.line("limits show limits.toml").shows(figure.words());
        bench.file("unit.toml", limits_file(figure, 5.0, "stone", ""));
        let (unit, _) = &figure.facts().measure.units()[0];
        bench.line("limits check unit.toml").exits(4).tells(unit);
        let side = |side: Side| format!("side = \"{side}\"\n");
        let upper = limits_file(figure, met(figure), figure.unit(), &side(Side::Upper));
        bench
            .file("upper.toml", upper)
            .line("limits check upper.toml")
            .exits(0);
        let lower = limits_file(figure, met(figure), figure.unit(), &side(Side::Lower));
        let good_when_large = figure.facts().good == Side::Lower;
        bench
            .file("lower.toml", lower)
            .line("limits check lower.toml")
            .exits(if good_when_large { 0 } else { 4 });
        let height = limits_file(figure, met(figure), figure.unit(), "height_mm = 20\n");
        // The seat is one figure for all heights.
        let has_height = figure.is_of(GivenBy::Runout) && figure != Figure::Seat;
        bench
            .file("height.toml", height)
            .line("limits check height.toml")
            .exits(if has_height { 0 } else { 4 });
    }
}

/// A limit is judged, or the command says that it cannot be; it is never left out.
#[test]
fn a_limit_on_each_figure_is_in_the_verdict_from_a_file_and_typed() {
    let bench = with_records();
    for &figure in Figure::ALL {
        let file = limits_file(figure, met(figure), figure.unit(), "");
        bench.file("limits.toml", file);
        let from_file = format!("{} --limits limits.toml", command_of(figure));
        let option = figure.facts().option;
        let typed = option.map(|option| {
            let limit = met(figure);
            format!("{} --{} {limit}", command_of(figure), option.name)
        });
        let schema = match figure.facts().given_by {
            GivenBy::Grip => bench.line("schema grip").json(),
            GivenBy::Runout => bench.line("schema runout").json(),
        };
        for line in std::iter::once(from_file).chain(typed) {
            let run = bench.line(&line);
            let document = run.json();
            let rows = judged(&document, figure);
            assert!(!rows.is_empty(), "{run}");
            for row in &rows {
                assert_eq!(row["unit"], figure.unit(), "{run}");
                assert_eq!(row["side"], figure.facts().good.word(), "{run}");
                assert_eq!(row["limit"], met(figure), "{run}");
                assert_eq!(row["outcome"], "accept", "{run}");
            }
            assert_eq!(
                differences(&schema, &document),
                Vec::<String>::new(),
                "{run}"
            );
            let screen = bench.line(&line.replace(" --json", ""));
            assert!(screen.out.contains(figure.words()), "{screen}");
        }
    }
}

/// The option is in the help of its own check with its own line, and takes nothing that is no limit.
#[test]
fn each_option_for_a_limit_is_in_the_help_and_refuses_what_is_none() {
    let bench = with_records();
    for &figure in Figure::ALL {
        let Some(option) = figure.facts().option else {
            continue;
        };
        let (own, other) = match figure.facts().given_by {
            GivenBy::Grip => ("grip", "runout"),
            GivenBy::Runout => ("runout", "grip"),
        };
        let option_in_full = format!("--{} <{}>", option.name, option.value);
        bench
            .line(&format!("{own} --help"))
            .exits(0)
            .shows(&option_in_full)
            .shows(option.help);
        let help = bench.line(&format!("{other} --help")).exits(0);
        assert!(!help.out.contains(&option_in_full), "{help}");
        for wrong in ["0", "-1", "much", "nan"] {
            let line = format!("{} --{} {wrong}", command_of(figure), option.name);
            bench.line(&line).exits(2);
        }
    }
}

#[test]
fn the_page_on_limits_files_names_each_figure_beside_its_units() {
    let page = include_str!("../../../host/docs/limits.md");
    for &figure in Figure::ALL {
        let word = format!("`{figure}`");
        let row = page
            .lines()
            .find(|line| line.starts_with("| `") && line.contains(&word));
        let row = row.unwrap_or_else(|| panic!("{word} is in no table of host/docs/limits.md"));
        let units = figure.facts().measure.units();
        let units: Vec<String> = units.iter().map(|(unit, _)| format!("`{unit}`")).collect();
        assert!(row.ends_with(&format!("| {} |", units.join(", "))), "{row}");
        assert!(row.contains(figure.words()), "{row}");
        if let Some(option) = figure.facts().option {
            let option = format!("`--{}`", option.name);
            assert!(row.contains(&option), "{row}: {option}");
        }
    }
}
