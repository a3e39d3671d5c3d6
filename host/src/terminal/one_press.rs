//! One press, one answer. In: strokes, and when a question was put up. Out: those that answer it.
//!
//! A key that is held down, or that something lies on, would else answer every question that follows, each in its turn: a whole
//! round found fine by nobody.

use crate::terminal::keys::{Key, Stroke};
use std::time::{Duration, Instant};

/// Nobody reads a question faster: what is pressed sooner was meant for the one before.
const READ_IN: Duration = Duration::from_millis(250);
/// Strokes of a key that is held down follow each other within this; those of a finger do not.
const REPEATS_WITHIN: Duration = Duration::from_millis(200);
/// A key that is held down begins to repeat within this.
const BEGINS_WITHIN: Duration = Duration::from_secs(1);

/// Tells answers from the strokes of a key that is held down.
#[derive(Debug)]
pub struct OnePress {
    asked: Instant,
    read_in: Duration,
    last: Option<(Stroke, Instant)>,
    /// It answers, unless it is the first of many.
    waits: Option<(Stroke, Instant)>,
    dropped: bool,
}

impl OnePress {
    /// Of questions that have to be read before they are answered.
    pub fn new() -> Self {
        Self {
            asked: Instant::now(),
            read_in: READ_IN,
            last: None,
            waits: None,
            dropped: false,
        }
    }

    /// Of a question whose keys answer no other, so that none was meant for the one before.
    pub fn of_its_own_keys() -> Self {
        Self {
            read_in: Duration::ZERO,
            ..Self::new()
        }
    }

    /// Another question stands there now.
    pub fn asks(&mut self) {
        self.asked = Instant::now();
        self.waits = None;
        self.dropped = false;
    }

    /// Whether a stroke was dropped since the question stands there.
    pub fn has_dropped(&self) -> bool {
        self.dropped
    }

    /// A stroke; the one that answers, if one does.
    pub fn pressed(&mut self, stroke: Stroke) -> Option<Stroke> {
        let now = Instant::now();
        // Two different keys are two presses: the first answers.
        if let Some((first, _)) = self.waits.take_if(|(first, _)| *first != stroke) {
            return Some(first);
        }
        let since = match self.last.replace((stroke, now)) {
            Some((last, at)) if last == stroke => Some(now - at),
            Some(_) => None,
            // Held down since before anybody listened, it may be.
            None => Some(REPEATS_WITHIN),
        };
        let repeats = since.is_some_and(|since| since < REPEATS_WITHIN);
        if repeats || now - self.asked < self.read_in {
            self.waits = None;
            self.dropped = true;
            return None;
        }
        if since.is_some_and(|since| since < BEGINS_WITHIN) {
            self.waits = Some((stroke, now));
            return None;
        }
        Some(stroke)
    }

    /// A stroke of a text: it answers nothing by itself, and nothing that follows while it is held down.
    pub fn typed(&mut self, stroke: Stroke) {
        self.waits = None;
        self.last = Some((stroke, Instant::now()));
    }

    /// Whether a stroke waited long enough.
    pub fn is_due(&self) -> bool {
        let waits = self.waits.as_ref();
        waits.is_some_and(|(_, at)| at.elapsed() >= REPEATS_WITHIN)
    }

    /// The stroke that waited long enough to be no first of many.
    pub fn due(&mut self) -> Option<Stroke> {
        let is_due = self.is_due();
        self.waits.take_if(|_| is_due).map(|(stroke, _)| stroke)
    }
}

/// A word that vouches for something: that the machine is isolated, that an indicator is set. A key that is held down, or that
/// something lies on, says none.
#[derive(Debug)]
pub struct Vouched(OnePress);

impl Vouched {
    /// Nothing was said yet.
    pub fn new() -> Self {
        Self(OnePress::of_its_own_keys())
    }

    /// Of all that was typed since the last look the first that counts; a big key once it is known to be no first of many.
    pub fn taken(&mut self, mut typed: impl FnMut() -> Option<Key>) -> Option<Key> {
        loop {
            let pressed = match typed() {
                Some(Key::Take) => self.0.pressed(Stroke::Enter),
                Some(other) => return Some(other),
                None => return self.0.due().map(|_| Key::Take),
            };
            if pressed.is_some() {
                return Some(Key::Take);
            }
        }
    }
}

impl Default for Vouched {
    fn default() -> Self {
        Self::new()
    }
}

impl Default for OnePress {
    fn default() -> Self {
        Self::new()
    }
}
