//! In: what the technician must know now. Out: plain lines on the terminal, and answers where somebody can be asked.

use crate::terminal::console::Console;
use crate::terminal::error::Error;
use crate::terminal::interrupt::{Interrupt, stopped_at_question};
use crate::terminal::keys::{Key, Stroke, Typed, line_of_terminal};
use crate::terminal::live_screen::LiveScreen;
use holdtrue_screen::Scene;
use holdtrue_wording::shown_lines;
use std::io;
use std::io::IsTerminal;

/// How far a text that is typed is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Entry {
    /// More may come.
    Typing,
    /// Ended by Enter.
    Done,
    /// What runs is to stop.
    Stop,
}

/// Speaks to the person at the machine.
pub trait Prompt {
    /// One line.
    fn say(&mut self, line: &str);

    /// Whether a new picture is wanted now; without a live screen never.
    fn wants_scene(&self) -> bool {
        false
    }

    /// What the step of now looks like.
    fn show(&mut self, _scene: &Scene) {}

    /// A line that the picture of the step says already.
    fn say_step(&mut self, line: &str) {
        self.say(line);
    }

    /// As many bells as the gauge's light blinks, where somebody listens.
    fn ring(&mut self, _count: u8) {}

    /// Whether the live screen listens: only there something can be asked over what is measured.
    fn listens(&self) -> bool {
        false
    }

    /// A key pressed since the last look, where the live screen listens.
    fn typed(&mut self) -> Option<Key> {
        None
    }

    /// A stroke since the last look, whatever it is, where the live screen listens.
    fn stroke(&mut self) -> Option<Stroke> {
        None
    }

    /// Adds what was typed since the last look to a text, where the live screen listens.
    fn enter(&mut self, _text: &mut String) -> Entry {
        Entry::Typing
    }

    /// What was pressed before answers nothing that comes.
    fn forget_typed(&mut self) {}

    /// The live screen makes room for lines that have to be read in full, until [`Self::come_back`].
    fn step_aside(&mut self) {}

    /// The live screen again, where it stepped aside.
    fn come_back(&mut self) {}

    /// A question answered by a line, which may be empty. `None` when nobody can be asked.
    ///
    /// # Errors
    /// Whoever is asked stops: exit 130.
    fn line(&mut self, _question: &str) -> Result<Option<String>, Error> {
        Ok(None)
    }
}

impl Prompt for Console {
    fn say(&mut self, line: &str) {
        Self::say(self, line);
    }

    fn wants_scene(&self) -> bool {
        self.screen().is_some_and(LiveScreen::wants_scene)
    }

    fn show(&mut self, scene: &Scene) {
        if let Some(screen) = self.screen_mut() {
            screen.show(scene);
        }
    }

    fn say_step(&mut self, line: &str) {
        match self.screen_mut() {
            Some(screen) => screen.say_later(&shown_lines(line)),
            None => self.say(line),
        }
    }

    fn ring(&mut self, count: u8) {
        self.bell(count);
    }

    fn listens(&self) -> bool {
        self.screen().is_some()
    }

    fn typed(&mut self) -> Option<Key> {
        self.screen_mut().and_then(LiveScreen::typed)
    }

    fn stroke(&mut self) -> Option<Stroke> {
        self.screen_mut().and_then(LiveScreen::stroke)
    }

    fn enter(&mut self, text: &mut String) -> Entry {
        self.screen_mut()
            .map_or(Entry::Typing, |screen| screen.enter(text))
    }

    fn forget_typed(&mut self) {
        if let Some(screen) = self.screen_mut() {
            screen.forget_typed();
        }
    }

    fn step_aside(&mut self) {
        Self::step_aside(self);
    }

    fn come_back(&mut self) {
        Self::come_back(self);
    }

    fn line(&mut self, question: &str) -> Result<Option<String>, Error> {
        if !io::stdin().is_terminal() {
            return Ok(None);
        }
        let interrupt = Interrupt::heard()?;
        self.question(question);
        match line_of_terminal(|| interrupt.is_set()) {
            Some(Typed::Line(line)) => Ok(Some(line.trim().to_owned())),
            Some(Typed::End) => Ok(None),
            None => Err(stopped_at_question()),
        }
    }
}
