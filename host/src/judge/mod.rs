//! Who judges a stored check anew, and when a measurement leaves one to be judged. In: what was checked. Out: the room that
//! computes it. And by what the clamps of a spindle are judged.

use crate::grip::anew::GripJudge;
use crate::grip::arguments::GripArgs;
use crate::grip::setup;
use crate::limits::command::limit_words;
use crate::runout::anew::RunoutJudge;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::book::opening::find_spindle;
use crate::visits::checks::anew;
use crate::visits::checks::anew::{Judge, Judged};
use holdtrue_book::CheckKind;
use holdtrue_metrology::grip::limits::UsualRange;

/// The judge of a kind of check; none for a calibration, which is held to no limit.
pub fn of(kind: CheckKind) -> Option<&'static dyn Judge> {
    match kind {
        CheckKind::Grip => Some(&GripJudge),
        CheckKind::Runout => Some(&RunoutJudge),
        CheckKind::Calibration => None,
    }
}

/// What the clamps of a spindle are judged by, in lines.
///
/// # Errors
/// The book cannot be read, or its page of the spindle says what cannot be: exit 6, 2.
pub fn judged_by(app: &App, spindle: &str) -> Result<Vec<String>, Error> {
    let book = app.read_book()?;
    let found = find_spindle(&book, spindle)?;
    let conditions = setup::gather(&GripArgs::default(), Some(found.header()))?;
    let mut lines: Vec<String> = conditions
        .limits
        .limits
        .iter()
        .map(|limit| format!("Judged: {}", limit_words(limit, &app.settings)))
        .collect();
    if let Some(range) = conditions.setup.assumption.and_then(UsualRange::of) {
        let force = |newton: f64| app.settings.force(newton);
        let usual = match range.low_n < range.high_n {
            true => format!("{} to {}", force(range.low_n), force(range.high_n)),
            false => format!("the usual {}", force(range.low_n)),
        };
        lines.push(format!(
            "No maker's figure: a spindle of this class holds {usual} (an assumption). Far below it is rejected; nothing is accepted by it."
        ));
    }
    if lines.is_empty() {
        lines.push(
            "No maker's figure and no class: clamps are measured and kept, and not judged. Enter what plate or papers say: \
             holdtrue spindle edit, with --nominal-n"
                .to_owned(),
        );
    }
    Ok(lines)
}

/// A check that was begun before its spindle was named, broken off and gone on with ends by what it was begun with: it is
/// judged anew by what is known of the spindle since, and that is said, printed and told to the shell.
///
/// # Errors
/// As the measurement ended. What keeps it from being judged anew cuts it short: exit 6.
pub fn settled(measured: Result<Finished, Error>, app: &mut App) -> Result<Finished, Error> {
    let mut measured = measured?;
    match settle(app) {
        Err(error) if measured.error.is_none() => return Ok(measured.cut_short(error)),
        Ok(Some(judged)) if measured.error.is_none() => {
            measured.exit = judged.outcome.map_or(measured.exit, Exit::from);
            let since = measured.document.get("since_last").cloned();
            measured.document = judged.document;
            if let Some(since) = since {
                measured.document["since_last"] = since;
            }
        }
        _ => {}
    }
    Ok(measured)
}

/// The check just measured, where it was judged anew.
fn settle(app: &mut App) -> Result<Option<Judged>, Error> {
    let at_hand = app.at_hand()?;
    let Some(visit) = at_hand.visit else {
        return Ok(None);
    };
    let mut writer = app.writer_of_existing()?;
    let page = at_hand.spindle.as_ref();
    let rejudged = anew::of_visit(&writer, visit, page, of, &app.settings)?;
    writer.book.together(|book| anew::file(book, &rejudged))?;
    for each in &rejudged {
        app.console.message(&each.line);
    }
    // The others of the visit were judged when its spindle was named.
    Ok(rejudged.into_iter().next_back().map(|last| last.judged))
}
