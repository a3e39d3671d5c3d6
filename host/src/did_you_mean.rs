//! A word that was mistyped. In: why a command line was refused, its words. Out: the same with the word that was meant, where
//! one of those there are is near.

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Command, Error};
use std::ffi::OsString;

/// Adds the word that was probably meant to a refusal that names none.
pub(crate) fn with_tip(mut error: Error, words: &[OsString], whole: &Command) -> Error {
    let (found, tip) = match error.kind() {
        ErrorKind::InvalidSubcommand => (
            ContextKind::InvalidSubcommand,
            ContextKind::SuggestedSubcommand,
        ),
        ErrorKind::InvalidValue => (ContextKind::InvalidValue, ContextKind::SuggestedValue),
        ErrorKind::UnknownArgument => (ContextKind::InvalidArg, ContextKind::SuggestedArg),
        _ => return error,
    };
    let Some(ContextValue::String(typed)) = error.get(found).cloned() else {
        return error;
    };
    if error.get(tip).is_some() {
        return error;
    }
    let command = meant(words, whole);
    let there: Vec<String> = match tip {
        ContextKind::SuggestedSubcommand => {
            let names = command.get_subcommands().map(Command::get_name);
            names.map(str::to_owned).collect()
        }
        ContextKind::SuggestedArg => {
            let options = command
                .get_arguments()
                .filter(|option| !option.is_hide_set());
            let long = options.filter_map(|option| option.get_long());
            long.map(|name| format!("--{name}")).collect()
        }
        _ => match error.get(ContextKind::ValidValue) {
            Some(ContextValue::Strings(values)) => values.clone(),
            _ => Vec::new(),
        },
    };
    if let Some(near) = nearest(&typed, &there) {
        let near = match tip {
            ContextKind::SuggestedSubcommand => ContextValue::Strings(vec![near.to_owned()]),
            _ => ContextValue::String(near.to_owned()),
        };
        error.insert(tip, near);
    }
    error
}

/// The command whose word was not understood: the last one that was.
fn meant<'a>(words: &[OsString], whole: &'a Command) -> &'a Command {
    let words = words.iter().skip(1).filter_map(|word| word.to_str());
    words.fold(whole, |command, word| {
        command.find_subcommand(word).unwrap_or(command)
    })
}

/// The nearest of these, where at most half of its letters are others, left out, too many or exchanged.
fn nearest<'a>(typed: &str, there: &'a [String]) -> Option<&'a str> {
    let typed = typed.to_lowercase();
    let likeness = |word: &str| strsim::normalized_damerau_levenshtein(&typed, word);
    let each = there.iter().map(|word| (likeness(word), word.as_str()));
    let near = each.max_by(|(one, _), (other, _)| one.total_cmp(other))?;
    (near.0 >= 0.5).then_some(near.1)
}
