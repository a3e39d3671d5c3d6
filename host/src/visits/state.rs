//! In: whether a set is said to be as found or as left. Out: that, asked for where somebody can be asked.

use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::terminal::prompt::Prompt;
use crate::visits::book_writer;
use crate::visits::opening::AtHand;
use holdtrue_book::CheckKind;
use holdtrue_terms::vocabulary::State;

/// As found or as left, for a set that is about to be taken: a set that is neither is compared with no earlier visit. What
/// Enter alone means is a set that was broken off, else as found where the visit has none of that kind yet; after that
/// there is no telling.
///
/// Nobody is asked with `--yes`, without a terminal, or where a set without it goes on.
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
        let goes_on = |state| book.open_check(visit, kind, state, &book_writer::now());
        if !fresh && goes_on(None)?.is_some() {
            return Ok(None);
        }
        let found = book.check_starts(visit)?;
        if found.iter().any(|start| start.kind == kind) {
            usual = None;
        }
        for state in State::ALL.iter().copied().filter(|_| !fresh) {
            if goes_on(Some(state))?.is_some() {
                usual = Some(state);
            }
        }
    }
    let enter = match usual {
        Some(state) => format!(" Enter alone: {}.", state.words()),
        None => String::new(),
    };
    let question = format!(
        "Is the spindle as found, or as left after work on it? Type found or left, then Enter.{enter}"
    );
    while let Some(line) = app.console.line(&question) {
        let answer = match line.trim().to_lowercase().as_str() {
            "" => usual,
            "found" | "f" | "as found" | "as-found" => Some(State::AsFound),
            "left" | "l" | "as left" | "as-left" => Some(State::AsLeft),
            _ => None,
        };
        if answer.is_some() {
            return Ok(answer);
        }
    }
    Ok(None)
}
