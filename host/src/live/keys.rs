//! In: what somebody types while a measurement runs. Out: the one big key and the few others, without waiting for them.

use std::io::{self, BufRead, IsTerminal};
use std::sync::mpsc::{Receiver, RecvTimeoutError, TryRecvError, channel};
use std::thread;
use std::time::Duration;

/// What was typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    /// Enter alone: take it now, or go on.
    Take,
    /// b and Enter: the last reading again.
    Back,
}

/// The keyboard, where somebody sits at it.
pub struct Keys(Option<Receiver<Key>>);

impl Keys {
    /// The terminal's keyboard; nobody's without a terminal.
    pub fn of_terminal() -> Self {
        if !io::stdin().is_terminal() {
            return Self(None);
        }
        let (tell, typed) = channel();
        thread::spawn(move || {
            for line in io::stdin().lock().lines() {
                let Ok(line) = line else { return };
                let key = if line.trim().eq_ignore_ascii_case("b") {
                    Key::Back
                } else {
                    Key::Take
                };
                if tell.send(key).is_err() {
                    return;
                }
            }
        });
        Self(Some(typed))
    }

    /// Nobody types.
    pub fn nobody() -> Self {
        Self(None)
    }

    /// Whether somebody could.
    pub fn is_somebody(&self) -> bool {
        self.0.is_some()
    }

    /// What was typed since the last look.
    pub fn typed(&self) -> Option<Key> {
        self.0.as_ref()?.try_recv().ok()
    }

    /// Waits for a key, looking up now and then; `false` when `stop` says so or the keyboard is gone.
    pub fn wait(&self, stop: impl Fn() -> bool) -> bool {
        let Some(typed) = &self.0 else { return true };
        loop {
            match typed.recv_timeout(Duration::from_millis(100)) {
                Ok(_) => return true,
                Err(RecvTimeoutError::Disconnected) => return false,
                Err(RecvTimeoutError::Timeout) if stop() => return false,
                Err(RecvTimeoutError::Timeout) => {}
            }
        }
    }
}

/// A whole line, or that no more will come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// A line, without its end.
    Line(String),
    /// The keyboard is gone.
    End,
}

/// Lines somebody types while a measurement runs; a pipe will do.
pub struct Lines(Receiver<String>);

impl Lines {
    /// Those of standard input.
    pub fn of_standard_input() -> Self {
        let (tell, typed) = channel();
        thread::spawn(move || {
            for line in io::stdin().lock().lines() {
                let Ok(line) = line else { return };
                if tell.send(line).is_err() {
                    return;
                }
            }
        });
        Self(typed)
    }

    /// What was typed since the last look.
    pub fn typed(&self) -> Option<Typed> {
        match self.0.try_recv() {
            Ok(line) => Some(Typed::Line(line)),
            Err(TryRecvError::Empty) => None,
            Err(TryRecvError::Disconnected) => Some(Typed::End),
        }
    }

    /// The next line, however long it takes.
    pub fn wait(&self) -> Typed {
        self.0.recv().map_or(Typed::End, Typed::Line)
    }
}
