//! `gauge certificate`: a laboratory's certificate entered. In: a file, or what was typed. Out: the calibration as the gauge
//! will carry it, beside what it carries now; in gauge and book where a gauge is named.

use crate::calibration::arguments::{CertificateArgs, Certified, Named};
use crate::calibration::ask;
use crate::calibration::certificate;
use crate::calibration::certificate::{Contradiction, Draft, Entered, Length};
use crate::calibration::write;
use crate::calibration::write::Written;
use crate::connection::{calibration_words, certificate as certificate_of, connect};
use crate::terminal::app::App;
use crate::terminal::console::{Finished, NOTHING_WRITTEN};
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::parse::numbers;
use holdtrue_metrology::calibration::Certificate;
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use serde::Serialize;
use serde_json::Value;

#[derive(Serialize)]
struct Document<'a> {
    check: &'static str,
    schema: u32,
    calibration: Value,
    coefficients: [f64; 4],
    zero_counts: i32,
    fitted: Option<&'a Certificate>,
    written: Option<&'a Written>,
    kept: Option<&'a Kept>,
}

/// Of which gauge it is in which book, where no gauge was plugged in.
#[derive(Serialize)]
struct Kept {
    serial: String,
    book: String,
}

pub(crate) fn run(args: &CertificateArgs, app: &mut App) -> Result<Finished, Error> {
    let mut session = args.gauge.as_deref().map(connect).transpose()?;
    let um_per_count = session
        .as_ref()
        .map(|session| f64::from(session.hello().probe_nm_per_count) / 1_000.0)
        .filter(|step| *step > 0.0);
    let entered = match &args.from {
        Some(file) if is_typed(args) => {
            return Err(Error::usage(format!(
                "the certificate is in {file}: what is in a file is not typed as well"
            )));
        }
        Some(file) => certificate::file::read(file, um_per_count)?,
        None => certificate::enter(&typed(args, um_per_count)?).map_err(|e| usage(&e))?,
    };
    ask::ask(&entered.doubts, app, &mut write::on_terminal)?;
    let record = &entered.record;
    let written = match &mut session {
        Some(session) if args.dry_run => {
            write::held(record, session, app, &mut write::on_terminal)?;
            None
        }
        Some(session) => Some(write::write(record, session, app, &mut write::on_terminal)?),
        None => None,
    };
    let kept = match &args.serial {
        Some(serial) => Some(keep(record, serial, app)?),
        None => None,
    };
    let document = Document {
        check: "gauge-certificate",
        schema: 1,
        calibration: certificate_of(record),
        coefficients: record.coefficients,
        zero_counts: record.zero_counts,
        fitted: entered.fitted.as_ref(),
        written: written.as_ref(),
        kept: kept.as_ref(),
    };
    let is_shown = written.is_some() || args.dry_run;
    let mut lines = words(&entered, is_shown, app);
    lines.push(match &kept {
        Some(Kept { serial, book }) if args.dry_run => {
            format!("Would be kept in the book {book} as that of gauge {serial}.")
        }
        Some(Kept { serial, book }) => {
            format!("Kept in the book {book} as that of gauge {serial}; nothing was written into a gauge.")
        }
        None if args.dry_run => NOTHING_WRITTEN.to_owned(),
        None => write::words(written.as_ref()),
    });
    Finished::new(Exit::Done, &document, lines.join("\n"))
}

/// Into the book alone, as that of the gauge with this serial number.
fn keep(record: &CalibrationRecord, serial: &str, app: &mut App) -> Result<Kept, Error> {
    let mut writer = app.writer()?;
    writer.require_no_other(record)?;
    write::require_own(serial, record, &writer, app, &mut write::on_terminal)?;
    let what = match record.channel {
        Channel::Force => "force-gauge",
        Channel::Displacement | Channel::Indicator => "indicator",
    };
    let gauge = writer.gauge_read_on(serial, what)?;
    writer.gauge_has(gauge, record)?;
    Ok(Kept {
        serial: serial.to_owned(),
        book: writer.book.path().display().to_string(),
    })
}

fn words(entered: &Entered, is_shown: bool, app: &App) -> Vec<String> {
    let mut lines = Vec::new();
    if !is_shown {
        lines.push(calibration_words(&entered.record, app));
    }
    if let Some(fitted) = &entered.fitted {
        lines.push(format!(
            "Curve of degree {} through the points, at most {} off.",
            fitted.inverse.degree,
            app.settings.small_force(fitted.largest_residual_n)
        ));
    }
    lines
}

fn is_typed(args: &CertificateArgs) -> bool {
    let named = &args.named;
    let any_name = named.certificate.is_some() || named.laboratory.is_some();
    let any_day = named.date.is_some() || named.due.is_some();
    let any_number = [
        named.rated_n,
        named.temperature_c,
        args.uncertainty_n,
        args.uncertainty_percent,
        args.uncertainty_um,
        args.travel_um,
    ]
    .iter()
    .any(Option::is_some);
    let any_curve = args.coefficients.is_some() || args.zero_counts.is_some();
    let any_span = !args.span_n.is_empty() || !args.span_um.is_empty();
    any_name || any_day || any_number || any_curve || any_span || args.channel != Certified::Force
}

fn typed(args: &CertificateArgs, um_per_count: Option<f64>) -> Result<Draft, Error> {
    require_one_kind(args)?;
    let coefficients = args.coefficients.as_deref().map_or(Ok(Vec::new()), numbers);
    let pair = |given: &[f64]| match *given {
        [low, high] => Some([low, high]),
        _ => None,
    };
    let length = |channel| Length {
        channel,
        span_um: pair(&args.span_um),
        travel_um: args.travel_um,
        expanded_um: args.uncertainty_um,
        um_per_count,
    };
    Ok(Draft {
        span_n: pair(&args.span_n),
        zero_counts: args.zero_counts.unwrap_or(0),
        expanded_percent: args.uncertainty_percent,
        expanded_n: args.uncertainty_n,
        coefficients: coefficients.map_err(|e| Error::usage(format!("--coefficients: {e}")))?,
        length: match args.channel {
            Certified::Force => None,
            Certified::Probe => Some(length(Channel::Displacement)),
            Certified::Indicator => Some(length(Channel::Indicator)),
        },
        ..draft(&args.named)
    })
}

/// N are of a load cell, µm of a probe or an indicator.
fn require_one_kind(args: &CertificateArgs) -> Result<(), Error> {
    let of_force = [
        ("--span-n", !args.span_n.is_empty()),
        ("--uncertainty-n", args.uncertainty_n.is_some()),
        ("--rated-n", args.named.rated_n.is_some()),
    ];
    let of_length = [
        ("--span-um", !args.span_um.is_empty()),
        ("--uncertainty-um", args.uncertainty_um.is_some()),
        ("--travel-um", args.travel_um.is_some()),
    ];
    let (wrong, next) = match args.channel {
        Certified::Force => (
            of_length,
            "it is of a probe or an indicator: add --channel probe or --channel indicator",
        ),
        _ => (
            of_force,
            "it is of a load cell: leave it out, or leave --channel out",
        ),
    };
    match wrong.iter().find(|(_, given)| *given) {
        Some((option, _)) => Err(Error::usage(format!("{option}: {next}"))),
        None => Ok(()),
    }
}

/// What a calibration is called and how long it is good for.
pub(crate) fn draft(named: &Named) -> Draft {
    Draft {
        certificate: named.certificate.clone(),
        laboratory: named.laboratory.clone(),
        date: named.date,
        due: named.due,
        rated_n: named.rated_n,
        temperature_c: named.temperature_c,
        ..Draft::default()
    }
}

/// A contradiction in what was typed.
pub(crate) fn usage(contradiction: &Contradiction) -> Error {
    Error::usage(format!(
        "{}: found {}, expected {}. {}",
        certificate::option_of(contradiction.key),
        contradiction.found,
        contradiction.expected,
        contradiction.next
    ))
}
