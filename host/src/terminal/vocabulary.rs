//! Words of the trade as options take them. In: a vocabulary. Out: a parser that lists its words and what they mean.

use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use holdtrue_terms::vocabulary::Vocabulary;

/// Takes the word of one of these.
pub fn one_of<V: Vocabulary>(values: &'static [V]) -> impl TypedValueParser<Value = V> {
    let words = values
        .iter()
        .map(|value| PossibleValue::new(value.typed()).help(value.about()));
    PossibleValuesParser::new(words).map(|word| {
        *values
            .iter()
            .find(|value| value.typed().eq_ignore_ascii_case(&word))
            .expect("the parser takes no other word")
    })
}
