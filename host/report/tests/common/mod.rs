//! Documents to print: invented figures of the right shape, no analysis behind them.

#![allow(dead_code, missing_docs, clippy::unwrap_used)]

use holdtrue_metrology::decision::{Figure, Judged, Rule, Side};
use holdtrue_metrology::grip::excluded::Excluded;
use holdtrue_metrology::grip::record::{ForceRecord, Span, SpanKind, SpanReason};
use holdtrue_metrology::grip::result::{BudgetLine, Clamp, GripResult, Statistics, Uncertainty};
use holdtrue_metrology::runout::{
    AxisFrom, AxisResult, HarmonicResult, Method, Place, Plane, PlaneResult, ReversalResult,
    RunoutRecord, RunoutResult, Stop,
};
use holdtrue_metrology::uncertainty::Distribution;
use holdtrue_metrology::verdict::Verdict;
use holdtrue_report::document::*;
use holdtrue_terms::vocabulary::Severity;
use holdtrue_terms::vocabulary::{At, Outcome, Provenance, State};
use holdtrue_wording::{CheckWords, HintWords, VerdictWords};

/// Offset of the gauge in the record, N: the page has to take it off.
const OFFSET_N: f64 = 300.0;

/// Where clamps begin and how long they are held, s.
const HOLDS: [(f64, f64); 6] = [
    (2.0, 5.2),
    (10.0, 5.1),
    (18.0, 0.9),
    (22.0, 5.3),
    (30.0, 5.0),
    (38.0, 14.0),
];

/// A record of six clamps of about `force_n`, one too short, with overshoot, sag, push-out and a gap at the end.
pub fn record(force_n: f64) -> ForceRecord {
    let mut record = ForceRecord::default();
    let mut random = 12_345_u32;
    for index in 0..18_000_u32 {
        let time_s = f64::from(index) / 330.0;
        random = random.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let noise = 15.0 * (f64::from(random >> 8) / 8_388_608.0 - 1.0);
        let mut level = 0.0;
        for (begin, held) in HOLDS {
            let since = time_s - begin;
            let after = since - held;
            if (0.0..held).contains(&since) {
                let rise = (1.0 - (-since / 0.05).exp())
                    * (1.0 + 0.12 * (-since / 0.15).exp() * (since * 40.0).cos());
                level = force_n * rise * (1.0 - 0.0004 * since);
            } else if (0.0..0.35).contains(&after) {
                level = -0.16 * force_n * (after * 9.0).sin();
            }
        }
        let sample = holdtrue_metrology::grip::record::Sample {
            time_s,
            force_n: OFFSET_N + level + noise,
            orientation_deg: None,
        };
        if !(53.0..53.6).contains(&time_s) {
            record.push(sample).unwrap();
        }
    }
    let reason = SpanReason::NoSamples { for_s: 0.6 };
    record.mark(Span {
        from_s: 53.0,
        to_s: 53.6,
        kind: SpanKind::Gap,
        reason,
    });
    record
}

fn clamps(settled_n: [f64; 5]) -> Vec<Clamp> {
    let mut settled = settled_n.into_iter();
    HOLDS
        .iter()
        .zip(1..)
        .map(|((begin, held), number)| {
            let short = *held < 1.3;
            let from = begin + 0.03;
            let window = if short {
                [from + 0.5, from + 0.85]
            } else {
                [from + 1.0, from + 3.0]
            };
            let settled_n = if short {
                Some(settled_n[0] - 60.0)
            } else {
                settled.next()
            };
            Clamp {
                number,
                counted: !short,
                excluded: short.then_some(Excluded::Short),
                clamped_s: Some(from),
                released_s: Some(begin + held),
                window_s: Some(window),
                settled_n,
                peak_n: settled_n.map(|n| 1.045 * n),
                sag_n_per_s: (!short).then_some(4.1),
                orientation_deg: None,
                short_hold: false,
                clamping_s: Some(0.05),
                push_out_mm: None,
                draw_in_mm: None,
                notes: vec![],
            }
        })
        .collect()
}

fn statistics(mean_n: f64, lowest_n: f64, stdev_n: f64) -> Statistics {
    Statistics {
        count: 5,
        mean_n,
        lowest_n,
        stdev_n: Some(stdev_n),
        cv_percent: Some(100.0 * stdev_n / mean_n),
        confidence_95_n: Some([mean_n - 1.24 * stdev_n, mean_n + 1.24 * stdev_n]),
        tolerance_95_95_n: Some(mean_n - 4.2 * stdev_n),
        trend_n_per_clamp: Some(-0.2 * stdev_n),
        trend_p: Some(0.61),
        outlier: None,
    }
}

fn uncertainty(mean_n: f64, stdev_n: f64) -> Uncertainty {
    let line = |source: &str, standard_n: f64, dof: Option<f64>, provenance| BudgetLine {
        source: source.to_owned(),
        standard_n,
        dof,
        distribution: Distribution::Normal,
        sensitivity: 1.0,
        provenance,
    };
    Uncertainty {
        budget: vec![
            line(
                "certificate of the force gauge",
                0.005 * mean_n,
                None,
                Provenance::Published,
            ),
            line(
                "how the clamps repeat",
                stdev_n / 5.0_f64.sqrt(),
                Some(4.0),
                Provenance::Computed,
            ),
            line(
                "position of the knob head × spring rate",
                0.004 * mean_n,
                None,
                Provenance::CommonPractice,
            ),
        ],
        combined_n: 0.0075 * mean_n,
        effective_dof: Some(38.2),
        coverage_factor: 2.02,
        expanded_n: 0.0152 * mean_n,
    }
}

fn judged(figure: Figure, limit: f64, measured: f64, guard: f64, outcome: Outcome) -> Judged {
    Judged {
        figure,
        height_mm: None,
        at: None,
        side: Side::Lower,
        limit,
        unit: "N".to_owned(),
        provenance: Provenance::Maker,
        share: None,
        measured,
        guard,
        rule: Rule::StudentT,
        outcome,
        watch: false,
        budget: Vec::new(),
    }
}

pub fn gauge() -> Instrument {
    Instrument {
        what: "force gauge".to_owned(),
        serial: Some("TP-0042".to_owned()),
        facts: vec![Fact::new("rated load", "25.0 kN")],
        calibration: Some(Calibration {
            certificate: Some("TP-C-118".to_owned()),
            laboratory: Some("Tern Point test room".to_owned()),
            date: Some("2025-11-20".to_owned()),
            due: Some("2026-11-20".to_owned()),
            uncertainty: Some("0.5 % of the reading (k = 2)".to_owned()),
            span: Some("1.0 to 20.0 kN".to_owned()),
            id: Some("01930000-0000-7000-8000-000000000042".to_owned()),
            standing: "in force".to_owned(),
        }),
        simulated: true,
    }
}

pub fn frame() -> Document {
    Document {
        spindle: Spindle {
            name: Some("Centre 1".to_owned()),
            place: Some("Tern Point buoy yard".to_owned()),
            invented: true,
            facts: vec![
                Fact::new("spindle serial", "TP-1007").in_front(),
                Fact::new("taper", "7/24 no. 40").in_front(),
                Fact::new("drawbar", "disc springs"),
                Fact::new("retention knob", "45°, ISO 7388-3"),
            ],
        },
        visit: Visit {
            id: Some("01950000-0000-7000-8000-000000000003".to_owned()),
            started: "2026-03-04 09:00 +01:00".to_owned(),
            finished: Some("2026-03-04 09:41 +01:00".to_owned()),
            technician: Some("Technician A".to_owned()),
            consent_of: Some("the yard's foreman".to_owned()),
            operated_by: Some("the yard's operator".to_owned()),
            temperature: Some("21 °C".to_owned()),
            facts: vec![Fact::new("power-on hours", "18 240 h").in_front()],
            ..Visit::default()
        },
        acknowledged: vec![
            Acknowledged {
                caution: "machine live, only to clamp and unclamp".to_owned(),
                how: How::Asked,
                who: "Technician A".to_owned(),
                at: "2026-03-04 09:06 +01:00".to_owned(),
            },
            Acknowledged {
                caution: "isolated and locked out".to_owned(),
                how: How::ByFlag,
                who: "Technician A".to_owned(),
                at: "2026-03-04 09:18 +01:00".to_owned(),
            },
        ],
        over_years: Vec::new(),
        rises: Vec::new(),
        not_examined: vec![NotExamined {
            item: "noise at speed".to_owned(),
            because: "the owner's operator had left".to_owned(),
            remarks: vec![],
        }],
        digest: Some(
            "1-08a3a848be5a05533b3e9bf764c362e1060c254647e40ae2494fce7dc5ebde73".to_owned(),
        ),
        made: Some("2026-03-04T09:41:07.120+01:00".to_owned()),
        program: "holdtrue 0.1.0".to_owned(),
        ..Document::default()
    }
}

fn grip(
    force_n: f64,
    settled_n: [f64; 5],
    stdev_n: f64,
    verdict: Verdict,
    reason: &str,
    hints: Vec<HintWords>,
) -> Grip {
    let mean_n = settled_n.iter().sum::<f64>() / 5.0;
    let lowest_n = settled_n.iter().copied().fold(f64::INFINITY, f64::min);
    Grip {
        at: "2026-03-04 09:08 +01:00".to_owned(),
        result: GripResult {
            check: "grip".to_owned(),
            schema: 1,
            state: Some(State::AsFound),
            clamps: clamps(settled_n),
            statistics: Some(statistics(mean_n, lowest_n, stdev_n)),
            uncertainty: Some(uncertainty(mean_n, stdev_n)),
            verdict: Some(verdict),
            with_discarded: None,
            stated: Vec::new(),
            hints: vec![],
            notes: vec![],
        },
        words: CheckWords {
            parts: vec![vec![]; 6],
            in_words: Some(
                "most of it is certificate of the force gauge (52 % of the variance)".to_owned(),
            ),
            verdict: Some(VerdictWords {
                reasons: vec![reason.to_owned()],
                would_decide: None,
            }),
            hints,
            ..CheckWords::default()
        },
        record: Some(record(force_n)),
        typed_by_hand: false,
        since_last: vec![],
        file: None,
        nominal_n: Some((10_000.0, Provenance::Maker)),
        assumptions: vec![],
        gauge: Some(gauge()),
        limit_sources: vec!["spindle sheet, page 4 (invented)".to_owned()],
        struck: None,
        broken_off: None,
        remarks: vec![],
        amended: None,
        amended_to: None,
        analysis: "1".to_owned(),
    }
}

/// A spindle whose grip is accepted.
pub fn sound() -> Document {
    let settled = [9_742.0, 9_771.0, 9_765.0, 9_758.0, 9_780.0];
    let verdict = Verdict {
        drop_examined: false,
        outcome: Outcome::Accept,
        limits: vec![
            judged(Figure::GripMean, 7_000.0, 9_763.2, 123.0, Outcome::Accept),
            judged(Figure::GripLowest, 7_000.0, 9_742.0, 141.0, Outcome::Accept),
        ],
        reasons: vec![],
        would_decide: None,
    };
    Document {
        grips: vec![grip(
            9_800.0,
            settled,
            14.3,
            verdict,
            "the mean grip force is at 139.5 % of its limit",
            vec![],
        )],
        ..frame()
    }
}

/// A spindle with weak springs and a bar check that could not be decided.
pub fn weak() -> Document {
    let settled = [5_112.0, 5_098.0, 5_131.0, 5_104.0, 5_120.0];
    let verdict = Verdict {
        drop_examined: false,
        outcome: Outcome::Reject,
        limits: vec![judged(
            Figure::GripMean,
            7_000.0,
            5_113.0,
            64.0,
            Outcome::Reject,
        )],
        reasons: vec![],
        would_decide: None,
    };
    let hint = HintWords {
        text: "first rule out: unclamp cylinder not fully back, wrong retention knob or shank, drawbar setting; then the springs. Measure the push-out: normal push-out and low force point to the springs".to_owned(),
        evidence: "mean 51 % of nominal, scatter 0.3 %".to_owned(),
        provenance: Provenance::CommonPractice,
    };
    let mut document = Document {
        grips: vec![grip(
            5_130.0,
            settled,
            13.0,
            verdict,
            "the mean grip force is at 73.0 % of its limit",
            vec![hint],
        )],
        runouts: vec![runout()],
        ..frame()
    };
    document.findings = vec![
        Finding {
            severity: Some(Severity::Soon),
            item: "gripper fingers".to_owned(),
            text: "one of six is shiny".to_owned(),
            struck: false,
            remarks: vec![],
            measured: None,
            estimate: None,
            photos: Vec::new(),
        },
        Finding {
            severity: None,
            item: "drive keys".to_owned(),
            text: "tight, no burr".to_owned(),
            struck: false,
            remarks: vec![],
            measured: None,
            estimate: None,
            photos: Vec::new(),
        },
        Finding {
            severity: Some(Severity::BeforeUse),
            item: "taper".to_owned(),
            text: "a chip stuck 20 mm deep; removed".to_owned(),
            struck: false,
            remarks: vec![],
            measured: None,
            estimate: None,
            photos: Vec::new(),
        },
    ];
    document
}

/// Eight positions and the closure, once and twice per turn.
fn turned(place: Place, amplitude_um: f64, phase_deg: f64) -> (Plane, PlaneResult) {
    let reading = |angle: f64| {
        12.0 + amplitude_um * (angle - phase_deg).to_radians().cos()
            + 0.5 * (2.0 * angle - 30.0).to_radians().cos()
    };
    let stops = (0..=8_u8).map(|step| 45.0 * f64::from(step));
    let stops = stops.map(|angle_deg| Stop {
        angle_deg,
        reading_um: reading(angle_deg),
    });
    let result = PlaneResult {
        place,
        method: Method::Stepped,
        stops: Some(8),
        tir_um: Some(2.0 * amplitude_um + 0.4),
        tir_as_read_um: Some(2.0 * amplitude_um + 0.4),
        eccentricity_um: Some(amplitude_um),
        eccentricity_standard_um: Some(0.1),
        eccentricity_noise_floor_um: Some(0.1),
        direction_deg: Some(phase_deg),
        harmonics: vec![
            HarmonicResult {
                order: 1,
                amplitude_um,
                phase_deg: Some(phase_deg),
            },
            HarmonicResult {
                order: 2,
                amplitude_um: 0.5,
                phase_deg: Some(30.0),
            },
            HarmonicResult {
                order: 3,
                amplitude_um: 0.0,
                phase_deg: None,
            },
        ],
        residual_rms_um: Some(0.36),
        drift_um: Some(-0.3),
        synchronous_um: None,
        asynchronous_um: None,
        notes: vec![],
    };
    (Plane::stepped(place, stops), result)
}

/// Wall at two depths, bar at two heights in four seatings.
pub fn runout() -> Runout {
    let wall = |height_mm| Place::on(At::Wall, height_mm);
    let bar = |height_mm, seating, turned| Place::on(At::Bar, height_mm).seated(seating, turned);
    let (planes, results): (Vec<Plane>, Vec<PlaneResult>) = [
        turned(wall(-10.0), 1.1, 35.0),
        turned(wall(-45.0), 0.9, 42.0),
        turned(bar(20.0, 1, 0.0), 2.1, 62.0),
        turned(bar(20.0, 2, 180.0), 1.7, 291.0),
        turned(bar(20.0, 3, 0.0), 2.4, 55.0),
        turned(bar(20.0, 4, 180.0), 1.4, 280.0),
        turned(bar(300.0, 1, 0.0), 11.8, 71.0),
        turned(bar(300.0, 2, 180.0), 9.6, 262.0),
        turned(bar(300.0, 3, 0.0), 12.2, 68.0),
        turned(bar(300.0, 4, 180.0), 9.9, 266.0),
    ]
    .into_iter()
    .unzip();
    let part = |height_mm, spindle, bar| ReversalResult {
        height_mm: Some(height_mm),
        orientations: 2,
        spindle_eccentricity_um: spindle,
        spindle_direction_deg: Some(14.0),
        bar_eccentricity_um: bar,
        bar_direction_deg: Some(77.0),
        spindle_standard_um: 0.4,
        bar_or_seat: false,
        spindle_ovality_um: None,
        bar_ovality_um: None,
    };
    let verdict = Verdict {
        drop_examined: false,
        outcome: Outcome::Undecided,
        limits: vec![
            Judged {
                side: Side::Upper,
                unit: "um".to_owned(),
                height_mm: Some(20.0),
                provenance: Provenance::CommonPractice,
                ..judged(Figure::SpindlePart, 10.0, 1.9, 0.9, Outcome::Accept)
            },
            Judged {
                side: Side::Upper,
                unit: "um".to_owned(),
                height_mm: Some(300.0),
                provenance: Provenance::CommonPractice,
                ..judged(Figure::SpindlePart, 4.0, 3.4, 1.1, Outcome::Undecided)
            },
        ],
        reasons: vec![],
        would_decide: None,
    };
    Runout {
        at: "2026-03-04 09:20 +01:00".to_owned(),
        result: RunoutResult {
            check: "runout".to_owned(),
            schema: 1,
            state: Some(State::AsFound),
            planes: results,
            axis: Some(AxisResult {
                at_height_mm: 0.0,
                offset_um: 0.9,
                offset_direction_deg: Some(20.0),
                tilt_um_per_m: 2.6,
                tilt_direction_deg: Some(15.0),
                from: AxisFrom::SpindlePart,
                at: Some(At::Bar),
            }),
            reversal: vec![part(20.0, 0.95, 1.2), part(300.0, 1.7, 10.4)],
            four_seatings: vec![],
            seat_repeatability_um: Some(0.42),
            uncertainty: None,
            verdict: Some(verdict),
            hints: vec![],
            notes: vec![],
        },
        words: CheckWords {
            parts: vec![vec![]; 10],
            verdict: Some(VerdictWords {
                reasons: vec![
                    "the runout of the spindle alone at 300 mm is too near its limit to decide"
                        .to_owned(),
                ],
                would_decide: Some(
                    "a smaller seat uncertainty: clean taper and bar, and take four seatings more"
                        .to_owned(),
                ),
            }),
            hints: vec![HintWords {
                text: "the bar: have it checked between centres, or repeat with another bar"
                    .to_owned(),
                evidence: "10.4 µm follow the bar at 300 mm, 1.7 µm stay with the spindle"
                    .to_owned(),
                provenance: Provenance::CommonPractice,
            }],
            ..CheckWords::default()
        },
        record: Some(RunoutRecord::new(planes)),
        typed_by_hand: false,
        since_last: vec![],
        file: None,
        instruments: vec![Instrument {
            what: "indicator".to_owned(),
            serial: Some("TP-0077".to_owned()),
            facts: vec![Fact::new("resolution", "0.1 µm")],
            calibration: None,
            simulated: true,
        }],
        limit_sources: vec![],
        struck: None,
        broken_off: None,
        remarks: vec![],
        amended: None,
        amended_to: None,
        analysis: "1".to_owned(),
    }
}

pub const LONG: &str = "Vertikal-Bearbeitungszentrum mit Palettenwechsler und Späneförderer der Bojenwerft Tern Point, \
    Halle 2, Straße der Leuchtfeuer";

fn seen(finding: &str, severity: Severity) -> Finding {
    Finding {
        severity: Some(severity),
        item: "gripper fingers".to_owned(),
        text: finding.to_owned(),
        struck: false,
        remarks: vec![],
        measured: None,
        estimate: None,
        photos: vec![],
    }
}

/// What strains a page: long names, fifty findings, one clamp, thirty, nothing judged, nothing measured.
pub fn hard() -> Vec<(&'static str, Document)> {
    let mut long = weak();
    long.spindle.name = Some(LONG.to_owned());
    long.spindle.place = Some(LONG.to_owned());
    long.spindle
        .facts
        .push(Fact::new("machine", LONG).in_front());
    long.visit.customer = Some(LONG.replace(' ', ""));
    long.visit.order = Some("TP-O-318-".repeat(12));
    long.visit.technician = Some(LONG.to_owned());
    long.visit.consent_of = Some(LONG.to_owned());
    long.visit.operated_by = Some(LONG.to_owned());
    let mut many = weak();
    many.findings = (0..50)
        .map(|number| {
            let severity = [
                Severity::BeforeUse,
                Severity::Soon,
                Severity::Later,
                Severity::Note,
            ][number % 4];
            seen(
                &format!(
                    "finding number {number}, seen with lamp and mirror at the mouth of the taper"
                ),
                severity,
            )
        })
        .collect();
    let mut one = sound();
    one.grips[0].result.clamps.truncate(1);
    let mut thirty = sound();
    let clamps = thirty.grips[0].result.clamps.clone();
    thirty.grips[0].result.clamps = clamps.iter().cycle().take(30).cloned().collect();
    thirty.grips[0].words.parts = vec![vec![]; 30];
    let mut unjudged = weak();
    unjudged.grips[0].result.verdict = None;
    unjudged.runouts[0].result.verdict = None;
    let mut ten = weak();
    let runout = ten.runouts[0].clone();
    ten.runouts = vec![runout; 10];
    vec![
        ("sound", sound()),
        ("weak", weak()),
        ("long names", long),
        ("fifty findings", many),
        ("one clamp", one),
        ("thirty clamps", thirty),
        ("nothing judged", unjudged),
        ("ten sets", ten),
        ("nothing measured", frame()),
        (
            "nothing",
            Document {
                program: frame().program,
                ..Document::default()
            },
        ),
    ]
}
