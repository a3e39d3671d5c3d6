//! In: the tables of fixture, parts and safety. Out: whether loads, threads, collar, sections and knob position follow
//! from the formulas of the page, and whether every one keeps the page's own rule.

use super::{RATED_N, read, root, row, table};
use std::f64::consts::PI;

#[test]
fn capacity_keeps_the_safety_factor() {
    let rows = table("fixture.md", &["interface", "expected kN"]);
    for row in &rows {
        let (expected, rated) = (row.number("expected kN"), row.number("rated kN"));
        row.says("× 1.5 kN", 1.5 * expected);
        row.says("factor", rated / expected);
        assert!(1.5 * expected <= rated, "{row:?}");
        assert!(rated <= row.number("cell kN"), "{row:?}");
    }
    // Where less than the cell's load is entered, rod and knob are why: the load is in the tables of sections.
    let threads = table("fixture.md", &["thread", "pitch mm"]);
    let heavy = row(&rows, "interface", "7/24 no. 50, heavy").number("rated kN");
    assert!(
        threads
            .iter()
            .any(|row| (row.number("rated kN") - heavy).abs() < 1e-9)
    );
}

/// Safety: the proof load is above what the gauge will ever carry, and the cell survives it.
#[test]
fn the_proof_load_is_above_the_rated_load_and_below_the_cells_safe_overload() {
    let safety = read("hardware-notes/safety.md");
    let (factor, loads) = safety
        .split_once("proof load: **")
        .and_then(|(_, rest)| rest.split_once(" × the rated load ("))
        .unwrap();
    let factor: f64 = factor.parse().unwrap();
    let (proof, rated) = loads
        .split_once("),")
        .and_then(|(of, _)| of.split_once(" kN for "))
        .unwrap();
    let proof_kn: f64 = proof.parse().unwrap();
    let rated_kn: f64 = rated.trim_end_matches(" kN").parse().unwrap();
    assert!((factor * rated_kn - proof_kn).abs() < 1e-9 && (rated_kn * 1e3 - RATED_N).abs() < 1e-9);
    assert!(factor > 1.0, "a proof below the load in use proves nothing");
    let cell = table("parts.md", &["what matters", "at least"]);
    let overload = row(&cell, "what matters", "safe overload").text("at least");
    let percent: f64 = overload.split(" %").next().unwrap().parse().unwrap();
    assert!(factor * 100.0 <= percent, "{overload}");
}

const KNOB_MPA: f64 = 830.0;
const ROD_MPA: f64 = 650.0;

fn diameter_mm(thread: &str) -> f64 {
    thread.trim_start_matches('M').parse().unwrap()
}

fn stress_area_mm2(thread: &str, pitch_mm: f64) -> f64 {
    PI / 4.0 * (diameter_mm(thread) - 0.9382 * pitch_mm).powi(2)
}

/// Area of a ring, or of a disc with a hole, mm².
fn ring_mm2(outside_mm: f64, inside_mm: f64) -> f64 {
    PI / 4.0 * (outside_mm.powi(2) - inside_mm.powi(2))
}

#[test]
fn threads_carry_what_the_notes_say() {
    let threads = table("fixture.md", &["thread", "pitch mm"]);
    for row in &threads {
        let area = stress_area_mm2(row.text("thread"), row.number("pitch mm"));
        let stress = row.number("rated kN") * 1e3 / area;
        row.says("area mm²", area);
        row.says("stress MPa", stress);
        row.says("factor of the knob", KNOB_MPA / stress);
        row.says("factor of the rod", ROD_MPA / stress);
        assert!(
            ROD_MPA / stress >= 4.0,
            "below what the page demands: {row:?}"
        );
    }
    let m24 = stress_area_mm2("M24", 3.0) / 4.0 / 1e3;
    let page = read("hardware-notes/fixture.md");
    let said = format!(
        "M24 reaches it at {:.0} kN\nfor the knob and at {:.0} kN for the rod",
        KNOB_MPA * m24,
        ROD_MPA * m24
    );
    assert!(page.contains(&said), "{said}");
    for row in table("fixture.md", &["thread", "hole mm"]) {
        let thread = row.text("thread");
        let pitch = self::row(&threads, "thread", thread).number("pitch mm");
        let area = stress_area_mm2(thread, pitch) - ring_mm2(row.number("hole mm"), 0.0);
        let amplitude = row.number("grip force kN") * 1e3 / area / 2.0;
        let endurance = 0.85 * (150.0 / diameter_mm(thread) + 45.0);
        row.says("amplitude MPa", amplitude);
        row.says("endurance MPa", endurance);
        assert_eq!(
            row.text("within"),
            if amplitude <= endurance { "yes" } else { "no" }
        );
    }
}

/// Collar, cut-back shank and push-out ring of every size follow from the shank and the knob.
#[test]
fn inch_threads_carry_what_the_notes_say() {
    let rows = table("fixture.md", &["inch thread"]);
    assert_eq!(rows.len(), 4);
    for row in rows {
        let pitch_mm = 25.4 / row.number("threads an inch");
        let diameter_mm = row.number("diameter mm");
        let area = std::f64::consts::FRAC_PI_4 * (diameter_mm - 0.9382 * pitch_mm).powi(2);
        row.says("area mm²", area);
        let stress = 1_000.0 * row.number("rated kN") / area;
        row.says("stress MPa", stress);
        row.says("factor of the knob", 830.0 / stress);
        assert!(830.0 / stress >= 4.0);
    }
}

/// Wherever a drawing goes, these go with it.
#[test]
fn every_drawing_says_who_checks_a_fixture_and_its_least_factor() {
    let sections = table("fixture.md", &["section"]);
    let least = sections.iter().map(|row| row.number("factor"));
    let least = least.fold(f64::INFINITY, f64::min);
    let drawings = std::fs::read_dir(root().join("hardware-notes/drawings")).expect("drawings");
    let mut count = 0;
    for drawing in drawings {
        let path = drawing.expect("a drawing").path();
        let drawn = std::fs::read_to_string(&path).expect("text");
        assert!(
            drawn.contains("checked by a qualified person before its first load"),
            "{path:?}"
        );
        assert!(
            drawn.contains(&format!("least of all sections: {least:.1}")),
            "{path:?}"
        );
        count += 1;
    }
    assert!(count >= 5);
}

#[test]
fn the_collar_fits_and_carries() {
    const GAP_MM: f64 = 0.4;
    let threads = table("fixture.md", &["thread", "pitch mm"]);
    let rated_n = [10e3, 20e3, 55e3];
    for (row, force_n) in table("fixture.md", &["taper", "gauge line mm"])
        .iter()
        .zip(rated_n)
    {
        let mm = |column: &str| row.number(&format!("{column} mm"));
        let at = |from_gauge_line_mm: f64| mm("gauge line") - from_gauge_line_mm * 7.0 / 24.0;
        let thread = row.text("thread");
        let d = diameter_mm(thread);
        row.says("small end mm", at(mm("length")));
        row.says("height mm", mm("stub") + 1.0 + mm("floor"));
        let left = mm("length") - mm("height") - GAP_MM;
        row.says("shank left mm", left);
        row.says("end of it mm", at(left));
        row.says("wall mm", (at(left) - mm("bore")) / 2.0);
        let net = ring_mm2(mm("collar"), d);
        row.says("net area mm²", net);
        row.says("stress MPa", force_n / net);
        let push_out = ring_mm2(mm("collar"), mm("bore"));
        row.says("push-out ring mm²", push_out);
        row.says("push-out MPa", force_n / push_out);
        assert!(
            mm("collar") <= at(mm("length")),
            "outside the cone: {row:?}"
        );
        let pitch = self::row(&threads, "thread", thread).number("pitch mm");
        assert!(
            net >= stress_area_mm2(thread, pitch),
            "less steel round the thread than in it: {row:?}"
        );
        assert!(mm("wall") >= 4.0, "{row:?}");
        for stress in [force_n / net, force_n / push_out] {
            assert!(ROD_MPA / stress >= 4.0, "{row:?}");
        }
    }
}

#[test]
fn every_section_in_the_force_path_is_computed() {
    let m16 = stress_area_mm2("M16", 2.0);
    let hole = ring_mm2(7.0, 0.0);
    let flats = {
        let (radius, half): (f64, f64) = (12.0, 11.0);
        let cut =
            radius.powi(2) * (half / radius).acos() - half * (radius.powi(2) - half.powi(2)).sqrt();
        2.0 * cut
    };
    let shear_of_thread = |length: f64| PI / 2.0 * (16.0 - 0.6495 * 2.0) * length;
    let areas = [
        ("knob thread M16, solid", m16, KNOB_MPA),
        ("knob thread M16, 7 mm coolant hole", m16 - hole, KNOB_MPA),
        ("knob neck 14 mm, solid", ring_mm2(14.0, 0.0), KNOB_MPA),
        (
            "knob neck 14 mm, 7 mm coolant hole",
            ring_mm2(14.0, 7.0),
            KNOB_MPA,
        ),
        (
            "collar round the thread, flats off",
            ring_mm2(24.0, 16.0) - flats,
            ROD_MPA,
        ),
        (
            "thread in the collar, 16 mm long, shear",
            shear_of_thread(16.0),
            0.6 * ROD_MPA,
        ),
        (
            "floor of the collar, shear on 16 mm × 7 mm",
            PI * 16.0 * 7.0,
            0.6 * ROD_MPA,
        ),
        ("rod thread M16", m16, ROD_MPA),
        (
            "nut thread, 13 mm long, shear",
            shear_of_thread(13.0),
            0.6 * ROD_MPA,
        ),
        ("nut bearing, 24 mm on 17 mm", ring_mm2(24.0, 17.0), ROD_MPA),
        (
            "push-out ring, 24 mm on 20 mm",
            ring_mm2(24.0, 20.0),
            ROD_MPA,
        ),
    ];
    let rows = table("fixture.md", &["section", "area mm²"]);
    assert_eq!(rows.len(), areas.len());
    for (section, area, strength) in areas {
        let row = row(&rows, "section", section);
        row.says("area mm²", area);
        row.says("stress MPa", RATED_N / area);
        row.says("strength MPa", strength);
        row.says("factor", strength * area / RATED_N);
        assert!(strength * area / RATED_N >= 4.0, "{row:?}");
    }
    // The one that fails at the next load up is named as failing.
    let page = read("hardware-notes/fixture.md");
    let drilled = [m16 - hole, ring_mm2(14.0, 7.0)].map(|area| 25e3 / area);
    let said = format!(
        "{:.1} MPa in its thread and {:.1} MPa in its neck, factors {:.1} and {:.1} (*computed*): **below 4",
        drilled[0],
        drilled[1],
        KNOB_MPA / drilled[0],
        KNOB_MPA / drilled[1]
    );
    assert!(page.contains(&said), "{said}");
}

const SPRINGS_N_PER_MM: f64 = 500.0;

/// A knob farther in lets the springs extend before they pull: less force. The correction for what rod and cell give
/// way by goes the other way.
#[test]
fn a_misplaced_knob_costs_its_distance_times_the_spring_rate() {
    let force_n = |shoulder_too_far_mm: f64| 10e3 - SPRINGS_N_PER_MM * shoulder_too_far_mm;
    for row in table("fixture.md", &["shoulder off by mm"]) {
        let off_mm = row.number("shoulder off by mm");
        row.says("too far N", force_n(off_mm) - 10e3);
        row.says("too near N", force_n(-off_mm) - 10e3);
        row.says("of 10 kN %", (10e3 - force_n(off_mm)) / 10e3 * 100.0);
    }
    let stretch_mm = |long_mm: f64, area_mm2: f64| RATED_N * long_mm / (210e3 * area_mm2);
    let rod_mm = stretch_mm(150.0, ring_mm2(16.0, 0.0));
    let collar_mm = stretch_mm(36.0, ring_mm2(24.0, 16.0));
    let cell_mm = 0.03;
    let gives_way_mm = ((rod_mm + collar_mm) / 2.0 + cell_mm) * 100.0;
    let gives_way_mm = gives_way_mm.round() / 100.0;
    let low_n = 10e3 - force_n(gives_way_mm);
    let page = read("hardware-notes/fixture.md");
    let said = [
        format!("= {rod_mm:.3} mm, the collar"),
        format!("251 mm², {collar_mm:.3} mm more"),
        format!("reads {low_n:.0} N, {:.2} %, low", low_n / 10e3 * 100.0),
        format!("**set the shoulder {gives_way_mm:.2} mm nearer to the gauge line"),
        format!("{:.1} N, goes into the uncertainty", low_n / 2.0),
    ];
    for said in said {
        assert!(page.contains(&said), "{said}");
    }
    assert!(low_n > 0.0, "what gives way takes force off");
}
