//! Which book is meant, and where a new one comes to lie. In: the command line, the settings, the folder one works in, what
//! the person says. Out: a book to write into; one that was begun and got no row is taken back.
//!
//! `docs/book.md` has the table of cases.

use crate::terminal::app::App;
use crate::terminal::error::{Error, Place};
use crate::terminal::lease::Lease;
use crate::terminal::prompt::Prompt;
use crate::terminal::settings::{Settings, absolute};
use crate::visits::book::book_writer::BookWriter;
use holdtrue_book::Book;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf, is_separator};

/// Name of a book nobody named; where none is set and nobody can be asked, in the folder one works in.
pub(super) const USUAL_NAME: &str = "visits.holdtrue";

impl App {
    /// The book named on the command line, else the one in the settings, else the one in this folder.
    pub fn book_path(&self) -> &Path {
        let named = self.book.as_deref().or(self.chosen.as_deref());
        named
            .or(self.settings.book.as_deref())
            .unwrap_or(Path::new(USUAL_NAME))
    }

    /// Whether nothing says which book is meant.
    fn is_none_set(&self) -> bool {
        self.book.is_none() && self.settings.book.is_none()
    }

    /// A book in the settings that is not there is lost or its medium is missing: no other takes its place unsaid.
    ///
    /// # Errors
    /// It is not there: exit 6.
    pub(crate) fn require_there(&self) -> Result<(), Error> {
        let from_settings = self.book.is_none() && self.settings.book.is_some();
        let path = self.book_path();
        if !from_settings || path.exists() {
            return Ok(());
        }
        let name = path.display().to_string();
        Err(Error::book(format!(
            "{name}: the book in the settings is not there. Is its medium plugged in, was it moved? Name where it lies now \
             with holdtrue settings --book FILE, or another book with --book"
        ))
        .about(Place::file(&name)))
    }

    /// The book, for writing; begun where there is none and none is set.
    ///
    /// # Errors
    /// A second book nobody wants: exit 2. It cannot be opened: exit 6.
    pub fn writer(&mut self) -> Result<BookWriter, Error> {
        self.require_there()?;
        if !self.book_path().exists() {
            self.settle_new()?;
        }
        let path = self.book_path().to_owned();
        let is_new = !path.exists();
        let writer = BookWriter::open(&path, self.author())?;
        if is_new {
            self.begun = Some(path);
        }
        Ok(writer)
    }

    /// Asks where the first book is to lie, or whether a second one is meant.
    fn settle_new(&mut self) -> Result<(), Error> {
        if self.is_none_set() {
            return self.ask_where();
        }
        let (Some(named), Some(set)) = (&self.book, &self.settings.book) else {
            return Ok(());
        };
        let told = format!(
            "{}: there is no book here; the one in use is {}",
            named.display(),
            set.display()
        );
        if self.yes {
            self.console
                .message(&format!("{told}. A second one is begun."));
            return Ok(());
        }
        match self.console.ask(&format!("{told}. Begin a second one?"))? {
            Some(true) => Ok(()),
            _ => Err(Error::usage(format!(
                "{told}. Nothing was changed. Correct the name, leave --book out, or add --yes to begin a second one"
            ))),
        }
    }

    /// The first run asks where the book is to lie; where nobody can be asked it lies in the folder one works in.
    fn ask_where(&mut self) -> Result<(), Error> {
        let usual = usual_place();
        let question = format!(
            "Where is the book of visits to lie? It is remembered from now on. Type a file or a folder, then Enter. Enter \
             alone: {}",
            usual.display()
        );
        loop {
            let Some(answer) = self.console.line(&question)? else {
                return Ok(());
            };
            let chosen = match answer.trim() {
                "" => usual.clone(),
                typed => book_at(Path::new(typed)),
            };
            let chosen = absolute(&chosen)?;
            // Asked again here: what was answered before, a whole new visit perhaps, would be lost with the command.
            match chosen.parent().filter(|folder| !folder.is_dir()) {
                Some(folder) => self.console.say(&format!(
                    "{}: there is no such folder. Make it first, or name another place.",
                    folder.display()
                )),
                None => {
                    self.chosen = Some(chosen);
                    return Ok(());
                }
            }
        }
    }

    /// After the command: a book that was begun and got no row is taken back; else it is remembered, where none was named.
    pub fn settle_begun(&mut self) {
        let Some(path) = self.begun.take() else {
            return;
        };
        match Book::take_back(&path) {
            Ok(true) => return,
            Ok(false) => {}
            Err(error) => self.console.message(&format!("holdtrue: {error}")),
        }
        if self.is_none_set() && path.exists() {
            self.remember(&path);
        }
    }

    /// The row is in the book, so what goes wrong here is said and no more.
    fn remember(&mut self, path: &Path) {
        let Some(file) = self.settings_path.clone() else {
            return;
        };
        let stored = Lease::of_file(&file).and_then(|_lease| {
            let mut settings = Settings::load(Some(&file))?;
            settings.book = Some(absolute(path)?);
            settings.store(&file, &BTreeSet::from(["book"]))
        });
        let name = path.display();
        self.console.message(&match stored {
            Ok(()) => format!("The book lies in {name}; that is remembered (holdtrue settings --book names another)."),
            Err(error) => format!("The book lies in {name}, which could not be remembered: {error}"),
        });
    }
}

/// Documents, else the person's own folder, else the folder one works in.
fn usual_place() -> PathBuf {
    let Some(home) = std::env::home_dir().filter(|home| home.is_dir()) else {
        return PathBuf::from(USUAL_NAME);
    };
    let documents = home.join("Documents");
    let folder = if documents.is_dir() { documents } else { home };
    folder.join(USUAL_NAME)
}

/// In a folder it has its usual name.
fn book_at(typed: &Path) -> PathBuf {
    let last = typed.as_os_str().as_encoded_bytes().last();
    let as_folder = last.is_some_and(|last| is_separator(char::from(*last)));
    match typed.is_dir() || as_folder {
        true => typed.join(USUAL_NAME),
        false => typed.to_owned(),
    }
}

/// A book as the settings name it: one that is there, or begun now.
///
/// # Errors
/// Something else lies there, or it cannot be begun: exit 6.
pub fn to_be_set(typed: &Path) -> Result<PathBuf, Error> {
    let path = named_book(typed)?;
    drop(Book::open_or_create(&path)?);
    Ok(path)
}

/// Where a book lies that is named so: in a folder it has its usual name.
///
/// # Errors
/// The folder one works in is gone: exit 6.
pub fn named_book(typed: &Path) -> Result<PathBuf, Error> {
    absolute(&book_at(typed))
}
