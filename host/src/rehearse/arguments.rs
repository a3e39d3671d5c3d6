//! Options of `rehearse`.

use clap::Args;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use holdtrue_simulated_gauge::Condition;
use holdtrue_simulated_gauge::port::Pace;

/// One of the conditions, by its name.
fn condition() -> impl TypedValueParser<Value = Condition> {
    let names = PossibleValuesParser::new(Condition::ALL.map(|condition| condition.name()));
    names.map(|name| name.parse().unwrap_or(Condition::Sound))
}

/// A whole visit without hardware.
#[derive(Clone, Debug, Args)]
pub struct RehearseArgs {
    /// State of the simulated spindle: sound, weak-springs, sticky, leaking, worn-gripper, drawbar-setting,
    /// unclamp-cylinder, dirty-taper, bent-test-bar or tilted-taper
    #[arg(long, value_name = "NAME", default_value = "sound", value_parser = condition(), hide_possible_values = true)]
    pub condition: Condition,
    /// Draws everything that varies from machine to machine and from clamp to clamp
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Clamps that must count
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = clap::value_parser!(u32).range(1..))]
    pub clamps: u32,
    /// Offer the simulated gauge as a serial device and print its path; ends with Ctrl-C. Somebody is simulated with it, who follows
    /// the gauge's light: clamps, turns and presses the button there. A key at the laptop presses for him and turns nothing
    #[arg(long)]
    pub as_port: bool,
    /// How fast the device runs: a number (1 is real time), or "max" for as fast as its reader reads
    #[arg(long, value_name = "N|max", default_value = "1", requires = "as_port")]
    pub pace: Pace,
}
