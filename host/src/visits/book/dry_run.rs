//! What a command would write. In: the command. Out: as it would have ended; it was carried out on a copy of the book, which is
//! gone again.

use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::console::NOTHING_WRITTEN;
use crate::terminal::error::{Error, Place};
use crate::visits::book::which_book::USUAL_NAME;
use std::ffi::OsStr;
use std::path::Path;

/// The option of commands that write into the book.
#[derive(Clone, Copy, Debug, Default, clap::Args)]
pub struct DryRun {
    /// Say what would come of it; write nothing
    #[arg(long)]
    pub dry_run: bool,
}

/// Carries a command out on a copy of the book: it says what it would say, by the same path, and the book stays as it is.
///
/// # Errors
/// Those of the command, of a book that is not there or cannot be read, and of a folder for temporary files that has no room.
pub fn on_a_copy(
    app: &mut App,
    carry_out: impl FnOnce(&mut App) -> Result<Finished, Error>,
) -> Result<Finished, Error> {
    app.require_there()?;
    let folder = tempfile::tempdir().map_err(|error| no_room(&std::env::temp_dir(), &error))?;
    let path = app.book_path().to_owned();
    let name = path.file_name().unwrap_or_else(|| OsStr::new(USUAL_NAME));
    let copy = folder.path().join(name);
    if path.exists() {
        app.read_book()?.back_up(&copy)?;
    }
    let as_shown =
        |text: &str| text.replace(&*copy.display().to_string(), &path.display().to_string());
    let named = app.book.replace(copy.clone());
    let set = app.settings.book.take();
    let settings_path = app.settings_path.take();
    let finished = carry_out(app);
    app.book = named;
    app.settings.book = set;
    app.settings_path = settings_path;
    app.begun = None;
    let mut finished = finished.map_err(|error| error.reworded(as_shown))?;
    finished.text = format!("{}\n{NOTHING_WRITTEN}", as_shown(&finished.text));
    if app.console.writes_json() {
        app.console.message(NOTHING_WRITTEN);
    }
    Ok(finished)
}

fn no_room(folder: &Path, error: &std::io::Error) -> Error {
    let name = folder.display().to_string();
    Error::book(format!(
        "{name}: --dry-run works on a copy of the book, and none can be made here: {error}. Make room, or set TMPDIR to another folder"
    ))
    .about(Place::file(&name))
}
