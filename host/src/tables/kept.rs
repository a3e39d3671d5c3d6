//! A table that is written while its readings are taken. In: rows, one by one. Out: a file in which every row that was said
//! to be kept is on the disk.

use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::output_file;
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Marks a row that was taken back.
const TAKEN_BACK: &str = "# taken back: ";

/// A table on the disk that grows.
#[derive(Debug)]
pub struct KeptTable {
    path: PathBuf,
    file: File,
    /// Everything in it, the header first.
    lines: Vec<String>,
}

impl KeptTable {
    /// Begins a new table.
    ///
    /// # Errors
    /// There is a file of this name, which is never written over, or it cannot be written: exit 6.
    pub fn begin(path: &Path, header: &str) -> Result<Self, Error> {
        let path = &output_file::target(path)?;
        let file = OpenOptions::new()
            .create_new(true)
            .append(true)
            .open(path)
            .map_err(|source| match source.kind() {
                ErrorKind::AlreadyExists => Error::book(format!(
                    "{name}: found a file of this name, expected none: it is not written over. Go on with it with --keep {name}, \
                     or name another with --keep FILE",
                    name = path.display()
                )),
                _ => Error::cannot_write(&path.display().to_string(), &source),
            })?;
        let mut table = Self {
            path: path.to_owned(),
            file,
            lines: Vec::new(),
        };
        if let Err(error) = table.add(header) {
            // An empty file would stand in the way of the next attempt; where it cannot be removed either, the first
            // error tells more.
            let _ = std::fs::remove_file(path);
            return Err(error);
        }
        Ok(table)
    }

    /// Goes on with one that is there; a last line that was cut short is set aside as taken back. An empty one gets its
    /// header.
    ///
    /// # Errors
    /// It cannot be read, or its header is another: exit 4; or it cannot be written: exit 6.
    pub fn go_on(path: &Path, header: &str) -> Result<Self, Error> {
        let path = &output_file::target(path)?;
        let name = path.display().to_string();
        let text = std::fs::read_to_string(path).map_err(|source| {
            Error::input(
                Place::file(&name),
                Refusal {
                    found: &format!("a table that cannot be read ({source})"),
                    expected: "the table of an unfinished calibration",
                    next: "Name the right one, or begin a new one.",
                },
            )
        })?;
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        require_header(&name, lines.first().map(String::as_str), header)?;
        let whole = text.is_empty() || text.ends_with('\n');
        if let (false, Some(last)) = (whole, lines.last_mut()) {
            last.insert_str(0, TAKEN_BACK);
        }
        let file = OpenOptions::new()
            .append(true)
            .open(path)
            .map_err(|source| Error::cannot_write(&name, &source))?;
        let mut table = Self {
            path: path.to_owned(),
            file,
            lines,
        };
        if !whole {
            table.write_anew()?;
        }
        if table.lines.is_empty() {
            table.add(header)?;
        }
        Ok(table)
    }

    /// Adds a row; when this comes back it is on the disk.
    ///
    /// # Errors
    /// It cannot be written: exit 6.
    pub fn add(&mut self, row: &str) -> Result<(), Error> {
        self.file
            .write_all(format!("{row}\n").as_bytes())
            .and_then(|()| self.file.sync_data())
            .map_err(|source| Error::cannot_write(&self.path.display().to_string(), &source))?;
        self.lines.push(row.to_owned());
        Ok(())
    }

    /// Takes the last row back: it stays in the file as a remark.
    ///
    /// # Errors
    /// It cannot be written: exit 6.
    pub fn take_back(&mut self) -> Result<(), Error> {
        let last = self.lines.iter_mut().skip(1).rev();
        if let Some(row) = last.into_iter().find(|line| !line.starts_with('#')) {
            row.insert_str(0, TAKEN_BACK);
        }
        self.write_anew()
    }

    /// Everything in it, as a reader of the file would find it.
    pub fn bytes(&self) -> Vec<u8> {
        let mut text = self.lines.join("\n");
        text.push('\n');
        text.into_bytes()
    }

    /// Its name.
    pub fn name(&self) -> String {
        self.path.display().to_string()
    }

    /// A new file takes the old one's place, so that a half-written one is never left behind.
    fn write_anew(&mut self) -> Result<(), Error> {
        let written = || -> std::io::Result<File> {
            output_file::replace(&self.path, &self.bytes())?;
            OpenOptions::new().append(true).open(&self.path)
        };
        self.file = written().map_err(|source| Error::cannot_write(&self.name(), &source))?;
        Ok(())
    }
}

/// A table of another kind, or one somebody made otherwise, is not added to.
fn require_header(name: &str, first: Option<&str>, header: &str) -> Result<(), Error> {
    match first {
        Some(found) if found != header => Err(Error::input(
            Place::file(name).line(1),
            Refusal {
                found: &format!("{found:?}"),
                expected: &format!("the header of a table begun here, {header}"),
                next: "Name the right table, or begin a new one with --keep. Nothing was added.",
            },
        )),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(path: &Path) -> String {
        std::fs::read_to_string(path).expect("a table")
    }

    #[test]
    fn rows_are_on_the_disk_as_they_are_added_and_one_taken_back_stays_as_a_remark() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("press.csv");
        let mut table = KeptTable::begin(&path, "a,b").expect("a new table");
        table.add("1,2").expect("a row");
        table.add("3,4").expect("a row");
        assert_eq!(text(&path), "a,b\n1,2\n3,4\n");
        table.take_back().expect("back");
        table.add("3,5").expect("a row");
        assert_eq!(text(&path), "a,b\n1,2\n# taken back: 3,4\n3,5\n");
        assert_eq!(table.bytes(), text(&path).into_bytes());
        assert_eq!(
            KeptTable::begin(&path, "a,b")
                .expect_err("there")
                .exit
                .code(),
            6
        );
    }

    #[test]
    fn a_row_cut_short_by_a_power_loss_is_no_row() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("press.csv");
        std::fs::write(&path, "a,b\n1,2\n3,").expect("a table");
        let mut table = KeptTable::go_on(&path, "a,b").expect("goes on");
        table.add("3,4").expect("a row");
        assert_eq!(text(&path), "a,b\n1,2\n# taken back: 3,\n3,4\n");
    }

    #[test]
    fn an_empty_table_gets_its_header_and_one_of_another_kind_stays_as_it_is() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("press.csv");
        std::fs::write(&path, "").expect("an empty file");
        let mut table = KeptTable::go_on(&path, "a,b").expect("goes on");
        table.add("1,2").expect("a row");
        assert_eq!(text(&path), "a,b\n1,2\n");
        for other in ["a,c\n1,2\n", "1,2\n", "a,"] {
            std::fs::write(&path, other).expect("a table");
            let refused = KeptTable::go_on(&path, "a,b").expect_err("another table");
            assert_eq!(refused.exit.code(), 4);
            assert_eq!(text(&path), other);
        }
    }
}
