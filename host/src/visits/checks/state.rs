//! In: whether a set is said to be as found or as left. Out: that, asked for where somebody can be asked.

use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::visits::book::book_writer;
use crate::visits::book::opening::AtHand;
use holdtrue_book::{Book, CheckKind};
use holdtrue_terms::vocabulary::State;
use uuid::Uuid;

/// The state of the next set of a kind in a visit: that of one that was broken off and goes on, as found for the first one; after
/// that nobody but the person knows. `fresh`: none goes on.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub(crate) fn of_next(
    book: &Book,
    visit: Uuid,
    kind: CheckKind,
    fresh: bool,
) -> Result<Option<State>, Error> {
    if !fresh && let Some(state) = goes_on_as(book, visit, kind)? {
        return Ok(Some(state));
    }
    let starts = book.check_starts(visit)?;
    let is_first = !starts.iter().any(|start| start.kind == kind);
    Ok(is_first.then_some(State::AsFound))
}

fn goes_on(book: &Book, visit: Uuid, kind: CheckKind, state: Option<State>) -> Result<bool, Error> {
    let open = book.open_check(visit, kind, state, &book_writer::now())?;
    Ok(open.is_some())
}

/// The state of a set that was broken off and goes on; none where none does, or it has no state.
fn goes_on_as(book: &Book, visit: Uuid, kind: CheckKind) -> Result<Option<State>, Error> {
    for state in [State::AsLeft, State::AsFound] {
        if goes_on(book, visit, kind, Some(state))? {
            return Ok(Some(state));
        }
    }
    Ok(None)
}

/// As found or as left, for a set that is about to be taken: a set that is neither is compared with no earlier visit. Enter
/// alone means what [`of_next`] says.
///
/// Nobody is asked with `--yes`, without a terminal, or where a set goes on that was broken off.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub(crate) fn asked(
    typed: Option<State>,
    kind: CheckKind,
    fresh: bool,
    at_hand: &AtHand,
    app: &mut App,
) -> Result<Option<State>, Error> {
    if typed.is_some() || app.yes {
        return Ok(typed);
    }
    let mut usual = Some(State::AsFound);
    if let Some(visit) = at_hand.visit {
        let book = app.read_book()?;
        // A set that goes on is what it was begun as; --state says otherwise, and --new begins another.
        if !fresh {
            if goes_on(&book, visit, kind, None)? {
                return Ok(None);
            }
            if let Some(state) = goes_on_as(&book, visit, kind)? {
                return Ok(Some(state));
            }
        }
        usual = of_next(&book, visit, kind, fresh)?;
    }
    const STATES: [State; 2] = [State::AsFound, State::AsLeft];
    let said = app.console.ask_which(
        "Is the spindle as found, or as left after work on it?",
        ["found", "left"],
        usual.and_then(|usual| STATES.iter().position(|state| *state == usual)),
    )?;
    Ok(said.map(|place| STATES[place]))
}
