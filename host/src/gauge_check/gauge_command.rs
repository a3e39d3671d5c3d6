//! `gauge`: which ports there are, who a gauge is, whether it may measure. In: a port. Out: lists and judgements.

use crate::calibration::{calibrate_command, certificate_command};
use crate::gauge_check::arguments::{GaugeCommand, GaugePort};
use crate::gauge_check::{command, history};
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::writer::today_days;
use holdtrue_gauge::calibration;
use holdtrue_gauge::calibration::Standing;
pub(crate) use holdtrue_gauge::calibration::day_text as date;
use holdtrue_gauge::link::serial::SerialLink;
use holdtrue_gauge::link::{LinkError, discover};
use holdtrue_gauge::session::Session;
use holdtrue_protocol::message::{CalibrationRecord, Channel, Channels, Hello};
use serde_json::{Value, json};

pub(crate) fn run(command: GaugeCommand, app: &mut App) -> Result<Finished, Error> {
    match command {
        GaugeCommand::List => list(),
        GaugeCommand::Info(port) => info(&port, app),
        GaugeCommand::Check(args) => command::run(&args, app),
        GaugeCommand::History { serial } => history::run(serial.as_deref(), app),
        GaugeCommand::Knob(args) => history::knob(&args, app),
        GaugeCommand::Certificate(args) => certificate_command::run(&args, app),
        GaugeCommand::Calibrate(args) => calibrate_command::run(&args, app),
    }
}

/// Opens the port a person named, or the only gauge there is.
pub(crate) fn connect(wanted: &str) -> Result<Session, Error> {
    let name = discover::choose(wanted)?;
    Ok(Session::open(Box::new(SerialLink::open(&name)?))?)
}

fn list() -> Result<Finished, Error> {
    let ports = discover::ports();
    let rows: Vec<Value> = ports
        .iter()
        .map(|port| json!({ "port": port.name, "product": port.product, "serial": port.serial, "gauge": port.is_gauge() }))
        .collect();
    let lines: Vec<String> = ports
        .iter()
        .map(|port| {
            let what = port.product.as_deref().unwrap_or("no USB product name");
            let mark = if port.is_gauge() { "gauge" } else { "     " };
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
        lines.join("\n")
    };
    Finished::new(Exit::Done, &json!({ "schema": 1, "ports": rows }), text)
}

fn info(port: &GaugePort, app: &mut App) -> Result<Finished, Error> {
    let mut session = connect(&port.gauge)?;
    let mut bad = None;
    let record = kept_apart(session.calibration(Channel::Force), &mut bad)?;
    let length = match length_channel(session.hello().fitted) {
        Some(channel) => kept_apart(session.calibration(channel), &mut bad)?,
        None => None,
    };
    let hello = session.hello().clone();
    let document = json!({
        "schema": 1,
        "port": session.port(),
        "serial": hello.serial.as_str(),
        "firmware": hello.firmware.as_str(),
        "wire": format!("{}.{}", hello.wire_major, hello.wire_minor),
        "channels": fitted(&hello),
        "calibration": record.as_ref().map(certificate),
        "indicator_calibration": length.as_ref().map(certificate),
    });
    let mut lines = vec![
        format!(
            "Gauge {} on {}, firmware {}",
            hello.serial,
            session.port(),
            hello.firmware
        ),
        format!("Measures {}", fitted(&hello).join(", ")),
    ];
    match &record {
        Some(record) => lines.push(calibration_words(record, app)),
        None if bad.is_none() => lines.push(
            "No calibration stored: no force can be given until its certificate is entered."
                .to_owned(),
        ),
        None => {}
    }
    if let Some(length) = &length {
        lines.push(format!("Indicator: {}", calibration_words(length, app)));
    }
    let finished = Finished::new(Exit::Done, &document, lines.join("\n"))?;
    Ok(match bad {
        Some(bad) => finished.cut_short(bad.into()),
        None => finished,
    })
}

/// A record that cannot be used is no reason not to say who the gauge is: the first is told at the end.
fn kept_apart(
    read: Result<Option<CalibrationRecord>, LinkError>,
    bad: &mut Option<LinkError>,
) -> Result<Option<CalibrationRecord>, LinkError> {
    match read {
        Err(error @ LinkError::BadRecord { .. }) => {
            bad.get_or_insert(error);
            Ok(None)
        }
        other => other,
    }
}

/// The calibration a gauge carries, for a command that gives it another: one that cannot be used is told and counts as none.
pub(crate) fn to_be_replaced(
    session: &mut Session,
    channel: Channel,
    app: &mut App,
) -> Result<Option<CalibrationRecord>, Error> {
    let mut bad = None;
    let carried = kept_apart(session.calibration(channel), &mut bad)?;
    if let Some(bad) = bad {
        app.console.say(&bad.to_string());
    }
    Ok(carried)
}

/// What `runout` reads: the probe, or where there is none the digital indicator.
pub(crate) fn length_channel(fitted: Channels) -> Option<Channel> {
    match (fitted.displacement, fitted.indicator) {
        (true, _) => Some(Channel::Displacement),
        (false, true) => Some(Channel::Indicator),
        (false, false) => None,
    }
}

fn fitted(hello: &Hello) -> Vec<&'static str> {
    let all = [
        (hello.fitted.force, "force"),
        (hello.fitted.displacement, "displacement"),
        (hello.fitted.mark, "once-per-turn mark"),
        (hello.fitted.indicator, "indicator"),
    ];
    all.iter()
        .filter(|(has, _)| *has)
        .map(|(_, name)| *name)
        .collect()
}

/// What of a calibration record people and programs read, with the unit of its channel.
pub(crate) fn certificate(record: &CalibrationRecord) -> Value {
    let mut document = json!({
        "id": calibration::id_text(record),
        "certificate": record.certificate.as_str(),
        "laboratory": record.laboratory.as_str(),
        "date": date(record.date_days),
        "due": date(record.due_days),
        "standing": standing_word(calibration::standing(record, today_days())),
        "expanded_percent": record.expanded_relative * 100.0,
    });
    let [fixed, span, rated] = match record.channel {
        Channel::Force => ["expanded_n", "span_n", "rated_n"],
        Channel::Displacement | Channel::Indicator => ["expanded_um", "span_um", "travel_um"],
    };
    document[fixed] = json!(record.expanded_fixed);
    document[span] = json!(record.span);
    document[rated] = json!(record.rated);
    document
}

pub(crate) fn calibration_words(record: &CalibrationRecord, app: &App) -> String {
    let of_force = record.channel == Channel::Force;
    let shown = |value| {
        if of_force {
            app.settings.force(value)
        } else {
            app.settings.length(value)
        }
    };
    let standing = match calibration::standing(record, today_days()) {
        Standing::InForce => format!("in force until {}", date(record.due_days)),
        Standing::Lapsed => format!(
            "LAPSED on {}: no acceptance with this gauge",
            date(record.due_days)
        ),
        Standing::NotYet => format!(
            "dated {}, which is in the future: set this computer's clock",
            date(record.date_days)
        ),
    };
    format!(
        "Certificate {} of {}, {standing}\nCalibrated {} to {}, U = {:.2} % of reading and {} (k = 2), {} {}",
        record.certificate,
        record.laboratory,
        shown(record.span[0]),
        shown(record.span[1]),
        record.expanded_relative * 100.0,
        shown(record.expanded_fixed),
        if of_force { "rated" } else { "travel" },
        shown(record.rated),
    )
}

/// What must be said of a calibration before it is used.
pub(crate) fn standing_remark(record: &CalibrationRecord) -> String {
    match calibration::standing(record, today_days()) {
        Standing::InForce => String::new(),
        Standing::Lapsed => format!(
            " LAPSED on {}: no acceptance with this gauge",
            date(record.due_days)
        ),
        Standing::NotYet => format!(
            " dated {}: set this computer's clock",
            date(record.date_days)
        ),
    }
}

fn standing_word(standing: Standing) -> &'static str {
    match standing {
        Standing::InForce => "in-force",
        Standing::Lapsed => "lapsed",
        Standing::NotYet => "not-yet",
    }
}
