//! Holds a document to a JSON Schema. In: both. Out: every place where they differ.
//!
//! Knows the words our schemas use: type, const, enum, required, properties, additionalProperties, items, anyOf and
//! $ref to #/$defs. A word it does not know is a difference too, so that a schema cannot promise what is not checked.

use serde_json::{Map, Value};

/// Words that describe and do not bind.
const REMARKS: &[&str] = &["$schema", "$defs", "title", "description"];

/// Differences between a document and a schema, one line each; empty when there is none.
pub fn differences(schema: &Value, document: &Value) -> Vec<String> {
    let mut found = Vec::new();
    compare(schema, schema, document, "", &mut found);
    found
}

fn compare(root: &Value, schema: &Value, value: &Value, at: &str, found: &mut Vec<String>) {
    let Some(words) = schema.as_object() else {
        if schema != &Value::Bool(true) {
            found.push(format!("{at}: not allowed"));
        }
        return;
    };
    for (word, rule) in words {
        compare_word(root, words, word, rule, value, at, found);
    }
}

fn compare_word(
    root: &Value,
    words: &Map<String, Value>,
    word: &str,
    rule: &Value,
    value: &Value,
    at: &str,
    found: &mut Vec<String>,
) {
    match word {
        "type" => {
            if !listed(rule).any(|name| is_type(value, name)) {
                found.push(format!("{at}: {value} is not {rule}"));
            }
        }
        "const" if value != rule => found.push(format!("{at}: {value} is not {rule}")),
        "enum" if !rule.as_array().is_some_and(|all| all.contains(value)) => {
            found.push(format!("{at}: {value} is none of {rule}"));
        }
        "required" => {
            for name in listed(rule).filter(|name| value.is_object() && value.get(name).is_none()) {
                found.push(format!("{at}/{name}: missing"));
            }
        }
        "properties" => {
            for (name, rule) in rule.as_object().into_iter().flatten() {
                if let Some(value) = value.get(name) {
                    compare(root, rule, value, &format!("{at}/{name}"), found);
                }
            }
        }
        "additionalProperties" => {
            let known = words.get("properties");
            for (name, value) in value.as_object().into_iter().flatten() {
                if known.is_none_or(|known| known.get(name).is_none()) {
                    compare(root, rule, value, &format!("{at}/{name}"), found);
                }
            }
        }
        "items" => {
            for (index, value) in value.as_array().into_iter().flatten().enumerate() {
                compare(root, rule, value, &format!("{at}/{index}"), found);
            }
        }
        "anyOf" => {
            let fits = |rule| {
                let mut inner = Vec::new();
                compare(root, rule, value, at, &mut inner);
                inner.is_empty()
            };
            if !rule.as_array().into_iter().flatten().any(fits) {
                found.push(format!("{at}: fits none of its forms: {value}"));
            }
        }
        "$ref" => match rule
            .as_str()
            .and_then(|path| root.pointer(path.trim_start_matches('#')))
        {
            Some(target) => compare(root, target, value, at, found),
            None => found.push(format!("{at}: {rule} leads nowhere")),
        },
        "const" | "enum" => {}
        other if REMARKS.contains(&other) => {}
        other => found.push(format!("{at}: schema word {other} is not checked")),
    }
}

fn listed(rule: &Value) -> impl Iterator<Item = &str> {
    let one = rule.as_str();
    one.into_iter().chain(
        rule.as_array()
            .into_iter()
            .flatten()
            .filter_map(Value::as_str),
    )
}

fn is_type(value: &Value, name: &str) -> bool {
    match name {
        "null" => value.is_null(),
        "boolean" => value.is_boolean(),
        "integer" => value.is_u64() || value.is_i64(),
        "number" => value.is_number(),
        "string" => value.is_string(),
        "array" => value.is_array(),
        "object" => value.is_object(),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn every_kind_of_difference_is_seen() {
        let schema = json!({
            "type": "object", "required": ["a"], "additionalProperties": false,
            "properties": {
                "a": { "const": 1 }, "b": { "enum": ["x"] }, "c": { "items": { "type": "number" } },
                "d": { "anyOf": [{ "type": "null" }, { "$ref": "#/$defs/e" }] }, "f": { "maximum": 3 },
            },
            "$defs": { "e": { "type": "string" } },
        });
        assert!(
            differences(
                &schema,
                &json!({ "a": 1, "b": "x", "c": [1, 2.5], "d": "e" })
            )
            .is_empty()
        );
        let all = differences(
            &schema,
            &json!({ "b": "y", "c": ["z"], "d": 4, "f": 1, "g": 0 }),
        );
        for place in ["/a: missing", "/b", "/c/0", "/d", "/f", "/g"] {
            assert!(
                all.iter().any(|line| line.starts_with(place)),
                "{place} in {all:?}"
            );
        }
    }
}
