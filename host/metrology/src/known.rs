//! Results of other releases read back. In: a list of values. Out: those that this release knows; an earlier release wrote
//! sentences only, a later one may have more kinds.

use serde::de::IgnoredAny;
use serde::{Deserialize, Deserializer};

#[derive(Deserialize)]
#[serde(untagged)]
enum Read<T> {
    Known(T),
    Unknown(IgnoredAny),
}

/// The values known here.
pub fn all<'de, D: Deserializer<'de>, T: Deserialize<'de>>(values: D) -> Result<Vec<T>, D::Error> {
    let read = Vec::<Read<T>>::deserialize(values)?;
    let known = read.into_iter().filter_map(|value| match value {
        Read::Known(value) => Some(value),
        Read::Unknown(IgnoredAny) => None,
    });
    Ok(known.collect())
}
