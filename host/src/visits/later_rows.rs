//! What came after the end of a visit, in words. In: rows its end does not cover. Out: one line each.

use crate::terminal::times;
use holdtrue_book::{Later, Stamp};

/// What every such line begins with.
const ADDED: &str = "added after the visit was finished";

/// A line for screen and messages, with who and when.
pub fn line(later: &Later) -> String {
    let signed = later.stamp.as_ref().map_or_else(String::new, |stamp| {
        let Stamp { author, at } = stamp;
        format!(", by {author}, {}", times::moment(at))
    });
    format!("{ADDED}: {}{signed}", what(later))
}

/// The same without who and when.
pub fn what(later: &Later) -> String {
    let says = &later.says;
    match (later.table, &later.lies_on) {
        ("tombstone", Some(target)) => {
            format!(
                "{} is to be struck (reason: {says}); it stays as it was",
                named(target)
            )
        }
        ("remark", Some(target)) => format!("{}: {says}", named(target)),
        ("tombstone", None) => format!("something is to be struck (reason: {says})"),
        _ => named(later),
    }
}

fn named(later: &Later) -> String {
    let says = &later.says;
    match later.table {
        "visit" => "the whole visit".to_owned(),
        "revision" => format!("another header, \"{says}\""),
        "check_start" => format!("a check, {says}"),
        "recorded" => says.clone(),
        "result" => format!("a result, {says}"),
        "capture" => "a raw record".to_owned(),
        "chunk" => format!("{says} more chunks of a raw record"),
        "original" => format!("the file \"{says}\""),
        "acknowledgement" => format!("an acknowledgement, {says}"),
        "finish" => format!("another end, with the check code {says}"),
        "tombstone" => format!("the striking (reason: {says})"),
        "remark" => format!("the remark \"{says}\""),
        "attachment" => format!("the photo or file \"{says}\""),
        "finding" | "note" => format!("{} \"{says}\"", later.table),
        other if other.starts_with(['a', 'e', 'o']) => format!("an {other}"),
        other => format!("a {other}"),
    }
}
