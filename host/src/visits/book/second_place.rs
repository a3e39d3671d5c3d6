//! A copy of the book at a second place. In: a book in use, where the copy is to lie. Out: a copy that was read back, or why
//! there is none; what lies there already is replaced only where it is an older state of the same book.

use crate::terminal::app::App;
use crate::terminal::error::Error;
use crate::terminal::output_file;
use holdtrue_book::Book;
use std::path::{Path, PathBuf};

/// What became of a copy.
#[derive(Debug)]
pub struct Copied {
    /// Where it lies.
    pub to: PathBuf,
    /// An older copy was replaced.
    pub replaced: bool,
}

/// Where a copy would lie, and whether it would take the place of an older one; nothing is written.
///
/// # Errors
/// As [`copy`], before anything is written.
pub fn looked_over(book: &Book, to: &Path, overwrite: bool) -> Result<Copied, Error> {
    let copied = place_of(book, to, overwrite)?;
    output_file::target(&copied.to)?;
    Ok(copied)
}

/// Copies a book. Into a folder it is copied under its own name.
///
/// # Errors
/// Something else than an older state of this book lies there: exit 2. It cannot be written or read back: exit 6.
pub fn copy(book: &Book, to: &Path, overwrite: bool) -> Result<Copied, Error> {
    let copied = place_of(book, to, overwrite)?;
    book.back_up(&copied.to)?;
    Ok(copied)
}

fn place_of(book: &Book, to: &Path, overwrite: bool) -> Result<Copied, Error> {
    let to = match (to.is_dir(), book.path().file_name()) {
        (true, Some(name)) => to.join(name),
        _ => to.to_owned(),
    };
    if same_file(book.path(), &to) {
        return Err(Error::usage(format!(
            "{}: this is the book itself: name another place",
            to.display()
        )));
    }
    let replaced = match Book::open_read_only(&to) {
        Err(holdtrue_book::Error::Missing { .. }) => false,
        Err(holdtrue_book::Error::Empty { .. }) => true,
        Err(holdtrue_book::Error::Damaged { .. }) if overwrite => true,
        Err(other) => return Err(other.into()),
        Ok(there) if overwrite || book.is_older_state(&there)? => true,
        Ok(_) => {
            return Err(Error::usage(format!(
                "{}: another book lies there, or one that holds what this book does not: it was left alone. Name another \
                 place, take over what it holds with holdtrue book merge, or add --overwrite",
                to.display()
            )));
        }
    };
    Ok(Copied { to, replaced })
}

fn same_file(one: &Path, other: &Path) -> bool {
    match (one.canonicalize(), other.canonicalize()) {
        (Ok(one), Ok(other)) => one == other,
        _ => false,
    }
}

/// A place in the settings that is not named as a book is a folder: without its medium it is not there, and is not made.
fn there(to: &Path) -> Result<(), Error> {
    let is_book = to
        .extension()
        .is_some_and(|extension| extension == "holdtrue");
    if is_book || to.is_dir() {
        return Ok(());
    }
    Err(Error::book(format!(
        "{}: there is no such folder",
        to.display()
    )))
}

/// Copies the book to the place in the settings, where there is one and it is wanted. What goes wrong is said and no more: the
/// visit is finished.
pub fn offer(book: &Book, app: &mut App) {
    let Some(to) = app.settings.backup.clone() else {
        return;
    };
    let question = format!("Copy the book to {}?", to.display());
    // Where nobody can be asked, the settings have said it.
    if !app.yes && !matches!(app.console.ask(&question), Ok(Some(true) | None)) {
        return;
    }
    let told = match there(&to).and_then(|()| copy(book, &to, false)) {
        Ok(copied) => format!("Book copied to {}, and read back.", copied.to.display()),
        Err(error) => format!(
            "The visit is finished, but the book was not copied: {error}. Is the medium plugged in? Later: holdtrue book \
             backup {}",
            to.display()
        ),
    };
    app.console.message(&told);
}
