//! What the technician is led through, clamp by clamp. In: the step of the watch, what was taken so far. Out: one stage, and of
//! it the line, the light, the bells and the picture, so that all four always say the same.

use crate::grip::handling;
use crate::grip::words as grip_words;
use crate::terminal::scene_words;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use crate::visits::checks::since::LastTime;
use holdtrue_gauge::link::Damage;
use holdtrue_metrology::decision::{Figure, Limit, Side};
use holdtrue_metrology::grip::result::{Clamp, GripResult};
use holdtrue_metrology::grip::step::Step;
use holdtrue_metrology::grip::watch::Watch;
use holdtrue_protocol::message::Signal;
use holdtrue_screen::{Beside, Column, Count, Ground, Key, Picture, Scene, Strip};
use holdtrue_wording::words;

/// Points of a clamp's column for each second it is held.
const POINTS_PER_S: f64 = 10.0;

/// What the technician is to do now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stage {
    /// After a reconnection something pulls at the gauge.
    Loaded,
    /// The gauge is free: clamp.
    Clamp,
    /// Nothing holds it, and it is not free.
    Resting {
        /// What it reads above that, N.
        reads_n: f64,
    },
    /// The force comes.
    Rising,
    /// Clamped: hold.
    Hold {
        /// Since when, s.
        held_s: f64,
    },
    /// Held long enough, but the force still rises.
    StillRising,
    /// Enough: unclamp.
    Unclamp,
    /// Let go: the zero behind the clamp is being taken.
    Released,
    /// All clamps are in.
    Done,
}

impl Stage {
    /// The stage of a watch; `loaded`: after a reconnection the gauge was not seen free yet.
    pub fn of(watch: &Watch, loaded: bool) -> Self {
        if loaded {
            return Self::Loaded;
        }
        match watch.step() {
            Step::Free => Self::Clamp,
            Step::Resting { reads_n } => Self::Resting { reads_n },
            Step::Rising => Self::Rising,
            Step::Hold { held_s } => Self::Hold { held_s },
            Step::StillRising { .. } => Self::StillRising,
            Step::Unclamp { .. } => Self::Unclamp,
            Step::WaitFree { .. } => Self::Released,
            Step::Done => Self::Done,
        }
    }

    /// Whether the technician would be told the same.
    pub fn is_like(self, other: Self) -> bool {
        std::mem::discriminant(&self) == std::mem::discriminant(&other)
    }

    /// What the gauge's light shows; none where it stays as it is.
    pub fn signal(self) -> Option<Signal> {
        match self {
            Self::Loaded | Self::Unclamp | Self::Resting { .. } => Some(Signal::Unclamp),
            Self::Clamp => Some(Signal::Wait),
            Self::Hold { .. } | Self::StillRising => Some(Signal::Hold),
            Self::Rising | Self::Released | Self::Done => None,
        }
    }

    /// Bells at its beginning: as many as the light blinks, five where something is wrong.
    pub fn bells(self) -> u8 {
        match self {
            Self::Clamp => 1,
            Self::Hold { .. } => 2,
            Self::Unclamp => 3,
            Self::Loaded | Self::Resting { .. } => 5,
            Self::StillRising | Self::Rising | Self::Released | Self::Done => 0,
        }
    }
}

/// What is shown of the clamps so far.
#[derive(Debug, Default)]
pub struct Clamps {
    columns: Vec<Column>,
    /// Force along the hold of the clamp under way, N.
    hold: Vec<f64>,
    hold_s: f64,
    /// When the next point of it is due, s.
    next_s: f64,
    level_n: Option<f64>,
    last: Option<u32>,
}

impl Clamps {
    /// Follows the clamp under way.
    pub fn follow(&mut self, stage: Stage, load_n: f64) {
        match stage {
            Stage::Rising => self.hold.clear(),
            Stage::Hold { held_s } => {
                if self.hold.is_empty() || held_s >= self.next_s {
                    self.next_s = held_s + 1.0 / POINTS_PER_S;
                    self.hold.push(load_n);
                }
                self.hold_s = held_s;
            }
            Stage::Clamp => self.level_n = None,
            _ => {}
        }
        if matches!(stage, Stage::Hold { .. } | Stage::StillRising) {
            self.level_n = Some(load_n);
        }
    }

    /// Takes a clamp that is in the book.
    pub fn take(&mut self, clamp: &Clamp, settings: &Settings) {
        let force_n = clamp.settled_n.or(clamp.peak_n).unwrap_or(0.0);
        let mut forces = std::mem::take(&mut self.hold);
        if forces.is_empty() {
            forces.push(force_n);
        }
        let figure = clamp
            .settled_n
            .map_or_else(|| "–".to_owned(), |n| settings.digits(n));
        self.columns.push(Column {
            label: format!("{}  {figure}", clamp.number),
            forces,
            share: 1.0,
            aside: !clamp.counted,
        });
        self.last = clamp.counted.then_some(clamp.number);
    }

    /// The clamp taken last, where it counts.
    pub fn last(&self) -> Option<u32> {
        self.last
    }

    /// The clamp taken last does not count.
    pub fn set_last_aside(&mut self) {
        if let Some(column) = self.columns.last_mut() {
            column.aside = true;
        }
        self.last = None;
    }

    fn picture(
        &self,
        stage: Stage,
        watch: &Watch,
        wanted: u32,
        limit: Option<&Limit>,
        settings: &Settings,
    ) -> Picture {
        let mut columns = self.columns.clone();
        let number = columns.len() + 1;
        let to_come = |number: usize| Column {
            label: number.to_string(),
            forces: Vec::new(),
            share: 0.0,
            aside: false,
        };
        if matches!(
            stage,
            Stage::Rising | Stage::Hold { .. } | Stage::StillRising | Stage::Unclamp
        ) {
            columns.push(Column {
                label: format!("{number}  …"),
                forces: if self.hold.is_empty() {
                    vec![watch.load_n()]
                } else {
                    self.hold.clone()
                },
                share: (self.hold_s / watch.hold_s()).min(1.0),
                aside: false,
            });
        }
        let open = wanted.saturating_sub(watch.counted()) as usize;
        let before = self.columns.len();
        while columns.len() < before + open {
            columns.push(to_come(columns.len() + 1));
        }
        Picture::Columns {
            columns,
            limit: limit.map(|limit| (limit.limit, settings.digits(limit.limit))),
        }
    }
}

/// What the technician does now, in one line.
pub fn line(stage: Stage, watch: &Watch, wanted: u32, settings: &Settings) -> Option<String> {
    let long = watch.is_long_hold();
    Some(match stage {
        Stage::Loaded => "Gauge loaded: unclamp it, hold it free, then go on.".to_owned(),
        Stage::Clamp => {
            let last = if long {
                " Last clamp: hold 30 s, it shows whether the force drops."
            } else {
                ""
            };
            format!(
                "Clamp {} of {wanted}: clamp now.{last}",
                watch.counted() + 1
            )
        }
        Stage::Resting { reads_n } => let_it_hang(settings.force(reads_n), reads_n),
        Stage::Hold { .. } if long => "  hold … (30 s, the last clamp)".to_owned(),
        Stage::Hold { .. } => "  hold …".to_owned(),
        Stage::StillRising => "  still rising: hold longer …".to_owned(),
        Stage::Unclamp => "  now unclamp.".to_owned(),
        Stage::Rising | Stage::Released | Stage::Done => return None,
    })
}

/// Nothing is taken for free that is not, and nothing waits for it: whoever clamps all the same finds it in the notes.
fn let_it_hang(force: String, reads_n: f64) -> String {
    if reads_n < 0.0 {
        format!("The gauge reads {force}: it rests on something. Let it hang free.")
    } else {
        format!(
            "The gauge reads {force}: something pulls at it, or it did not hang free at the beginning. Let it hang free; \
             if it does, begin again with --new."
        )
    }
}

/// What is shown of a check under way.
#[derive(Debug)]
pub struct CheckSoFar<'a> {
    /// Which check, by which gauge.
    pub subject: &'a Subject,
    /// The forces so far.
    pub watch: &'a Watch,
    /// The clamps.
    pub clamps: &'a Clamps,
    /// How many must count.
    pub wanted: u32,
    /// What it is held to.
    pub limits: &'a [Limit],
    /// The mean of the last time.
    pub last_mean: Option<&'a LastTime>,
    /// What the cable lost.
    pub damage: Damage,
}

/// The picture of a stage.
pub fn scene(stage: Stage, so_far: &CheckSoFar<'_>, settings: &Settings) -> Scene {
    let CheckSoFar {
        subject,
        watch,
        clamps,
        wanted,
        limits,
        last_mean,
        damage,
    } = *so_far;
    let limit = mean_limit(limits);
    let (word, sentence) = said(stage, watch);
    let figure_n = match stage {
        // The figure stands still while the eyes are at the spindle.
        Stage::Unclamp => clamps.level_n.unwrap_or(watch.load_n()),
        _ => watch.load_n(),
    };
    Scene {
        ground: ground(stage, watch),
        word,
        count: Some(Count {
            done: watch.counted() as usize,
            under_way: matches!(
                stage,
                Stage::Rising | Stage::Hold { .. } | Stage::StillRising | Stage::Unclamp
            ),
            wanted: wanted as usize,
        }),
        sentence,
        figure: Some(settings.force_figure(figure_n)),
        beside: last_mean
            .map(|last| last_time(last, settings))
            .into_iter()
            .chain(limit.map(|limit| at_least(limit, settings)))
            .collect(),
        steps: steps(stage),
        picture: clamps.picture(stage, watch, wanted, limit, settings),
        link: scene_words::link(subject, damage, stage.signal()),
        keys: handling::keys(stage, clamps.last()),
        ..Scene::new(subject.title.clone())
    }
}

fn ground(stage: Stage, watch: &Watch) -> Ground {
    match stage {
        Stage::Loaded | Stage::Resting { .. } => Ground::Hatched,
        Stage::Hold { held_s } => Ground::Filling(held_s / watch.hold_s()),
        Stage::StillRising => Ground::Filling(0.97),
        Stage::Unclamp => Ground::Full,
        Stage::Clamp | Stage::Rising | Stage::Released | Stage::Done => Ground::Plain,
    }
}

/// The word for two metres, and the sentence for the laptop.
fn said(stage: Stage, watch: &Watch) -> (String, String) {
    let long = watch.is_long_hold();
    let (word, sentence) = match stage {
        Stage::Loaded => (
            "NOT FREE".to_owned(),
            "Something pulls at the gauge. Its zero cannot be taken like this.",
        ),
        Stage::Clamp if long => (
            "CLAMP".to_owned(),
            "The last one: hold it 30 s, it shows whether the force drops.",
        ),
        Stage::Clamp => (
            "CLAMP".to_owned(),
            "Clamp when you are ready. The force starts the count, no key.",
        ),
        Stage::Resting { reads_n } if reads_n < 0.0 => (
            "NOT FREE".to_owned(),
            "The gauge rests on something. It would read every clamp too high.",
        ),
        Stage::Resting { .. } => (
            "NOT FREE".to_owned(),
            "Something pulls at the gauge, or it did not hang free at the beginning.",
        ),
        Stage::Rising => ("HOLD".to_owned(), "The force comes. Hold it."),
        Stage::Hold { held_s } => {
            let left = (watch.hold_s() - held_s).ceil().max(1.0);
            let sentence = if long {
                "Last one: hold on, the slow drop is being read."
            } else {
                "Hold it. The word changes when it is enough."
            };
            (format!("HOLD {left:.0}"), sentence)
        }
        Stage::StillRising => ("HOLD".to_owned(), "The force still rises. Hold it longer."),
        Stage::Unclamp => (
            "UNCLAMP".to_owned(),
            "Enough. Hold the gauge from below, then press unclamp.",
        ),
        Stage::Released => (
            "WAIT".to_owned(),
            "Hold the gauge free, knob touching nothing. Its zero is being taken.",
        ),
        Stage::Done => ("DONE".to_owned(), "All clamps are in."),
    };
    (word, sentence.to_owned())
}

fn steps(stage: Stage) -> Vec<String> {
    let steps: &[&str] = match stage {
        Stage::Loaded => &[
            "Unclamp it.",
            "Hold it, knob touching nothing.",
            "It goes on by itself.",
        ],
        Stage::Resting { reads_n } if reads_n < 0.0 => &[
            "Lift it off the push-out.",
            "Hold it, knob touching nothing.",
            "It goes on by itself.",
        ],
        Stage::Resting { .. } => &[
            "Hold it, knob touching nothing.",
            "It hangs free already? Stop, and begin again with --new.",
        ],
        _ => &[],
    };
    steps.iter().map(|step| (*step).to_owned()).collect()
}

/// The limit on the mean, the one that is seen from two metres.
fn mean_limit(limits: &[Limit]) -> Option<&Limit> {
    limits
        .iter()
        .find(|limit| limit.figure == Figure::GripMean && limit.side == Side::Lower)
}

fn last_time(last: &LastTime, settings: &Settings) -> Beside {
    Beside {
        digits: settings.digits(last.value),
        what: vec!["last time".to_owned(), last.day.clone()],
    }
}

/// Nothing is read until somebody goes on.
pub fn paused(so_far: &CheckSoFar<'_>, settings: &Settings) -> Scene {
    Scene {
        ground: Ground::Plain,
        word: "PAUSED".to_owned(),
        sentence: "Nothing is read. What was taken is in the book.".to_owned(),
        figure: None,
        steps: Vec::new(),
        link: scene_words::link(so_far.subject, so_far.damage, Some(Signal::Off)),
        keys: vec![Key::new("Space", "go on"), Key::new("Q", "stop")],
        ..scene(Stage::Clamp, so_far, settings)
    }
}

fn at_least(limit: &Limit, settings: &Settings) -> Beside {
    let share = limit.share.as_ref().map(|share| {
        format!(
            "{:.0} % of {}",
            share.percent,
            settings.digits(share.nominal)
        )
    });
    let from = share.unwrap_or_else(|| limit.provenance.words().to_owned());
    Beside {
        digits: settings.digits(limit.limit),
        what: vec!["at least".to_owned(), from],
    }
}

/// How the check ended, word first and big. None where there is no figure to show.
pub fn judged(
    result: &GripResult,
    subject: &Subject,
    last_mean: Option<&LastTime>,
    settings: &Settings,
) -> Option<Scene> {
    let statistics = result.statistics.as_ref()?;
    let outcome = result.verdict.as_ref().map(|verdict| verdict.outcome);
    let word = outcome.map_or("not judged", words::outcome).to_uppercase();
    let spread = result.uncertainty.as_ref().map(|budget| budget.expanded_n);
    let with = spread.map_or_else(String::new, |spread| {
        format!(" ± {}", settings.force_spread(spread, statistics.mean_n))
    });
    let clamps = if statistics.count == 1 {
        "clamp"
    } else {
        "clamps"
    };
    let judged = result.verdict.as_ref().and_then(|verdict| {
        let mean =
            |judged: &&holdtrue_metrology::decision::Judged| judged.figure == Figure::GripMean;
        verdict.limits.iter().find(mean)
    });
    let at_least = judged.map_or_else(
        || " No limit was set.".to_owned(),
        |judged| {
            format!(
                " {}.",
                words::capital(&words::limit_in_full(judged, |value| settings.force(value)))
            )
        },
    );
    let mut lines = scene_words::under_verdict(&settings.words(result));
    if let Some(with) = &result.with_discarded {
        lines.insert(0, grip_words::with_discarded(with, settings));
    }
    Some(Scene {
        corner: "in the book".to_owned(),
        word,
        sentence: format!(
            "Mean of {} {clamps} {}{with}.{at_least}",
            statistics.count,
            settings.force(statistics.mean_n)
        ),
        figure: Some(settings.force_figure(statistics.mean_n)),
        beside: last_mean
            .map(|last| last_time(last, settings))
            .into_iter()
            .chain([Beside {
                digits: settings.digits(statistics.lowest_n),
                what: vec!["lowest".to_owned()],
            }])
            .collect(),
        picture: judged.map_or(Picture::None, |judged| {
            Picture::Strip(Strip {
                value: (judged.measured, settings.digits(judged.measured)),
                uncertainty: judged.guard,
                limit: (judged.limit, settings.digits(judged.limit)),
                lower: judged.side == Side::Lower,
                last: last_mean.map(|last| (last.value, settings.digits(last.value))),
            })
        }),
        lines,
        link: crate::visits::cautions::LAST_LINE.to_owned(),
        keys: vec![Key::new("Space", "leave this picture")],
        ..Scene::new(subject.title.clone())
    })
}
