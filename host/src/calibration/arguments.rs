//! Options of `gauge certificate` and `gauge calibrate`.

use crate::terminal::name::name;
use crate::terminal::parse::{
    day, finite, micrometres, micrometres_or_none, newtons, not_negative, positive,
};
use clap::Args;
use jiff::civil::Date;

/// What a certificate is of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Certified {
    /// The load cell.
    #[default]
    Force,
    /// The gauge's own probe.
    Probe,
    /// A digital indicator plugged into the gauge.
    Indicator,
}

/// What reads a length.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum LengthSensor {
    /// The gauge's own probe.
    Probe,
    /// A digital indicator plugged into the gauge.
    Indicator,
}

/// A certificate, from a file or typed.
#[derive(Clone, Debug, Default, Args)]
pub struct CertificateArgs {
    /// The gauge to write it into, or "auto" for the only one plugged in; without it nothing is written
    #[arg(long, value_name = "PORT|auto")]
    pub gauge: Option<String>,
    /// Hold it to what the gauge carries, or with --serial to what the book has, and say so; write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Serial number of the gauge it is of, where that is not plugged in: kept in the book alone; sets read on that gauge
    /// (--read-on) from the day of the certificate on are of this calibration
    #[arg(long, value_name = "NUMBER", conflicts_with = "gauge", value_parser = name)]
    pub serial: Option<String>,
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
    /// What the certificate is of: force (the load cell), probe (the gauge's own), or indicator (a digital one)
    #[arg(long, value_name = "WHAT", default_value = "force")]
    pub channel: Certified,
    /// Of a probe or an indicator: lowest and highest reading that was compared, µm
    #[arg(long, value_names = ["LOW", "HIGH"], num_args = 2, value_parser = finite, allow_hyphen_values = true)]
    pub span_um: Vec<f64>,
    /// Of a probe or an indicator: expanded uncertainty (k = 2), errors that are not corrected included, µm
    #[arg(long, value_name = "U", value_parser = micrometres_or_none)]
    pub uncertainty_um: Option<f64>,
    /// Of a probe or an indicator: whole travel, µm; without it as far as the span goes
    #[arg(long, value_name = "UM", value_parser = micrometres)]
    pub travel_um: Option<f64>,
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
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub date: Option<Date>,
    /// Day the next one is due
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub due: Option<Date>,
    /// Rated load of the gauge, N
    #[arg(long, value_name = "N", value_parser = newtons)]
    pub rated_n: Option<f64>,
    /// Temperature at the calibration, °C; 20 unless told otherwise
    #[arg(long, value_name = "C", value_parser = finite, allow_hyphen_values = true)]
    pub temperature_c: Option<f64>,
}

/// Readings under known loads, or of an indicator on gauge blocks.
#[derive(Clone, Debug, Args)]
pub struct CalibrateArgs {
    /// Readings taken before (CSV: run, direction, load_n, reading_counts, optional orientation_deg, held_s; with
    /// --indicator: run, direction, step_um, reading_um); - is standard input
    #[arg(long, value_name = "FILE")]
    pub from: Option<String>,
    /// The gauge to read in the press or on the blocks, or "auto" for the only one plugged in; with --from, or with
    /// --certificate, the gauge to write the calibration into. Without it nothing is written
    #[arg(long, value_name = "PORT|auto")]
    pub gauge: Option<String>,
    /// Take the readings now, in a guarded press: the loads going up, N, the reference cell shows them
    #[arg(long, value_name = "N,N,…", value_delimiter = ',', value_parser = positive, conflicts_with = "from")]
    pub loads_n: Vec<f64>,
    /// The table the readings are kept in as they are taken; one that is there is gone on with. Without it a new one
    /// named by serial number and day
    #[arg(long, value_name = "FILE", conflicts_with = "from")]
    pub keep: Option<String>,
    /// Preloads to the highest load before the first run (one more after each turn of the gauge); 0 for none
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u32).range(0..=10))]
    pub preloads: u32,
    /// How long each preload is held, by the gauge's clock, s
    #[arg(long, value_name = "S", default_value = "30", value_parser = positive)]
    pub dwell_s: f64,
    /// How the gauge stands in the press, run by run, degrees; the first position is run through twice
    #[arg(long, value_name = "DEG,DEG,…", value_delimiter = ',', default_values_t = [0.0, 120.0, 240.0], value_parser = not_negative)]
    pub positions_deg: Vec<f64>,
    /// No readings while unloading
    #[arg(long)]
    pub up_only: bool,
    /// Expanded uncertainty (k = 2) of the reference cell, % of the load
    #[arg(long, value_name = "U", value_parser = positive)]
    pub reference_percent: Option<f64>,
    /// Smallest step of the readings, counts
    #[arg(long, value_name = "COUNTS", value_parser = positive, default_value = "1")]
    pub resolution_counts: f64,
    /// How long each preload was held, s, where the table does not say it
    #[arg(long, value_name = "S", value_parser = positive)]
    pub preload_dwell_s: Option<f64>,
    /// The gauge was loaded through its own knob and shank
    #[arg(long)]
    pub own_knob: bool,
    /// Degree of the curve; without it the lowest that leaves nothing significant out
    #[arg(long, value_name = "1|2", value_parser = clap::value_parser!(i32).range(1..=2))]
    pub degree: Option<i32>,
    /// The indicator instead of the load cell, against gauge blocks
    #[arg(long)]
    pub indicator: bool,
    /// What is on the blocks, on a gauge with both: its own probe, or the digital indicator plugged into it (as without
    /// this option)
    #[arg(long, value_name = "WHAT", requires = "indicator")]
    pub channel: Option<LengthSensor>,
    /// Take the readings now: the stacks of gauge blocks, µm, rising from the lowest
    #[arg(long, value_name = "UM,UM,…", value_delimiter = ',', value_parser = not_negative, requires = "indicator", conflicts_with = "from")]
    pub steps_um: Vec<f64>,
    /// How often to go through the stacks, in and out again
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u32).range(1..=20))]
    pub runs: u32,
    /// Expanded uncertainty (k = 2) of a stack of gauge blocks, µm
    #[arg(long, value_name = "U", value_parser = micrometres, requires = "indicator")]
    pub blocks_um: Option<f64>,
    /// Smallest step of the indicator, µm; 1 unless told, or as the gauge tells it
    #[arg(long, value_name = "UM", value_parser = micrometres, requires = "indicator")]
    pub resolution_um: Option<f64>,
    /// Whole travel of the indicator, µm; without it as far as the blocks go
    #[arg(long, value_name = "UM", value_parser = micrometres, requires = "indicator")]
    pub travel_um: Option<f64>,
    /// What it is called and how long it is good for.
    #[command(flatten)]
    pub named: Named,
}
