//! Sentences of results that were really analysed: in other units, out of a document, from earlier and later releases.

#![allow(clippy::unwrap_used)]

use holdtrue_metrology::decision::{Figure, Limit};
use holdtrue_metrology::grip::excluded::Discard;
use holdtrue_metrology::grip::limits::Assumption;
use holdtrue_metrology::grip::remarks::{ClampNote, GripNote, GripReason};
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup::{Gauge, GripSetup};
use holdtrue_metrology::grip::{analyse_readings, remarks};
use holdtrue_metrology::hint::Evidence;
use holdtrue_metrology::runout::{
    self, Indicator, Place, Plane, RunoutRecord, RunoutResult, RunoutSetup, Stop,
};
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_terms::vocabulary::{At, Class, Provenance};
use holdtrue_wording::digits::{Reader, Units};
use holdtrue_wording::{CheckWords, Say, Sentences, document};
use serde_json::json;

const POUNDS: Units = Units {
    reader: Reader::AtTheProgram,
    force: ForceUnit::Lbf,
    length: LengthUnit::Tenth,
};

fn in_pounds(value: &impl Say) -> String {
    value.say(&POUNDS).replace('\u{a0}', " ")
}

/// Undecided by a class alone, a clamp put aside.
fn grip() -> GripResult {
    let setup = GripSetup {
        gauge: Gauge::stated(1.0),
        discards: vec![Discard {
            number: 2,
            reason: "hung a 30 N weight".to_owned(),
        }],
        assumption: Some(Assumption {
            interface: "7/24-40".parse().unwrap(),
            class: Class::Standard,
        }),
        ..GripSetup::default()
    };
    analyse_readings(&[9_800.0, 3_000.0, 9_900.0, 9_850.0], &setup).unwrap()
}

/// A bent bar in four seatings, outside its limit by eight positions.
fn runout() -> RunoutResult {
    let plane = |seating: u32, turned: f64| {
        let stops = (0..=8_u8)
            .map(|at| 45.0 * f64::from(at))
            .map(|angle_deg| Stop {
                angle_deg,
                reading_um: 12.0 * (angle_deg - turned).to_radians().cos(),
            });
        Plane::stepped(Place::on(At::Bar, 300.0).seated(seating, turned), stops)
    };
    let planes = [(1, 0.0), (2, 180.0), (3, 0.0), (4, 180.0)];
    let record = RunoutRecord::new(planes.map(|(seating, turned)| plane(seating, turned)));
    let limit = Limit::on(Figure::Tir, 10.0, Provenance::Maker);
    let setup = RunoutSetup {
        limits: vec![limit],
        indicator: Some(Indicator::in_force(1.0)),
        ..RunoutSetup::default()
    };
    runout::analyse(&record, &setup).unwrap()
}

#[test]
fn computed_figures_follow_the_units_and_a_persons_words_do_not() {
    // Newtons / 4.4482216152605, micrometres / 2.54 (exact by definition).
    let reason = GripReason::AgainstUsual {
        place: remarks::AgainstUsual::Inside,
        low_n: 8_000.0,
        high_n: 12_000.0,
        provenance: Provenance::CommonPractice,
    };
    assert_eq!(
        in_pounds(&reason),
        "no maker's figure: inside the usual range of 1798 to 2698 lbf (common practice, no source)"
    );
    let fell = ClampNote::FellAndRose {
        at_s: 4.25,
        depth_n: 444.822_161_526_05,
    };
    assert_eq!(
        in_pounds(&fell),
        "a fall in the hold at 4.2 s, by 100 lbf, and a rise again: not in the drop"
    );
    let wall = Evidence::WallRunsOut {
        place: Place {
            at: Some(At::Wall),
            ..Place::default()
        },
        tir_um: 25.4,
    };
    assert_eq!(in_pounds(&wall), "wall: 10.0 tenths (0.00100 in)");
    let typed = ClampNote::Discarded {
        reason: "hung a 30 N weight, 2.50 kN off, 12 µm".to_owned(),
    };
    assert_eq!(
        in_pounds(&typed),
        "discarded by hand: hung a 30 N weight, 2.50 kN off, 12 µm"
    );
    assert_eq!(
        typed.say(&Units::default()),
        "discarded by hand: hung a 30 N weight, 2.50 kN off, 12 µm"
    );
}

#[test]
fn text_of_others_is_shown_as_what_it_is() {
    let note = GripNote::File(holdtrue_metrology::file_note::FileNote::ColumnNotKnown {
        file: "set\u{1b}[2J\n.csv".to_owned(),
        column: "oil\u{202e}".to_owned(),
    });
    assert_eq!(
        note.say(&Units::default()),
        "set\\u{1b}[2J\\n.csv: column \"oil\\u{202e}\" is not known here and is ignored"
    );
}

/// Out of its own document a result says the same, in any units.
#[track_caller]
fn says_the_same_out_of_its_document<R: Sentences>(result: &R) -> CheckWords {
    let document = document(result).unwrap();
    for units in [Units::default(), POUNDS] {
        let stored = CheckWords::stored::<R>(&document, &units);
        assert_eq!(stored, result.words(&units));
    }
    result.words(&Units::default())
}

#[test]
fn a_document_holds_every_sentence_and_reads_back() {
    let words = says_the_same_out_of_its_document(&grip());
    assert_eq!(words.parts[1], ["discarded by hand: hung a 30 N weight"]);
    assert!(words.with_discarded.0.is_some() && words.with_discarded.1.is_some());
    let words = says_the_same_out_of_its_document(&runout());
    assert!(!words.hints.is_empty(), "{words:?}");
    let verdict = words.verdict.unwrap();
    assert!(verdict.would_decide.is_some() && !verdict.reasons.is_empty());
    let read: RunoutResult = serde_json::from_value(document(&runout()).unwrap()).unwrap();
    assert_eq!(read, runout());
    let read: GripResult = serde_json::from_value(document(&grip()).unwrap()).unwrap();
    assert_eq!(read, grip());
}

#[test]
fn what_another_release_wrote_is_shown_as_it_was_written() {
    let mut written = document(&runout()).unwrap();
    written["notes"] = json!(["of old: 30 µm", "of tomorrow: 30 µm"]);
    written["note_values"] = json!([null, { "code": "of-tomorrow", "um": 30.0 }]);
    written["hints"][0]["evidence_values"] = json!({ "code": "of-tomorrow" });
    written["hints"][0]["evidence"] = json!("seen \u{1b}[2J");
    written["verdict"]["would_decide"]["values"] = json!([{ "code": "of-tomorrow" }]);
    written["verdict"]["would_decide"]["text"] = json!("wait for tomorrow");
    let words = CheckWords::stored::<RunoutResult>(&written, &POUNDS);
    assert_eq!(words.notes, ["of old: 30 µm", "of tomorrow: 30 µm"]);
    assert_eq!(words.hints[0].evidence, "seen \\u{1b}[2J");
    assert_eq!(
        words.verdict.unwrap().would_decide.as_deref(),
        Some("wait for tomorrow")
    );
    let read: RunoutResult = serde_json::from_value(written).unwrap();
    assert_eq!((read.notes.len(), read.hints.len()), (0, 0));
    assert_eq!(read.planes, runout().planes);
}
