//! The paper of the visit by one key. In: the visit. Out: the command that writes page and PDF, under a name nobody has to think of.

use crate::day::starting::Words;
use crate::visits::known_day;
use holdtrue_book::Visit;
use std::path::Path;

/// "centre-1-2026-11-29.html" and ".pdf", and the same with a number where one of that name is there.
pub fn command(visit: &Visit) -> Words {
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
    let files = |name: &str| [format!("{name}.html"), format!("{name}.pdf")];
    let is_free = |name: &String| files(name).iter().all(|file| !Path::new(file).exists());
    let free = (1..).map(numbered).find(is_free);
    let [html, pdf] = files(&free.unwrap_or_else(|| numbered(1)));
    let id = visit.visit.id.to_string();
    let words = ["report", &id, "--html", &html, "--pdf", &pdf];
    words.iter().map(|word| (*word).to_owned()).collect()
}
