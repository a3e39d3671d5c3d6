//! `gauge`: which ports there are, who a gauge is, whether it may measure. In: a port. Out: lists and judgements.

use crate::connection::{GaugePort, calibration_words, certificate, connect, hardware, kept_apart};
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::book::book_writer::known_gauge;
use crate::visits::gauge_entry::FORCE_GAUGE;
use crate::visits::stops;
use crate::visits::unfit;
use holdtrue_gauge::binding;
use holdtrue_gauge::link::discover;
use holdtrue_protocol::message::{CalibrationRecord, Channel, Channels};
use holdtrue_wording::joined_lines;
use serde_json::{Value, json};

/// The serial ports, and which of them are gauges.
pub(crate) fn list() -> Result<Finished, Error> {
    let ports = discover::ports();
    let rows: Vec<Value> = ports
        .iter()
        .map(|port| json!({ "port": port.name, "product": port.product, "serial": port.serial, "gauge": port.is_gauge }))
        .collect();
    let lines: Vec<String> = ports
        .iter()
        .map(|port| {
            let what = port.product.as_deref().unwrap_or("no USB product name");
            let mark = if port.is_gauge { "gauge" } else { "     " };
            format!(
                "{mark}  {}  {what}  {}",
                port.name,
                port.serial.as_deref().unwrap_or("")
            )
        })
        .collect();
    let text = if lines.is_empty() {
        "No serial port on this computer. Plug the gauge in.".to_owned()
    } else {
        joined_lines(&lines)
    };
    Finished::new(Exit::Done, &json!({ "schema": 1, "ports": rows }), text)
}

/// Who a gauge is and how it is calibrated.
pub(crate) fn info(port: &GaugePort, app: &mut App) -> Result<Finished, Error> {
    let mut session = connect(&port.gauge)?;
    let mut bad = None;
    let record = kept_apart(session.calibration(Channel::Force), &mut bad)?;
    let belonging = session.belonging()?;
    let hello = session.hello().clone();
    let mut of = |has: bool, channel| match has {
        true => kept_apart(session.calibration(channel), &mut bad),
        false => Ok(None),
    };
    let probe = of(hello.fitted.displacement, Channel::Displacement)?;
    let indicator = of(hello.fitted.indicator, Channel::Indicator)?;
    let told = session.stops()?;
    let stopped: Option<Vec<_>> =
        told.map(|told| told.iter().map(|stop| stops::kept(stop, "")).collect());
    let not_fit = found_not_fit(hello.serial.as_str(), record.as_ref(), app)?;
    let document = json!({
        "schema": 1,
        "port": session.port(),
        "serial": hello.serial.as_str(),
        "firmware": hello.firmware.as_str(),
        "wire": format!("{}.{}", hello.wire_major, hello.wire_minor),
        "channels": channel_words(hello.fitted),
        "hardware": hardware(&belonging),
        "calibration": record.as_ref().map(certificate),
        "not_fit": not_fit,
        "stops": stopped.as_ref().map(|told| told.iter().map(stops::document).collect::<Vec<_>>()),
        "probe_calibration": probe.as_ref().map(certificate),
        "indicator_calibration": indicator.as_ref().map(certificate),
    });
    let mut lines = vec![
        format!(
            "Gauge {} on {}, firmware {}",
            hello.serial,
            session.port(),
            hello.firmware
        ),
        format!("Measures {}", channel_words(hello.fitted).join(", ")),
    ];
    if let Some(told) = &belonging.hardware {
        let on = belonging.converter().map(|converter| {
            let board = binding::board(converter);
            format!(
                "{} on board {board}, gain {}, ",
                converter.kind, converter.gain
            )
        });
        lines.push(format!(
            "{}image {:08x}",
            on.unwrap_or_default(),
            told.build
        ));
    }
    match &record {
        Some(record) => {
            lines.extend(calibration_words(record, app).lines().map(str::to_owned));
            lines.push(format!("It is {}.", belonging.words()));
        }
        None if !hello.fitted.force => {
            lines.push("No load cell: it reads runout, and no force.".to_owned());
        }
        None if bad.is_none() => lines.push(
            "No calibration stored: no force can be given until its certificate is entered."
                .to_owned(),
        ),
        None => {}
    }
    lines.extend(not_fit);
    for (what, record) in [("Probe", &probe), ("Indicator", &indicator)] {
        if let Some(record) = record {
            let words = format!("{what}: {}", calibration_words(record, app));
            lines.extend(words.lines().map(str::to_owned));
        }
    }
    let stopped = stopped.unwrap_or_default();
    lines.extend(
        stopped
            .iter()
            .map(|stop| format!("Stopped by itself {}", stops::words(stop))),
    );
    lines.extend(
        stopped
            .last()
            .map(|newest| format!("After such a stop {}.", stops::next(newest))),
    );
    let finished = Finished::new(Exit::Done, &document, joined_lines(&lines))?;
    Ok(match bad {
        Some(bad) => finished.cut_short(bad.into()),
        None => finished,
    })
}

/// What a check found, where the book knows the gauge and it still stands.
fn found_not_fit(
    serial: &str,
    record: Option<&CalibrationRecord>,
    app: &App,
) -> Result<Option<String>, Error> {
    let (Some(record), Some(book)) = (record, app.book_if_there()?) else {
        return Ok(None);
    };
    let Some(gauge) = known_gauge(&book, serial, FORCE_GAUGE)? else {
        return Ok(None);
    };
    Ok(unfit::found(&book, gauge.id, record, None)?.map(|unfit| unfit.words()))
}

/// What a gauge measures, each in a word.
pub(crate) fn channel_words(fitted: Channels) -> Vec<&'static str> {
    let all = [
        (fitted.force, "force"),
        (fitted.displacement, "displacement"),
        (fitted.mark, "once-per-turn mark"),
        (fitted.indicator, "indicator"),
    ];
    all.iter()
        .filter(|(has, _)| *has)
        .map(|(_, name)| *name)
        .collect()
}
