//! Enumerations that are stored as one word each.
//!
//! In: a word read from a column. Out: the variant, or a refusal that names the word.

/// An enumeration with the word each variant is stored as.
macro_rules! words {
    ($(#[$about:meta])* $name:ident { $($(#[$variant_about:meta])* $variant:ident = $word:literal,)+ }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum $name { $($(#[$variant_about])* $variant,)+ }

        impl $name {
            /// As stored, and as machine-readable documents spell it.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }

            /// The variant a word stands for.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)+ _ => None }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }

        impl rusqlite::types::FromSql for $name {
            fn column_result(value: rusqlite::types::ValueRef<'_>) -> rusqlite::types::FromSqlResult<Self> {
                let word = value.as_str()?;
                Self::from_word(word).ok_or_else(|| {
                    let said = format!("{word:?} is no {}", stringify!($name));
                    rusqlite::types::FromSqlError::Other(said.into())
                })
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
