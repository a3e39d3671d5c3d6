//! What the paper says beside the results: the answer, headings, captions.
//!
//! In: outcomes, names, findings. Out: sentences. Nothing here names a command or an option, but what says how a check code
//! is held to the book: that stands in the appendix.

use crate::words::{capital, outcome, outcome_capital, sentence};
use holdtrue_terms::vocabulary::Outcome;

/// What a check came to, as the answer needs it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CameTo<'a> {
    /// "grip force", "taper runout".
    pub what: &'a str,
    /// None: not judged.
    pub outcome: Option<Outcome>,
    /// It must not run before something is known or put right; what that is stands under what to do.
    pub stop: bool,
}

/// Whether to run it, in a few sentences: what is to be put right first, then what was outside, undecided, within.
///
/// In: findings to be mended before the next run, and what each check came to that still stands.
pub fn answer(before_run: &[String], checks: &[CameTo<'_>]) -> String {
    let mut said = to_put_right(before_run);
    let of = |outcome: Option<Outcome>| {
        let which = checks.iter().filter(|check| check.outcome == outcome);
        let mut names: Vec<&str> = which.map(|check| check.what).collect();
        names.dedup();
        names
    };
    let stop = checks.iter().any(|check| check.stop);
    let outside = of(Some(Outcome::Reject));
    if !outside.is_empty() {
        said.push(limits(&outside, "outside"));
        if !stop {
            said.push(QUALIFIED_DECIDES.to_owned());
        }
    }
    let undecided = of(Some(Outcome::Undecided));
    if !undecided.is_empty() {
        let are = are(undecided.len());
        said.push(format!(
            "{} {are} undecided, which is not a pass.",
            capital(&joined(&undecided))
        ));
    }
    if stop {
        said.push(DO_NOT_RUN.to_owned());
    }
    let within = of(Some(Outcome::Accept));
    if !within.is_empty() {
        said.push(limits(&within, "within"));
    }
    let unjudged = of(None);
    if !unjudged.is_empty() {
        let was = if unjudged.len() == 1 { "was" } else { "were" };
        said.push(format!(
            "{} {was} measured and not judged.",
            capital(&joined(&unjudged))
        ));
    }
    if checks.is_empty() {
        said.push(NOTHING_MEASURED.to_owned());
    }
    said.join(" ")
}

/// What follows from a figure outside its limit.
pub const QUALIFIED_DECIDES: &str =
    "A qualified person decides on further use, after the cause has been looked for.";

/// Of a set that an amendment left undecided: its reasons are those of the set judged anew, which this paper does not print.
pub const AMENDED_UNDECIDED: &str = "That is not a pass: do not run it before the set is measured again, or a qualified person has decided.";

/// What follows where it must not run before something is known or put right.
const DO_NOT_RUN: &str = "Do not run it before the cause is found: a qualified person decides on further use after that.";

fn to_put_right(before_run: &[String]) -> Vec<String> {
    let said = match before_run {
        [] => None,
        [one] => Some(sentence(&format!(
            "to be put right before the next run: {one}"
        ))),
        more => Some(format!(
            "{} findings are to be put right before the next run.",
            capital(&count(more.len()))
        )),
    };
    said.into_iter().collect()
}

/// What repairs are estimated at, by how soon: the first a buyer wants to know.
pub fn repairs(estimates: &[(&str, &str)]) -> String {
    let each = estimates
        .iter()
        .map(|(when, cost)| format!("{when} {cost}"));
    format!(
        "Estimated repairs: {}.",
        each.collect::<Vec<_>>().join("; ")
    )
}

/// The same where no check counts: what stands in its place.
pub fn answer_without(before_run: &[String], instead: &str) -> String {
    let mut said = to_put_right(before_run);
    said.push(instead.to_owned());
    said.join(" ")
}

/// What a visit comes to that was struck out as a whole.
pub fn struck_visit(why: &str) -> String {
    format!("This visit is struck out and counts nowhere: {why}.")
}

/// Of a visit without a check that counts.
pub const ALL_STRUCK: &str = "No set counts: every one that was measured is struck out.";

/// Of a visit without a check.
pub const NOTHING_MEASURED: &str = "Neither grip force nor runout was measured.";

fn limits(names: &[&str], side: &str) -> String {
    let limits = if names.len() == 1 {
        "its limit"
    } else {
        "their limits"
    };
    format!(
        "{} {} {side} {limits}.",
        capital(&joined(names)),
        are(names.len())
    )
}

fn are(many: usize) -> &'static str {
    if many == 1 { "is" } else { "are" }
}

fn joined(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Small numbers in words.
pub fn count(number: usize) -> String {
    const NUMBERS: [&str; 10] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
    ];
    NUMBERS
        .get(number)
        .map_or_else(|| number.to_string(), |word| (*word).to_owned())
}

/// Where nothing follows from what was examined: `first`, where no earlier visit has a figure to lay beside.
pub fn nothing_to_do(first: bool) -> String {
    let why = match first {
        true => {
            ": one reading says little, a row of them tells whether the spindle is getting worse"
        }
        false => "",
    };
    format!("Nothing follows from the items examined. Measure again at the next visit{why}.")
}

/// Where nothing was examined at all.
pub const NOTHING_EXAMINED: &str = "Nothing was examined, so nothing can be said.";

/// Beside the name of a figure whose line runs to its limit.
pub fn measure_before(earliest: Option<&str>, crossed: bool) -> String {
    match (crossed, earliest) {
        (true, _) => {
            "its line has crossed the limit: measure again now, and look for the cause.".to_owned()
        }
        (false, Some(day)) => {
            format!("measure again before {day}, the earliest its line may cross the limit.")
        }
        (false, None) => "measure again soon: its line may cross the limit at any time.".to_owned(),
    }
}

/// Under the picture of every clamp.
pub const CLAMPS: &str = "Each sign is one clamp, a cross one that does not count. Line and grey band: the mean with its uncertainty (95 %). Hatched: not allowed.";

/// The same where a set as left stands beside one as found.
pub const CLAMPS_AFTER: &str = "Each sign is one clamp, a cross one that does not count; hollow is as found, filled as left. Line and grey band: the mean with its uncertainty (95 %). Hatched: not allowed.";

/// Under the pictures of spindle and bar.
pub const TOLD_APART: &str = "Seen along the spindle; 0° is its mark. Ring: the limit, hatched outside. Line: the spindle alone, its eccentricity, half the runout; dashed: what is allowed for measuring uncertainty. Circle: the bar as read at 0°; square: turned.";

/// Over what the findings come to.
pub const MAY_COST: &str = "What mending may cost: an estimate, not an offer";

/// Why a check has no verdict: `limit_known`, where only the instrument is in the way.
pub fn no_verdict(limit_known: bool) -> &'static str {
    match limit_known {
        true => {
            "No verdict: its limit is known, but not the uncertainty of the force gauge by a calibration in force."
        }
        false => {
            "No verdict: it needs a limit and the uncertainty of the force gauge or indicator; not both were known."
        }
    }
}

/// What would give it one.
pub fn for_a_verdict(limit_known: bool) -> &'static str {
    match limit_known {
        true => {
            "with the uncertainty of the force gauge by a calibration in force on that day the same record gives a verdict."
        }
        false => {
            "with a limit, best the machine maker's own figure, and the uncertainty of the force gauge or indicator by its certificate, the same record gives a verdict."
        }
    }
}

/// Under the last of a shortened list.
pub fn and_more(number: usize, of: &str) -> String {
    format!("And {} more {of}, under \"Evidence\".", count(number))
}

/// Under the last figure that has room.
pub fn and_more_figures(number: usize) -> String {
    and_more(number, if number == 1 { "figure" } else { "figures" })
}

/// Under the figures of the first page.
pub const HOW_DRAWN: &str =
    "Hatched: not allowed. Black bar: what is allowed for measuring uncertainty.";

/// The same where one as found stands beside one as left.
pub const HOW_DRAWN_AFTER: &str = "Hatched: not allowed. Bar: what is allowed for measuring uncertainty; hollow is before, black is after.";

/// Of a force that nobody held long enough.
pub const SLOW_DROP: &str = "Not examined: whether the force drops slowly while held.";

/// What the paper does not say.
pub const DOES_NOT_SAY: &str = "No statement on remaining life, on hidden damage, or on bearings at working speed. Costs, where named, are an estimate and not an offer. The result supports a decision by a qualified person; it is not an approval to run.";

/// What the paper says.
pub fn says(at: &str, temperature: Option<&str>) -> String {
    let temperature = temperature.unwrap_or("temperature not recorded");
    format!(
        "The state found on {at}, {temperature}, on the items listed here only. An item that was not looked at is not \"in order\"."
    )
}

/// Who consented and who operated.
pub fn consent(of: Option<&str>, operated_by: Option<&str>) -> String {
    let unknown = "not recorded";
    format!(
        "Examined with the consent of: {}. Machine operated by: {}.",
        of.unwrap_or(unknown),
        operated_by.unwrap_or(unknown)
    )
}

/// The word of a verdict where a set as left stands beside one as found.
pub fn before_and_after(before: Option<Outcome>, after: Option<Outcome>) -> String {
    let now = after.map_or("Not judged", outcome_capital);
    if before == after {
        return format!("{now}, before and after");
    }
    format!("{now}; before: {}", before.map_or("not judged", outcome))
}

/// Items that nobody looked at, by name; why stands where they are listed.
pub fn not_examined(items: &[&str]) -> String {
    format!(
        "Not examined: {}. Why is said under \"Not examined\".",
        items.join("; ")
    )
}

/// So many visits, at the beginning of a line.
pub fn visits(count: usize) -> String {
    match count {
        1 => "One visit".to_owned(),
        count => format!("{count} visits"),
    }
}

/// Who signs: of a machine to be bought, the buyer too.
pub fn signatures(technician: Option<&str>, before_purchase: bool) -> Vec<String> {
    let examined = match technician {
        Some(name) => format!("examined by: {name}, date"),
        None => "examined by: name, date".to_owned(),
    };
    let received = if before_purchase { "buyer" } else { "received" };
    vec![
        examined,
        "for the owner of the machine: name, date".to_owned(),
        format!("{received}: name, date"),
    ]
}

/// How the check code on the paper is held to the book; for the appendix, which speaks to one who has the book.
pub const HOW_TO_VERIFY: &str = "The book recomputes it with holdtrue book verify, from these signs or from the sixteen in the foot of every page. It shows whether the stored visit is the one on this paper; it does not show who wrote either.";

/// Of a visit without an end.
pub const NOT_FINISHED: &str =
    "The visit is not finished: figures can still be added, and there is no check code yet.";

/// Where the evidence of what came after the end stands.
pub const ADDED_LATER: &str = "Added after the visit was finished";

/// On the first page, of what came after the end and no amendment has taken up.
pub fn added_later(entries: usize) -> String {
    let (was, change, stand) = match entries {
        1 => ("entry was", "It changes", "stands"),
        _ => ("entries were", "They change", "stand"),
    };
    format!(
        "{} {was} added after the visit was finished. {change} nothing on this page, which is as it was then, and {stand} under \"{ADDED_LATER}\".",
        capital(&count(entries))
    )
}

/// Sixteen signs of a digest in fours: enough to tell one visit from another, short enough to type.
pub fn short_code(digest: &str) -> String {
    let signs = digest.split_once('-').map_or(digest, |(_, signs)| signs);
    let signs = signs.chars().filter(char::is_ascii_alphanumeric);
    let signs: Vec<char> = signs.take(16).collect();
    let groups: Vec<String> = signs.chunks(4).map(|four| four.iter().collect()).collect();
    groups.join(" ").to_uppercase()
}

/// In the foot of a page.
pub fn check_code(code: &str) -> String {
    format!("check code {code}")
}

/// A figure against its limit, for one who does not see the picture.
pub fn against(name: &str, measured: &str, allowed: &str, limit: &str, outcome: &str) -> String {
    format!(
        "{name}: {measured}, ± {allowed} allowed for measuring uncertainty, against a limit of {limit}: {outcome}."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_answer_says_the_worst_first() {
        let check = |what, outcome| CameTo {
            what,
            outcome,
            stop: false,
        };
        let finger = ["gripper finger cracked".to_owned()];
        assert_eq!(
            answer(
                &finger,
                &[
                    check("grip force", Some(Outcome::Accept)),
                    check("taper runout", Some(Outcome::Undecided)),
                ]
            ),
            "To be put right before the next run: gripper finger cracked. Taper runout is undecided, which is not a pass. \
             Grip force is within its limit."
        );
        assert_eq!(
            answer(
                &[],
                &[
                    check("grip force", Some(Outcome::Reject)),
                    check("taper runout", Some(Outcome::Reject)),
                ]
            ),
            "Grip force and taper runout are outside their limits. A qualified person decides on further use, after the \
             cause has been looked for."
        );
        assert_eq!(
            answer(&[], &[check("grip force", None)]),
            "Grip force was measured and not judged."
        );
        assert_eq!(answer(&[], &[]), NOTHING_MEASURED);
        let drops = CameTo {
            stop: true,
            ..check("grip force", Some(Outcome::Undecided))
        };
        let said = answer(&[], &[drops, check("taper runout", Some(Outcome::Reject))]);
        assert!(
            said.contains("Do not run it before the cause is found"),
            "{said}"
        );
    }

    #[test]
    fn a_short_code_is_sixteen_signs_in_fours() {
        assert_eq!(
            short_code("2-47d8518c6a13a4c95a8c19f0"),
            "47D8 518C 6A13 A4C9"
        );
    }
}
