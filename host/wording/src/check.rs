//! All sentences of a check. In: a result as the analysis gave it, or as a book kept it. Out: what a person reads of it
//! besides figures, in the order of the values.

use crate::budget;
use crate::digits::Units;
use crate::hint::look_at;
use crate::say::Say;
use crate::shown::shown;
use crate::verdict::joined;
use holdtrue_metrology::grip::remarks::{ClampNote, GripNote, GripReason, GripRemedy};
use holdtrue_metrology::grip::result::{Clamp, GripResult};
use holdtrue_metrology::hint::{Evidence, Hint};
use holdtrue_metrology::runout::remarks::{PlaneNote, RunoutNote, RunoutReason, RunoutRemedy};
use holdtrue_metrology::runout::{PlaneResult, RunoutResult};
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::vocabulary::Provenance;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// The sentences of a check.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CheckWords {
    /// Remarks on each clamp or plane.
    pub parts: Vec<Vec<String>>,
    /// Remarks on the whole check.
    pub notes: Vec<String>,
    /// Where the uncertainty comes from.
    pub in_words: Option<String>,
    /// Of the verdict.
    pub verdict: Option<VerdictWords>,
    /// Of the verdict with the discarded clamps, and where that uncertainty comes from.
    pub with_discarded: (Option<VerdictWords>, Option<String>),
    /// Likely causes.
    pub hints: Vec<HintWords>,
}

/// The sentences of a verdict.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct VerdictWords {
    /// Why.
    pub reasons: Vec<String>,
    /// What would settle it.
    pub would_decide: Option<String>,
}

/// The sentences of a hint.
#[derive(Clone, Debug, PartialEq)]
pub struct HintWords {
    /// What to look at or do next.
    pub text: String,
    /// What was seen.
    pub evidence: String,
    /// Where the rule comes from.
    pub provenance: Provenance,
}

/// A clamp or a plane, which is stored by itself too.
pub trait Part: Serialize {
    /// A remark on it.
    type Note: Say + DeserializeOwned;
    /// Its remarks.
    fn notes(&self) -> &[Self::Note];
}

impl Part for Clamp {
    type Note = ClampNote;
    fn notes(&self) -> &[ClampNote] {
        &self.notes
    }
}

impl Part for PlaneResult {
    type Note = PlaneNote;
    fn notes(&self) -> &[PlaneNote] {
        &self.notes
    }
}

/// A result of a check that can be said.
pub trait Sentences: Serialize {
    /// A clamp or a plane.
    type Part: Part;
    /// A remark on the whole check.
    type Note: Say + DeserializeOwned;
    /// Why its verdict is what it is.
    type Reason: Say + DeserializeOwned;
    /// What would settle it.
    type Remedy: Say + DeserializeOwned;
    /// What its JSON calls the parts.
    const PARTS: &'static str;
    /// Its sentences in these units.
    fn words(&self, units: &Units) -> CheckWords;
}

impl Sentences for GripResult {
    type Part = Clamp;
    type Note = GripNote;
    type Reason = GripReason;
    type Remedy = GripRemedy;
    const PARTS: &'static str = "clamps";

    fn words(&self, units: &Units) -> CheckWords {
        let with = self.with_discarded.as_ref();
        CheckWords {
            parts: of_parts(&self.clamps, units),
            notes: said(&self.notes, units),
            in_words: self.uncertainty.as_ref().map(budget::of_grip),
            verdict: self.verdict.as_ref().map(|it| VerdictWords::of(it, units)),
            with_discarded: (
                with.and_then(|with| Some(VerdictWords::of(with.verdict.as_ref()?, units))),
                with.and_then(|with| Some(budget::of_grip(with.uncertainty.as_ref()?))),
            ),
            hints: of_hints(&self.hints, units),
        }
    }
}

impl Sentences for RunoutResult {
    type Part = PlaneResult;
    type Note = RunoutNote;
    type Reason = RunoutReason;
    type Remedy = RunoutRemedy;
    const PARTS: &'static str = "planes";

    fn words(&self, units: &Units) -> CheckWords {
        CheckWords {
            parts: of_parts(&self.planes, units),
            notes: said(&self.notes, units),
            in_words: self.uncertainty.as_ref().map(budget::of_runout),
            verdict: self.verdict.as_ref().map(|it| VerdictWords::of(it, units)),
            with_discarded: (None, None),
            hints: of_hints(&self.hints, units),
        }
    }
}

fn said(values: &[impl Say], units: &Units) -> Vec<String> {
    values.iter().map(|value| value.say(units)).collect()
}

fn of_parts(parts: &[impl Part], units: &Units) -> Vec<Vec<String>> {
    parts.iter().map(|part| said(part.notes(), units)).collect()
}

fn of_hints(hints: &[Hint], units: &Units) -> Vec<HintWords> {
    let words = |hint: &Hint| HintWords::of(&hint.evidence, hint.provenance, units);
    hints.iter().map(words).collect()
}

impl HintWords {
    fn of(evidence: &Evidence, provenance: Provenance, units: &Units) -> Self {
        Self {
            text: look_at(evidence),
            evidence: evidence.say(units),
            provenance,
        }
    }

    /// One without values has the sentences it was written with.
    fn stored(hint: &Value, units: &Units) -> Option<Self> {
        let provenance = read(&hint["provenance"])?;
        if let Some(evidence) = read(&hint["evidence_values"]) {
            return Some(Self::of(&evidence, provenance, units));
        }
        Some(Self {
            text: text(&hint["text"])?,
            evidence: text(&hint["evidence"])?,
            provenance,
        })
    }
}

impl VerdictWords {
    fn of(verdict: &Verdict, units: &Units) -> Self {
        Self {
            reasons: said(&verdict.reasons, units),
            would_decide: verdict.would_decide.as_ref().map(|would| would.say(units)),
        }
    }

    fn stored<R: Sentences>(verdict: &Value, units: &Units) -> Option<Self> {
        let would = &verdict["would_decide"];
        let values: Option<Vec<R::Remedy>> = read(&would["values"]);
        verdict.is_object().then(|| Self {
            reasons: stored::<R::Reason>(verdict, "reasons", "reason_values", units),
            would_decide: match values {
                Some(values) => Some(joined(values.iter().map(|remedy| remedy.say(units)))),
                None => text(&would["text"]),
            },
        })
    }
}

impl CheckWords {
    /// Every sentence put through `change`.
    #[must_use]
    pub fn map(mut self, change: impl Fn(&str) -> String) -> Self {
        let of_verdict = |words: &'_ mut VerdictWords| {
            let VerdictWords {
                reasons,
                would_decide,
            } = words;
            reasons
                .iter_mut()
                .chain(would_decide)
                .for_each(|text| *text = change(text));
        };
        self.verdict.iter_mut().for_each(of_verdict);
        let (verdict, in_words) = &mut self.with_discarded;
        verdict.iter_mut().for_each(of_verdict);
        let hints = self.hints.iter_mut();
        let texts = hints.flat_map(|hint| [&mut hint.text, &mut hint.evidence]);
        let all = self.parts.iter_mut().flatten().chain(&mut self.notes);
        for text in all.chain(&mut self.in_words).chain(in_words).chain(texts) {
            *text = change(text);
        }
        self
    }

    /// Of a result in a book, as JSON. Values known here are said in these units; what an earlier release wrote as
    /// sentences, or a later one in values unknown here, is shown as it was written.
    pub fn stored<R: Sentences>(result: &Value, units: &Units) -> Self {
        let list = |name: &str| result[name].as_array().map_or(&[][..], Vec::as_slice);
        let notes =
            |part: &Value| stored::<<R::Part as Part>::Note>(part, "notes", "note_values", units);
        let in_words = |of: &Value| text(&of["uncertainty"]["in_words"]);
        let with = &result["with_discarded"];
        Self {
            parts: list(R::PARTS).iter().map(notes).collect(),
            notes: stored::<R::Note>(result, "notes", "note_values", units),
            in_words: in_words(result),
            verdict: VerdictWords::stored::<R>(&result["verdict"], units),
            with_discarded: (
                VerdictWords::stored::<R>(&with["verdict"], units),
                in_words(with),
            ),
            hints: list("hints")
                .iter()
                .filter_map(|hint| HintWords::stored(hint, units))
                .collect(),
        }
    }
}

/// Each sentence by its value where that is known, else as it was written.
fn stored<T: Say + DeserializeOwned>(
    of: &Value,
    texts: &str,
    values: &str,
    units: &Units,
) -> Vec<String> {
    let texts = of[texts].as_array().map_or(&[][..], Vec::as_slice);
    let value = |place: usize| read::<T>(&of[values][place]);
    let one = |(place, written): (usize, &Value)| match value(place) {
        Some(value) => Some(value.say(units)),
        None => text(written),
    };
    texts.iter().enumerate().filter_map(one).collect()
}

fn read<T: DeserializeOwned>(value: &Value) -> Option<T> {
    T::deserialize(value).ok()
}

fn text(value: &Value) -> Option<String> {
    value.as_str().map(|text| shown(text).into_owned())
}
