//! Why a stored result is not what is computed now. In: a check, its result and what the book holds of limits and
//! calibration. Out: each difference with what can have made it.

use crate::limits;
use crate::recheck::command::Difference;
use crate::terminal::error::Error;
use crate::visits::checks::check_inputs::text_in_force;
use crate::visits::checks::stored_check;
use holdtrue_book::{Book, Check, CheckResult, sha256_hex};
use holdtrue_metrology::decision::Limit;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// What can make a difference.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Cause {
    /// Another version of the analysis.
    Analysis,
    /// Other limits.
    Limits,
    /// Another calibration.
    Calibration,
    /// What is known of the spindle.
    Spindle,
    /// None of these: the book was changed past the program.
    Changed,
}

/// The place of a difference between what a set was judged by and what its spindle says.
pub(crate) const SPINDLE: &str = "spindle";

/// A cause in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Why {
    pub(crate) cause: Cause,
    pub(crate) text: String,
}

impl Why {
    /// What is known of the spindle is another.
    pub(crate) fn spindle() -> Self {
        Self {
            cause: Cause::Spindle,
            text: SPINDLE_WORDS.to_owned(),
        }
    }
}

const SPINDLE_WORDS: &str = "what the set has from its spindle is not what it was judged by: `holdtrue visit edit` judges the \
                             sets of an open visit anew";

/// What is other than it was when the result was stored.
pub(crate) struct Grounds {
    analysis: Option<String>,
    limits: Option<Ground>,
    calibration: Option<Ground>,
}

/// One of it: what is named beside the result, and what is there.
struct Ground {
    text: &'static str,
    stored: Value,
    now: Value,
}

impl Ground {
    fn new(text: &'static str, stored: impl Into<Value>, now: impl Into<Value>) -> Option<Self> {
        let (stored, now) = (stored.into(), now.into());
        Some(Self { text, stored, now })
    }
}

/// What a check was begun with, as far as it is held against the rest of the book.
#[derive(Deserialize)]
struct Begun {
    setup: Setup,
    #[serde(default)]
    calibration_sha256: Option<String>,
}

#[derive(Deserialize)]
struct Setup {
    limits: Vec<Limit>,
}

impl Grounds {
    /// Holds what the result names against what the book holds.
    ///
    /// # Errors
    /// When the book cannot be read: exit 6.
    pub(crate) fn of(
        book: &Book,
        check: &Check,
        stored: &CheckResult,
        analysis_now: &str,
    ) -> Result<Self, Error> {
        let begun: Begun = stored_check::read(book, &text_in_force(&check.start, stored))?;
        Ok(Self {
            analysis: (stored.analysis != analysis_now).then(|| {
                format!(
                    "the analysis has changed (stored by {}, computed by {analysis_now})",
                    stored.analysis
                )
            }),
            limits: limits_ground(book, check, stored, &begun)?,
            calibration: calibration_ground(book, check, stored, &begun)?,
        })
    }

    /// Limits and calibrations that are not those of the result differ by themselves, whatever the figures do.
    pub(crate) fn differences(&self) -> Vec<Difference> {
        let of = |place: &str, ground: &Option<Ground>| {
            let ground = ground.as_ref()?;
            let (stored, now) = (ground.stored.clone(), ground.now.clone());
            Some(Difference::new(place, stored, now))
        };
        let both = [
            of("limits", &self.limits),
            of("calibration", &self.calibration),
        ];
        both.into_iter().flatten().collect()
    }

    /// Puts to each difference what can have made it. `document` is the stored one.
    pub(crate) fn attribute(&self, differences: &mut [Difference], document: &Value) {
        for difference in differences {
            difference.causes = self.causes(&difference.place, &difference.stored, document);
        }
    }

    fn causes(&self, place: &str, stored: &Value, document: &Value) -> Vec<Cause> {
        let own_outcome = document.pointer("/verdict/outcome").unwrap_or(&Value::Null);
        match place {
            "limits" => return vec![Cause::Limits],
            SPINDLE => return vec![Cause::Spindle],
            "calibration" => return vec![Cause::Calibration],
            // Both were written as one: no analysis, limit or calibration makes them differ.
            "outcome" if stored != own_outcome => return vec![Cause::Changed],
            _ => {}
        }
        let judged = place.starts_with("/verdict") || place == "outcome" || place.is_empty();
        let possible = [
            (Cause::Analysis, self.analysis.is_some()),
            (Cause::Limits, self.limits.is_some() && judged),
            (Cause::Calibration, self.calibration.is_some()),
        ];
        let causes: Vec<Cause> = possible
            .into_iter()
            .filter_map(|(cause, is)| is.then_some(cause))
            .collect();
        if causes.is_empty() {
            vec![Cause::Changed]
        } else {
            causes
        }
    }

    /// The causes of all differences in words, each once.
    pub(crate) fn of_all(&self, differences: &[Difference]) -> Vec<Why> {
        let all = [
            Cause::Analysis,
            Cause::Limits,
            Cause::Calibration,
            Cause::Spindle,
            Cause::Changed,
        ];
        all.into_iter()
            .filter(|cause| differences.iter().any(|one| one.causes.contains(cause)))
            .map(|cause| Why {
                cause,
                text: self.words(cause),
            })
            .collect()
    }

    fn words(&self, cause: Cause) -> String {
        let ground =
            |ground: &Option<Ground>| ground.as_ref().map_or("", |ground| ground.text).to_owned();
        match cause {
            Cause::Analysis => self.analysis.clone().unwrap_or_default(),
            Cause::Limits => ground(&self.limits),
            Cause::Calibration => ground(&self.calibration),
            Cause::Spindle => SPINDLE_WORDS.to_owned(),
            Cause::Changed => {
                "changed past the program: analysis, limits and calibration do not explain it, \
                               so the record or the result was written to by something else"
                    .to_owned()
            }
        }
    }
}

fn limits_ground(
    book: &Book,
    check: &Check,
    stored: &CheckResult,
    begun: &Begun,
) -> Result<Option<Ground>, Error> {
    let (of_start, of_result) = (&check.start.limits_sha256, &stored.limits_sha256);
    let anew = !stored.replaces().is_empty();
    if of_start != of_result && !anew {
        let text = "the limits the result names are not those the check was begun with";
        return Ok(Ground::new(text, of_result.clone(), of_start.clone()));
    }
    let Some(sha256) = of_result else {
        return Ok(None);
    };
    // What an amendment was judged by stands in the amendment.
    let kept = match book.limits(sha256)? {
        None if anew => return Ok(None),
        kept => kept.unwrap_or_default(),
    };
    let now = sha256_hex(kept.as_bytes());
    if now != *sha256 {
        let text = "the limits file in the book is not the one the result was judged by";
        return Ok(Ground::new(text, sha256.clone(), now));
    }
    let kept = limits::understand("limits in force", &kept)?;
    let kept: Vec<Limit> = kept
        .limits
        .into_iter()
        .map(|sourced| sourced.limit)
        .collect();
    let as_json = |limits: &Vec<Limit>| serde_json::to_value(limits).unwrap_or_default();
    let in_check: Vec<Limit> = begun.setup.limits.iter().map(without_share).collect();
    if kept == in_check {
        return Ok(None);
    }
    let text = "the limits in the check are not those of its limits file";
    Ok(Ground::new(text, as_json(&kept), as_json(&in_check)))
}

/// A limit as a file can say it: of what it is a share stands beside it there.
fn without_share(limit: &Limit) -> Limit {
    Limit {
        share: None,
        ..limit.clone()
    }
}

fn calibration_ground(
    book: &Book,
    check: &Check,
    stored: &CheckResult,
    begun: &Begun,
) -> Result<Option<Ground>, Error> {
    let (of_start, of_result) = (check.start.calibration, stored.calibration);
    let word = |id: Option<uuid::Uuid>| id.map(|id| id.to_string());
    if of_start != of_result {
        let text =
            "the calibration differs: the result names another than the check was begun with";
        return Ok(Ground::new(text, word(of_result), word(of_start)));
    }
    let record = of_start
        .map(|id| book.calibration(id))
        .transpose()?
        .flatten();
    let now = record.map(|record| sha256_hex(&record.record));
    let used = &begun.calibration_sha256;
    if used.is_none() || *used == now {
        return Ok(None);
    }
    let text =
        "the calibration differs: the record in the book is not the one the result was computed by";
    Ok(Ground::new(text, used.clone(), now))
}
