//! The gauge on its port. In: the port a person named. Out: a session with it, and its calibration in words.

pub mod lost;

use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::terminal::times;
use crate::visits::book::book_writer::today_days;
use clap::Args;
use holdtrue_gauge::binding::{self, Belonging};
use holdtrue_gauge::calibration::{self, Standing, day_text as date};
use holdtrue_gauge::link::serial::SerialLink;
use holdtrue_gauge::link::{LinkError, discover};
use holdtrue_gauge::session::Session;
use holdtrue_protocol::message::{CalibrationRecord, Channel, Channels, Converter, Reference};
use serde_json::{Value, json};

/// Which gauge.
#[derive(Clone, Debug, Args)]
pub struct GaugePort {
    /// The gauge's port, or "auto" for the only one plugged in
    #[arg(long, value_name = "PORT|auto", default_value = "auto")]
    pub gauge: String,
}

/// Opens the port a person named, or the only gauge there is.
pub(crate) fn connect(wanted: &str) -> Result<Session, Error> {
    let name = discover::choose(wanted)?;
    Ok(Session::open(Box::new(SerialLink::open(&name)?))?)
}

/// A record that cannot be used is no reason not to say who the gauge is: the first is told at the end.
pub(crate) fn kept_apart(
    read: Result<Option<CalibrationRecord>, LinkError>,
    bad: &mut Option<LinkError>,
) -> Result<Option<CalibrationRecord>, LinkError> {
    match read {
        Err(error @ (LinkError::BadRecord { .. } | LinkError::OtherHardware { .. })) => {
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

/// What of the hardware a program reads; null where the gauge does not tell.
pub(crate) fn hardware(belonging: &Belonging) -> Value {
    let told = |converter: &Converter| {
        json!({
            "converter": converter.kind.as_str(),
            "board": binding::board(converter),
            "gain": converter.gain,
            "reference": match converter.reference {
                Reference::Bridge => "bridge",
                Reference::Internal => "internal",
                Reference::External => "external",
                Reference::Supply => "supply",
            },
        })
    };
    let Some(hardware) = &belonging.hardware else {
        return Value::Null;
    };
    let calibrated_on = belonging.made_on.as_ref().map(|made_on| {
        let mut then = told(&made_on.converter);
        then["shunt_step_counts"] = json!(made_on.shunt_step);
        then
    });
    json!({
        "build": format!("{:08x}", hardware.build),
        "converter": hardware.converter.as_ref().map(told),
        "calibrated_on": calibrated_on,
    })
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

/// A calibration record as a person reads it.
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
        Standing::InForce => format!("in force until {}", times::day(record.due_days)),
        Standing::Lapsed => format!(
            "LAPSED on {}: no acceptance with this gauge",
            times::day(record.due_days)
        ),
        Standing::NotYet => format!(
            "dated {}, which is in the future: set this computer's clock",
            times::day(record.date_days)
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
            times::day(record.due_days)
        ),
        Standing::NotYet => format!(
            " dated {}: set this computer's clock",
            times::day(record.date_days)
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
