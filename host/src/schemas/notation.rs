//! How the schemas in this folder are written. In: the short form, a line a field. Out: JSON Schema.
//!
//! | written | means |
//! |---|---|
//! | `"number"`, `"string?"`, `"string\|number"` | that type; with `?` or null |
//! | `"#outcome"`, `"#outcome?"` | one of the words of that vocabulary; or null |
//! | `"@clamp"`, `"@clamp?"` | the entry of that name under `$defs`; or null |
//! | `"&limit"` | the piece of that name in `shared.json`, put here |
//! | `"=grip"`, `1` | exactly that |
//! | `"number: held that long, s"` | behind a colon: its description |
//! | `[X]`, `[X, "description"]` | a list of X |
//! | `{"field": X, "field?": Y}` | an object of these fields and no others; `?`: may be left out |
//!
//! An object may say more of itself: `$about` (description), `$or_null`, `$open` (others may be there), `$each` (any
//! names, each X); or be no object at all: `$array`, `$any_of`, `$one_of`.

use crate::visits::checks::stored_figure::StoredFigure;
use clap::ValueEnum;
use holdtrue_metrology::hint::Cause;
use holdtrue_terms::figure::{Figure, Side};
use holdtrue_terms::vocabulary::{At, Class, Outcome, Provenance, Severity, State, Vocabulary};
use serde_json::{Map, Value, json};

/// What is wrong with a schema as it is written.
type Wrong = String;

/// The words of a vocabulary, by the name the schemas have for it.
fn words(name: &str) -> Result<Vec<Value>, Wrong> {
    fn of<V: Vocabulary>() -> Vec<Value> {
        V::WORDS.iter().map(|word| Value::from(*word)).collect()
    }
    Ok(match name {
        "cause" => of::<Cause>(),
        "class" => of::<Class>(),
        "figure" => of::<Figure>(),
        "followed" => StoredFigure::value_variants()
            .iter()
            .filter_map(|figure| figure.to_possible_value())
            .map(|value| Value::from(value.get_name()))
            .collect(),
        "outcome" => of::<Outcome>(),
        "provenance" => of::<Provenance>(),
        "severity" => of::<Severity>(),
        "side" => of::<Side>(),
        "state" => of::<State>(),
        "surface" => of::<At>(),
        "unit" => {
            let mut units: Vec<Value> = Vec::new();
            for figure in Figure::ALL {
                let unit = Value::from(figure.unit());
                if !units.contains(&unit) {
                    units.push(unit);
                }
            }
            units
        }
        other => return Err(format!("no vocabulary \"{other}\"")),
    })
}

/// A whole document. `shared`: the pieces that several have in common.
pub fn document(written: &Value, shared: &Value) -> Result<Value, Wrong> {
    let mut fields = written.as_object().cloned().unwrap_or_default();
    let title = fields.remove("$title").unwrap_or_default();
    let parts = fields.remove("$defs");
    let mut schema = expand(&Value::Object(fields), shared)?;
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema".into();
    schema["title"] = title;
    if let Some(parts) = parts.as_ref().and_then(Value::as_object) {
        let parts = parts.iter();
        let parts = parts.map(|(name, part)| Ok((name.clone(), expand(part, shared)?)));
        schema["$defs"] = Value::Object(parts.collect::<Result<_, Wrong>>()?);
    }
    Ok(schema)
}

fn expand(written: &Value, shared: &Value) -> Result<Value, Wrong> {
    match written {
        Value::String(text) => word(text, shared),
        Value::Number(_) => Ok(json!({ "const": written })),
        Value::Array(list) => match list.as_slice() {
            [items] => Ok(json!({ "type": "array", "items": expand(items, shared)? })),
            [items, about @ Value::String(_)] => Ok(
                json!({ "type": "array", "items": expand(items, shared)?, "description": about }),
            ),
            _ => Err(format!("{written} is no list of one thing")),
        },
        Value::Object(fields) => object(fields, shared),
        Value::Bool(_) | Value::Null => Ok(written.clone()),
    }
}

fn word(text: &str, shared: &Value) -> Result<Value, Wrong> {
    let (what, about) = match text.split_once(": ") {
        Some((what, about)) => (what, Some(about)),
        None => (text, None),
    };
    let (name, or_null) = match what.strip_suffix('?') {
        Some(name) => (name, true),
        None => (what, false),
    };
    let mut schema = match (name.split_at_checked(1), or_null) {
        (Some(("=", exactly)), false) => json!({ "const": exactly }),
        (Some(("&", piece)), false) => match shared.get(piece) {
            Some(piece) => expand(piece, shared)?,
            None => return Err(format!("no piece \"{piece}\" in shared.json")),
        },
        (Some(("#", vocabulary)), or_null) => {
            let mut words = words(vocabulary)?;
            words.extend(or_null.then_some(Value::Null));
            json!({ "enum": words })
        }
        (Some(("@", part)), or_null) => {
            let part = json!({ "$ref": format!("#/$defs/{part}") });
            if or_null {
                json!({ "anyOf": [{ "type": "null" }, part] })
            } else {
                part
            }
        }
        (_, or_null) => {
            let mut types: Vec<&str> = name.split('|').collect();
            types.extend(or_null.then_some("null"));
            match types.as_slice() {
                [only] => json!({ "type": only }),
                several => json!({ "type": several }),
            }
        }
    };
    if let Some(about) = about {
        schema["description"] = about.into();
    }
    Ok(schema)
}

fn object(fields: &Map<String, Value>, shared: &Value) -> Result<Value, Wrong> {
    let is_set = |key: &str| fields.get(key) == Some(&Value::Bool(true));
    let or_null = |name: &str| {
        if is_set("$or_null") {
            json!([name, "null"])
        } else {
            json!(name)
        }
    };
    let mut schema = if let Some(items) = fields.get("$array") {
        json!({ "type": or_null("array"), "items": expand(items, shared)? })
    } else if let Some(Value::Array(several)) = fields.get("$any_of") {
        let each = several.iter().map(|one| expand(one, shared));
        json!({ "anyOf": each.collect::<Result<Vec<_>, _>>()? })
    } else if let Some(words) = fields.get("$one_of") {
        json!({ "enum": words })
    } else if let Some(each) = fields.get("$each") {
        json!({ "type": or_null("object"), "additionalProperties": expand(each, shared)? })
    } else {
        let (mut properties, mut required) = (Map::new(), Vec::new());
        for (name, written) in fields.iter().filter(|(name, _)| !name.starts_with('$')) {
            let field = match name.strip_suffix('?') {
                Some(field) => field,
                None => {
                    required.push(name.clone());
                    name
                }
            };
            properties.insert(field.to_owned(), expand(written, shared)?);
        }
        let mut schema = json!({ "type": or_null("object") });
        if !properties.is_empty() {
            schema["properties"] = properties.into();
            schema["required"] = required.into();
        }
        if !is_set("$open") {
            schema["additionalProperties"] = false.into();
        }
        schema
    };
    if let Some(about) = fields.get("$about") {
        schema["description"] = about.clone();
    }
    Ok(schema)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_says_what_json_schema_says_at_length() {
        let shared = json!({ "limit": { "value": "number" } });
        let of = |written: Value| expand(&written, &shared);
        let number_or_null = json!({ "type": ["number", "null"], "description": "s: held" });
        assert_eq!(of(json!("number?: s: held")), Ok(number_or_null));
        let outcome = json!({ "enum": ["accept", "reject", "undecided", null] });
        assert_eq!(of(json!("#outcome?")), Ok(outcome));
        let limit = json!({
            "type": "object",
            "properties": { "value": { "type": "number" } },
            "required": ["value"],
            "additionalProperties": false,
        });
        assert_eq!(of(json!("&limit")), Ok(limit));
        let open = json!({
            "type": ["object", "null"],
            "properties": { "sets": { "type": "array", "items": { "const": 1 } } },
            "required": [],
        });
        assert_eq!(
            of(json!({ "$or_null": true, "$open": true, "sets?": [1] })),
            Ok(open)
        );
        assert!(of(json!("#colour")).is_err());
        assert!(of(json!("&nowhere")).is_err());
    }
}
