//! Doubts about what was entered. In: what looks mistyped. Out: that somebody says it is right; else nothing goes on.

use crate::calibration::certificate::Doubt;
use crate::calibration::write::Ask;
use crate::terminal::app::App;
use crate::terminal::error::Error;

/// Puts every doubt to whoever is there, in the way `ask` does.
///
/// # Errors
/// One is not answered with yes, or nobody can be asked: exit 2.
pub(crate) fn ask(doubts: &[Doubt], app: &mut App, ask: Ask<'_>) -> Result<(), Error> {
    for doubt in doubts {
        let said = doubt.words();
        if app.yes {
            app.console.say(&said);
            continue;
        }
        if ask(app, &format!("{said} Is it right?"))? != Some(true) {
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
