//! A record filed twice. In: what is to be filed, the book. Out: it is a set of its own; or meant all the same, and marked so;
//! or why nothing goes on.
//!
//! A record that was copied into a second set, or under another spindle, looks like a second measurement that agrees.

use crate::terminal::app::App;
use crate::terminal::doubts;
use crate::terminal::error::{Error, Place, Refusal};
use crate::visits::book::opening::described;
use crate::visits::checks::input::Input;
use crate::visits::checks::stored_check::read;
use holdtrue_book::{Book, Check, CheckKind, Source, Visit};
use holdtrue_metrology::copied;
use holdtrue_metrology::copied::Alike;
use serde::Deserialize;
use uuid::Uuid;

/// The readings a stored check was computed from; none where it has none or cannot be the same.
pub type ReadBack<'a> = &'a dyn Fn(&Book, &Check) -> Result<Option<Vec<f64>>, Error>;

/// What is to be filed.
pub struct ToFile<'a> {
    /// What was checked.
    pub kind: CheckKind,
    /// Where it comes from.
    pub input: &'a Input<'a>,
    /// Its readings in order.
    pub readings: &'a [f64],
    /// Whoever files it says that it is meant as it reads.
    pub as_read: bool,
    /// How to read an earlier one back.
    pub read_back: ReadBack<'a>,
    /// Whether an earlier one shows the same parts, written otherwise.
    pub same_parts: SameParts<'a>,
}

/// Whether a stored check shows the same clamps at other times or in other steps.
pub type SameParts<'a> = &'a dyn Fn(&Book, &Check) -> Result<bool, Error>;

/// The set whose record was filed again; none where it is a record of its own.
///
/// # Errors
/// Of a file, where nobody can be asked, or the answer is to stop: exit 4. The book cannot be read: exit 6.
pub fn ask(to: &ToFile<'_>, visit: Option<Uuid>, app: &mut App) -> Result<Option<Uuid>, Error> {
    let Some(book) = app.book_if_there()? else {
        return Ok(None);
    };
    let Some((check, alike)) = earlier(to, visit, &book)? else {
        return Ok(None);
    };
    let which = named(&book, check, visit)?;
    let but = match alike {
        Alike::ToTheLastDigit => "",
        Alike::Stretched => ", but for a factor or a constant",
        Alike::ClampByClamp if to.kind == CheckKind::Runout => {
            ", plane by plane, some cut out or added"
        }
        Alike::ClampByClamp => ", clamp by clamp, at other times, rounded or cut",
    };
    let found = format!("the readings of {which}{but}");
    // A few digits noted by hand may agree by chance; it is said, and decides nothing.
    if let Input::Typed { .. } = to.input {
        app.console.message(&format!(
            "{}: found {found} once more; it is filed and marked so.",
            to.input.name()
        ));
        return Ok(Some(check));
    }
    let choices = [("as read".to_owned(), ())];
    let question = format!(
        "{}: {found}. Is it filed again on purpose?",
        to.input.name()
    );
    if to.as_read || doubts::pick(&question, &choices, &mut app.console)?.is_some() {
        app.console
            .message(&format!("Filed again, as read: {found}."));
        return Ok(Some(check));
    }
    Err(Error::input(
        Place::file(to.input.name()),
        Refusal {
            found: &found,
            expected: "a record of its own for every set",
            next: "Take the set again or name its own record; add --as-read to file it all the same, marked so.",
        },
    ))
}

/// A file is held to every set of its kind in the book; what was typed, with few digits, to those of its own visit.
fn earlier(
    to: &ToFile<'_>,
    visit: Option<Uuid>,
    book: &Book,
) -> Result<Option<(Uuid, Alike)>, Error> {
    let visits = match (to.input, visit) {
        (Input::File { .. }, _) => book.visits()?.iter().map(|visit| visit.id).collect(),
        (Input::Typed { .. }, Some(visit)) => vec![visit],
        (Input::Typed { .. }, None) => Vec::new(),
    };
    for visit in visits {
        for check in book.visit(visit)?.checks {
            if check.start.kind == to.kind
                && let Some(alike) = alike(to, book, &check)?
            {
                return Ok(Some((check.start.id, alike)));
            }
        }
    }
    Ok(None)
}

fn alike(to: &ToFile<'_>, book: &Book, check: &Check) -> Result<Option<Alike>, Error> {
    let Some(capture) = check.captures.first() else {
        return Ok(None);
    };
    if let Input::File { bytes, .. } = to.input {
        if capture.source == Source::Typed {
            return Ok(None);
        }
        let original = book.original(capture.id)?;
        if original.is_some_and(|original| original.bytes == *bytes) {
            return Ok(Some(Alike::ToTheLastDigit));
        }
    } else if capture.source != Source::Typed {
        return Ok(None);
    }
    let before = (to.read_back)(book, check)?;
    let alike = before.and_then(|before| copied::alike(&before, to.readings));
    if alike.is_some() || capture.source == Source::Typed {
        return Ok(alike);
    }
    Ok((to.same_parts)(book, check)?.then_some(Alike::ClampByClamp))
}

/// Which set a record was filed as before; none of a record filed once.
///
/// # Errors
/// The book cannot be read: exit 6.
pub fn remark(book: &Book, visit: &Visit, check: &Check) -> Result<Option<String>, Error> {
    #[derive(Deserialize)]
    struct About {
        #[serde(default)]
        same_as: Option<Uuid>,
    }
    let Some(capture) = check.captures.first() else {
        return Ok(None);
    };
    let about: About = read(book, &capture.content)?;
    let Some(same_as) = about.same_as else {
        return Ok(None);
    };
    let which = named(book, same_as, Some(visit.visit.id))?;
    Ok(Some(format!("has the readings of {which} once more")))
}

/// "set 1 of this visit, as found", or of which visit.
fn named(book: &Book, check: Uuid, here: Option<Uuid>) -> Result<String, Error> {
    let start = book.check_start(check)?;
    let state = start
        .state
        .map_or_else(String::new, |state| format!(", {}", state.words()));
    let Some(visit) = start.visit else {
        return Ok(format!("a {} set{state}", start.kind));
    };
    let starts = book.check_starts(visit)?;
    let number = starts
        .iter()
        .position(|each| each.id == check)
        .map_or(0, |place| place + 1);
    let visit = if here == Some(visit) {
        "this visit".to_owned()
    } else {
        let all = book.visits()?;
        let found = all.iter().find(|each| each.id == visit);
        let words = found.map(|found| described(book, found)).transpose()?;
        format!("visit {}", words.unwrap_or_default())
    };
    Ok(format!("set {number} of {visit} ({}{state})", start.kind))
}
