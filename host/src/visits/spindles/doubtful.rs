//! A maker's figure that cannot be. In: a spindle as it is entered. Out: every doubt answered, or why nothing goes on.

use crate::terminal::console::Console;
use crate::terminal::doubts::{self, Doubted, Unit};
use crate::terminal::error::{Error, Place};
use crate::terminal::settings::Settings;
use holdtrue_book::SpindleHeader;
use holdtrue_metrology::doubt::Spindle;
use holdtrue_terms::units::ForceUnit;

/// The maker's figures of a spindle as they are entered.
///
/// # Errors
/// One that cannot be and is not answered: exit 2.
pub fn settle_spindle(
    header: &SpindleHeader,
    as_read: bool,
    settings: &Settings,
    console: &mut Console,
) -> Result<(), Error> {
    let spindle = Spindle {
        interface: crate::visits::book::opening::taper_of(header)?,
        nominal_n: header.grip_nominal_n,
    };
    let nominal = spindle
        .nominal()
        .zip(header.grip_nominal_n)
        .map(|(doubt, number)| ("--nominal-n", doubt, number));
    let minimum = header
        .grip_minimum_n
        .and_then(|number| Some(("--minimum-n", spindle.least(number)?, number)));
    for (option, doubt, number) in [nominal, minimum].into_iter().flatten() {
        let doubted = Doubted {
            doubt,
            number,
            unit: Unit::Force(ForceUnit::N),
            place: Place::file(option),
            typed: true,
            spindle: Spindle {
                nominal_n: None,
                ..spindle
            },
        };
        doubts::put(&doubted, as_read, false, settings, console)?;
    }
    Ok(())
}
