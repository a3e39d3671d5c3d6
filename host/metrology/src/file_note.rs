//! What was ignored in a file a record came in. In: a reader of tables. Out: values that go with the record into its result.

use serde::{Deserialize, Serialize};

/// What was ignored in a file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "code", rename_all = "kebab-case")]
pub enum FileNote {
    /// A column nobody here knows.
    ColumnNotKnown {
        /// The file, as the person named it.
        file: String,
        /// The column's header, as the file has it.
        column: String,
    },
    /// Angles and times in one file, read against time.
    AnglesIgnored,
    /// Angles and times in one file, read at angles.
    TimesIgnored,
    /// A mark beside readings at angles.
    MarkIgnored,
    /// An option, because the file has a column for it.
    OptionIgnored {
        /// The option.
        option: String,
        /// The column's header.
        column: String,
    },
}
