//! The taper of a check. In: what was typed, a limits file, the spindle's page. Out: the one taper they agree on.

use crate::limits::LimitsFile;
use crate::terminal::error::Error;
use crate::visits::book::opening;
use holdtrue_book::SpindleHeader;
use holdtrue_terms::taper::Interface;

/// The taper typed, else the file's, else the spindle's.
///
/// # Errors
/// A word that is no taper, or another taper than the spindle of the visit has: exit 2.
pub fn of(
    typed: Option<&str>,
    file: Option<&LimitsFile>,
    spindle: Option<&SpindleHeader>,
) -> Result<Option<Interface>, Error> {
    let of_file = file.and_then(|file| Some((file.interface?, format!("\"{}\"", file.title))));
    let said = match typed {
        Some(text) => {
            let taper: Interface = text
                .parse()
                .map_err(|e| Error::usage(format!("--interface: {e}")))?;
            if let Some((other, file)) = of_file.filter(|(other, _)| !is_same(*other, taper)) {
                return Err(Error::usage(format!(
                    "--interface says {taper}, the limits of {file} are for {other}. Is it the right file? Limits follow \
                     the taper: take the spindle's own file, or correct the taper in one of the two"
                )));
            }
            Some((taper, "--interface".to_owned()))
        }
        None => of_file,
    };
    // What is typed overrules a page that cannot be understood.
    let on_page = spindle.map(opening::taper_of).transpose();
    let of_spindle = match (&said, on_page) {
        (_, Ok(taper)) => taper.flatten(),
        (Some(_), Err(_)) => None,
        (None, Err(error)) => return Err(error),
    };
    if let (Some((taper, place)), Some(known)) = (&said, of_spindle) {
        require_same(*taper, place, known)?;
    }
    Ok(said.map(|(taper, _)| taper).or(of_spindle))
}

/// Whether two names are of one taper, whatever form of shank they name.
pub fn is_same(one: Interface, other: Interface) -> bool {
    (one.family, one.size) == (other.family, other.size)
}

/// Limits and uncertainty follow the taper, so another one than the spindle's is a slip on one side or the other.
///
/// # Errors
/// Another cone or another size: exit 2.
fn require_same(taper: Interface, place: &str, known: Interface) -> Result<(), Error> {
    if is_same(taper, known) {
        return Ok(());
    }
    Err(Error::usage(format!(
        "{place} says {taper}, the spindle of this visit has {known}. Is it the right spindle? Leave the taper out, start a \
         visit for the other spindle, or correct its page: holdtrue spindle edit"
    )))
}
