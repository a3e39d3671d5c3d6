//! In: what somebody types while a measurement runs. Out: the one big key and the few others, without waiting for them.

use crossterm::event;
use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use std::io;
use std::io::{BufRead, IsTerminal};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;
use std::time::Duration;

/// What was typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    /// A big key or a presenter's clicker: take it now, or go on.
    Take,
    /// The last reading again.
    Back,
    /// Yes, read again.
    Again,
    /// No, keep it.
    Keep,
    /// Ctrl-C, where the system hands it over as a key.
    Stop,
    /// Leave or stop what is shown.
    Quit,
}

/// How often somebody who waits for a key looks up.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// What the big keys are called on screen.
pub const BIG_KEYS: &str = "space, Enter, a clicker";

/// The keyboard, where somebody sits at it.
#[derive(Debug)]
pub struct Keys {
    somebody: bool,
}

impl Keys {
    /// The terminal's keyboard; nobody's without a terminal.
    pub fn of_terminal() -> Self {
        Self {
            somebody: io::stdin().is_terminal(),
        }
    }

    /// Nobody types.
    pub fn nobody() -> Self {
        Self { somebody: false }
    }

    /// Whether somebody could.
    pub fn is_somebody(&self) -> bool {
        self.somebody
    }

    /// Whether there was a keyboard and is none any more.
    pub fn are_gone(&self) -> bool {
        self.somebody && single_keys::are_gone()
    }

    /// Hears single keys until this goes; what was typed before is forgotten.
    pub fn listen(&self) -> Listening {
        let listening = Listening {
            somebody: self.somebody,
            _single: self.somebody.then(single_keys::on).flatten(),
        };
        while listening.typed().is_some() {}
        listening
    }
}

/// The keyboard gives single keys as long as this lives.
pub struct Listening {
    somebody: bool,
    /// None too for a keyboard that is gone: somebody was there, and answers nothing any more.
    _single: Option<single_keys::On>,
}

impl Listening {
    /// Waits for a big key, looking up now and then; `false` when `stop` says so or the keyboard is gone. Where nobody
    /// sits, nobody is waited for.
    pub fn wait(&self, stop: impl Fn() -> bool) -> bool {
        if !self.somebody {
            return true;
        }
        loop {
            match self.typed() {
                Some(Key::Take) => return true,
                Some(Key::Stop) => return false,
                _ if stop() || single_keys::are_gone() => return false,
                _ => thread::sleep(LOOK_EVERY),
            }
        }
    }

    /// What was typed since the last look.
    pub fn typed(&self) -> Option<Key> {
        // A keyboard that is gone types nothing any more, and reading its end would never come back.
        while self.somebody && !single_keys::are_gone() && event::poll(Duration::ZERO).ok()? {
            if let Event::Key(pressed) = event::read().ok()?
                && let Some(key) = meaning(pressed)
            {
                return Some(key);
            }
        }
        None
    }
}

/// A presenter's clicker sends page keys or arrows; other keys mean nothing.
fn meaning(pressed: KeyEvent) -> Option<Key> {
    if pressed.kind == KeyEventKind::Release {
        return None;
    }
    if pressed.modifiers.contains(KeyModifiers::CONTROL) {
        return (pressed.code == KeyCode::Char('c')).then_some(Key::Stop);
    }
    match pressed.code {
        KeyCode::Enter | KeyCode::Char(' ') | KeyCode::PageDown | KeyCode::Right => Some(Key::Take),
        KeyCode::PageUp | KeyCode::Left | KeyCode::Char('b' | 'B') => Some(Key::Back),
        KeyCode::Char('r' | 'R') => Some(Key::Again),
        KeyCode::Char('k' | 'K') => Some(Key::Keep),
        KeyCode::Char('q' | 'Q') => Some(Key::Quit),
        _ => None,
    }
}

/// Single keys without Enter and without their echo. Everything else stays as it is: Ctrl-C, and what is printed.
#[cfg(unix)]
mod single_keys {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::termios::{
        LocalModes, OptionalActions, SpecialCodeIndex, Termios, tcgetattr, tcsetattr,
    };
    use std::io::stdin;

    pub struct On(Termios);

    /// Whether the terminal was closed.
    pub fn are_gone() -> bool {
        let keyboard = stdin();
        let mut watched = [PollFd::new(&keyboard, PollFlags::IN)];
        let found = poll(&mut watched, Some(&Timespec::default()));
        let end = PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL;
        found.is_ok() && watched[0].revents().intersects(end)
    }

    pub fn on() -> Option<On> {
        let before = tcgetattr(stdin()).ok()?;
        let mut single = before.clone();
        single
            .local_modes
            .remove(LocalModes::ICANON | LocalModes::ECHO);
        single.special_codes[SpecialCodeIndex::VMIN] = 1;
        single.special_codes[SpecialCodeIndex::VTIME] = 0;
        tcsetattr(stdin(), OptionalActions::Now, &single).ok()?;
        Some(On(before))
    }

    impl Drop for On {
        fn drop(&mut self) {
            // A terminal that is gone needs nothing put back.
            let _ = tcsetattr(stdin(), OptionalActions::Now, &self.0);
        }
    }
}

/// Single keys without Enter and without their echo; Ctrl-C comes as a key.
#[cfg(not(unix))]
mod single_keys {
    use crossterm::terminal::{disable_raw_mode, enable_raw_mode};

    pub struct On;

    /// A console is not closed without the program.
    pub fn are_gone() -> bool {
        false
    }

    pub fn on() -> Option<On> {
        enable_raw_mode().ok()?;
        Some(On)
    }

    impl Drop for On {
        fn drop(&mut self) {
            // A terminal that is gone needs nothing put back.
            let _ = disable_raw_mode();
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_keys_of_a_clicker_and_every_big_key_mean_now() {
        let typed = |code| meaning(KeyEvent::new(code, KeyModifiers::NONE));
        for code in [
            KeyCode::Char(' '),
            KeyCode::Enter,
            KeyCode::PageDown,
            KeyCode::Right,
        ] {
            assert_eq!(typed(code), Some(Key::Take), "{code:?}");
        }
        for code in [KeyCode::PageUp, KeyCode::Left, KeyCode::Char('b')] {
            assert_eq!(typed(code), Some(Key::Back), "{code:?}");
        }
        assert_eq!(typed(KeyCode::Char('x')), None);
        let stop = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
        assert_eq!(meaning(stop), Some(Key::Stop));
        let released = KeyEvent {
            kind: KeyEventKind::Release,
            ..KeyEvent::new(KeyCode::Enter, KeyModifiers::NONE)
        };
        assert_eq!(meaning(released), None);
    }
}
