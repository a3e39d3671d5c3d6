//! What is known before a runout check begins at the machine. In: its options, the book. Out: by which limits it will be judged,
//! and how far one is that was broken off and goes on.

use crate::limits::LimitsFile;
use crate::limits::command::limit_words;
use crate::runout::arguments::RunoutArgs;
use crate::runout::live::planes_in;
use crate::runout::plan::PlannedPlane;
use crate::runout::setup;
use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::terminal::settings::Settings;
use crate::visits::book::book_writer;
use crate::visits::book::opening::AtHand;
use crate::visits::checks::stored_limits;
use holdtrue_book::CheckKind;
use holdtrue_terms::vocabulary::State;

/// A check that was broken off and goes on.
pub struct BrokenOff {
    /// The planes it has.
    pub planes: Vec<PlannedPlane>,
    /// What it was begun with; none where nothing limits it.
    limits: Option<LimitsFile>,
}

impl BrokenOff {
    /// That of the visit at hand in this state, unless another is to begin.
    ///
    /// # Errors
    /// The book cannot be read: exit 6.
    pub fn at_hand(
        at_hand: &AtHand,
        state: Option<State>,
        fresh: bool,
        app: &App,
    ) -> Result<Option<Self>, Error> {
        let (Some(visit), false) = (at_hand.visit, fresh) else {
            return Ok(None);
        };
        let book = app.read_book()?;
        let open = book.open_check(visit, CheckKind::Runout, state, &book_writer::now())?;
        let Some(start) = open else {
            return Ok(None);
        };
        Ok(Some(Self {
            planes: planes_in(&book, start.id)?,
            limits: stored_limits::by_sha256(&book, start.limits_sha256.as_deref())?,
        }))
    }
}

/// How a limit is given with the command.
pub const BY_OPTION: &str = "To give one: --limit-um 10, or --limit-um 20=10 for 20 mm from the nose alone, or --limits FILE";

/// By which limits it will be judged, in lines, or that none is known and `how` one is given.
pub fn judged_by(
    limits: &LimitsFile,
    broken_off: Option<&BrokenOff>,
    how: &str,
    settings: &Settings,
) -> Vec<String> {
    let limits = match broken_off {
        Some(broken_off) => broken_off.limits.as_ref(),
        None => Some(limits),
    };
    let each = limits
        .map(|file| file.limits.as_slice())
        .unwrap_or_default();
    match (each, broken_off) {
        ([], None) => vec![format!(
            "No runout limit is known: the planes are measured and kept, and not judged. {how}"
        )],
        ([], Some(_)) => vec![
            "The check that goes on was begun without a runout limit: it is measured and kept, and not judged. With one: --new and \
             --limit-um 10"
                .to_owned(),
        ],
        (each, _) => each
            .iter()
            .map(|limit| format!("Judged: {}", limit_words(limit, settings)))
            .collect(),
    }
}

/// The same of a command that is led and not carried out yet; and whether it goes on with a check that has its limits already.
///
/// # Errors
/// A limits file that cannot be used, options that contradict each other; the book cannot be read.
pub fn of_command(args: &RunoutArgs, app: &App) -> Result<(Vec<String>, bool), Error> {
    let at_hand = app.at_hand()?;
    let conditions = setup::gather(args, at_hand.spindle.as_ref())?;
    // Which state it is of may not be said yet; one that goes on is what it was begun as.
    let states = match args.state {
        Some(state) => vec![Some(state)],
        None => vec![None, Some(State::AsLeft), Some(State::AsFound)],
    };
    let mut broken_off = None;
    for state in states {
        if broken_off.is_none() {
            broken_off = BrokenOff::at_hand(&at_hand, state, args.new, app)?;
        }
    }
    let how = "L gives one.";
    let lines = judged_by(&conditions.limits, broken_off.as_ref(), how, &app.settings);
    Ok((lines, broken_off.is_some()))
}
