//! A reference file in, its inputs and a strict comparison out.
//!
//! A file holds `id`, `source`, `provenance`, `input` and `expected`: `{name: {value, abs_tol?, rel_tol?}}`.
//! A value passes within either tolerance; without any it has to be the same. Where the value is a list
//! or an object the tolerance applies to every number in it. [`Reference::finish`] insists that every
//! expected value was compared or left out with a reason. `tests/reference/README.md` says what the keys mean.

use serde_json::Value;
use std::cell::{Cell, RefCell};
use std::collections::BTreeSet;
use std::io::Write;
use std::path::PathBuf;

/// One file of reference data.
#[derive(Debug)]
pub struct Reference {
    path: String,
    document: Value,
    seen: RefCell<BTreeSet<String>>,
    digits: Cell<f64>,
}

impl Reference {
    /// Reads `tests/reference/{path}.json`.
    ///
    /// # Panics
    /// If there is no such file, it is no JSON, or it does not say where its figures are from.
    pub fn load(path: &str) -> Self {
        let file = folder().join(format!("{path}.json"));
        let text = std::fs::read_to_string(&file)
            .unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        let document = serde_json::from_str(&text)
            .unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        if let Err(fault) = origin_is_told(&document) {
            panic!("{}: {fault}", file.display());
        }
        Self {
            path: path.to_owned(),
            document,
            seen: RefCell::default(),
            digits: Cell::new(f64::INFINITY),
        }
    }

    /// All files of a folder of `tests/reference`, in the order of their names.
    ///
    /// # Panics
    /// If there is no such folder.
    pub fn load_all(folder_name: &str, prefix: &str) -> Vec<Self> {
        let entries = std::fs::read_dir(folder().join(folder_name))
            .unwrap_or_else(|error| panic!("{folder_name}: {error}"));
        let mut names: Vec<String> = entries
            .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
            .filter_map(|name| Some(name.strip_suffix(".json")?.to_owned()))
            .filter(|name| name.starts_with(prefix))
            .collect();
        names.sort();
        names
            .iter()
            .map(|name| Self::load(&format!("{folder_name}/{name}")))
            .collect()
    }

    /// The path it was loaded from, without ending.
    pub fn path(&self) -> &str {
        &self.path
    }

    /// The value at a JSON pointer such as `/input/x`.
    ///
    /// # Panics
    /// If there is none.
    pub fn at(&self, pointer: &str) -> &Value {
        self.document
            .pointer(pointer)
            .unwrap_or_else(|| panic!("{}: nothing at {pointer}", self.path))
    }

    /// The number at a JSON pointer.
    pub fn number(&self, pointer: &str) -> f64 {
        number_of(self.at(pointer))
            .unwrap_or_else(|| panic!("{}: no number at {pointer}", self.path))
    }

    /// The list of numbers at a JSON pointer.
    pub fn numbers(&self, pointer: &str) -> Vec<f64> {
        numbers_of(self.at(pointer))
            .unwrap_or_else(|| panic!("{}: no list of numbers at {pointer}", self.path))
    }

    /// The rows of numbers at a JSON pointer; text cells that hold a number count.
    pub fn rows(&self, pointer: &str) -> Vec<Vec<f64>> {
        let rows = self
            .at(pointer)
            .as_array()
            .map(|rows| rows.iter().map(numbers_of).collect());
        rows.flatten()
            .unwrap_or_else(|| panic!("{}: no rows of numbers at {pointer}", self.path))
    }

    /// The names of the expected values.
    pub fn expected_names(&self) -> Vec<String> {
        self.at("/expected")
            .as_object()
            .map(|map| map.keys().cloned().collect())
            .unwrap_or_default()
    }

    /// The expected value of that name, tolerance aside.
    pub fn expected(&self, name: &str) -> &Value {
        self.at(&format!("/expected/{name}/value"))
    }

    /// Compares what was computed with the expected value of that name, at the file's tolerance.
    ///
    /// # Panics
    /// If they differ: with file, source, name, both values, their difference and the tolerance.
    pub fn check(&self, name: &str, got: impl Into<Value>) {
        self.check_at(name, "", got);
    }

    /// As [`Self::check`] for a part of the expected value, given as a JSON pointer into it.
    pub fn check_at(&self, name: &str, part: &str, got: impl Into<Value>) {
        let expected = self.expected(name);
        let expected = expected
            .pointer(part)
            .unwrap_or_else(|| panic!("{}: nothing at {name}{part}", self.path));
        self.seen.borrow_mut().insert(name.to_owned());
        let tolerance = self.tolerance(name);
        let got = got.into();
        // values printed to some decimals say nothing about digits beyond them
        if tolerance.relative.is_some() {
            let worst = correct_digits(expected, &got).unwrap_or(f64::INFINITY);
            self.digits.set(self.digits.get().min(worst));
        }
        if let Err(difference) = compare(&format!("{name}{part}"), expected, &got, &tolerance) {
            let source = &self.document["source"];
            panic!(
                "tests/reference/{}.json: {difference}\n  source: {} {} [{}]",
                self.path, source["document"], source["locator"], self.document["provenance"]
            );
        }
    }

    /// Leaves an expected value out, for a reason the reader of the test is told.
    pub fn leave(&self, name: &str, reason: &str) {
        assert!(
            !reason.is_empty(),
            "{}: {name} left out without a reason",
            self.path
        );
        self.expected(name);
        self.seen.borrow_mut().insert(name.to_owned());
    }

    /// Insists that no expected value was forgotten.
    ///
    /// # Panics
    /// If one was, naming it.
    pub fn finish(self) {
        let seen = self.seen.borrow();
        let has_value = |name: &String| {
            self.document
                .pointer(&format!("/expected/{name}/value"))
                .is_some()
        };
        let forgotten: Vec<String> = self
            .expected_names()
            .into_iter()
            .filter(|name| has_value(name) && !seen.contains(name))
            .collect();
        self.report_digits();
        assert!(
            forgotten.is_empty(),
            "{}: never compared: {forgotten:?}",
            self.path
        );
    }

    /// Appends what was checked, its source and the fewest correct digits to the file the environment
    /// variable `HOLDTRUE_DIGITS` names, one line a file of reference data.
    fn report_digits(&self) {
        let Some(path) = std::env::var_os("HOLDTRUE_DIGITS") else {
            return;
        };
        let source = &self.document["source"];
        let text = |value: &Value| value.as_str().unwrap_or("").replace(['\t', '\n', '|'], " ");
        let line = format!(
            "{}\t{}\t{}\t{}\t{}\n",
            self.path,
            text(&self.document["checks"]),
            format!(
                "{}, {}{}",
                text(&source["document"]),
                text(&source["locator"]),
                source["quoted_in"]
                    .as_str()
                    .map_or(String::new(), |by| format!(", quoted in {by}"))
            )
            .trim_end_matches(", ")
            .replace(", , ", ", "),
            text(&self.document["provenance"]),
            self.digits.get()
        );
        let file = std::fs::OpenOptions::new()
            .create(true)
            .append(true)
            .open(&path);
        let written = file.and_then(|mut file| file.write_all(line.as_bytes()));
        written.unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    }

    fn tolerance(&self, name: &str) -> Tolerance {
        let read = |key: &str| {
            self.document
                .pointer(&format!("/expected/{name}/{key}"))
                .and_then(Value::as_f64)
        };
        Tolerance {
            absolute: read("abs_tol"),
            relative: read("rel_tol"),
        }
    }
}

/// The words for where a figure comes from.
const PROVENANCE: [&str; 5] = [
    "maker",
    "published",
    "from-memory",
    "common-practice",
    "computed",
];
/// Keys of a source, besides its document.
const OF_A_SOURCE: [&str; 5] = ["locator", "publisher", "year", "quoted_in", "taken_from"];

/// Insists on a document, on keys that are known, and on a known word at every place that has one.
fn origin_is_told(document: &Value) -> Result<(), String> {
    let source = document.get("source").and_then(Value::as_object);
    let source = source.ok_or("no source")?;
    if !source.get("document").is_some_and(Value::is_string) {
        return Err("source: no document".to_owned());
    }
    for key in source.keys().filter(|key| *key != "document") {
        if !OF_A_SOURCE.contains(&key.as_str()) {
            return Err(format!("source: {key:?} is none of {OF_A_SOURCE:?}"));
        }
    }
    if document.get("provenance").is_none() {
        return Err("no provenance".to_owned());
    }
    provenance_is_known(document, "")
}

fn provenance_is_known(value: &Value, place: &str) -> Result<(), String> {
    match value {
        Value::Object(map) => map.iter().try_for_each(|(key, inner)| {
            let place = format!("{place}/{key}");
            if key == "provenance" && !PROVENANCE.iter().any(|word| inner == word) {
                return Err(format!("{place}: {inner} is none of {PROVENANCE:?}"));
            }
            provenance_is_known(inner, &place)
        }),
        Value::Array(list) => list
            .iter()
            .enumerate()
            .try_for_each(|(i, inner)| provenance_is_known(inner, &format!("{place}/{i}"))),
        _ => Ok(()),
    }
}

/// How far a number may be off; with neither it has to be the same.
#[derive(Clone, Copy, Debug)]
struct Tolerance {
    absolute: Option<f64>,
    relative: Option<f64>,
}

impl Tolerance {
    fn allows(&self, expected: f64, got: f64) -> bool {
        let off = (got - expected).abs();
        let same = got.total_cmp(&expected).is_eq() || off <= 0.0;
        same || self.absolute.is_some_and(|bound| off <= bound)
            || self
                .relative
                .is_some_and(|bound| off <= bound * expected.abs())
    }
}

/// The fewest correct digits of the numbers in a value, up to the 15.9 of a double; `None` without any
/// number but zero.
fn correct_digits(expected: &Value, got: &Value) -> Option<f64> {
    match (expected, got) {
        (Value::Object(wanted), _) => {
            let each = wanted
                .iter()
                .filter_map(|(key, value)| correct_digits(value, got.get(key)?));
            each.reduce(f64::min)
        }
        (Value::Array(wanted), Value::Array(found)) => wanted
            .iter()
            .zip(found)
            .filter_map(|(e, g)| correct_digits(e, g))
            .reduce(f64::min),
        (Value::Number(_), Value::Number(_)) => {
            let (e, g) = (number_of(expected)?, number_of(got)?);
            let digits = -((g - e) / e).abs().log10();
            (e.abs() > 0.0).then(|| digits.min(15.9))
        }
        _ => None,
    }
}

/// A number, or a text that is one; "inf" and "nan" count.
fn number_of(value: &Value) -> Option<f64> {
    value.as_f64().or_else(|| value.as_str()?.parse().ok())
}

fn numbers_of(value: &Value) -> Option<Vec<f64>> {
    value.as_array()?.iter().map(number_of).collect()
}

fn compare(
    place: &str,
    expected: &Value,
    got: &Value,
    tolerance: &Tolerance,
) -> Result<(), String> {
    let differ = || Err(format!("{place}: expected {expected}, got {got}"));
    match (expected, got) {
        (Value::Object(wanted), Value::Object(found)) => {
            wanted.iter().try_for_each(|(key, value)| {
                let other = found.get(key).unwrap_or(&Value::Null);
                compare(&format!("{place}/{key}"), value, other, tolerance)
            })
        }
        (Value::Array(wanted), Value::Array(found)) if wanted.len() == found.len() => wanted
            .iter()
            .zip(found)
            .enumerate()
            .try_for_each(|(i, (value, other))| {
                compare(&format!("{place}/{i}"), value, other, tolerance)
            }),
        (Value::Number(_), Value::Number(_)) => {
            let (e, g) = (
                number_of(expected).unwrap_or(f64::NAN),
                number_of(got).unwrap_or(f64::NAN),
            );
            if tolerance.allows(e, g) {
                Ok(())
            } else {
                Err(format!(
                    "{place}: expected {e:e}, got {g:e}, off by {:e} ({:e} of it), allowed {tolerance:?}",
                    g - e,
                    (g - e) / e
                ))
            }
        }
        _ if expected == got => Ok(()),
        _ => differ(),
    }
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("reference")
}

/// A table with the columns from `first` on replaced by what `compute` gives for the column's index and the cells before.
pub fn rows_recomputed(
    rows: &[Vec<f64>],
    first: usize,
    compute: impl Fn(usize, &[f64]) -> f64,
) -> Vec<Vec<f64>> {
    let row = |row: &Vec<f64>| {
        let computed = (first..row.len()).map(|column| compute(column - first, &row[..first]));
        row[..first].iter().copied().chain(computed).collect()
    };
    rows.iter().map(row).collect()
}

/// A count out of a table of numbers.
///
/// # Panics
/// When the cell is no count: the table is wrong.
pub fn count(cell: f64) -> usize {
    format!("{cell}")
        .parse()
        .expect("a table's count is a whole number")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    const EXACT: Tolerance = Tolerance {
        absolute: None,
        relative: None,
    };
    const LOOSE: Tolerance = Tolerance {
        absolute: Some(0.1),
        relative: None,
    };

    #[test]
    fn a_value_outside_its_tolerance_is_told_apart() {
        assert!(compare("x", &json!(1.0), &json!(1.09), &LOOSE).is_ok());
        assert!(compare("x", &json!(1.0), &json!(1.11), &LOOSE).is_err());
        assert!(compare("x", &json!(1.0), &json!(1.0 + 1e-15), &EXACT).is_err());
        assert!(compare("x", &json!(5), &json!(5.0), &EXACT).is_ok());
        assert!(compare("x", &json!(1.0), &json!(null), &LOOSE).is_err());
    }

    #[test]
    fn lists_of_other_length_and_missing_names_differ() {
        assert!(compare("x", &json!([1, 2]), &json!([1]), &LOOSE).is_err());
        assert!(compare("x", &json!({"a": 1}), &json!({"b": 1}), &LOOSE).is_err());
        assert!(
            compare(
                "x",
                &json!({"a": [1]}),
                &json!({"a": [1.05], "b": 2}),
                &LOOSE
            )
            .is_ok()
        );
    }

    #[test]
    fn a_file_that_does_not_say_where_its_figures_are_from_is_refused() {
        let file = |source: Value, provenance: &str, inner: &str| {
            origin_is_told(&json!({
                "source": source,
                "provenance": provenance,
                "expected": {"rows": [{"provenance": inner}]},
            }))
        };
        let book = || json!({"document": "a book", "quoted_in": "a letter"});
        assert_eq!(file(book(), "published", "from-memory"), Ok(()));
        for word in ["memory", "Published", ""] {
            let whole = file(book(), word, "computed").unwrap_err();
            assert!(whole.starts_with("/provenance"), "{whole}");
            let inner = file(book(), "published", word).unwrap_err();
            assert!(inner.starts_with("/expected/rows/0/provenance"), "{inner}");
        }
        assert!(file(json!({"publisher": "x"}), "published", "computed").is_err());
        assert!(
            file(
                json!({"document": "x", "heard_in": "y"}),
                "published",
                "computed"
            )
            .is_err()
        );
        assert!(origin_is_told(&json!({"source": {"document": "x"}})).is_err());
    }

    /// Also those that no test loads, and each is told of in the README of the folder by its folder's name.
    #[test]
    fn every_file_says_where_its_figures_are_from() {
        let readme = std::fs::read_to_string(folder().join("README.md")).expect("a README");
        let mut files = 0;
        for entry in std::fs::read_dir(folder()).expect("the folder") {
            let path = entry.expect("an entry").path();
            if !path.is_dir() {
                continue;
            }
            let name = path
                .file_name()
                .and_then(|name| name.to_str())
                .expect("a name");
            files += Reference::load_all(name, "").len();
            let own = ["computed", "runout", "units"].contains(&name);
            assert!(own || readme.contains(&format!("`{name}/")), "{name}");
        }
        assert!(files > 70, "{files}");
    }

    #[test]
    #[should_panic(expected = "never compared")]
    fn a_forgotten_value_is_a_failure() {
        Reference::load("uncertainty/change_shared").finish();
    }
}
