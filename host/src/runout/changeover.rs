//! In: what the machine has to be live for between two planes. Out: live for that alone, then isolated again, each
//! acknowledged and in the book before the next reading.

use crate::runout::live::Station;
use crate::terminal::error::Error;
use crate::terminal::interrupt::cut_off;
use crate::visits::acknowledge;
use crate::visits::cautions::MachineState;
use holdtrue_book::How;
use uuid::Uuid;

/// How cautions are acknowledged while a check runs, and which were said in full in this visit.
#[derive(Clone, Debug)]
pub struct Cautioned {
    /// How they are acknowledged.
    pub by: How,
    /// What need not be said in full again.
    pub said: Vec<MachineState>,
}

impl Cautioned {
    /// Live for one act, hands clear; then isolated again.
    ///
    /// # Errors
    /// Ctrl-C or a keyboard that is gone in place of an acknowledgement; a book that does not take it.
    pub fn change_over(
        &mut self,
        act: &str,
        [visit, check]: [Uuid; 2],
        station: &mut Station<'_>,
    ) -> Result<(), Error> {
        let live = format!("live: {act}, hands clear; then Enter");
        let isolated = "isolated and locked out again: Enter";
        for (state, line) in [
            (MachineState::Live, &*live),
            (MachineState::Isolated, isolated),
        ] {
            self.acknowledged(state, line, [visit, check], station)?;
        }
        Ok(())
    }

    fn acknowledged(
        &mut self,
        state: MachineState,
        line: &str,
        [visit, check]: [Uuid; 2],
        station: &mut Station<'_>,
    ) -> Result<(), Error> {
        let mut text = line.to_owned();
        station.prompt.say("");
        if !self.said.contains(&state) {
            self.said.push(state);
            text = format!("{}\n{line}", acknowledge::in_full(state));
            acknowledge::say(state, station.prompt);
        }
        // What was typed before this is asked is no answer to it.
        let keyboard = station.keys.listen();
        station.prompt.say(line);
        if !keyboard.wait(|| station.interrupt.is_set()) {
            return Err(cut_off());
        }
        acknowledge::store(state, text, self.by, visit, Some(check), station.writer)
    }
}
