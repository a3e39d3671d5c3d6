//! What was measured with. In: a gauge's page in the book and the calibration in force. Out: both as the paper prints them.

use crate::grip::stored::GripInputs;
use crate::page::times;
use crate::terminal::error::Error;
use crate::visits::book::book_writer::is_from_paper;
use crate::visits::checks::stored_calibration;
use crate::visits::spindles::spelled::words;
use holdtrue_book::{Book, CheckStart, GaugeHeader, Visit};
use holdtrue_gauge::calibration;
use holdtrue_gauge::calibration::Standing;
use holdtrue_metrology::grip::remarks::GripNote;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::grip::setup as grip_setup;
use holdtrue_metrology::grip::setup::Gauge;
use holdtrue_metrology::runout::RunoutSetup;
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use holdtrue_report::document::{Calibration, Fact, Instrument};
use holdtrue_wording::digits::Units;
use holdtrue_wording::{CheckWords, certificate_words};

/// Labelled facts, those that are not known left out; these labels stand on the first page too.
pub(crate) fn facts(all: Vec<(&str, Option<String>)>) -> Vec<Fact> {
    const IN_FRONT: [&str; 5] = [
        "machine",
        "serial number of the spindle",
        "taper",
        "drawbar",
        "power-on hours",
    ];
    let fact = |(label, value): (&str, Option<String>)| {
        let fact = Fact::new(label, value?);
        Some(if IN_FRONT.contains(&label) {
            fact.in_front()
        } else {
            fact
        })
    };
    all.into_iter().filter_map(fact).collect()
}

/// The force gauge of a check: what was connected or named with its certificate, else as far as somebody said.
pub(crate) fn force_gauge(
    book: &Book,
    visit: &Visit,
    start: &CheckStart,
    (gauge, overloaded): (&Gauge, bool),
    units: &Units,
) -> Result<Instrument, Error> {
    let Some(header) = gauge_of(visit, start) else {
        return Ok(Instrument {
            what: "force gauge".to_owned(),
            serial: Some("not stated".to_owned()),
            calibration: as_typed(gauge),
            ..Instrument::default()
        });
    };
    let record = stored_calibration::of_id(book, start.calibration)?;
    let by_record = record.map(|record| {
        certificate(&record, measured_at(visit, start), overloaded, |newton| {
            units.force(newton)
        })
    });
    Ok(Instrument {
        what: words(&header.what),
        serial: Some(header.serial.clone()).filter(|serial| !serial.is_empty()),
        facts: gauge_facts(header, units),
        calibration: by_record.or_else(|| as_typed(gauge)),
        simulated: header.simulated,
    })
}

/// What somebody said of a certificate that is not in the book; none where nothing was said.
fn as_typed(gauge: &Gauge) -> Option<Calibration> {
    let percent = gauge.expanded_percent?;
    Some(Calibration {
        uncertainty: Some(format!("{percent:.2} % of the reading (k = 2)")),
        standing: match gauge.standing {
            grip_setup::Standing::InForce => "in force, as typed",
            grip_setup::Standing::Missing => "not known",
            grip_setup::Standing::Lapsed => "out of date",
            grip_setup::Standing::Exceeded => "overloaded since",
            grip_setup::Standing::Unfit => "found not fit",
        }
        .to_owned(),
        ..Calibration::default()
    })
}

/// Before the check by its setup, or in it by its remarks.
pub(crate) fn is_overloaded(begun: &GripInputs, result: &GripResult, words: &CheckWords) -> bool {
    use holdtrue_metrology::grip::setup::Standing::Exceeded;
    // Earlier releases stored the remark in words only.
    let written = || words.notes.iter().any(|note| note.contains("overloaded"));
    begun.setup.gauge.standing == Exceeded
        || result.notes.contains(&GripNote::Overloaded)
        || result.notes.is_empty() && written()
}

/// The indicator and the bar of a runout check: what was connected with its certificate, else as far as somebody said.
pub(crate) fn indicator(
    book: &Book,
    visit: &Visit,
    start: &CheckStart,
    setup: &RunoutSetup,
    units: &Units,
) -> Result<Vec<Instrument>, Error> {
    let length = |um: Option<f64>| um.map(|um| units.length(um));
    let used = setup.indicator.as_ref().map(|used| used.expanded_um);
    let connected = connected_indicator(book, visit, start, used, units)?;
    let typed = setup.indicator.as_ref().map(|indicator| Instrument {
        what: "indicator".to_owned(),
        serial: Some("serial number not noted".to_owned()),
        facts: facts(vec![("smallest step", length(indicator.resolution_um))]),
        calibration: Some(Calibration {
            uncertainty: Some(format!("{} (k = 2)", units.length(indicator.expanded_um))),
            standing: match &indicator.out_of_force {
                None => "in force, as typed".to_owned(),
                Some(gap) => certificate_words(*gap).to_owned(),
            },
            ..Calibration::default()
        }),
        ..Instrument::default()
    });
    let bar = setup.bar_tir_um.map(|tir_um| Instrument {
        what: "test bar".to_owned(),
        facts: facts(vec![("its own TIR", length(Some(tir_um)))]),
        ..Instrument::default()
    });
    Ok(connected.or(typed).into_iter().chain(bar).collect())
}

fn connected_indicator(
    book: &Book,
    visit: &Visit,
    start: &CheckStart,
    used_um: Option<f64>,
    units: &Units,
) -> Result<Option<Instrument>, Error> {
    let Some(header) = gauge_of(visit, start) else {
        return Ok(None);
    };
    let record = stored_calibration::of_id(book, start.calibration)?;
    let written = |um: f64| units.length(um);
    // Both are entered as what reads a length; the certificate says which it was.
    let is_probe = |record: &CalibrationRecord| record.channel == Channel::Displacement;
    let what = match record.as_ref().is_some_and(is_probe) {
        true => "displacement probe".to_owned(),
        false => words(&header.what),
    };
    Ok(Some(Instrument {
        what,
        serial: Some(header.serial.clone()).filter(|serial| !serial.is_empty()),
        facts: facts(vec![
            ("description", header.description.clone()),
            ("smallest step", header.resolution.map(written)),
            ("uncertainty used (k = 2)", used_um.map(written)),
        ]),
        calibration: record
            .map(|record| certificate(&record, measured_at(visit, start), false, written)),
        simulated: header.simulated,
    }))
}

/// When a check was measured: of a visit from paper on the day of that, whenever it was entered.
fn measured_at<'v>(visit: &'v Visit, start: &'v CheckStart) -> &'v str {
    let header = visit.visit.header();
    match is_from_paper(header) {
        true => &header.started_at,
        false => &start.stamp.at,
    }
}

fn gauge_of<'v>(visit: &'v Visit, start: &CheckStart) -> Option<&'v GaugeHeader> {
    let id = start.gauge?;
    let gauge = visit.gauges.iter().find(|gauge| gauge.id == id)?;
    Some(gauge.header())
}

fn gauge_facts(header: &GaugeHeader, units: &Units) -> Vec<Fact> {
    let force = |newton: Option<f64>| newton.map(|newton| units.force(newton));
    facts(vec![
        ("description", header.description.clone()),
        ("rated load", force(header.rated_n)),
        (
            "clamps its knob has seen",
            header.knob_clamps.map(|clamps| clamps.to_string()),
        ),
    ])
}

fn certificate(
    record: &CalibrationRecord,
    at: &str,
    overloaded: bool,
    written: impl Fn(f64) -> String,
) -> Calibration {
    let day = |days| times::day(days).map(|day| day.to_string());
    let text = |text: &str| Some(text.to_owned()).filter(|text| !text.is_empty());
    Calibration {
        certificate: text(&record.certificate),
        laboratory: text(&record.laboratory),
        date: day(record.date_days),
        due: day(record.due_days),
        uncertainty: Some(format!(
            "{:.2} % of the reading and {} (k = 2)",
            100.0 * record.expanded_relative,
            written(record.expanded_fixed)
        )),
        span: Some(format!(
            "{} to {}",
            written(record.span[0]),
            written(record.span[1])
        )),
        id: Some(calibration::id_text(record)),
        standing: standing(record, at, overloaded).to_owned(),
    }
}

/// How the certificate stood on the day of the check.
fn standing(record: &CalibrationRecord, at: &str, overloaded: bool) -> &'static str {
    if overloaded {
        return "overloaded since";
    }
    match times::day_of(at).map(|day| calibration::standing(record, day)) {
        Some(Standing::InForce) => "in force",
        Some(Standing::Lapsed) => "out of date",
        Some(Standing::NotYet) => "dated after the check",
        None => "not known",
    }
}
