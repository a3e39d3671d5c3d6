//! The paper of the visit by one key. In: the visit. Out: the command that writes page and PDF, under a name nobody has to think of.

use crate::day::asked::Words;
use crate::visits::known_day;
use holdtrue_book::Visit;
use std::path::Path;

/// Names for the paper of a visit: "centre-1-2026-11-29", and the same with a number where one of that name is there.
pub struct Names {
    /// The one that is there already, written last.
    pub there: Option<String>,
    /// The first that is free.
    pub free: String,
}

/// The names of a visit.
pub fn names(visit: &Visit) -> Names {
    let spindle = visit
        .spindle
        .as_ref()
        .map(|spindle| spindle.header().name.clone());
    let name: String = spindle
        .unwrap_or_else(|| "spindle".to_owned())
        .to_lowercase()
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .collect();
    let started = &visit.visit.header().started_at;
    let day = started.get(..10).filter(|day| {
        day.bytes()
            .all(|byte| byte.is_ascii_digit() || byte == b'-')
    });
    let day = day.map_or_else(
        || known_day::words(started).replace(' ', "-"),
        str::to_owned,
    );
    let stem = format!("{}-{day}", name.trim_matches('-'));
    let numbered = |number: u32| match number {
        1 => stem.clone(),
        more => format!("{stem}-{more}"),
    };
    let is_free = |name: &String| files(name).iter().all(|file| !Path::new(file).exists());
    let mut there = None;
    for name in (1..).map(numbered) {
        if is_free(&name) {
            return Names { there, free: name };
        }
        there = Some(name);
    }
    Names { there, free: stem }
}

fn files(name: &str) -> [String; 2] {
    [format!("{name}.html"), format!("{name}.pdf")]
}

/// The command that writes page and PDF under this name; `anew`: in the place of those that are there.
pub fn command(visit: &Visit, name: &str, anew: bool) -> Words {
    let [html, pdf] = files(name);
    let id = visit.visit.id.to_string();
    let words = ["report", &id, "--html", &html, "--pdf", &pdf];
    let overwrite = anew.then_some("--overwrite");
    words
        .into_iter()
        .chain(overwrite)
        .map(str::to_owned)
        .collect()
}
