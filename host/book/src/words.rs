//! Words in columns. In: a closed vocabulary, or a column that keeps one. Out: the value, or an error with the word.

use holdtrue_terms::vocabulary::Vocabulary;
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, Value, ValueRef};
use rusqlite::{Row, RowIndex};

/// A word of the trade as a column keeps it.
struct Word<V>(V);

impl<V: Vocabulary> FromSql for Word<V> {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        read(value).map(Self)
    }
}

/// The value of the word in a cell.
pub(crate) fn read<V: Vocabulary>(value: ValueRef<'_>) -> FromSqlResult<V> {
    V::from_word(value.as_str()?).map_err(FromSqlError::other)
}

/// The word of a column that may be empty.
pub(crate) fn read_maybe_word<V: Vocabulary>(
    row: &Row<'_>,
    column: impl RowIndex,
) -> rusqlite::Result<Option<V>> {
    let word: Option<Word<V>> = row.get(column)?;
    Ok(word.map(|Word(value)| value))
}

/// A word for a column that may be empty.
pub(crate) fn maybe_word<V: Vocabulary>(value: Option<V>) -> Value {
    value.map_or(Value::Null, |value| Value::Text(value.word().to_owned()))
}

/// A vocabulary of the book's own, read from columns and written into them.
macro_rules! words {
    ($(#[$about:meta])* $name:ident is $($rest:tt)+) => {
        holdtrue_terms::vocabulary! { $(#[$about])* $name is $($rest)+ }

        impl rusqlite::types::FromSql for $name {
            fn column_result(value: rusqlite::types::ValueRef<'_>) -> rusqlite::types::FromSqlResult<Self> {
                crate::words::read(value)
            }
        }

        impl From<$name> for rusqlite::types::Value {
            fn from(variant: $name) -> Self {
                Self::Text(variant.word().to_owned())
            }
        }
    };
}
pub(crate) use words;
