//! The JSON of a check. In: a result. Out: the document that is printed and stored: the values of the analysis, each with
//! its sentence beside it, in N, kN, N/s and µm.

use crate::check::{CheckWords, Part, Sentences, VerdictWords};
use crate::digits::Units;
use crate::say::Say;
use serde_json::{Error, Map, Value, to_value};

/// The document of a whole check.
///
/// # Errors
/// When a value has no JSON form; no result of the analysis is such.
pub fn document<R: Sentences>(result: &R) -> Result<Value, Error> {
    let mut document = to_value(result)?;
    let words = result.words(&Units::default());
    insert(&mut document, R::PARTS, words);
    Ok(document)
}

/// The document of one clamp or plane.
///
/// # Errors
/// When a value has no JSON form; no part of a result is such.
pub fn part_document<P: Part>(part: &P) -> Result<Value, Error> {
    let mut document = to_value(part)?;
    let say = |note: &P::Note| note.say(&Units::default());
    let notes: Vec<String> = part.notes().iter().map(say).collect();
    put(&mut document, "note_values", [("notes", notes.into())]);
    Ok(document)
}

fn insert(document: &mut Value, parts: &str, words: CheckWords) {
    for (part, notes) in items(document.get_mut(parts)).zip(words.parts) {
        put(part, "note_values", [("notes", notes.into())]);
    }
    for (hint, said) in items(document.get_mut("hints")).zip(words.hints) {
        let texts = [
            ("text", said.text.into()),
            ("evidence", said.evidence.into()),
        ];
        put(hint, "evidence_values", texts);
    }
    put(document, "note_values", [("notes", words.notes.into())]);
    judged(document, words.verdict, words.in_words);
    if let Some(with) = document.get_mut("with_discarded") {
        let (verdict, in_words) = words.with_discarded;
        judged(with, verdict, in_words);
    }
}

/// Verdict and uncertainty, where there are any.
fn judged(of: &mut Value, verdict: Option<VerdictWords>, in_words: Option<String>) {
    if let (Some(Value::Object(fields)), Some(words)) = (of.get_mut("uncertainty"), in_words) {
        fields.insert("in_words".to_owned(), words.into());
    }
    let (Some(found), Some(words)) = (of.get_mut("verdict"), verdict) else {
        return;
    };
    put(found, "reason_values", [("reasons", words.reasons.into())]);
    if let (Some(would), Some(text)) = (found.get_mut("would_decide"), words.would_decide) {
        put(would, "values", [("text", text.into())]);
    }
}

fn items(list: Option<&mut Value>) -> impl Iterator<Item = &mut Value> {
    list.and_then(Value::as_array_mut).into_iter().flatten()
}

/// Puts sentences in front of the values they are made of.
fn put<const N: usize>(object: &mut Value, values: &str, texts: [(&str, Value); N]) {
    let Value::Object(fields) = object else {
        return;
    };
    let mut with = Map::with_capacity(fields.len() + N);
    let mut texts = Some(texts);
    for (name, value) in std::mem::take(fields) {
        if name == values {
            let texts = texts.take().into_iter().flatten();
            with.extend(texts.map(|(name, text)| (name.to_owned(), text)));
        }
        with.insert(name, value);
    }
    *fields = with;
}
