//! In: what the machine has to be live for between two planes. Out: live for that alone, then isolated again, each
//! acknowledged and in the book before the next reading.

use crate::runout::guidance;
use crate::runout::live::{Station, typed};
use crate::terminal::error::Error;
use crate::terminal::keys::Key;
use crate::terminal::one_press::Vouched;
use crate::terminal::scene_words::Subject;
use crate::visits::acknowledge;
use crate::visits::cautions::MachineState;
use holdtrue_book::How;
use std::time::Duration;
use uuid::Uuid;

/// Keys and Ctrl-C are looked at this often.
const LOOK_EVERY: Duration = Duration::from_millis(50);

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
        subject: &Subject,
        station: &mut Station<'_>,
    ) -> Result<(), Error> {
        let live = format!("live: {act}, hands clear; then Enter");
        let isolated = "isolated and locked out again: Enter";
        for (state, line) in [
            (MachineState::Live, &*live),
            (MachineState::Isolated, isolated),
        ] {
            self.acknowledged(state, line, [visit, check], subject, station)?;
        }
        Ok(())
    }

    fn acknowledged(
        &mut self,
        state: MachineState,
        line: &str,
        [visit, check]: [Uuid; 2],
        subject: &Subject,
        station: &mut Station<'_>,
    ) -> Result<(), Error> {
        let mut text = line.to_owned();
        let in_full = !self.said.contains(&state);
        if in_full {
            // All of it has to be read, however small the window is.
            station.prompt.step_aside();
        }
        station.prompt.say("");
        if in_full {
            self.said.push(state);
            text = format!("{}\n{line}", acknowledge::in_full(state));
            acknowledge::say(state, station.prompt);
        }
        // What was typed before this is asked is no answer to it.
        let keyboard = station.listen();
        station.prompt.say_step(line);
        station.prompt.ring(1);
        let scene = guidance::change_over(state, line, subject);
        let mut vouched = Vouched::new();
        while station.keys.is_somebody() {
            let key = vouched.taken(|| typed(station.prompt, &keyboard));
            station.goes_on(key)?;
            if key == Some(Key::Take) {
                break;
            }
            if station.prompt.wants_scene() {
                station.prompt.show(&scene);
            }
            std::thread::sleep(LOOK_EVERY);
        }
        drop(keyboard);
        station.prompt.come_back();
        acknowledge::store(state, text, self.by, visit, Some(check), station.writer)
    }
}
