//! Options of `gauge`.

use super::parse::{day, finite, not_negative, positive};
use clap::{Args, Subcommand};
use jiff::civil::Date;

/// What to do with the force gauge.
#[derive(Debug, Subcommand)]
pub enum GaugeCommand {
    /// List the serial ports and say which are gauges; opens none
    List,
    /// Who the gauge is and how it is calibrated
    Info(GaugePort),
    /// Try the gauge before the first clamp: zero, noise, drift, electronics, calibration, knob; with --standard-n on a
    /// check standard too. Kept in the book
    Check(CheckArgs),
    /// The checks of a gauge since its calibrations, out of the book: no gauge is needed
    History {
        /// Serial number of the gauge; needed where the book has several
        #[arg(long, value_name = "NUMBER")]
        serial: Option<String>,
    },
    /// How many clamps the retention knob has seen, out of the book; --changed records a new knob
    Knob(KnobArgs),
    /// Enter a laboratory's certificate; with --gauge it is written into the gauge and the book
    Certificate(Box<CertificateArgs>),
    /// Make a calibration from readings under known loads; with --gauge it is written into the gauge and the book
    Calibrate(Box<CalibrateArgs>),
}

/// Which gauge.
#[derive(Clone, Debug, Args)]
pub struct GaugePort {
    /// The gauge's port, or "auto" for the only one plugged in
    #[arg(long, value_name = "PORT|auto", default_value = "auto")]
    pub gauge: String,
}

/// How the gauge is to be tried.
#[derive(Clone, Debug, Args)]
pub struct CheckArgs {
    /// Which gauge.
    #[command(flatten)]
    pub port: GaugePort,
    /// Try it on a check standard of this force, N: something that gives the same force again
    #[arg(long, value_name = "N", value_parser = positive)]
    pub standard_n: Option<f64>,
    /// What the check standard is called: each has its own history
    #[arg(
        long,
        value_name = "NAME",
        default_value = "check standard",
        requires = "standard_n"
    )]
    pub standard: String,
    /// Expanded uncertainty (k = 2) of its force, %; 2 where not stated
    #[arg(long, value_name = "U", value_parser = not_negative, requires = "standard_n")]
    pub standard_percent: Option<f64>,
}

/// The retention knob of a gauge.
#[derive(Clone, Debug, Args)]
pub struct KnobArgs {
    /// Serial number of the gauge; needed where the book has several
    #[arg(long, value_name = "NUMBER")]
    pub serial: Option<String>,
    /// A new knob was put on just now: its clamps count from here
    #[arg(long)]
    pub changed: bool,
    /// Which knob it is: standard, head angle, serial number
    #[arg(long, value_name = "NAME", requires = "changed")]
    pub knob: Option<String>,
    /// Clamps its maker gives it; beyond them the gauge is not fit
    #[arg(long, value_name = "N", requires = "changed", value_parser = clap::value_parser!(u32).range(1..))]
    pub good_for: Option<u32>,
}

/// A certificate, from a file or typed.
#[derive(Clone, Debug, Default, Args)]
pub struct CertificateArgs {
    /// The gauge to write it into, or "auto" for the only one plugged in; without it nothing is written
    #[arg(long, value_name = "PORT|auto")]
    pub gauge: Option<String>,
    /// The certificate as a file (TOML): the only way to enter its points
    #[arg(long, value_name = "FILE")]
    pub from: Option<String>,
    /// What it is called and how long it is good for.
    #[command(flatten)]
    pub named: Named,
    /// Lowest and highest calibrated force, N
    #[arg(long, value_names = ["LOW", "HIGH"], num_args = 2, value_parser = not_negative)]
    pub span_n: Vec<f64>,
    /// Expanded uncertainty (k = 2), part in proportion to the reading, %
    #[arg(long, value_name = "U", value_parser = not_negative)]
    pub uncertainty_percent: Option<f64>,
    /// Expanded uncertainty (k = 2), fixed part, N
    #[arg(long, value_name = "U", value_parser = not_negative)]
    pub uncertainty_n: Option<f64>,
    /// Force from counts less the counts at no load: constant, N for each count, for each count squared …
    #[arg(long, value_name = "NUMBERS", allow_hyphen_values = true)]
    pub coefficients: Option<String>,
    /// Counts at no load
    #[arg(long, value_name = "COUNTS", allow_hyphen_values = true)]
    pub zero_counts: Option<i32>,
}

/// What a calibration is called and how long it is good for.
#[derive(Clone, Debug, Default, Args)]
pub struct Named {
    /// Number of the certificate
    #[arg(long, value_name = "NUMBER")]
    pub certificate: Option<String>,
    /// Who calibrated
    #[arg(long, value_name = "NAME")]
    pub laboratory: Option<String>,
    /// Day of the calibration
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    pub date: Option<Date>,
    /// Day the next one is due
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    pub due: Option<Date>,
    /// Rated load of the gauge, N
    #[arg(long, value_name = "N", value_parser = positive)]
    pub rated_n: Option<f64>,
    /// Temperature at the calibration, °C; 20 unless told otherwise
    #[arg(long, value_name = "C", value_parser = finite, allow_hyphen_values = true)]
    pub temperature_c: Option<f64>,
}

/// Readings under known loads.
#[derive(Clone, Debug, Default, Args)]
pub struct CalibrateArgs {
    /// Readings (CSV: run, direction, load_n, reading_counts, optional orientation_deg); - is standard input
    #[arg(long, value_name = "FILE")]
    pub from: Option<String>,
    /// Expanded uncertainty (k = 2) of the reference cell, % of the load
    #[arg(long, value_name = "U", value_parser = positive)]
    pub reference_percent: Option<f64>,
    /// Smallest step of the readings, counts
    #[arg(long, value_name = "COUNTS", value_parser = positive, default_value = "1")]
    pub resolution_counts: f64,
    /// How long each preload was held, s
    #[arg(long, value_name = "S", value_parser = positive)]
    pub preload_dwell_s: Option<f64>,
    /// The gauge was loaded through its own knob and shank
    #[arg(long)]
    pub own_knob: bool,
    /// Degree of the curve; without it the lowest that leaves nothing significant out
    #[arg(long, value_name = "1|2", value_parser = clap::value_parser!(i32).range(1..=2))]
    pub degree: Option<i32>,
    /// The gauge to write it into, or "auto" for the only one plugged in; without it nothing is written
    #[arg(long, value_name = "PORT|auto")]
    pub gauge: Option<String>,
    /// What it is called and how long it is good for.
    #[command(flatten)]
    pub named: Named,
}
