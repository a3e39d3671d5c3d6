//! A stored runout check by what is known of its spindle now. In: what it was begun with, the spindle's page. Out: what it
//! is held to now, and its result by that, computed from the record by the one analysis.
//!
//! Limits on runout are typed or stand in a file, none on a spindle's page; what follows the spindle is the taper.

use crate::runout::setup::slope;
use crate::runout::stored;
use crate::runout::stored::Begun;
use crate::terminal::error::Error;
use crate::visits::book::opening::taper_of;
use crate::visits::checks::anew::{Anew, Judge, Judged, Pages};
use crate::visits::checks::check_inputs;
use crate::visits::checks::stored_check;
use crate::visits::checks::stored_limits;
use holdtrue_book::{Book, Check, CheckResult, Json, SpindleHeader};
use holdtrue_metrology::runout;
use holdtrue_metrology::runout::ANALYSIS_VERSION;
use holdtrue_metrology::runout::nose::BarTurns;
use holdtrue_terms::taper::Interface;

fn turned_as(page: &SpindleHeader) -> Result<Option<BarTurns>, Error> {
    Ok(taper_of(page)?.map(BarTurns::of))
}

/// Judges stored runout checks.
#[derive(Clone, Copy, Debug)]
pub struct RunoutJudge;

impl Judge for RunoutJudge {
    fn as_kept(&self, book: &Book, check: &Check, inputs: &Json) -> Result<Json, Error> {
        let inputs: Begun = check_inputs::read_json(book, &check.start, inputs)?;
        check_inputs::to_keep(&inputs)
    }

    fn taper(
        &self,
        book: &Book,
        _check: &Check,
        stored: &CheckResult,
    ) -> Result<Option<Interface>, Error> {
        let limits = stored_limits::by_sha256(book, stored.limits_sha256.as_deref())?;
        Ok(limits.and_then(|limits| limits.interface))
    }

    fn anew(&self, book: &Book, check: &Check, pages: &Pages<'_>) -> Result<Anew, Error> {
        let mut inputs: Begun = check_inputs::read(book, &check.start)?;
        let kept = stored_limits::by_sha256(book, check.start.limits_sha256.as_deref())?;
        let taper = pages.now.map(taper_of).transpose()?.flatten();
        let before = kept.as_ref().and_then(|kept| kept.interface);
        // Without a taper on the page the bar went in as it did when it was measured.
        if let Some(taper) = taper {
            let setup = &mut inputs.setup;
            let of_taper = setup.bar_turns == BarTurns::NotKnown
                || before.map(BarTurns::of) == Some(setup.bar_turns)
                || pages.had(setup.bar_turns, turned_as);
            if of_taper {
                setup.bar_turns = BarTurns::of(taper);
            }
            setup.square_to_wall = setup.square_to_wall.map(|_| slope(Some(taper)));
        }
        let limits = kept.map(|mut kept| {
            kept.interface = taper.or(kept.interface);
            kept.to_keep()
        });
        Ok(Anew {
            inputs: check_inputs::to_keep(&inputs)?,
            limits: limits.transpose()?.flatten(),
        })
    }

    fn judge(&self, book: &Book, check: &Check, inputs: &Json) -> Result<Option<Judged>, Error> {
        let inputs: Begun = check_inputs::read_json(book, &check.start, inputs)?;
        let Some((record, _file)) = stored::readings_of(book, check, &inputs)? else {
            return Ok(None);
        };
        // What gave a result once gives one again; a record that does not is damaged, which recheck says.
        let Ok(result) = runout::analyse(&record, &inputs.setup) else {
            return Ok(None);
        };
        Ok(Some(Judged {
            analysis: format!("runout-{ANALYSIS_VERSION}"),
            outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
            document: stored_check::document(&result)?,
        }))
    }
}
