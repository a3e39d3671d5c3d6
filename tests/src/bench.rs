//! A bench to try the program on. In: a command and files. Out: exit code and both outputs, told in full where a test fails.

use serde_json::Value;
use std::fmt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tempfile::TempDir;

/// An empty folder and the program.
pub struct Bench {
    program: &'static str,
    folder: TempDir,
}

/// A new bench with the program built beside this test.
#[macro_export]
macro_rules! bench {
    () => {
        $crate::bench::Bench::new(env!("CARGO_BIN_EXE_holdtrue-under-test"))
    };
}

/// The program built for release beside the one that runs.
///
/// # Panics
/// Where it was not built.
pub fn program_beside() -> PathBuf {
    let here = std::env::current_exe().expect("a program has a path");
    let program = here.with_file_name(format!("holdtrue{}", std::env::consts::EXE_SUFFIX));
    assert!(
        program.exists(),
        "{} is not there: build it first (cargo build --release -p holdtrue)",
        program.display()
    );
    program
}

/// How one run ended.
pub struct Run {
    command: String,
    folder: PathBuf,
    /// Exit code; -1 when a signal ended it.
    pub code: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub messages: String,
}

impl Bench {
    /// A new bench for a program; see [`bench!`](crate::bench!).
    pub fn new(program: &'static str) -> Self {
        let folder = TempDir::new().expect("a temporary folder");
        Self { program, folder }
    }

    /// The folder the program runs in.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Where a file of this name lies.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder().join(name)
    }

    /// Puts a file into the folder.
    pub fn file(&self, name: &str, content: impl AsRef<[u8]>) -> &Self {
        std::fs::write(self.path(name), content).expect("a file in the folder");
        self
    }

    /// The program, ready to start: in the folder, with no settings and no book of whoever runs the test.
    pub fn command<'a>(&self, words: impl IntoIterator<Item = &'a str>) -> Command {
        let mut command = Command::new(self.program);
        command
            .args(words)
            .current_dir(self.folder())
            .env("HOLDTRUE_SETTINGS", self.path("settings.toml"))
            .env_remove("HOLDTRUE_BOOK")
            .env_remove("HOLDTRUE_TECHNICIAN")
            .stdin(Stdio::null());
        command
    }

    /// The words of a line, parted at blanks, ready to start on a terminal that shows pictures, with letters beyond ASCII.
    pub fn on_screen(&self, line: &str) -> Command {
        let mut command = self.command(line.split_whitespace());
        command
            .env("TERM", "xterm-256color")
            .env("LC_ALL", "C.UTF-8");
        command
    }

    /// Runs the program with these words.
    pub fn run<'a>(&self, words: impl IntoIterator<Item = &'a str>) -> Run {
        self.finish(&mut self.command(words))
    }

    /// Runs the program with the words of a line, parted at blanks.
    pub fn line(&self, line: &str) -> Run {
        self.run(line.split_whitespace())
    }

    /// The same in the book of the yard, under Technician A's name; `more` are words that hold blanks.
    pub fn in_book(&self, line: &str, more: &[&str]) -> Run {
        self.in_book_as("Technician A", line, more)
    }

    /// The same under another name.
    pub fn in_book_as(&self, technician: &str, line: &str, more: &[&str]) -> Run {
        let words = ["--book", "yard.holdtrue", "--technician", technician];
        let line = line.split_whitespace();
        self.run(words.into_iter().chain(line).chain(more.iter().copied()))
    }

    /// Lets a command come to its end.
    pub fn finish(&self, command: &mut Command) -> Run {
        let output = command.output().expect("the program starts");
        Run {
            command: format!("{command:?}"),
            folder: self.folder().to_owned(),
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            messages: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }
}

impl Run {
    /// Holds the run to an exit code.
    #[track_caller]
    pub fn exits(self, code: i32) -> Self {
        assert_eq!(self.code, code, "exit code\n{self}");
        self
    }

    /// Holds standard error to a text.
    #[track_caller]
    pub fn tells(self, text: &str) -> Self {
        assert!(
            self.messages.contains(text),
            "no \"{text}\" on standard error\n{self}"
        );
        self
    }

    /// Holds standard output to a text.
    #[track_caller]
    pub fn shows(self, text: &str) -> Self {
        assert!(
            self.out.contains(text),
            "no \"{text}\" on standard output\n{self}"
        );
        self
    }

    /// The one JSON document on standard output.
    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out)
            .unwrap_or_else(|e| panic!("standard output is not one JSON document: {e}\n{self}"))
    }
}

impl fmt::Display for Run {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "command: {}", self.command)?;
        writeln!(f, "exit: {}", self.code)?;
        writeln!(f, "--- standard output\n{}", self.out)?;
        writeln!(f, "--- standard error\n{}", self.messages)?;
        writeln!(f, "--- folder {}", self.folder.display())?;
        for entry in std::fs::read_dir(&self.folder)
            .into_iter()
            .flatten()
            .flatten()
        {
            let bytes = entry.metadata().map_or(0, |metadata| metadata.len());
            writeln!(f, "{bytes:>10}  {}", entry.file_name().to_string_lossy())?;
        }
        Ok(())
    }
}
