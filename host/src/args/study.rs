//! Options of `study`.

use super::parse::positive;

/// Readings of the same parts by several technicians, and what they are held against.
#[derive(Debug, clap::Args)]
pub struct StudyArgs {
    /// Readings (CSV: part, technician, trial and value_n or value_um); - is standard input
    #[arg(long, value_name = "FILE")]
    pub from: String,
    /// Width of the tolerance, in the unit of the readings
    #[arg(long, value_name = "WIDTH", value_parser = positive)]
    pub tolerance: Option<f64>,
    /// The parts were loads on a press or check stand: the gauge alone was studied, not the whole check
    #[arg(long)]
    pub gauge_alone: bool,
    /// All spindles are of one taper and class, so that telling them apart means something
    #[arg(long)]
    pub one_class: bool,
}
