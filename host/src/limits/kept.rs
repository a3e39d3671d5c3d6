//! Limits written down to be kept with a result. In: what is in force. Out: a limits file that says the same.

use crate::limits::{LimitsFile, SCHEMA, needs_source};
use crate::terminal::error::Error;
use holdtrue_metrology::decision::Limit;
use holdtrue_metrology::limits::SourcedLimit;
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::Provenance;
use serde::Serialize;

impl LimitsFile {
    /// The file to be kept with a result; none where nothing limits it.
    ///
    /// # Errors
    /// As [`Self::to_toml`].
    pub fn to_keep(&self) -> Result<Option<String>, Error> {
        if self.limits.is_empty() && self.nominal.is_none() {
            return Ok(None);
        }
        self.to_toml().map(Some)
    }

    /// The file that says the same, in the units that are judged in: what is kept with a result.
    ///
    /// # Errors
    /// When it has no such form; no limits file of this program is such.
    pub fn to_toml(&self) -> Result<String, Error> {
        let nominal = self.nominal.as_ref().map(|nominal| WrittenNominal {
            force: nominal.force_n,
            unit: "N",
            act_percent: nominal.act_percent,
            watch_percent: nominal.watch_percent,
            provenance: nominal.provenance,
            source: source_or_unnamed(nominal.provenance, nominal.source.as_deref()),
        });
        let limit = self.limits.iter().map(|sourced| SourcedLimit {
            source: source_or_unnamed(sourced.limit.provenance, sourced.source.as_deref()),
            // The nominal force stands in the file itself.
            limit: Limit {
                share: None,
                ..sourced.limit.clone()
            },
        });
        let written = WrittenFile {
            schema: SCHEMA,
            title: &self.title,
            interface: self.interface,
            nominal,
            limit: limit.collect(),
        };
        toml::to_string(&written)
            .map_err(|e| Error::book(format!("the limits cannot be written down: {e}")))
    }
}

#[derive(Serialize)]
struct WrittenFile<'a> {
    schema: i64,
    title: &'a str,
    interface: Option<Interface>,
    nominal: Option<WrittenNominal>,
    limit: Vec<SourcedLimit>,
}

#[derive(Serialize)]
struct WrittenNominal {
    force: f64,
    unit: &'static str,
    act_percent: Option<f64>,
    watch_percent: Option<f64>,
    provenance: Provenance,
    source: Option<String>,
}

/// A figure typed on the command line may name a provenance without a document; the file says so.
fn source_or_unnamed(provenance: Provenance, source: Option<&str>) -> Option<String> {
    source
        .map(str::to_owned)
        .or_else(|| needs_source(provenance).then(|| "document not named".to_owned()))
}
