//! `gauge certificate`: a laboratory's certificate entered. In: a file, or what was typed. Out: the calibration as the gauge
//! will carry it, beside what it carries now; in gauge and book where a gauge is named.

use super::World;
use super::gauge::{calibration_words, certificate};
use super::gauge_write::{self, Written};
use crate::args::gauge::{CertificateArgs, Named};
use crate::args::parse::numbers;
use crate::certificate::{self, Contradiction, Draft, Entered};
use crate::error::Error;
use crate::exit::Exit;
use crate::output::Finished;
use holdtrue_metrology::calibration::Certificate;
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
}

pub(super) fn run(args: &CertificateArgs, world: &mut World) -> Result<Finished, Error> {
    let entered = match &args.from {
        Some(file) if is_typed(args) => {
            return Err(Error::usage(format!(
                "the certificate is in {file}: what is in a file is not typed as well"
            )));
        }
        Some(file) => certificate::read(file)?,
        None => certificate::enter(&typed(args)?).map_err(|e| usage(&e))?,
    };
    let record = &entered.record;
    let written = match &args.gauge {
        Some(port) => Some(gauge_write::write(record, port, world)?),
        None => None,
    };
    let document = Document {
        check: "gauge-certificate",
        schema: 1,
        calibration: certificate(record),
        coefficients: record.coefficients,
        zero_counts: record.zero_counts,
        fitted: entered.fitted.as_ref(),
        written: written.as_ref(),
    };
    let text = words(&entered, written.as_ref(), world);
    Finished::new(Exit::Done, &document, text)
}

fn words(entered: &Entered, written: Option<&Written>, world: &World) -> String {
    let mut lines = Vec::new();
    if written.is_none() {
        lines.push(calibration_words(&entered.record, world));
    }
    if let Some(fitted) = &entered.fitted {
        lines.push(format!(
            "Curve of degree {} through the points, at most {} off.",
            fitted.inverse.degree,
            world.settings.force(fitted.largest_residual_n)
        ));
    }
    lines.push(gauge_write::words(written));
    lines.join("\n")
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
    ]
    .iter()
    .any(Option::is_some);
    let any_curve = args.coefficients.is_some() || args.zero_counts.is_some();
    any_name || any_day || any_number || any_curve || !args.span_n.is_empty()
}

fn typed(args: &CertificateArgs) -> Result<Draft, Error> {
    let coefficients = args.coefficients.as_deref().map_or(Ok(Vec::new()), numbers);
    Ok(Draft {
        span_n: match args.span_n[..] {
            [low, high] => Some([low, high]),
            _ => None,
        },
        zero_counts: args.zero_counts.unwrap_or(0),
        expanded_percent: args.uncertainty_percent,
        expanded_n: args.uncertainty_n,
        coefficients: coefficients.map_err(|e| Error::usage(format!("--coefficients: {e}")))?,
        ..draft(&args.named)
    })
}

/// What a calibration is called and how long it is good for.
pub(super) fn draft(named: &Named) -> Draft {
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
pub(super) fn usage(contradiction: &Contradiction) -> Error {
    let option = match contradiction.key {
        "expanded_percent" => "uncertainty-percent".to_owned(),
        "point" => "from".to_owned(),
        key => key.replace('_', "-"),
    };
    Error::usage(format!(
        "--{option}: found {}, expected {}. {}",
        contradiction.found, contradiction.expected, contradiction.next
    ))
}
