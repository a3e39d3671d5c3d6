//! Answers to the condition round without a screen. In: words of the command line, a file of answers. Out: an answer an item.

use crate::round::state::{Answer, Round};
use crate::tables::read_file;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::toml_file;
use crate::visits::arguments::RoundArgs;
use crate::visits::findings::estimate::{Allowed, Cost, Estimate, Measured, hours};
use crate::visits::findings::photos;
use holdtrue_terms::vocabulary::{self, Severity, Vocabulary};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::{Component, Path};
use std::str::FromStr;

/// Why an item cannot be answered so.
const WAYS: &str = "fine, SEVERITY: WHAT WAS SEEN, or not: WHY";

/// One item of a file of answers.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Told {
    fine: bool,
    seen: Option<String>,
    severity: Option<String>,
    not_examined: Option<String>,
    measured: Option<String>,
    maker: Option<String>,
    cost: Option<String>,
    hours: Option<String>,
    photos: Vec<String>,
}

/// Everything the command line and its file answer, by item.
///
/// # Errors
/// What cannot be understood, an item there is not, one that is answered already or twice: exit 2, of a file exit 4.
pub fn told(
    args: &RoundArgs,
    round: &Round,
    currency: Option<&str>,
) -> Result<Vec<(usize, Answer)>, Error> {
    let mut answers: BTreeMap<usize, Answer> = BTreeMap::new();
    for each in &args.answers_typed {
        let (item, answer) =
            typed(each).map_err(|told| Error::usage(format!("--answer: {told}")))?;
        let at =
            open_item(round, item).map_err(|told| Error::usage(format!("--answer: {told}")))?;
        if answers.insert(at, answer).is_some() {
            return Err(Error::usage(format!(
                "--answer: found two answers for \"{item}\", expected one"
            )));
        }
    }
    if let Some(file) = &args.answers {
        of_file(file, round, currency, &mut answers)?;
    }
    for assembly in &args.fine_rest {
        let open = round.open_in(assembly);
        if !round.places.iter().any(|place| place.assembly == *assembly) {
            let mut known: Vec<&str> = round
                .places
                .iter()
                .map(|place| place.assembly.as_str())
                .collect();
            known.dedup();
            return Err(Error::usage(format!(
                "--fine-rest: found \"{assembly}\", expected one of: {}",
                known.join("; ")
            )));
        }
        for at in open {
            answers.entry(at).or_insert_with(Answer::fine);
        }
    }
    if let Some(why) = &args.not_examined_rest {
        for at in round.all_open() {
            answers
                .entry(at)
                .or_insert_with(|| Answer::not_examined(why));
        }
    }
    Ok(answers.into_iter().collect())
}

/// `ID=fine`, `ID=soon: two shiny`, `ID=not: no lamp`.
fn typed(text: &str) -> Result<(&str, Answer), String> {
    let wrong = || format!("found \"{text}\", expected ITEM= and then {WAYS}");
    let (item, how) = text.split_once('=').ok_or_else(wrong)?;
    let (word, said) = how.split_once(':').unwrap_or((how, ""));
    let answer = match (word.trim(), said.trim()) {
        ("fine", "") => Answer::fine(),
        ("not", why) if !why.is_empty() => Answer::not_examined(why),
        (word, seen) if !seen.is_empty() => Answer::seen(severity(word)?, seen),
        _ => return Err(wrong()),
    };
    Ok((item.trim(), answer))
}

fn severity(word: &str) -> Result<Severity, String> {
    word.parse().map_err(|_| {
        let words = vocabulary::or(Severity::WORDS);
        format!("found \"{word}\" for the urgency, expected {words}")
    })
}

/// An item that waits for an answer.
fn open_item(round: &Round, id: &str) -> Result<usize, String> {
    let at = round.places.iter().position(|place| place.item.id == id);
    let at = at.ok_or_else(|| {
        format!("found the item \"{id}\", expected one of this machine's: holdtrue finding round lists them")
    })?;
    match &round.places[at].answer {
        None => Ok(at),
        Some(answered) => Err(format!(
            "the item \"{id}\" is answered already: {}. holdtrue finding edit corrects it",
            answered.line
        )),
    }
}

fn of_file(
    file: &Path,
    round: &Round,
    currency: Option<&str>,
    answers: &mut BTreeMap<usize, Answer>,
) -> Result<(), Error> {
    let name = file.display().to_string();
    const NEXT: &str = "An item is a table of its own: [item], and fine = true, or seen and severity, or not_examined.";
    let refuse = |found: &str, expected: &str| {
        let refusal = Refusal {
            found,
            expected,
            next: NEXT,
        };
        Error::input(Place::file(&name), refusal)
    };
    let bytes = read_file(&name)?;
    let text =
        String::from_utf8(bytes).map_err(|_| refuse("signs that are no UTF-8", "a text file"))?;
    let told: BTreeMap<String, Told> = toml_file::parse(&name, &text, NEXT)?;
    let folder = file.parent().unwrap_or(Path::new(""));
    for (item, told) in told {
        let wrong = |found: String| {
            Error::input(
                Place::file(&name),
                Refusal {
                    found: &format!("for [{item}] {found}"),
                    expected: WAYS,
                    next: NEXT,
                },
            )
        };
        let at = open_item(round, &item).map_err(&wrong)?;
        let answer = answer_of(told, folder, currency).map_err(|told| match told {
            Wrong::Words(told) => wrong(told),
            Wrong::Photo(error) => error,
        })?;
        if answers.insert(at, answer).is_some() {
            return Err(wrong("an answer, and another one by --answer".to_owned()));
        }
    }
    Ok(())
}

/// What is wrong with an answer in a file.
enum Wrong {
    Words(String),
    Photo(Error),
}

impl From<String> for Wrong {
    fn from(told: String) -> Self {
        Self::Words(told)
    }
}

fn answer_of(told: Told, folder: &Path, currency: Option<&str>) -> Result<Answer, Wrong> {
    let mut answer = match (told.fine, &told.seen, &told.not_examined) {
        (true, None, None) => Answer::fine(),
        (false, Some(seen), None) if !seen.trim().is_empty() => {
            let word = told.severity.as_deref();
            let word = word.ok_or_else(|| "something seen without its severity".to_owned())?;
            Answer::seen(severity(word)?, seen)
        }
        (false, None, Some(why)) if !why.trim().is_empty() => Answer::not_examined(why),
        (false, None, None) => return Err("no answer".to_owned().into()),
        _ => return Err("more than one answer, or an empty one".to_owned().into()),
    };
    if told.severity.is_some() && answer.severity.is_none() {
        return Err("a severity of nothing that was seen".to_owned().into());
    }
    let cost = told.cost.as_deref().map(Cost::from_str).transpose()?;
    let cost = cost.map(|cost| cost.in_currency(currency)).transpose()?;
    answer.estimate = Estimate {
        measured: told
            .measured
            .as_deref()
            .map(Measured::from_str)
            .transpose()?,
        maker: told.maker.as_deref().map(Allowed::from_str).transpose()?,
        cost,
        hours: told.hours.as_deref().map(hours).transpose()?,
        round: None,
    };
    answer.estimate.fits(answer.kind)?;
    for photo in &told.photos {
        let path = inside(folder, photo)?;
        answer
            .photos
            .push(photos::read(&path, "").map_err(Wrong::Photo)?);
    }
    Ok(answer)
}

/// A file in the folder of the answers, or below it: a file of answers may come from somebody else, and its names lead nowhere
/// else, by links neither.
fn inside(folder: &Path, name: &str) -> Result<std::path::PathBuf, String> {
    let wrong = || {
        format!("the photo \"{name}\", expected a file in the folder of the answers, or below it;")
    };
    let path = Path::new(name);
    let plain = |part: Component| matches!(part, Component::Normal(_) | Component::CurDir);
    if name.is_empty() || !path.components().all(plain) {
        return Err(wrong());
    }
    let whole = folder.join(path);
    let here = match folder.as_os_str().is_empty() {
        true => Path::new("."),
        false => folder,
    };
    match (whole.canonicalize(), here.canonicalize()) {
        (Ok(real), Ok(folder)) if !real.starts_with(&folder) => Err(wrong()),
        // One that is not there is told of where it is read.
        _ => Ok(whole),
    }
}
