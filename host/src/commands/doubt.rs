//! Doubts about what was entered. In: what looks mistyped. Out: that somebody says it is right; else nothing goes on.

use super::World;
use crate::certificate::Doubt;
use crate::error::Error;
use crate::live::voice::Voice;

/// Puts every doubt to whoever is there.
///
/// # Errors
/// One is not answered with yes, or nobody can be asked: exit 2.
pub(super) fn ask(doubts: &[Doubt], world: &mut World) -> Result<(), Error> {
    for doubt in doubts {
        let said = doubt.words();
        if world.yes {
            world.console.say(&said);
            continue;
        }
        if world.console.ask(&format!("{said} Is it right?")) != Some(true) {
            let error = Error::usage(format!(
                "{said} Nothing was written. If it is right, add --yes"
            ));
            return Err(match &doubt.place {
                Some(place) => error.about(place.clone()),
                None => error,
            });
        }
    }
    Ok(())
}
