//! In: what the technician must know now. Out: plain lines on the terminal, and answers where somebody can be asked.

use std::io::{self, BufRead, IsTerminal, Write};

/// How the technician was reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Acknowledged {
    /// Somebody typed yes.
    Asked,
    /// `--yes` on the command line.
    ByFlag,
    /// Nothing is energised, so nobody was asked.
    NotNeeded,
}

impl Acknowledged {
    /// Word in the book.
    pub fn name(self) -> &'static str {
        match self {
            Self::Asked => "asked",
            Self::ByFlag => "by-flag",
            Self::NotNeeded => "not-needed",
        }
    }
}

/// Speaks to the person at the machine.
pub trait Voice {
    /// One line.
    fn say(&mut self, line: &str);

    /// A question that needs a yes. `None` when nobody can be asked.
    fn ask(&mut self, question: &str) -> Option<bool>;
}

/// Speaks on the terminal: to standard output, or to standard error when standard output carries a document.
pub struct Terminal {
    to_stderr: bool,
}

impl Terminal {
    /// `document`: standard output is kept free for one JSON document.
    pub fn new(document: bool) -> Self {
        Self {
            to_stderr: document,
        }
    }
}

impl Voice for Terminal {
    fn say(&mut self, line: &str) {
        // A reader that went away (a closed pipe) must not stop a measurement.
        let _gone = if self.to_stderr {
            writeln!(io::stderr(), "{line}")
        } else {
            writeln!(io::stdout(), "{line}").and_then(|()| io::stdout().flush())
        };
    }

    fn ask(&mut self, question: &str) -> Option<bool> {
        if !io::stdin().is_terminal() {
            return None;
        }
        loop {
            self.say(&format!("{question} Type yes or no, then Enter."));
            let mut answer = String::new();
            match io::stdin().lock().read_line(&mut answer) {
                Ok(0) | Err(_) => return None,
                Ok(_) => {}
            }
            match answer.trim().to_lowercase().as_str() {
                "yes" | "y" => return Some(true),
                "no" | "n" => return Some(false),
                _ => {}
            }
        }
    }
}
