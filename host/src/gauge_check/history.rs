//! `gauge history`, `gauge knob`: what the book knows of a gauge. In: the book, perhaps a serial number. Out: its checks
//! since its calibrations, the clamps of its knob; a new knob noted.

use crate::gauge_check::arguments::KnobArgs;
use crate::gauge_check::knob::Knob;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::settings::Settings;
use crate::terminal::times;
use crate::visits::book::opening::find_gauge;
use crate::visits::checks::stored_calibration;
use crate::visits::stops;
use crate::visits::unfit;
use crate::visits::unfit::Checks;
use holdtrue_book::{GaugeCheck, GaugeStop, KnobChange};
use holdtrue_gauge::calibration::day_text;
use holdtrue_metrology::gauge_check::control::{BASELINE_LEAST, Found, Standard};
use holdtrue_protocol::message::CalibrationRecord;
use holdtrue_wording::gauge_check::{NO_BASELINE, baseline};
use holdtrue_wording::joined_lines;
use serde_json::{Value, json};
use uuid::Uuid;

pub(crate) fn run(serial: Option<&str>, app: &App) -> Result<Finished, Error> {
    let book = app.read_book()?;
    let gauge = find_gauge(&book, serial)?;
    let knob = Knob::of(&book, gauge.id)?;
    let mut lines = vec![format!("Gauge {}", gauge.header().serial)];
    let mut calibrations = Vec::new();
    for (calibration, checks) in by_calibration(unfit::checks(&book, gauge.id)?) {
        let record = stored_calibration::of_id(&book, calibration)?;
        lines.extend([String::new(), heading(record.as_ref())]);
        lines.extend(
            checks
                .iter()
                .flat_map(|(check, found)| check_lines(check, found, &app.settings)),
        );
        calibrations.push(json!({
            "id": calibration,
            "certificate": record.as_ref().map(|record| record.certificate.as_str()),
            "date": record.as_ref().map(|record| day_text(record.date_days)),
            "checks": checks.iter().map(|(check, found)| row(check, found)).collect::<Vec<_>>(),
        }));
    }
    if calibrations.is_empty() {
        lines.push("No check of it is kept yet: holdtrue gauge check".to_owned());
    }
    let not_fit = unfit::by_the_newest_calibration(&book, gauge.id)?.map(|unfit| unfit.words());
    if let Some(told) = &not_fit {
        lines.extend([String::new(), told.clone()]);
    }
    let stopped = stops::of(&gauge);
    if let Some(newest) = stopped.last() {
        lines.extend([String::new(), "Its program stopped by itself:".to_owned()]);
        let told = |stop: &GaugeStop| {
            format!(
                "  told on {}: {}",
                times::written_day(&stop.told_on),
                stops::words(stop)
            )
        };
        lines.extend(stopped.iter().map(told));
        lines.push(format!("  {}", stops::next(newest)));
    }
    lines.extend([String::new(), knob_line(&knob)]);
    let document = json!({
        "check": "gauge-history",
        "schema": 1,
        "serial": gauge.header().serial,
        "calibrations": calibrations,
        "not_fit": not_fit,
        "stops": stopped.iter().map(stops::document).collect::<Vec<_>>(),
        "knob": knob,
    });
    Finished::new(Exit::Done, &document, joined_lines(&lines))
}

pub(crate) fn knob(args: &KnobArgs, app: &mut App) -> Result<Finished, Error> {
    // Looked for by reading: a serial number that is not there must not create or raise a book.
    let gauge = find_gauge(&app.read_book()?, args.serial.as_deref())?;
    let mut before = None;
    if args.changed {
        let mut writer = app.writer()?;
        before = Some(Knob::of(&writer.book, gauge.id)?);
        let (id, stamp) = (writer.id(), writer.stamp());
        writer.book.change_knob(&KnobChange {
            id,
            gauge: gauge.id,
            knob: args.knob.clone(),
            good_for: args.good_for,
            stamp,
        })?;
    }
    let knob = Knob::of(&app.read_book()?, gauge.id)?;
    let serial = &gauge.header().serial;
    let mut lines = vec![format!("Gauge {serial}")];
    if let Some(before) = &before {
        lines.push(format!(
            "The knob taken off had seen {} clamps.",
            before.clamps
        ));
        lines.push(
            "Torque the new one, look it over for cracks, and try the gauge on its check standard: gauge check --standard-n."
                .to_owned(),
        );
    }
    lines.extend([String::new(), knob_line(&knob)]);
    let document = json!({
        "check": "gauge-knob",
        "schema": 1,
        "serial": serial,
        "before": before,
        "knob": knob,
    });
    Finished::new(Exit::Done, &document, joined_lines(&lines))
}

/// Stretches of checks under one calibration, in order of time.
fn by_calibration(history: Checks) -> Vec<(Option<Uuid>, Checks)> {
    let mut stretches: Vec<(Option<Uuid>, Checks)> = Vec::new();
    for (check, found) in history {
        match stretches.last_mut() {
            Some((calibration, checks)) if *calibration == check.calibration => {
                checks.push((check, found));
            }
            _ => stretches.push((check.calibration, vec![(check, found)])),
        }
    }
    stretches
}

fn heading(record: Option<&CalibrationRecord>) -> String {
    match record {
        Some(record) => format!(
            "Calibration {} of {}",
            record.certificate,
            times::day(record.date_days)
        ),
        None => "Without a calibration".to_owned(),
    }
}

fn row(check: &GaugeCheck, found: &Found) -> Value {
    json!({
        "at": check.stamp.at,
        "author": check.stamp.author,
        "fit": check.fit,
        "reasons": found.reasons,
        "at_rest": found.at_rest,
        "shunt": found.shunt,
        "standard": found.standard,
    })
}

fn check_lines(check: &GaugeCheck, found: &Found, settings: &Settings) -> Vec<String> {
    let at = times::moment(&check.stamp.at);
    let fit = if check.fit { "fit    " } else { "NOT fit" };
    let mut line = format!("  {at}  {fit}");
    if let Some(rest) = found.at_rest {
        line += &format!(
            "  zero {}  noise {}",
            settings.small_force(rest.zero_n),
            settings.small_force(rest.noise_n)
        );
    }
    if let Some(shunt) = &found.shunt {
        let against = against(check.fit, shunt.baseline, shunt.change_percent);
        line += &format!("  shunt {:.0} counts ({against})", shunt.step_counts);
    }
    let mut lines = vec![line];
    lines.extend(
        found
            .standard
            .as_ref()
            .map(|on| standard_line(check.fit, on, settings)),
    );
    lines.extend(found.reasons.iter().map(|reason| format!("      {reason}")));
    lines
}

fn standard_line(fit: bool, standard: &Standard, settings: &Settings) -> String {
    format!(
        "      {} of {} read {} (off by {}; {})",
        standard.on.name,
        settings.force(standard.on.load_n),
        settings.force(standard.on.read.reading_n),
        settings.small_force(standard.off_n),
        against(fit, standard.baseline, standard.change_percent)
    )
}

fn against(fit: bool, earlier: usize, change_percent: Option<f64>) -> String {
    match change_percent {
        Some(change) if earlier >= BASELINE_LEAST => format!("change {change:+.2} %"),
        _ if !fit => NO_BASELINE.to_owned(),
        _ => baseline(earlier),
    }
}

fn knob_line(knob: &Knob) -> String {
    let which = knob.knob.as_deref().unwrap_or("retention knob");
    let life = match knob.good_for {
        Some(good_for) if u64::from(good_for) < knob.clamps => {
            format!(" of {good_for}: CHANGE IT")
        }
        Some(good_for) => format!(" of {good_for}"),
        None => ", no stated life".to_owned(),
    };
    format!(
        "{which}: {} clamps{life}, {}",
        knob.clamps,
        knob.since_words()
    )
}
