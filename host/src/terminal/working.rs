//! What takes longer than a second says so. In: what is done, and each step of it that is. Out: one line on a terminal's
//! standard error, gone again at the end; elsewhere nothing.

use std::io;
use std::io::{IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Whoever waits no longer than this is told nothing.
const PATIENCE: Duration = Duration::from_secs(1);
/// How often the line is written anew.
const EVERY: Duration = Duration::from_millis(500);
/// A longer line would be broken at the edge of a terminal, and not be gone at the end.
const LONGEST: usize = 78;

/// Something under way, until this goes.
pub struct Working {
    done: Arc<AtomicUsize>,
    told: Option<(Sender<()>, JoinHandle<()>)>,
}

impl Working {
    /// Something whose steps nobody counts.
    pub fn on(what: &str) -> Self {
        Self::of(what, 0)
    }

    /// Something of so many steps.
    pub fn of(what: &str, steps: usize) -> Self {
        let done = Arc::new(AtomicUsize::new(0));
        let told = io::stderr().is_terminal().then(|| {
            let (end, ended) = channel();
            let (what, counted) = (what.to_owned(), Arc::clone(&done));
            let told = thread::spawn(move || {
                let (begun, mut wait, mut shown) = (Instant::now(), PATIENCE, 0);
                while ended.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                    let done = counted.load(Ordering::Relaxed);
                    let line = line(&what, done, steps, begun.elapsed());
                    put(&line, shown);
                    shown = line.chars().count();
                    wait = EVERY;
                }
                if shown > 0 {
                    put("", shown);
                    put("", 0);
                }
            });
            (end, told)
        });
        Self { done, told }
    }

    /// One step more is done.
    pub fn step(&self) {
        self.done.fetch_add(1, Ordering::Relaxed);
    }
}

fn line(what: &str, done: usize, steps: usize, lasts: Duration) -> String {
    let count = match steps {
        0 => String::new(),
        steps => format!(" {done} of {steps},"),
    };
    let line = format!("{what} …{count} {} s", lasts.as_secs());
    line.chars().take(LONGEST).collect()
}

/// From the beginning of the line, over as many signs as stand there. A terminal that is gone is told nothing.
fn put(line: &str, over: usize) {
    let mut terminal = io::stderr().lock();
    let _ = write!(terminal, "\r{line:<over$}").and_then(|()| terminal.flush());
}

impl Drop for Working {
    fn drop(&mut self) {
        if let Some((end, told)) = self.told.take() {
            drop(end);
            // A thread that failed has told what there was to tell.
            let _ = told.join();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_says_how_far_it_is_and_fits_a_terminal() {
        let two = Duration::from_millis(2_900);
        assert_eq!(line("reading", 0, 0, two), "reading … 2 s");
        assert_eq!(line("checks", 3, 12, two), "checks … 3 of 12, 2 s");
        assert_eq!(line(&"x".repeat(200), 3, 12, two).chars().count(), LONGEST);
    }
}
