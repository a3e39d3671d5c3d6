//! The drop of the force while held.
//!
//! In come the clamps that count; out go how fast each dropped and how surely that is known, and whether there is a drop
//! that goes on: one that neither creep and zero of the gauge nor settling explain.

use super::budget::{self, Recorded, Taken};
use super::clamps::Found;
use super::ending::{Ending, SHORTEST_TOLD_S, Slip};
use super::falls::Falls;
use super::filled_up::FilledUp;
use super::setup::GripSetup;
use crate::decision::{self, Limit};
use crate::statistics;
use crate::uncertainty::{Budget, Contribution, Distribution};
use holdtrue_terms::vocabulary::{Outcome, Provenance};
use std::collections::BTreeSet;

/// A drop that goes on is one of more than this share of the own level a second. Common practice, no source.
const GOES_ON_PER_S: f64 = 0.001;
/// Only a hold longer than this shows a slow drop, and tells one that goes on from one that dies out, s.
const LONG_HOLD_S: f64 = 10.0;
/// This much of a hold, at its ends, shows no drop, s.
const SETTLES_S: f64 = 1.1;
/// How long a hold is asked for to see the force drop, s.
const HOLDS_S: [f64; 5] = [30.0, 45.0, 60.0, 90.0, 120.0];
/// By so much a gauge may creep in one hold, share of the force, either way. Common practice, no source.
const CREEP_SHARE: f64 = 0.0005;
/// Of several stretches in a hold one may show noise by chance as a drop: their noise is taken this many times.
const CHANCE: f64 = 2.0;
/// A reading beside the clamp that is no zero moved like the drop if it did by no less and no more than these shares.
const LIKE_THE_DROP: std::ops::Range<f64> = 0.5..2.0;
/// A warm gauge does not come back in a pause by more than this share of what it moved over the clamp.
const COMES_BACK_SHARE: f64 = 0.5;
/// The second half of a hold, a quarter of whose samples' lever it has, shows a slope this many times less surely.
const HALF_LESS_SURE: f64 = 2.83;

/// Readings that blur a drop of more than this share of the force a second examine none. Common practice, no source.
const SHOWN_SHARE_PER_S: f64 = 0.002;

/// A tool is held for longer than a long hold of a check, s: a force below its limit sooner is not within it, whatever the
/// cause. Common practice, no source.
pub(super) const HOLDS_FOR_S: f64 = 30.0;
/// A force that gets back less than this share of what it loses is not filled up.
const GIVEN_BACK_SHARE: f64 = 0.5;
/// Words that say nothing of a cause.
const EMPTY_WORDS: &[&str] = &[
    "a", "above", "after", "again", "all", "always", "an", "and", "any", "as", "asdf", "ask", "be",
    "because", "before", "being", "below", "bit", "can", "cause", "caused", "causes", "check",
    "checked", "checking", "clear", "customer", "do", "does", "don", "done", "dont", "drop",
    "dropping", "drops", "dunno", "early", "fall", "falls", "fell", "fine", "for", "force",
    "found", "given", "good", "had", "has", "have", "held", "help", "here", "hold", "holds", "how",
    "i", "idea", "idk", "in", "is", "issue", "it", "its", "just", "know", "known", "knows",
    "later", "like", "little", "look", "looked", "looking", "maybe", "me", "more", "my", "na",
    "never", "next", "nil", "no", "nobody", "none", "normal", "not", "nothing", "of", "often",
    "ok", "okay", "old", "on", "one", "or", "out", "owner", "page", "perhaps", "possible",
    "possibly", "probably", "problem", "problems", "question", "reason", "said", "same", "say",
    "says", "see", "seems", "seen", "should", "skip", "skipped", "slow", "small", "so", "some",
    "somebody", "someone", "soon", "still", "sure", "t", "tbd", "test", "that", "the", "then",
    "there", "they", "think", "this", "to", "todo", "too", "unclear", "unknown", "up", "us",
    "usual", "usually", "was", "way", "we", "well", "what", "when", "where", "who", "why", "will",
    "with", "wrong", "yes", "yet", "you",
];

/// Whether words name a cause: one of them at least says something. What they say is judged by whoever reads it.
pub fn is_cause(text: &str) -> bool {
    let words = text.split(|letter: char| !letter.is_alphanumeric());
    let says = |word: &str| {
        let word = word.to_lowercase();
        let letters: BTreeSet<char> = word
            .chars()
            .filter(|letter| letter.is_alphabetic())
            .collect();
        letters.len() > 1 && !EMPTY_WORDS.contains(&word.as_str())
    };
    words.into_iter().any(says)
}

/// How the force fell in one hold, and what that is known by.
#[derive(Clone, Copy, Debug)]
pub(super) struct Drop {
    /// Number of the clamp.
    pub number: u32,
    /// Its settled force, N.
    pub force_n: f64,
    /// Positive = the force falls.
    pub n_per_s: f64,
    /// From how long a stretch it was told, s.
    pub over_s: f64,
    /// The same from its second half.
    late_n_per_s: f64,
    /// And from its settled window.
    window_n_per_s: f64,
    standard_error_n_per_s: f64,
    /// How far the zero moved over the clamp, N.
    zero_n: f64,
    /// Standard uncertainty of the gauge, share of the force.
    gauge: f64,
    /// Step of the record where no noise shows what lies between, N.
    grain_n: f64,
}

impl Drop {
    /// None where the record shows none.
    fn of(clamp: &Taken, all: &[Taken], setup: &GripSetup) -> Option<Self> {
        let recorded = clamp.recorded?;
        let sag = recorded.sag?;
        Some(Self {
            number: clamp.number,
            force_n: clamp.force_n,
            n_per_s: sag.n_per_s,
            over_s: sag.over_s,
            late_n_per_s: sag.late_n_per_s,
            window_n_per_s: -recorded.slope_n_per_s,
            standard_error_n_per_s: sag.standard_error_n_per_s,
            zero_n: zero_moved_n(&recorded, all),
            gauge: gauge_share(clamp, setup),
            grain_n: recorded.grain_n,
        })
    }

    /// That in the last seconds of a hold, where every shorter stretch to its end shows it as well: what has come to
    /// rest before the end does not go on. Each with how long was held in all, s.
    fn at_end(clamp: &Taken, all: &[Taken], setup: &GripSetup) -> Vec<(Self, f64)> {
        let Some(recorded) = clamp.recorded else {
            return Vec::new();
        };
        let mut at_most = f64::INFINITY;
        let of = |ending: Ending| {
            let Ending {
                n_per_s,
                standard_error_n_per_s,
                wander_n_per_s,
                over_s,
                held_s,
                lower_n,
            } = ending;
            // A drop that set in half-way loses half of what its slope says.
            let lost_n_per_s = lower_n.map_or(f64::INFINITY, |lower_n| {
                2.0 * lower_n / over_s + CHANCE * standard_error_n_per_s
            });
            let lasting = n_per_s.min(at_most).min(lost_n_per_s);
            at_most = at_most.min(n_per_s + CHANCE * standard_error_n_per_s + wander_n_per_s);
            let drop = Self {
                number: clamp.number,
                force_n: clamp.force_n,
                n_per_s: lasting - wander_n_per_s,
                over_s,
                late_n_per_s: lasting,
                window_n_per_s: -recorded.slope_n_per_s,
                standard_error_n_per_s: CHANCE * standard_error_n_per_s,
                zero_n: zero_moved_n(&recorded, all) * over_s / held_s,
                gauge: gauge_share(clamp, setup),
                grain_n: recorded.grain_n,
            };
            (drop, held_s)
        };
        let endings = recorded.endings.into_iter().flatten().map(of);
        // The shortest only says what the next longer one may be: alone it shows the foot of a knock as well as a drop.
        endings
            .filter(|(drop, _)| drop.over_s >= SHORTEST_TOLD_S)
            .collect()
    }

    /// That between the fills of a hold in which the force gets back what it loses.
    fn between_fills(clamp: &Taken, all: &[Taken], setup: &GripSetup) -> Option<Self> {
        let recorded = clamp.recorded?;
        let filled_up = recorded.filled_up?;
        let FilledUp {
            n_per_s, over_s, ..
        } = filled_up;
        (filled_up.given_back_n_per_s > GIVEN_BACK_SHARE * n_per_s).then(|| Self {
            number: clamp.number,
            force_n: clamp.force_n,
            n_per_s,
            over_s,
            late_n_per_s: n_per_s,
            window_n_per_s: -recorded.slope_n_per_s,
            standard_error_n_per_s: CHANCE * filled_up.standard_error_n_per_s,
            zero_n: zero_moved_n(&recorded, all),
            gauge: gauge_share(clamp, setup),
            grain_n: recorded.grain_n,
        })
    }

    /// The drops of all clamps that show one.
    pub fn all(taken: &[Taken], setup: &GripSetup) -> Vec<Self> {
        let of = |clamp| Self::of(clamp, taken, setup);
        taken.iter().filter_map(of).collect()
    }

    fn is_long(&self) -> bool {
        is_long(self.over_s)
    }

    /// Whether a slow drop would stand out of the noise, the zero and the steps of the record.
    fn would_show(&self) -> bool {
        let steps_n_per_s = self.grain_n / self.over_s;
        let blurred_n_per_s = self.budget_as_held().expanded() + steps_n_per_s;
        blurred_n_per_s < SHOWN_SHARE_PER_S * self.force_n
    }

    /// Its budget had the hold been so long: a slope through evenly spaced samples is known by the power 3/2 of its
    /// length, and what zero and creep move is spread over it.
    pub fn budget(&self, over_s: f64) -> Budget {
        let longer = over_s / self.over_s;
        let spread = |source: &str, half_width_n: f64, provenance| {
            let shape = Distribution::Rectangular;
            Contribution::bounded(source, shape, half_width_n / over_s, 1.0, provenance)
        };
        let creep_n = CREEP_SHARE * self.force_n.abs();
        Budget::new(vec![
            Contribution::new(
                "noise of the samples in the hold",
                self.standard_error_n_per_s / longer.powf(1.5),
                None,
            ),
            spread("return of the zero", self.zero_n, Provenance::Computed),
            spread("creep of the gauge", creep_n, Provenance::CommonPractice),
            Contribution::new(budget::CALIBRATION, self.gauge * self.n_per_s.abs(), None)
                .from(Provenance::Published),
        ])
    }

    /// Its budget as it was held.
    pub fn budget_as_held(&self) -> Budget {
        self.budget(self.over_s)
    }

    /// The shortest longer hold over which the same drop would be decided, and its budget then.
    pub fn decided_by_hold(&self, limit: &Limit) -> Option<(f64, Budget)> {
        HOLDS_S.into_iter().find_map(|hold_s| {
            let over_s = hold_s - SETTLES_S;
            let budget = self.budget(over_s);
            let outcome = decision::judge_by_budget(limit, self.n_per_s, &budget).outcome;
            (over_s > self.over_s && outcome != Outcome::Undecided).then_some((hold_s, budget))
        })
    }

    /// What of it goes on to the end of the hold, N/s: settling dies out, a leak does not.
    fn lasting_n_per_s(&self) -> f64 {
        let at_most = self.late_n_per_s + 2.0 * HALF_LESS_SURE * self.standard_error_n_per_s;
        self.n_per_s.min(at_most)
    }

    /// What dies out after the settled window, share of the force a second.
    fn dying_out(&self) -> f64 {
        ((self.window_n_per_s - self.late_n_per_s) / self.force_n).max(0.0)
    }
}

fn is_long(held_s: f64) -> bool {
    held_s + SETTLES_S > LONG_HOLD_S
}

fn gauge_share(clamp: &Taken, setup: &GripSetup) -> f64 {
    setup.gauge.standard_n(clamp.force_n).unwrap_or(0.0) / clamp.force_n
}

/// How far the zero may have moved over a clamp, N. What a gauge that rested on something reads says nothing of its zero,
/// so that a leak cannot hide behind it: without both zeros it may have moved like the one that moved most, unless all
/// the readings tell of a gauge that warms.
fn zero_moved_n(recorded: &Recorded, all: &[Taken]) -> f64 {
    let warms = warms(all);
    let moved_n = |recorded: &Recorded| {
        let known = recorded.own_zeros || warms;
        recorded.zero_moved_n.filter(|_| known).map(f64::abs)
    };
    let others = || all.iter().filter_map(|other| moved_n(&other.recorded?));
    moved_n(recorded).unwrap_or_else(|| others().fold(0.0, f64::max))
}

/// Whether the readings beside the clamps moved like the force over every clamp whose zeros were set aside, and stayed
/// in the pauses: so moves the zero of a gauge that warms in the taper. One that rests is let go or rests again.
pub(super) fn warms(all: &[Taken]) -> bool {
    let recorded: Vec<Recorded> = all.iter().filter_map(|clamp| clamp.recorded).collect();
    let like_the_drop = |recorded: &Recorded| {
        let (Some(moved_n), Some(sag)) = (recorded.zero_moved_n, recorded.sag) else {
            return false;
        };
        LIKE_THE_DROP.contains(&(-moved_n / (sag.n_per_s * sag.over_s)))
    };
    let stays = |pair: &[Recorded]| {
        let (Some(moved_n), [_, Some(end)], [Some(begin), _]) =
            (pair[0].zero_moved_n, pair[0].steady, pair[1].steady)
        else {
            return false;
        };
        (begin.mean_n - end.mean_n).abs() < COMES_BACK_SHARE * moved_n.abs()
    };
    let mut aside = recorded.iter().filter(|recorded| !recorded.own_zeros);
    recorded.len() > 1 && aside.all(like_the_drop) && recorded.windows(2).all(stays)
}

/// A drop that goes on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct GoesOn {
    /// The clamp that shows it; none: they do on the average.
    pub clamp: Option<u32>,
    /// Share of the force a second.
    pub per_s: f64,
    /// The longest stretch it was seen over, s.
    pub over_s: f64,
    /// Where in the hold.
    pub seen: Seen,
}

/// Where in a hold a drop is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Seen {
    /// All the while.
    Throughout,
    /// In the last seconds only.
    AtEnd,
    /// Until the force is filled up again, and then anew.
    BetweenFills,
}

/// Whether the force drops and goes on dropping: the lower end of the 95 % interval of the mean over the holds, or of any
/// one of them, lies above a thousandth of the own level a second, creep and zero of the gauge being in the interval.
///
/// What a long hold shows to die out after the settled window is taken off the shorter ones, which end too early to
/// show it.
///
/// A hold that only begins to drop shows it in its last seconds alone; one that is filled up again, between its fills.
pub(super) fn goes_on(taken: &[Taken], setup: &GripSetup) -> Option<GoesOn> {
    let mut drops = Drop::all(taken, setup);
    drops.retain(|drop| drop.force_n > 0.0);
    let longest = drops.iter().max_by(|a, b| a.over_s.total_cmp(&b.over_s));
    let dies_out = longest
        .filter(|longest| longest.is_long())
        .map_or(0.0, Drop::dying_out);
    while_held(drops, dies_out)
        .or_else(|| {
            let ends = taken.iter().filter(|clamp| clamp.force_n > 0.0);
            let ends = ends.flat_map(|clamp| Drop::at_end(clamp, taken, setup));
            let shares = ends.map(|(drop, held_s)| {
                let early = if is_long(held_s) { 0.0 } else { dies_out };
                (drop, drop.n_per_s / drop.force_n - early)
            });
            steepest(shares, Seen::AtEnd)
        })
        .or_else(|| {
            let held = taken.iter().filter(|clamp| clamp.force_n > 0.0);
            let drops = held.filter_map(|clamp| Drop::between_fills(clamp, taken, setup));
            let drops: Vec<Drop> = drops.collect();
            filled_up_alike(&drops).or_else(|| {
                let shares = drops
                    .iter()
                    .map(|drop| (*drop, drop.n_per_s / drop.force_n));
                steepest(shares, Seen::BetweenFills)
            })
        })
}

/// What the holds show together of a force that is filled up again: each alone may be too noisy to.
fn filled_up_alike(drops: &[Drop]) -> Option<GoesOn> {
    let longest = drops.iter().max_by(|a, b| a.over_s.total_cmp(&b.over_s))?;
    let count = drops.len() as f64;
    let squares = drops.iter().map(|drop| drop.standard_error_n_per_s.powi(2));
    let mean = |of: fn(&Drop) -> f64| drops.iter().map(of).sum::<f64>() / count;
    let alike = Drop {
        n_per_s: mean(|drop| drop.n_per_s),
        force_n: mean(|drop| drop.force_n),
        zero_n: mean(|drop| drop.zero_n),
        standard_error_n_per_s: squares.sum::<f64>().sqrt() / count,
        ..*longest
    };
    let share = alike.n_per_s / alike.force_n;
    let found = steepest([(alike, share)].into_iter(), Seen::BetweenFills)?;
    let clamp = found.clamp.filter(|_| drops.len() == 1);
    Some(GoesOn { clamp, ..found })
}

/// The same over the whole of what was held.
fn while_held(drops: Vec<Drop>, dies_out: f64) -> Option<GoesOn> {
    let longest = drops.iter().max_by(|a, b| a.over_s.total_cmp(&b.over_s))?;
    let per_s = |drop: &Drop| {
        let early = if drop.is_long() { 0.0 } else { dies_out };
        drop.lasting_n_per_s() / drop.force_n - early
    };
    let shares: Vec<f64> = drops.iter().map(per_s).collect();
    let mean = statistics::mean(&shares);
    if drops.len() > 1 && mean - of_mean(&drops, &shares).expanded() > GOES_ON_PER_S {
        return Some(GoesOn {
            clamp: None,
            per_s: mean,
            over_s: longest.over_s,
            seen: Seen::Throughout,
        });
    }
    steepest(drops.into_iter().zip(shares), Seen::Throughout)
}

/// The steepest of the drops that surely go on by themselves, each with its share of the force a second.
fn steepest(drops: impl Iterator<Item = (Drop, f64)>, seen: Seen) -> Option<GoesOn> {
    let goes_on = |(drop, share): &(Drop, f64)| {
        share - drop.budget_as_held().expanded() / drop.force_n > GOES_ON_PER_S
    };
    let (drop, per_s) = drops.filter(goes_on).max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(GoesOn {
        clamp: Some(drop.number),
        per_s,
        over_s: drop.over_s,
        seen,
    })
}

/// Budget of the mean share: how the holds differ, and what puts them off alike.
fn of_mean(drops: &[Drop], shares: &[f64]) -> Budget {
    let count = drops.len() as f64;
    let alike = drops
        .iter()
        .map(|drop| drop.budget_as_held().combined() / drop.force_n);
    Budget::new(vec![
        Contribution::new(
            "repeatability of the holds",
            statistics::stdev(shares) / count.sqrt(),
            Some(count - 1.0),
        ),
        Contribution::new("gauge and noise", alike.sum::<f64>() / count, None),
    ])
}

/// The clamp that surely drops most over its hold, N/s, where no drop goes on: it dies out before the end.
pub(super) fn comes_to_rest(taken: &[Taken], setup: &GripSetup) -> Option<(u32, f64)> {
    let drops = Drop::all(taken, setup).into_iter();
    let drops = drops.filter(|drop| drop.force_n > 0.0);
    let shares = drops.map(|drop| (drop, drop.n_per_s / drop.force_n));
    let found = steepest(shares, Seen::Throughout)?;
    let clamp = found.clamp?;
    let taken = taken.iter().find(|taken| taken.number == clamp)?;
    Some((clamp, found.per_s * taken.force_n))
}

/// Whether a counted clamp was held long enough to show a slow drop, by readings fine enough to.
pub(super) fn is_examined(taken: &[Taken], setup: &GripSetup) -> bool {
    Drop::all(taken, setup)
        .iter()
        .any(|drop| drop.is_long() && drop.would_show())
}

/// The clamp that falls most as it is read, with the share of its force a second, where no hold is long enough for a drop.
pub(super) fn falls_as_read(taken: &[Taken]) -> Option<(u32, f64)> {
    let recorded = || taken.iter().filter_map(|clamp| clamp.recorded);
    if recorded().any(|recorded| recorded.sag.is_some()) {
        return None;
    }
    let falls = taken.iter().filter(|clamp| clamp.force_n > 0.0);
    let falls = falls
        .filter_map(|clamp| Some((clamp.number, clamp.recorded?.falls_n_per_s? / clamp.force_n)));
    falls.max_by(|a, b| a.1.total_cmp(&b.1))
}

/// The largest slip in a hold, with the number of its clamp.
pub(super) fn slipped(taken: &[Taken]) -> Option<(u32, Slip)> {
    let slips = taken
        .iter()
        .filter_map(|clamp| Some((clamp.number, clamp.recorded?.slip?)));
    slips.max_by(|a, b| a.1.by_n.total_cmp(&b.1.by_n))
}

/// So many times in one hold, or in so many holds, it is no knock …
const FALLS_AGAIN: usize = 3;
/// … nor one that rings, s.
const RINGS_FOR_S: f64 = 2.0;

/// The force goes down and rises again time after time: in so many of so many holds, those left out as well. `None` where single
/// knocks explain it.
pub(super) fn falls_again(found: &Found) -> Option<(usize, usize)> {
    let falls: Vec<Falls> = found
        .clamps
        .iter()
        .filter_map(|clamp| clamp.falls)
        .collect();
    let holds = falls.iter().filter(|falls| falls.times > 0).count();
    let in_many = holds >= FALLS_AGAIN;
    let again = |falls: &Falls| falls.times >= FALLS_AGAIN && falls.over_s > RINGS_FOR_S;
    (in_many || falls.iter().any(again)).then_some((holds, falls.len()))
}

#[cfg(test)]
mod tests {
    use super::is_cause;

    #[test]
    fn words_that_name_nothing_are_no_cause() {
        for said in [
            "",
            " ",
            ".",
            "x",
            "?",
            "-",
            "ok",
            "OK.",
            "none",
            "unknown",
            "no cause",
            "n/a",
            "not known",
            "xxx",
            "1",
            "\u{7}",
            "don't know.",
            "the drop",
            "no cause found",
            "dunno",
            "no idea",
            "we will see",
            "probably ok",
        ] {
            assert!(!is_cause(said), "{said:?}");
        }
        for said in [
            "check valve weeps",
            "Öl",
            "der Speicher ist leer",
            "the accumulator is empty",
        ] {
            assert!(is_cause(said), "{said:?}");
        }
    }
}
