//! What one person wants on screen. In: a small TOML file in the user's own folder. Out: units for force and runout.
//!
//! Settings change only what is shown; records, JSON and limits keep their own units.

use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::output_file;
use crate::terminal::toml_file;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_terms::vocabulary::{self, Vocabulary};
use holdtrue_wording::digits::Units;
use serde::{Deserialize, Deserializer, Serialize};
use std::collections::BTreeSet;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Units of force a person reads.
pub const FORCES: &[ForceUnit] = &[ForceUnit::Kn, ForceUnit::N, ForceUnit::Lbf];
/// Units of runout a person reads.
pub const LENGTHS: &[LengthUnit] = &[LengthUnit::Um, LengthUnit::Tenth];

/// What a person has chosen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// Unit of force, one of [`FORCES`].
    #[serde(deserialize_with = "force")]
    pub force: ForceUnit,
    /// Unit of runout, one of [`LENGTHS`].
    #[serde(deserialize_with = "length")]
    pub length: LengthUnit,
    /// Whose name goes under what is written into a book.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub technician: Option<String>,
    /// The book of visits, where the command line names none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub book: Option<PathBuf>,
    /// A second place for a copy of the book: a folder, or a book in one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub backup: Option<PathBuf>,
    /// Months from one visit of a spindle to the next.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub every_months: Option<u32>,
    /// Currency of an estimate that names none: three letters.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// Whether the bell sounds while a check is led.
    pub bell: OnOff,
    /// Whether a check is led on the live screen.
    pub screen: OnOff,
    /// The sheet a paper is printed on.
    pub paper: Paper,
    /// Whether a paper has its appendix: method, budgets, the whole check code.
    pub appendix: OnOff,
    /// Who hands a paper over, in lines at its head: name, address, how to be reached.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub letterhead: Vec<String>,
    /// Their sign beside it: a PNG or JPEG.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub logo: Option<PathBuf>,
    /// What stands first in a day of numbers alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dates: Option<DayOrder>,
}

/// A sheet of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// 210 × 297 mm.
    #[default]
    A4,
    /// 8½ × 11 in.
    Letter,
}

impl Paper {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
        }
    }
}

/// What stands first in a day of numbers alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum DayOrder {
    /// 12/5/2019 is the 12th of May.
    DayFirst,
    /// 12/5/2019 is the 5th of December.
    MonthFirst,
}

impl DayOrder {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::DayFirst => "day-first",
            Self::MonthFirst => "month-first",
        }
    }
}

/// Whether something is wanted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum OnOff {
    /// It is.
    #[default]
    On,
    /// It is not.
    Off,
}

impl OnOff {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::On => "on",
            Self::Off => "off",
        }
    }
}

impl Default for Settings {
    fn default() -> Self {
        let Units { force, length, .. } = Units::default();
        Self {
            force,
            length,
            technician: None,
            book: None,
            backup: None,
            every_months: None,
            currency: None,
            bell: OnOff::On,
            screen: OnOff::On,
            paper: Paper::A4,
            appendix: OnOff::On,
            letterhead: Vec::new(),
            logo: None,
            dates: None,
        }
    }
}

fn force<'de, D: Deserializer<'de>>(from: D) -> Result<ForceUnit, D::Error> {
    shown(from, FORCES)
}

fn length<'de, D: Deserializer<'de>>(from: D) -> Result<LengthUnit, D::Error> {
    shown(from, LENGTHS)
}

fn shown<'de, V: Vocabulary, D: Deserializer<'de>>(from: D, units: &[V]) -> Result<V, D::Error> {
    let word = String::deserialize(from)?;
    let found = units.iter().find(|unit| unit.word() == word);
    found.copied().ok_or_else(|| {
        let words: Vec<_> = units.iter().map(|unit| unit.word()).collect();
        let expected = vocabulary::or(&words);
        serde::de::Error::custom(format!(
            "found \"{word}\" for the {}, expected {expected}",
            V::WHAT
        ))
    })
}

/// What is set in a file of settings.
pub const KEYS: [&str; 14] = [
    "force",
    "length",
    "technician",
    "book",
    "backup",
    "every_months",
    "currency",
    "bell",
    "screen",
    "paper",
    "appendix",
    "letterhead",
    "logo",
    "dates",
];

/// Whether a file that begins like this holds settings, spoilt ones too: text in which one of them is set, or nothing.
pub fn is_settings(beginning: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(beginning) else {
        return false;
    };
    let key = |line: &str| line.split_once('=').map(|(key, _)| key.trim().to_owned());
    let ours = |key: String| KEYS.contains(&key.as_str());
    text.trim().is_empty() || text.lines().filter_map(key).any(ours)
}

/// What a file sets, by name; nothing where it cannot be understood.
pub fn written(path: &Path) -> BTreeSet<String> {
    let text = std::fs::read_to_string(path).ok();
    let table: Option<toml::Table> = text.and_then(|text| text.parse().ok());
    table.into_iter().flatten().map(|(key, _)| key).collect()
}

/// Where the settings of this person are: `HOLDTRUE_SETTINGS`, else the usual folder of the system.
pub fn path() -> Option<PathBuf> {
    let variable = |name| {
        std::env::var_os(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
    };
    if let Some(named) = variable("HOLDTRUE_SETTINGS") {
        return Some(named);
    }
    let home = || std::env::home_dir();
    let folder = if cfg!(windows) {
        variable("APPDATA")
    } else if cfg!(target_os = "macos") {
        home().map(|home| home.join("Library/Application Support"))
    } else {
        variable("XDG_CONFIG_HOME").or_else(|| home().map(|home| home.join(".config")))
    };
    folder.map(|folder| folder.join("holdtrue/settings.toml"))
}

/// A path that holds in every folder.
///
/// # Errors
/// The folder one works in is gone: exit 6.
pub fn absolute(path: &Path) -> Result<PathBuf, Error> {
    std::path::absolute(path)
        .map_err(|source| Error::cannot_write(&path.display().to_string(), &source))
}

impl Settings {
    /// Reads the settings; without a file they are the defaults.
    ///
    /// # Errors
    /// A file that is there and cannot be understood: exit 4.
    pub fn load(path: Option<&Path>) -> Result<Self, Error> {
        let Some(path) = path else {
            return Ok(Self::default());
        };
        let name = path.display().to_string();
        match std::fs::read_to_string(path) {
            Ok(text) => toml_file::parse(
                &name,
                &text,
                "Correct it, or write it anew with holdtrue settings --overwrite.",
            ),
            Err(source)
                if matches!(
                    source.kind(),
                    ErrorKind::NotFound | ErrorKind::NotADirectory
                ) =>
            {
                Ok(Self::default())
            }
            Err(source) => Err(Error::input(
                Place::file(&name),
                Refusal {
                    found: &format!("settings that cannot be read ({source})"),
                    expected: "a readable file",
                    next: "Is it the right file? HOLDTRUE_SETTINGS names it, where that is set. Give yourself access to it, or name another.",
                },
            )),
        }
    }

    /// Stores the settings that somebody chose: those `set` now, by their [names](KEYS), and those that stand in the file
    /// already. What is usual stays so. A new file takes the old one's place, so a half-written one is never left behind.
    ///
    /// # Errors
    /// When the file cannot be written: exit 6.
    pub fn store(&self, path: &Path, set: &BTreeSet<&str>) -> Result<(), Error> {
        let name = path.display().to_string();
        let written = written(path);
        let all = toml::Table::try_from(self)
            .map_err(|e| Error::book(format!("{name}: settings cannot be written ({e})")))?;
        let chosen: toml::Table = all
            .into_iter()
            .filter(|(key, _)| set.contains(key.as_str()) || written.contains(key))
            .collect();
        let text = chosen.to_string();
        path.parent()
            .map_or(Ok(()), std::fs::create_dir_all)
            .map_err(|source| Error::cannot_write(&name, &source))?;
        output_file::write(path, output_file::SETTINGS, text.as_bytes(), true)
    }
}
