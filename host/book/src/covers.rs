//! Which rows a digest stands for.

use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The rows a digest stands for.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Covers {
    /// Table → keys.
    pub rows: BTreeMap<String, BTreeSet<String>>,
    /// Capture → number of chunks.
    pub chunks: BTreeMap<String, u64>,
}

impl Covers {
    /// Whether this row is among them.
    pub(crate) fn has(&self, table: &str, key: impl ToString) -> bool {
        let rows = self.rows.get(table);
        rows.is_some_and(|rows| rows.contains(&key.to_string()))
    }

    /// What either covers.
    pub(crate) fn and(mut self, other: Self) -> Self {
        for (table, keys) in other.rows {
            self.rows.entry(table).or_default().extend(keys);
        }
        for (capture, count) in other.chunks {
            let most = self.chunks.entry(capture).or_default();
            *most = count.max(*most);
        }
        self
    }
}
