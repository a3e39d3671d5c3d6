//! JSON text, kept exactly as it was written.
//!
//! In: anything that serialises. Out: the text that is stored, digested and read back.

use crate::book::{Book, Result};
use serde::Serialize;
use serde::de::DeserializeOwned;

/// A JSON document as text. The text, not its meaning, is what a digest covers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Json(String);

impl Json {
    /// Writes a value as JSON.
    pub fn of(value: &impl Serialize) -> std::result::Result<Self, serde_json::Error> {
        serde_json::to_string(value).map(Self)
    }

    /// The empty object.
    pub fn empty() -> Self {
        Self("{}".to_owned())
    }

    /// Takes text that is JSON already.
    pub fn from_text(text: impl Into<String>) -> std::result::Result<Self, serde_json::Error> {
        let text = text.into();
        serde_json::from_str::<serde::de::IgnoredAny>(&text)?;
        Ok(Self(text))
    }

    /// Reads the document as a type.
    pub fn read<T: DeserializeOwned>(&self) -> std::result::Result<T, serde_json::Error> {
        serde_json::from_str(&self.0)
    }

    /// The text.
    pub fn text(&self) -> &str {
        &self.0
    }
}

impl From<&Json> for rusqlite::types::Value {
    fn from(json: &Json) -> Self {
        Self::Text(json.0.clone())
    }
}

impl rusqlite::types::FromSql for Json {
    fn column_result(value: rusqlite::types::ValueRef<'_>) -> rusqlite::types::FromSqlResult<Self> {
        value.as_str().map(|text| Self(text.to_owned()))
    }
}

impl Book {
    pub(crate) fn json(&self, field: &'static str, value: &impl Serialize) -> Result<String> {
        serde_json::to_string(value)
            .map_err(|error| self.refused(field, error.to_string(), "a value JSON can hold"))
    }
}
