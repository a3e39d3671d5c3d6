//! In: what the technician must know now. Out: plain lines on the terminal, and answers where somebody can be asked.

use crate::output::Console;
use std::io::{self, BufRead, IsTerminal};

/// Speaks to the person at the machine.
pub trait Voice {
    /// One line.
    fn say(&mut self, line: &str);

    /// A question that needs a yes. `None` when nobody can be asked.
    fn ask(&mut self, question: &str) -> Option<bool>;
}

impl Voice for Console {
    fn say(&mut self, line: &str) {
        Self::say(self, line);
    }

    fn ask(&mut self, question: &str) -> Option<bool> {
        if !io::stdin().is_terminal() {
            return None;
        }
        loop {
            self.say(&as_question(question));
            let mut answer = String::new();
            match io::stdin().lock().read_line(&mut answer) {
                Ok(0) | Err(_) => return None,
                Ok(_) => {}
            }
            if let Some(answer) = yes_or_no(&answer) {
                return Some(answer);
            }
        }
    }
}

/// A question with how to answer it.
pub fn as_question(question: &str) -> String {
    format!("{question} Type yes or no, then Enter.")
}

/// What a typed line answers; none where it is neither.
pub fn yes_or_no(line: &str) -> Option<bool> {
    match line.trim().to_lowercase().as_str() {
        "yes" | "y" => Some(true),
        "no" | "n" => Some(false),
        _ => None,
    }
}
