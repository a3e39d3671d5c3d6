//! In: what somebody types while a measurement runs. Out: the one big key and the few others, without waiting for them.

use std::io;
use std::io::{BufRead, IsTerminal};
use std::sync::mpsc::{Receiver, RecvTimeoutError, TryRecvError, channel};
use std::thread;
use std::time::Duration;

/// How often it is looked whether somebody stops who is asked for a line.
const LOOK_EVERY: Duration = Duration::from_millis(50);

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
    /// Set the last one aside, with a reason.
    Aside,
    /// Read nothing for a while.
    Pause,
    /// Write a note; where yes is the other answer, no.
    Note,
    /// Write down something that was seen.
    Finding,
    /// Yes.
    Yes,
    /// One of several, by its number.
    Choice(u8),
}

impl Key {
    /// A presenter's clicker sends page keys or arrows. Other keys mean nothing, those with which it blanks a screen least of
    /// all: b, full stop, Esc, F5.
    pub fn of(stroke: Stroke) -> Option<Self> {
        match stroke {
            Stroke::Enter | Stroke::Forward | Stroke::Sign(' ') => Some(Self::Take),
            Stroke::Backward => Some(Self::Back),
            Stroke::Sign('r' | 'R') => Some(Self::Again),
            Stroke::Sign('k' | 'K') => Some(Self::Keep),
            Stroke::Sign('q' | 'Q') => Some(Self::Quit),
            Stroke::Sign('d' | 'D') => Some(Self::Aside),
            Stroke::Sign('p' | 'P') => Some(Self::Pause),
            Stroke::Sign('n' | 'N') => Some(Self::Note),
            Stroke::Sign('y' | 'Y') => Some(Self::Yes),
            Stroke::Sign('f' | 'F') => Some(Self::Finding),
            Stroke::Sign(digit @ '1'..='9') => digit
                .to_digit(10)
                .and_then(|digit| u8::try_from(digit).ok())
                .map(Self::Choice),
            Stroke::Interrupt => Some(Self::Stop),
            Stroke::Erase | Stroke::Sign(_) => None,
        }
    }
}

/// One key of the keyboard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stroke {
    /// A letter, digit or sign, the blank too.
    Sign(char),
    /// Enter.
    Enter,
    /// Backspace.
    Erase,
    /// Page down, or the right arrow.
    Forward,
    /// Page up, or the left arrow.
    Backward,
    /// Ctrl-C, where the system hands it over as a key.
    Interrupt,
}

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
        while listening.stroke().is_some() {}
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
    /// The next key typed since the last look, whatever it is.
    pub fn stroke(&self) -> Option<Stroke> {
        // A keyboard that is gone types nothing any more, and reading its end would never come back.
        if self.somebody && !single_keys::are_gone() {
            single_keys::stroke()
        } else {
            None
        }
    }

    /// The next key typed since the last look that means something.
    pub fn typed(&self) -> Option<Key> {
        std::iter::from_fn(|| self.stroke()).find_map(Key::of)
    }
}

/// Single keys without Enter and without their echo. Everything else stays as it is: Ctrl-C, and what is printed.
///
/// What a terminal sends is read here and by no event loop: one that waits for the rest of a sequence it does not know would
/// stop the measurement, and one woken by a change of size would leave a key for later.
#[cfg(unix)]
mod single_keys {
    use super::Stroke;
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    use rustix::termios::{
        LocalModes, OptionalActions, SpecialCodeIndex, Termios, tcgetattr, tcsetattr,
    };
    use std::collections::VecDeque;
    use std::io::stdin;
    use std::sync::{Mutex, PoisonError};
    use std::time::Duration;

    pub struct On(Termios);

    /// What came and is no whole key yet: there is one keyboard.
    static CAME: Mutex<VecDeque<u8>> = Mutex::new(VecDeque::new());
    /// No key sends more than this.
    const LONGEST: usize = 16;

    fn seen(wanted: PollFlags) -> bool {
        let keyboard = stdin();
        let mut watched = [PollFd::new(&keyboard, PollFlags::IN)];
        let found = poll(&mut watched, Some(&Timespec::default()));
        found.is_ok() && watched[0].revents().intersects(wanted)
    }

    /// Whether something is to be read within that time, the end of the terminal too.
    pub fn comes(within: Duration) -> bool {
        let keyboard = stdin();
        let mut watched = [PollFd::new(&keyboard, PollFlags::IN)];
        let within = Timespec::try_from(within).unwrap_or_default();
        // A signal ends the wait early: it is looked at again.
        poll(&mut watched, Some(&within)).is_ok_and(|count| count > 0)
    }

    /// Whether the terminal was closed.
    pub fn are_gone() -> bool {
        seen(PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL)
    }

    /// The next key, without waiting for one.
    pub fn stroke() -> Option<Stroke> {
        let mut came = CAME.lock().unwrap_or_else(PoisonError::into_inner);
        loop {
            if seen(PollFlags::IN) {
                let mut bytes = [0; 64];
                let read = rustix::io::read(stdin(), &mut bytes).unwrap_or(0);
                came.extend(&bytes[..read]);
            }
            let bytes = came.make_contiguous();
            let (used, stroke) = first(bytes);
            came.drain(..used);
            if stroke.is_some() || used == 0 {
                return stroke;
            }
        }
    }

    /// The first key of what came, and how many bytes it was; none of them where its rest is still on the way.
    pub(super) fn first(bytes: &[u8]) -> (usize, Option<Stroke>) {
        match bytes {
            [] => (0, None),
            [b'\r' | b'\n', ..] => (1, Some(Stroke::Enter)),
            [0x7f | 0x08, ..] => (1, Some(Stroke::Erase)),
            // The function keys of a Linux console.
            [0x1b, b'[', b'[', rest @ ..] => (if rest.is_empty() { 0 } else { 4 }, None),
            [0x1b, b'[' | b'O', rest @ ..] => {
                let end = rest.iter().position(|byte| (0x40..0x7f).contains(byte));
                match end {
                    Some(end) => (end + 3, sequence(&rest[..=end])),
                    None if rest.len() > LONGEST => (bytes.len(), None),
                    None => (0, None),
                }
            }
            // Esc alone, or with what follows.
            [byte, ..] if *byte < 0x20 => (1, None),
            _ => sign(bytes),
        }
    }

    fn sequence(of: &[u8]) -> Option<Stroke> {
        match of {
            b"C" | b"6~" => Some(Stroke::Forward),
            b"D" | b"5~" => Some(Stroke::Backward),
            b"M" => Some(Stroke::Enter),
            _ => None,
        }
    }

    fn sign(bytes: &[u8]) -> (usize, Option<Stroke>) {
        let longest = &bytes[..bytes.len().min(4)];
        let valid = match std::str::from_utf8(longest) {
            Ok(text) => text,
            // A letter whose rest is on the way.
            Err(error) if error.valid_up_to() == 0 && error.error_len().is_none() => {
                return (0, None);
            }
            Err(error) => std::str::from_utf8(&longest[..error.valid_up_to()]).unwrap_or(""),
        };
        match valid.chars().next() {
            Some(sign) => (sign.len_utf8(), Some(Stroke::Sign(sign))),
            None => (1, None),
        }
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
    use super::Stroke;
    use crossterm::event;
    use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
    use crossterm::terminal::{disable_raw_mode, enable_raw_mode};
    use std::time::Duration;

    pub struct On;

    /// The line itself is waited for: a console says that it has keys before a line is whole.
    pub fn comes(_within: Duration) -> bool {
        true
    }

    /// A console is not closed without the program.
    pub fn are_gone() -> bool {
        false
    }

    /// The next key, without waiting for one.
    pub fn stroke() -> Option<Stroke> {
        while event::poll(Duration::ZERO).ok()? {
            if let Event::Key(pressed) = event::read().ok()?
                && let Some(stroke) = of(pressed)
            {
                return Some(stroke);
            }
        }
        None
    }

    fn of(pressed: KeyEvent) -> Option<Stroke> {
        if pressed.kind == KeyEventKind::Release {
            return None;
        }
        if pressed.modifiers.contains(KeyModifiers::CONTROL) {
            return (pressed.code == KeyCode::Char('c')).then_some(Stroke::Interrupt);
        }
        match pressed.code {
            KeyCode::Char(sign) => Some(Stroke::Sign(sign)),
            KeyCode::Enter => Some(Stroke::Enter),
            KeyCode::Backspace => Some(Stroke::Erase),
            KeyCode::PageDown | KeyCode::Right => Some(Stroke::Forward),
            KeyCode::PageUp | KeyCode::Left => Some(Stroke::Backward),
            _ => None,
        }
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

    /// The next line, however long it takes; none where `stop` says so.
    pub fn wait(&self, stop: impl Fn() -> bool) -> Option<Typed> {
        loop {
            match self.0.recv_timeout(LOOK_EVERY) {
                Ok(line) => return Some(Typed::Line(line)),
                Err(RecvTimeoutError::Disconnected) => return Some(Typed::End),
                Err(RecvTimeoutError::Timeout) if stop() => return None,
                Err(RecvTimeoutError::Timeout) => {}
            }
        }
    }
}

/// The next line of the terminal, however long it takes; none where `stop` says so. A terminal hands lines over one by one,
/// so what can be read is a whole one.
pub fn line_of_terminal(stop: impl Fn() -> bool) -> Option<Typed> {
    while !single_keys::comes(LOOK_EVERY) {
        if stop() {
            return None;
        }
    }
    let mut line = String::new();
    Some(match io::stdin().lock().read_line(&mut line) {
        Ok(0) | Err(_) if stop() => return None,
        Ok(0) | Err(_) => Typed::End,
        Ok(_) => Typed::Line(line),
    })
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    /// The keys in what a terminal sends, as it comes in pieces.
    fn keys(pieces: &[&[u8]]) -> Vec<Option<Key>> {
        let (mut came, mut keys) = (Vec::new(), Vec::new());
        for piece in pieces {
            came.extend_from_slice(piece);
            loop {
                let (used, stroke) = single_keys::first(&came);
                came.drain(..used);
                keys.extend(stroke.map(Key::of));
                if used == 0 {
                    break;
                }
            }
        }
        keys
    }

    #[test]
    fn the_keys_of_a_clicker_and_every_big_key_mean_now() {
        for now in [
            &b" "[..],
            b"\r",
            b"\n",
            b"\x1b[6~",
            b"\x1b[C",
            b"\x1bOC",
            b"\x1bOM",
        ] {
            assert_eq!(keys(&[now]), [Some(Key::Take)], "{now:?}");
        }
        for back in [&b"\x1b[5~"[..], b"\x1b[D", b"\x1bOD"] {
            assert_eq!(keys(&[back]), [Some(Key::Back)], "{back:?}");
        }
    }

    #[test]
    fn what_blanks_a_presenters_screen_and_what_nobody_knows_means_nothing_and_hides_no_key() {
        for silent in [
            &b"b"[..],
            b"B",
            b".",
            b"\x1b",
            b"\x1b[15~",
            b"\x1b[[E",
            b"\x1b[1;5C",
            b"\x1b[<0;3;4M",
            b"\x1b[I",
            "\u{fc}".as_bytes(),
            b"\xff",
            b"\0",
        ] {
            let meant: Vec<Key> = keys(&[silent, b"q"]).into_iter().flatten().collect();
            assert_eq!(meant, [Key::Quit], "{silent:?}");
        }
    }

    #[test]
    fn a_key_that_comes_in_pieces_is_one_key() {
        assert_eq!(keys(&[b"\x1b[", b"6", b"~"]), [Some(Key::Take)]);
        assert_eq!(keys(&[b"\xc3", b"\xbc", b"r"]), [None, Some(Key::Again)]);
    }
}
