//! The live screen on this terminal. In: scenes, lines, what is heard. Out: what the terminal shows, put back as it was when
//! this goes, after a panic too.
//!
//! Lines said meanwhile are printed when the screen is left, so that what happened can be read back.

use crate::terminal::keys::{Key, Keys, Listening, Stroke};
use crate::terminal::one_press::OnePress;
use crate::terminal::prompt::Entry;
use crate::terminal::times;
use crossterm::cursor::{Hide, Show};
use crossterm::execute;
use crossterm::terminal::{EnterAlternateScreen, LeaveAlternateScreen};
use holdtrue_screen::{Ability, Key as ShownKey, Scene};
use ratatui_core::backend::Backend;
use ratatui_core::buffer::Buffer;
use ratatui_core::terminal::Terminal;
use ratatui_crossterm::CrosstermBackend;
use std::collections::VecDeque;
use std::io;
use std::io::{IsTerminal, Stdout, Write};
use std::sync::Once;
use std::time::{Duration, Instant};

/// A person sees no more pictures in a second than this leaves time for.
const PICTURE_EVERY: Duration = Duration::from_millis(66);
/// The whole picture is written anew this often, and else what changed: a window made smaller and larger again between two
/// pictures, or another program's message, would leave holes in it.
const WHOLE_EVERY: Duration = Duration::from_secs(1);
/// Between two bells, so that they can be counted.
const BELL_EVERY: Duration = Duration::from_millis(250);
/// How often somebody who looks at a result is looked after.
const LOOK_EVERY: Duration = Duration::from_millis(50);
/// Lines said that stay in sight.
const IN_SIGHT: usize = 2;

/// The terminal, taken over until this goes.
pub struct LiveScreen {
    terminal: Terminal<CrosstermBackend<Stdout>>,
    listening: Listening,
    ability: Ability,
    scene: Option<Scene>,
    drawn: Option<Instant>,
    drawn_whole: Option<Instant>,
    said: Vec<Said>,
    bells: VecDeque<Instant>,
    typed: VecDeque<Stroke>,
    silent: bool,
    broken: Option<io::Error>,
}

/// A line that was said.
struct Said {
    line: String,
    /// The picture does not say it already.
    news: bool,
}

/// Whether a live screen can be shown: a terminal on both sides that can move its cursor.
pub fn is_possible() -> bool {
    let term = std::env::var("TERM").unwrap_or_default();
    let moves = cfg!(windows) || !(term.is_empty() || term == "dumb");
    moves && io::stdout().is_terminal() && io::stdin().is_terminal()
}

/// Half blocks and signs need letters beyond ASCII.
pub fn ability() -> Ability {
    let named = ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .filter_map(|name| std::env::var(name).ok())
        .find(|value| !value.is_empty());
    let utf8 = named.is_some_and(|name| {
        let name = name.to_lowercase();
        name.contains("utf-8") || name.contains("utf8")
    });
    if utf8 || cfg!(windows) {
        Ability::Unicode
    } else {
        Ability::Ascii
    }
}

/// A terminal left in the middle of a picture would hide what went wrong.
fn leave_on_panic() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            let _ = execute!(io::stdout(), LeaveAlternateScreen, Show);
            before(panic);
        }));
    });
}

impl LiveScreen {
    /// Takes the terminal over.
    ///
    /// # Errors
    /// When the terminal does not take what is written to it.
    pub fn begin() -> io::Result<Self> {
        leave_on_panic();
        let listening = Keys::of_terminal().listen();
        execute!(io::stdout(), EnterAlternateScreen, Hide)?;
        Ok(Self {
            terminal: Terminal::new(CrosstermBackend::new(io::stdout()))?,
            listening,
            ability: ability(),
            scene: None,
            drawn: None,
            drawn_whole: None,
            said: Vec::new(),
            bells: VecDeque::new(),
            typed: VecDeque::new(),
            silent: false,
            broken: None,
        })
    }

    /// Whether the picture is old enough for a new one.
    pub fn wants_scene(&self) -> bool {
        self.drawn
            .is_none_or(|drawn| drawn.elapsed() >= PICTURE_EVERY)
    }

    /// Shows a scene, with the lines said last under it.
    pub fn show(&mut self, scene: &Scene) {
        let mut scene = scene.clone();
        // The newest first: where there is room for one only, it is that one.
        let newest = self.said.iter().rev().filter(|said| said.news);
        let newest = newest.map(|said| said.line.trim().to_owned());
        scene.news.extend(newest.take(IN_SIGHT));
        self.put_up(scene);
    }

    fn put_up(&mut self, mut scene: Scene) {
        self.look_after();
        if scene.corner.is_empty() {
            let time = times::time_of_day(&jiff::Zoned::now());
            scene.corner = match self.silent {
                true => format!("no bell · {time}"),
                false => time,
            };
        }
        self.scene = Some(scene);
        self.draw();
    }

    /// A line: in sight under the picture, and printed when the screen is left.
    pub fn say(&mut self, line: &str) {
        self.note_said(line, true);
    }

    /// A line the picture says already: only printed when the screen is left.
    pub fn say_later(&mut self, line: &str) {
        self.note_said(line, false);
    }

    fn note_said(&mut self, lines: &str, news: bool) {
        self.said.extend(lines.lines().map(|line| Said {
            line: line.to_owned(),
            news: news && !line.trim().is_empty(),
        }));
    }

    /// As many bells as the light blinks. News does not wait for older news to end.
    pub fn ring(&mut self, count: u8) {
        self.bells.clear();
        let mut at = Instant::now();
        for _ in 0..count {
            self.bells.push_back(at);
            at += BELL_EVERY;
        }
        self.look_after();
    }

    /// No bell sounds: the screen says so.
    pub fn silence(&mut self) {
        self.silent = true;
    }

    /// Whether somebody heard the bell; none where `stop` says so, or somebody wants to stop.
    pub fn hears(&mut self, stop: impl Fn() -> bool) -> Option<bool> {
        let scene = Scene {
            word: "HEARD IT".to_owned(),
            sentence: "The bell rang once. Was it heard at the spindle? The light says the same."
                .to_owned(),
            keys: vec![
                ShownKey::new("Y", "yes"),
                ShownKey::new("N", "no: no bell from now on"),
            ],
            ..Scene::new("Before it begins")
        };
        self.typed.clear();
        self.put_up(scene);
        while !stop() && self.broken.is_none() && !Keys::of_terminal().are_gone() {
            match self.typed() {
                Some(Key::Yes | Key::Take) => return Some(true),
                Some(Key::Note) => return Some(false),
                Some(key @ (Key::Stop | Key::Quit)) => {
                    let stroke = match key {
                        Key::Stop => Stroke::Interrupt,
                        _ => Stroke::Sign('q'),
                    };
                    // What runs next is to hear it.
                    self.typed.push_front(stroke);
                    return None;
                }
                _ => std::thread::sleep(LOOK_EVERY),
            }
            self.draw();
        }
        None
    }

    /// Puts up a question; what was pressed before may answer it already, unless it is [forgotten](Self::forget_answers).
    pub fn ask(&mut self, scene: &Scene) {
        self.put_up(scene.clone());
    }

    /// The next key, whatever it is; none where `stop` says so, or nobody is there any more.
    pub fn wait(&mut self, stop: impl Fn() -> bool) -> Option<Stroke> {
        loop {
            self.look_after();
            if let Some(stroke) = self.typed.pop_front() {
                return Some(stroke);
            }
            if stop() || self.broken.is_some() || Keys::of_terminal().are_gone() {
                return None;
            }
            std::thread::sleep(LOOK_EVERY);
            self.draw();
        }
    }

    /// A stroke since the last look, whatever it is.
    pub fn stroke(&mut self) -> Option<Stroke> {
        self.look_after();
        self.typed.pop_front()
    }

    /// A key pressed since the last look.
    pub fn typed(&mut self) -> Option<Key> {
        while let Some(stroke) = self.stroke() {
            let key = Key::of(stroke);
            if key.is_some() {
                return key;
            }
        }
        None
    }

    /// Adds what was typed since the last look to a text.
    pub fn enter(&mut self, text: &mut String) -> Entry {
        self.look_after();
        while let Some(stroke) = self.typed.pop_front() {
            match stroke {
                Stroke::Sign(sign) => text.push(sign),
                Stroke::Erase => _ = text.pop(),
                Stroke::Enter => return Entry::Done,
                Stroke::Interrupt => return Entry::Stop,
                Stroke::Forward | Stroke::Backward => {}
            }
        }
        Entry::Typing
    }

    /// What was pressed before answers nothing that comes.
    pub fn forget_typed(&mut self) {
        self.look_after();
        self.typed.clear();
    }

    /// What was pressed before answers nothing that comes; only what stops the program is kept.
    pub fn forget_answers(&mut self) {
        self.look_after();
        self.typed
            .retain(|stroke| matches!(stroke, Stroke::Interrupt));
    }

    /// Keeps a scene until a key is pressed or `stop` says so. A key pressed twice for what stood there before, or held down,
    /// does not take it away unread.
    pub fn keep(&mut self, scene: &Scene, stop: impl Fn() -> bool) {
        self.look_after();
        let strokes = self.typed.drain(..).map(Key::of);
        // Who pressed the key that stops while the last clamp came in wants no more of it.
        let stopped = strokes
            .flatten()
            .any(|key| matches!(key, Key::Stop | Key::Quit));
        if stopped {
            return;
        }
        let mut press = OnePress::new();
        self.put_up(scene.clone());
        while !stop() && self.broken.is_none() {
            let answer = self.stroke().and_then(|stroke| match Key::of(stroke) {
                // Said by a hand that wants out, however soon.
                Some(Key::Stop | Key::Quit) => Some(stroke),
                _ => press.pressed(stroke),
            });
            match answer.or_else(|| press.due()).and_then(Key::of) {
                Some(Key::Take | Key::Stop | Key::Quit) => return,
                _ if Keys::of_terminal().are_gone() => return,
                _ => std::thread::sleep(LOOK_EVERY),
            }
            self.draw();
        }
    }

    /// Gives the terminal back. What was said meanwhile, to be printed.
    pub fn end(mut self) -> Vec<String> {
        let said = std::mem::take(&mut self.said).into_iter();
        said.map(|said| said.line).collect()
    }

    fn look_after(&mut self) {
        self.typed
            .extend(std::iter::from_fn(|| self.listening.stroke()));
        self.ring_due();
    }

    fn ring_due(&mut self) {
        while self.bells.front().is_some_and(|due| *due <= Instant::now()) {
            self.bells.pop_front();
            let rung = io::stdout()
                .write_all(b"\x07")
                .and_then(|()| io::stdout().flush());
            self.note(rung);
        }
    }

    fn draw(&mut self) {
        let Some(scene) = &self.scene else { return };
        let ability = self.ability;
        let drawn = self.terminal.draw(|frame| {
            let area = frame.area();
            *frame.buffer_mut() = holdtrue_screen::draw(scene, area, ability);
        });
        let whole = drawn.map(|frame| frame.buffer.clone());
        self.drawn = Some(Instant::now());
        let is_due = self
            .drawn_whole
            .is_none_or(|drawn| drawn.elapsed() >= WHOLE_EVERY);
        let drawn = match whole {
            Ok(whole) if is_due => {
                self.drawn_whole = self.drawn;
                self.write_whole(&whole)
            }
            Ok(_) => Ok(()),
            Err(error) => Err(error),
        };
        self.note(drawn);
    }

    fn write_whole(&mut self, picture: &Buffer) -> io::Result<()> {
        let cells = (0..).zip(&picture.content).map(|(at, cell)| {
            let (column, row) = picture.pos_of(at);
            (column, row, cell)
        });
        self.terminal.backend_mut().draw(cells)?;
        Backend::flush(self.terminal.backend_mut())
    }

    /// A terminal that is gone ends nothing: the measurement goes on, and is in the book.
    fn note(&mut self, written: io::Result<()>) {
        if let Err(error) = written {
            self.broken.get_or_insert(error);
        }
    }
}

impl Drop for LiveScreen {
    fn drop(&mut self) {
        // A terminal that is gone needs nothing put back.
        let _ = execute!(io::stdout(), LeaveAlternateScreen, Show);
    }
}
