//! In: what the technician must know now. Out: plain lines on the terminal, and answers where somebody can be asked.

use crate::terminal::console::Console;
use std::io;
use std::io::{BufRead, IsTerminal};

/// Speaks to the person at the machine.
pub trait Prompt {
    /// One line.
    fn say(&mut self, line: &str);

    /// A question that needs a yes. `None` when nobody can be asked.
    fn ask(&mut self, question: &str) -> Option<bool>;

    /// A question answered by a line, which may be empty. `None` when nobody can be asked.
    fn line(&mut self, _question: &str) -> Option<String> {
        None
    }
}

impl Prompt for Console {
    fn say(&mut self, line: &str) {
        Self::say(self, line);
    }

    fn ask(&mut self, question: &str) -> Option<bool> {
        loop {
            if let Some(answer) = yes_or_no(&self.line(&as_question(question))?) {
                return Some(answer);
            }
        }
    }

    fn line(&mut self, question: &str) -> Option<String> {
        if !io::stdin().is_terminal() {
            return None;
        }
        self.say(question);
        let mut answer = String::new();
        match io::stdin().lock().read_line(&mut answer) {
            Ok(0) | Err(_) => None,
            Ok(_) => Some(answer.trim().to_owned()),
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
