//! In: words of a command line. Out: a simulated gauge with the planes or clamps they name, the same for whoever asks: for
//! the programs that move an emulated gauge and for the one that offers it as a serial device.

use std::error::Error;
use std::str::FromStr;

use holdtrue_simulated_gauge::operator::turning::Way;
use holdtrue_simulated_gauge::world::plane::{At, PlaneSetup, visit_planes};
use holdtrue_simulated_gauge::{Condition, Setup};

/// How the words go.
pub const USAGE: &str = "SEED CONDITION grip | SEED CONDITION round|bar|marked COUNT probe|indicator [light] [no-press] [patient] [faultless] [overlooks=SHARE] [runout=UM] [noise=UM]";

/// The gauge these words name: a whole round of planes with `COUNT` stops, one plane far out on the bar with as many, or
/// one on the bar near the nose, turned by hand for `COUNT` whole turns from mark to mark.
///
/// Who steps goes from position to position in a rhythm of his own and presses the gauge's button at each. With `light` he
/// follows the light; `no-press`, `patient`, `faultless` and `overlooks` are his habits. `runout` and `noise` are prescribed, not drawn.
///
/// # Errors
///
/// A word that is none of [`USAGE`].
pub fn setup(words: &[String]) -> Result<Setup, Box<dyn Error>> {
    if let [seed, condition, way] = words
        && way == "grip"
    {
        return clamping(seed, condition);
    }
    let [seed, condition, way, count, sensor, more @ ..] = words else {
        return Err(format!("usage: {USAGE}").into());
    };
    let mut setup = Setup::new(seed.parse()?, Condition::from_str(condition)?);
    let count: u16 = count.parse()?;
    setup.planes = match way.as_str() {
        "round" => visit_planes(count),
        "bar" => vec![on_the_bar(300.0, Way::Stepped { stops: count })],
        // One turn more than is counted from mark to mark.
        "marked" => vec![on_the_bar(20.0, Way::Free { turns: count + 1 })],
        other => return Err(format!("\"{other}\" is none of round, bar, marked").into()),
    };
    setup.fitted.displacement = match sensor.as_str() {
        "probe" => true,
        "indicator" => false,
        other => return Err(format!("\"{other}\" is neither probe nor indicator").into()),
    };
    setup.stepping.follows_light = false;
    for word in more {
        set(&mut setup, word)?;
    }
    Ok(setup)
}

/// Somebody who clamps in a rhythm of his own and does not look at the light: then the same seed gives the same samples
/// whenever a host speaks.
///
/// # Errors
///
/// A seed or a condition that is none.
pub fn clamping(seed: &str, condition: &str) -> Result<Setup, Box<dyn Error>> {
    let mut setup = Setup::new(seed.parse()?, Condition::from_str(condition)?);
    setup.habits.follows_light = false;
    Ok(setup)
}

fn set(setup: &mut Setup, word: &str) -> Result<(), Box<dyn Error>> {
    match word.split_once('=') {
        None if word == "light" => setup.stepping.follows_light = true,
        None if word == "no-press" => setup.stepping.presses = false,
        None if word == "patient" => setup.stepping.presses_again = false,
        None if word == "faultless" => setup.stepping.mishaps = false,
        Some(("overlooks", share)) => setup.stepping.overlooks = share.parse()?,
        Some(("runout", um)) => setup.prescribed.runout_um = Some(um.parse()?),
        Some(("noise", um)) => setup.prescribed.noise_um = Some(um.parse()?),
        _ => return Err(format!("\"{word}\" is none of {USAGE}").into()),
    }
    Ok(())
}

fn on_the_bar(height_mm: f64, way: Way) -> PlaneSetup {
    PlaneSetup {
        at: At::Bar,
        height_mm,
        seating: 1,
        orientation_deg: 0.0,
        way,
    }
}
