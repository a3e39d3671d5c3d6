//! What the technician is led through, position by position. In: what is waited for, what was read so far. Out: one stage, and
//! of it the line, the light, the bells and the picture, so that all four always say the same.

use crate::runout::plan::{PlannedPlane, TURNING};
use crate::terminal::keys::BIG_KEYS;
use crate::terminal::scene_words;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use crate::terminal::verdict_words;
use crate::visits::cautions;
use crate::visits::cautions::MachineState;
use holdtrue_gauge::link::Damage;
use holdtrue_metrology::decision::{Judged, Side};
use holdtrue_metrology::runout::RunoutResult;
use holdtrue_protocol::message::Signal;
use holdtrue_screen::{Beside, Circle, Ground, Key, Picture, Position, Scene, Strip};
use holdtrue_wording::words;

/// Positions side by side in a row of the table.
const A_ROW: usize = 8;

/// How the spindle is turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Turn {
    /// From position to position.
    Stepped {
        /// Positions round the turn.
        positions: u32,
        /// Seconds for a turn and a hold; none: each is read when somebody says so.
        rhythm_s: Option<f64>,
    },
    /// Without stopping, for so many seconds.
    Free {
        /// How long.
        seconds: f64,
    },
    /// Without stopping, so often past the mark.
    Marked {
        /// Whole turns.
        turns: u32,
    },
}

/// What the technician is to do now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stage {
    /// The readings begin.
    Begin {
        /// Somebody at the keyboard can say "now".
        keys: bool,
        /// So can the gauge's button.
        button: bool,
    },
    /// In a rhythm: hold still.
    Hold,
    /// Somebody said "now": it is read as soon as it stands still.
    Reading,
    /// It should stand still by now.
    Moving,
    /// A reading was taken: turn on.
    Taken {
        /// Which position, counted from 0; one more than there are is the one back at the first.
        position: u32,
        /// What it read less what the first did, µm.
        from_first_um: f64,
    },
    /// The light asks to turn on.
    TurnOn,
    /// Turn back to this position, counted from 0: it is read again.
    Again {
        /// Which.
        position: u32,
    },
    /// A whole turn past the mark.
    Turned {
        /// How many so far.
        done: u32,
    },
    /// The readings contradict each other: again, or kept?
    Doubt,
    /// The rhythm is stopped.
    Paused,
    /// The rhythm runs again, with this position, counted from 0.
    GoingOn {
        /// Which.
        position: u32,
    },
}

impl Stage {
    /// What the gauge's light shows; none where it stays as it is.
    pub fn signal(self, turn: Turn) -> Option<Signal> {
        match (self, turn) {
            (Self::Begin { .. }, Turn::Stepped { .. }) | (Self::Hold | Self::Reading, _) => {
                Some(Signal::Hold)
            }
            (
                Self::Taken { position, .. },
                Turn::Stepped {
                    positions,
                    rhythm_s: Some(_),
                },
            ) if position < positions => Some(Signal::Turn),
            (Self::Taken { .. }, _) => Some(Signal::Taken),
            (Self::TurnOn | Self::Again { .. }, _) => Some(Signal::Turn),
            (Self::Doubt, _) => Some(Signal::Fault),
            (Self::Paused, _) => Some(Signal::Off),
            // To turn on would be one position too far for who stands at this one.
            (Self::GoingOn { .. }, _) => Some(Signal::Wait),
            (Self::Begin { .. } | Self::Moving | Self::Turned { .. }, _) => None,
        }
    }

    /// Bells at its beginning: one to turn on, two to hold still, five where something is wrong.
    pub fn bells(self, turn: Turn) -> u8 {
        match (self, turn) {
            (Self::Begin { .. }, Turn::Stepped { .. }) => 2,
            (Self::Hold | Self::Reading | Self::Moving, _) => 2,
            (
                Self::Begin { .. } | Self::Taken { .. } | Self::Again { .. } | Self::GoingOn { .. },
                _,
            ) => 1,
            (Self::Doubt, _) => 5,
            (Self::TurnOn | Self::Turned { .. } | Self::Paused, _) => 0,
        }
    }

    /// What the technician does now, in one line.
    pub fn line(self, turn: Turn, settings: &Settings) -> Option<String> {
        Some(match self {
            Self::Begin { keys, button } => begin_line(turn, keys, button),
            Self::Hold => "  hold".to_owned(),
            Self::Moving => "  still moving: hold still".to_owned(),
            Self::Taken {
                position,
                from_first_um,
            } => taken_line(turn, position, from_first_um, settings),
            Self::Again { position } => {
                let name = name(turn, position);
                let press = match turn {
                    Turn::Stepped {
                        rhythm_s: Some(_), ..
                    } => "",
                    _ => ", then press.",
                };
                format!("  position {name} again: turn to it{press}")
            }
            Self::Turned { done } => match turn {
                Turn::Marked { turns } => format!("  turn {done} of {turns}"),
                _ => return None,
            },
            Self::Paused => "  paused: nothing is read until Space".to_owned(),
            Self::GoingOn { position } => format!(
                "  going on with position {}: turn to it, unless it stands there",
                name(turn, position)
            ),
            Self::Reading | Self::TurnOn | Self::Doubt => return None,
        })
    }
}

fn begin_line(turn: Turn, keys: bool, button: bool) -> String {
    let positions = match turn {
        Turn::Free { seconds } => {
            return format!("Turn slowly and steadily, one direction, for {seconds:.0} s.");
        }
        Turn::Marked { turns } => {
            return format!(
                "Turn slowly and steadily, one direction, {turns} whole turns past the mark."
            );
        }
        Turn::Stepped {
            rhythm_s: Some(rhythm_s),
            ..
        } => {
            return format!(
                "In a rhythm of {rhythm_s} s: turn to the next position when told, then hold still. Position 1 first: hold still."
            );
        }
        Turn::Stepped { positions, .. } => positions,
    };
    let who = match (keys, button) {
        (true, true) => format!("Press ({BIG_KEYS}, or the button at the gauge)"),
        (true, false) => format!("Press ({BIG_KEYS})"),
        (false, _) => "Press the button at the gauge".to_owned(),
    };
    let back = if keys {
        " PageUp or the left arrow takes the last one back."
    } else {
        ""
    };
    format!(
        "Stand at position 1 of {positions}. {who} when it stands still: one press, one reading.{back}"
    )
}

fn taken_line(turn: Turn, position: u32, from_first_um: f64, settings: &Settings) -> String {
    let positions = positions(turn);
    let reading = settings.length(from_first_um);
    if position == positions {
        return format!("  back at position 1: {reading} from the first");
    }
    let next = if position + 1 == positions {
        "turn on, back to position 1".to_owned()
    } else {
        format!("turn to position {}", position + 2)
    };
    format!(
        "  position {} of {positions}: {reading} from the first; {next}",
        position + 1,
    )
}

fn positions(turn: Turn) -> u32 {
    match turn {
        Turn::Stepped { positions, .. } => positions,
        Turn::Free { .. } | Turn::Marked { .. } => 0,
    }
}

/// A position's name, counted from 1.
fn name(turn: Turn, position: u32) -> String {
    if position >= positions(turn) {
        "1, all the way round".to_owned()
    } else {
        (position + 1).to_string()
    }
}

/// How far a step with a time of its own is.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Gone {
    /// Share of its time, 0 to 1.
    pub share: f64,
    /// What is left, s.
    pub left_s: f64,
}

impl Gone {
    /// So many seconds of so many.
    pub fn of(gone_s: f64, lasts_s: f64) -> Self {
        Self {
            share: (gone_s / lasts_s).clamp(0.0, 1.0),
            left_s: (lasts_s - gone_s).max(0.0),
        }
    }
}

/// What is shown of a plane under way.
#[derive(Debug)]
pub struct PlaneSoFar<'a> {
    /// Which check, by which gauge.
    pub subject: &'a Subject,
    /// The plane.
    pub planned: &'a PlannedPlane,
    /// Its number, and how many there are.
    pub plane: (u32, usize),
    /// How often the bar is seated in all.
    pub seatings: Option<u32>,
    /// How it is turned.
    pub turn: Turn,
    /// Readings taken, µm.
    pub taken_um: Vec<f64>,
    /// What the indicator reads now, µm.
    pub now_um: Option<f64>,
    /// How far the step of now is.
    pub gone: Gone,
    /// What the readings contradict each other in.
    pub doubt: Option<&'a str>,
    /// What the cable lost.
    pub damage: Damage,
}

/// The picture of a stage.
pub fn scene(stage: Stage, so_far: &PlaneSoFar<'_>, settings: &Settings) -> Scene {
    let turn = so_far.turn;
    let (word, sentence) = said(stage, so_far);
    let first_um = so_far.taken_um.first().copied();
    let from_first = |um: f64| um - first_um.unwrap_or(0.0);
    let rows = table(so_far, settings);
    Scene {
        ground: ground(stage, so_far),
        word,
        sentence,
        figure: so_far
            .now_um
            .map(|um| settings.length_figure(from_first(um))),
        picture: picture(so_far),
        lines: lines(stage, so_far, settings),
        details: rows,
        link: scene_words::link(so_far.subject, so_far.damage, stage.signal(turn)),
        keys: keys(stage, so_far),
        ..Scene::new(so_far.subject.title.clone())
    }
}

fn ground(stage: Stage, so_far: &PlaneSoFar<'_>) -> Ground {
    let rhythm = matches!(
        so_far.turn,
        Turn::Stepped {
            rhythm_s: Some(_),
            ..
        }
    );
    match stage {
        Stage::Begin { .. } if !matches!(so_far.turn, Turn::Stepped { .. }) => {
            Ground::Filling(so_far.gone.share)
        }
        Stage::Turned { .. } => Ground::Filling(so_far.gone.share),
        Stage::Begin { .. } if rhythm => Ground::Full,
        Stage::Hold | Stage::Reading | Stage::Moving => Ground::Full,
        Stage::Taken { .. } | Stage::Again { .. } | Stage::GoingOn { .. } if rhythm => {
            Ground::Filling(so_far.gone.share)
        }
        Stage::Doubt => Ground::Hatched,
        Stage::Begin { .. }
        | Stage::Taken { .. }
        | Stage::TurnOn
        | Stage::Again { .. }
        | Stage::GoingOn { .. }
        | Stage::Paused => Ground::Plain,
    }
}

/// The word for two metres, and the sentence for the laptop.
fn said(stage: Stage, so_far: &PlaneSoFar<'_>) -> (String, String) {
    let still = |left_s: f64| match left_s {
        left if left > 0.0 => format!("HOLD {:.0}", left.ceil()),
        _ => "HOLD".to_owned(),
    };
    let rhythm = matches!(
        so_far.turn,
        Turn::Stepped {
            rhythm_s: Some(_),
            ..
        }
    );
    let turn_on = || {
        let next = u32::try_from(so_far.taken_um.len()).unwrap_or(u32::MAX);
        let positions = positions(so_far.turn);
        let word = match next {
            next if next > positions => "DONE".to_owned(),
            next if next == positions => "BACK TO 1".to_owned(),
            next => format!("TURN TO {}", next + 1),
        };
        let sentence = if rhythm {
            "Turn at the nose or keys, never by the bar."
        } else {
            "Turn at the nose or keys, never by the bar. Press when it stands still."
        };
        (word, sentence.to_owned())
    };
    let round = |sentence: &str| ("TURN".to_owned(), sentence.to_owned());
    match (stage, so_far.turn) {
        (Stage::Begin { .. } | Stage::Turned { .. }, Turn::Free { .. }) => {
            round("Slowly and steadily, one direction, until the ground is full.")
        }
        (Stage::Begin { .. } | Stage::Turned { .. }, Turn::Marked { .. }) => {
            round("Slowly and steadily, one direction, past the mark.")
        }
        (Stage::Begin { .. }, _) if rhythm => (
            still(so_far.gone.left_s),
            "Position 1 first. Hold it still; it is read when the count ends.".to_owned(),
        ),
        (Stage::Begin { keys: true, .. }, _) => (
            "PRESS".to_owned(),
            "At position 1, when it stands still: one press, one reading.".to_owned(),
        ),
        (Stage::Begin { .. }, _) => (
            "PRESS".to_owned(),
            "The gauge's button, at position 1, when it stands still.".to_owned(),
        ),
        (Stage::Hold, _) => (
            still(so_far.gone.left_s),
            "Hold it still. It is read when the count ends.".to_owned(),
        ),
        (Stage::Reading, _) => (
            "HOLD".to_owned(),
            "Hold it still. It is being read.".to_owned(),
        ),
        (Stage::Moving, _) => (
            "HOLD".to_owned(),
            "It still moves. Hold it still; it is read as soon as it rests.".to_owned(),
        ),
        (Stage::Again { position }, _) => {
            let sentence = format!(
                "Position {} is read again. Turn to it{}",
                name(so_far.turn, position),
                if rhythm { "." } else { ", then press." }
            );
            (turn_on().0, sentence)
        }
        (Stage::Paused, _) => (
            "PAUSED".to_owned(),
            "Nothing is read. What was taken stays.".to_owned(),
        ),
        (Stage::GoingOn { position }, _) => {
            let name = name(so_far.turn, position);
            let sentence = format!("Position {name} is next: turn to it, unless it stands there.");
            (turn_on().0, sentence)
        }
        (Stage::Doubt, _) => {
            let sentence = so_far.doubt.unwrap_or_default().to_owned();
            ("AGAIN".to_owned(), sentence)
        }
        (Stage::Taken { .. } | Stage::TurnOn | Stage::Turned { .. }, _) => turn_on(),
    }
}

/// Where the readings lie round the turn, and the one that is waited for.
fn picture(so_far: &PlaneSoFar<'_>) -> Picture {
    let count = positions(so_far.turn);
    if count == 0 {
        return Picture::None;
    }
    let taken = so_far.taken_um.len();
    let next = taken % count as usize;
    let positions = (0..count as usize).map(|place| Position {
        reading: so_far.taken_um.get(place).copied(),
        next: place == next,
    });
    let place = f64::from(u32::try_from(next).unwrap_or(0)) / f64::from(count);
    Picture::Circle(Circle {
        positions: positions.collect(),
        now: so_far.now_um.map(|um| (um, place)),
    })
}

/// Where it is read, and how far it runs out so far.
fn lines(stage: Stage, so_far: &PlaneSoFar<'_>, settings: &Settings) -> Vec<String> {
    let (number, of) = so_far.plane;
    let mut facts = vec![so_far.planned.named(so_far.seatings)];
    if of > 1 {
        facts.push(format!("plane {number} of {of}"));
    }
    let mut lines = vec![facts.join(" · ")];
    if stage == Stage::Doubt {
        lines.insert(
            0,
            "R reads again from there on, K keeps it with a remark.".to_owned(),
        );
    }
    if so_far.taken_um.len() > 1 {
        let most = so_far.taken_um.iter().copied().fold(f64::MIN, f64::max);
        let least = so_far.taken_um.iter().copied().fold(f64::MAX, f64::min);
        lines.push(format!(
            "runout so far {}",
            settings.length_short(most - least)
        ));
    }
    if let (Stage::Turned { done }, Turn::Marked { turns }) = (stage, so_far.turn) {
        lines.push(format!("turn {done} of {turns}"));
    }
    lines
}

/// Position by position, from the first.
fn table(so_far: &PlaneSoFar<'_>, settings: &Settings) -> Vec<String> {
    let count = positions(so_far.turn) as usize;
    let Some(first_um) = so_far.taken_um.first() else {
        return Vec::new();
    };
    let cell = |place: usize| {
        let name = if place == count {
            "1".to_owned()
        } else {
            (place + 1).to_string()
        };
        let read = match so_far.taken_um.get(place) {
            Some(um) => signed(um - first_um, settings),
            None if place == so_far.taken_um.len() => "…".to_owned(),
            None => "·".to_owned(),
        };
        format!("{name:>2} {read:<6}")
    };
    let cells: Vec<String> = (0..=count).map(cell).collect();
    let rows = cells.chunks(A_ROW);
    rows.map(|row| row.concat().trim_end().to_owned()).collect()
}

/// Outwards is plus.
fn signed(um: f64, settings: &Settings) -> String {
    let digits = settings.length_figure(um).digits;
    let plus = um > 0.0 && digits.bytes().any(|digit| (b'1'..=b'9').contains(&digit));
    if plus { format!("+{digits}") } else { digits }
}

/// The keys that work now.
fn keys(stage: Stage, so_far: &PlaneSoFar<'_>) -> Vec<Key> {
    let mut keys = Vec::new();
    let waits = matches!(
        stage,
        Stage::Begin { .. } | Stage::Taken { .. } | Stage::TurnOn | Stage::Again { .. }
    );
    let stepped = matches!(so_far.turn, Turn::Stepped { .. });
    let told = matches!(so_far.turn, Turn::Stepped { rhythm_s: None, .. });
    if stage == Stage::Doubt {
        keys.extend([
            Key::new("R", "read again from there"),
            Key::new("K", "keep"),
        ]);
    } else if stage == Stage::Paused {
        keys.push(Key::new("Space", "go on"));
    } else if told && waits {
        keys.push(Key::new("Space", "take it"));
    }
    if !matches!(stage, Stage::Doubt | Stage::Paused) && stepped {
        if !so_far.taken_um.is_empty() {
            keys.push(Key::new("PageUp", "last one back"));
        }
        if !told {
            keys.push(Key::new("P", "pause"));
        }
    }
    keys.extend([
        Key::new("N", "note"),
        Key::new("F", "finding"),
        Key::new("Q", "stop"),
    ]);
    keys
}

/// The plane is to be set up, and somebody says when it is.
pub fn set_up(
    planned: &PlannedPlane,
    instruction: &str,
    plane: (u32, usize),
    subject: &Subject,
) -> Scene {
    let (number, of) = plane;
    Scene {
        word: "SET UP".to_owned(),
        sentence: instruction.to_owned(),
        lines: vec![
            format!(
                "Plane {number} of {of}. Press when it is set and the spindle stands at position 1."
            ),
            match planned.stops() {
                Some(_) => TURNING.to_owned(),
                None => {
                    "Then turn by hand at the nose or the drive keys, never by the bar.".to_owned()
                }
            },
        ],
        link: subject.gauge.clone(),
        keys: vec![Key::new("Space", "it is set"), Key::new("Q", "stop")],
        ..Scene::new(subject.title.clone())
    }
}

/// The machine is made live for one act, or isolated again after it.
pub fn change_over(state: MachineState, line: &str, subject: &Subject) -> Scene {
    let (word, lines) = match state {
        MachineState::Live => (
            "MACHINE LIVE",
            vec![
                "Only to clamp and unclamp: hands clear, nobody else at the panel.".to_owned(),
                "No finger inside the taper, ever.".to_owned(),
            ],
        ),
        MachineState::Isolated => (
            "LOCK OUT",
            vec!["Before anybody turns, wipes or sets an indicator.".to_owned()],
        ),
    };
    Scene {
        ground: Ground::Full,
        word: word.to_owned(),
        sentence: words::capital(line),
        lines,
        link: subject.gauge.clone(),
        keys: vec![Key::new("Enter", "it is so"), Key::new("Q", "stop")],
        ..Scene::new(subject.title.clone())
    }
}

/// How the check ended, word first and big. None where there is no figure to show.
pub fn judged(result: &RunoutResult, subject: &Subject, settings: &Settings) -> Option<Scene> {
    let check = settings.words(result);
    let mut lines = scene_words::under_verdict(&check);
    let scene = Scene {
        corner: "in the book".to_owned(),
        link: cautions::LAST_LINE.to_owned(),
        keys: vec![Key::new("Space", "leave this picture")],
        ..Scene::new(subject.title.clone())
    };
    let Some(verdict) = &result.verdict else {
        let tirs = result.planes.iter().filter_map(|plane| plane.tir_um);
        let largest_um = tirs.clone().reduce(f64::max)?;
        let planes = match tirs.count() {
            1 => "TIR of the plane".to_owned(),
            some => format!("Largest TIR of {some} planes"),
        };
        return Some(Scene {
            word: "NOT JUDGED".to_owned(),
            sentence: format!(
                "{planes} {}. No limit was set.",
                settings.length(largest_um)
            ),
            figure: Some(settings.length_figure(largest_um)),
            lines,
            ..scene
        });
    };
    // The limit that made the outcome what it is.
    let decides = |judged: &&Judged| judged.outcome == verdict.outcome;
    let judged = verdict.limits.iter().find(decides)?;
    let others = verdict.limits.iter().filter(|other| *other != judged);
    let others: Vec<String> = others
        .map(|other| verdict_words::judged(other, settings).trim().to_owned())
        .collect();
    lines.splice(0..0, others);
    let unit = |value| settings.in_unit(value, &judged.unit);
    Some(Scene {
        word: words::outcome(verdict.outcome).to_uppercase(),
        sentence: format!(
            "{}{} {} ± {}. {}.",
            words::capital(judged.figure.words()),
            verdict_words::at_height(judged.height_mm),
            unit(judged.measured),
            settings.spread_in_unit(judged.guard, judged.measured, &judged.unit),
            words::capital(&words::limit_in_full(judged, unit)),
        ),
        figure: Some(settings.length_figure(judged.measured)),
        beside: vec![Beside {
            digits: settings.length_figure(judged.limit).digits,
            what: vec!["at most".to_owned(), judged.provenance.words().to_owned()],
        }],
        picture: Picture::Strip(Strip {
            value: (
                judged.measured,
                settings.length_figure(judged.measured).digits,
            ),
            uncertainty: judged.guard,
            limit: (judged.limit, settings.length_figure(judged.limit).digits),
            lower: judged.side == Side::Lower,
            last: None,
        }),
        lines,
        ..scene
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runout::arguments::{PlaceArgs, Way};
    use holdtrue_metrology::runout as metrology;
    use holdtrue_metrology::runout::{Place, RunoutRecord, RunoutSetup};
    use holdtrue_screen::{Ability, draw};
    use holdtrue_terms::vocabulary::{At, Provenance};
    use ratatui_core::buffer::{Buffer, Cell};
    use ratatui_core::layout::Rect;
    use ratatui_core::style::Modifier;
    use std::fmt::Write;

    fn drawn(scene: &Scene, columns: u16, rows: u16, ability: Ability) -> Buffer {
        let scene = Scene {
            corner: "07:31 (UTC+1)".to_owned(),
            ..scene.clone()
        };
        draw(&scene, Rect::new(0, 0, columns, rows), ability)
    }

    fn line(cells: &[Cell]) -> String {
        cells.iter().map(Cell::symbol).collect()
    }

    /// The cells as text, each row with how many of them are reversed.
    fn shown(buffer: &Buffer) -> String {
        let mut text = String::new();
        for cells in buffer.content.chunks(usize::from(buffer.area.width)) {
            let is_reversed = |cell: &&Cell| cell.modifier.contains(Modifier::REVERSED);
            let reversed = cells.iter().filter(is_reversed).count();
            let _ = writeln!(text, "{reversed:3}r |{}|", line(cells));
        }
        text
    }

    fn bar() -> PlannedPlane {
        PlannedPlane {
            place: PlaceArgs {
                at: Some(At::Bar),
                height_mm: Some(20.0),
                seating: Some(2),
                orientation_deg: Some(180.0),
            },
            way: Way::default(),
        }
    }

    fn subject() -> Subject {
        Subject {
            title: "Runout, as found · Centre 2, 7/24-40".to_owned(),
            gauge: "gauge TP-0042 on /dev/ttyACM0".to_owned(),
        }
    }

    fn so_far<'a>(
        subject: &'a Subject,
        planned: &'a PlannedPlane,
        rhythm_s: Option<f64>,
        taken_um: &[f64],
        now_um: f64,
    ) -> PlaneSoFar<'a> {
        PlaneSoFar {
            subject,
            planned,
            plane: (5, 10),
            seatings: Some(4),
            turn: Turn::Stepped {
                positions: 8,
                rhythm_s,
            },
            taken_um: taken_um.to_vec(),
            now_um: Some(now_um),
            gone: Gone::default(),
            doubt: None,
            damage: Damage::default(),
        }
    }

    /// A turn of which the readings are known, held to a limit.
    fn result() -> RunoutResult {
        let place = Place {
            at: Some(At::Bar),
            height_mm: Some(20.0),
            seating: Some(2),
            orientation_deg: Some(180.0),
        };
        let record =
            RunoutRecord::typed(place, &[0.0, 1.2, 2.2, 2.6, 2.1, 1.0, -0.3, -0.6, 0.1], 8);
        let setup = RunoutSetup {
            limits: vec![holdtrue_metrology::decision::Limit {
                figure: holdtrue_metrology::decision::Figure::Tir,
                height_mm: Some(20.0),
                side: Side::Upper,
                limit: 10.0,
                unit: "um".to_owned(),
                provenance: Provenance::Maker,
                watch: None,
                share: None,
            }],
            indicator: Some(metrology::Indicator::in_force(0.8)),
            ..RunoutSetup::default()
        };
        metrology::analyse(&record, &setup).expect("a result")
    }

    fn scenes() -> Vec<(&'static str, Scene)> {
        let (subject, planned, settings) = (subject(), bar(), Settings::default());
        let read = [10.0, 11.2, 12.2];
        let gone = |share, left_s| Gone { share, left_s };
        let told = so_far(&subject, &planned, None, &read, 8.9);
        let mut paced = so_far(&subject, &planned, Some(6.0), &read, 8.0);
        paced.gone = gone(0.25, 2.7);
        let mut turning = so_far(&subject, &planned, Some(6.0), &read, 8.9);
        turning.gone = gone(0.5, 1.2);
        let around = [10.0, 11.2, 11.2, 12.6, 12.1, 11.0, 9.7, 9.4, 10.1];
        let mut doubted = so_far(&subject, &planned, None, &around, 10.1);
        doubted.doubt = Some("The reading back at position 1 is not what it was at first.");
        let mut marked = so_far(&subject, &planned, None, &[], 8.9);
        marked.turn = Turn::Marked { turns: 4 };
        marked.gone = gone(0.5, 0.0);
        let taken = Stage::Taken {
            position: 2,
            from_first_um: 2.2,
        };
        let instruction = planned.instruction(None);
        vec![
            ("turn", scene(Stage::TurnOn, &told, &settings)),
            ("read", scene(Stage::Reading, &told, &settings)),
            ("paced-turn", scene(taken, &turning, &settings)),
            ("paced-hold", scene(Stage::Hold, &paced, &settings)),
            ("doubt", scene(Stage::Doubt, &doubted, &settings)),
            (
                "marked",
                scene(Stage::Turned { done: 2 }, &marked, &settings),
            ),
            ("set-up", set_up(&planned, &instruction, (5, 10), &subject)),
            (
                "live",
                change_over(
                    MachineState::Live,
                    "live: unclamp, turn the bar to 180°, clamp it twice, hands clear; then Enter",
                    &subject,
                ),
            ),
            (
                "judged",
                judged(&result(), &subject, &settings).expect("a verdict"),
            ),
        ]
    }

    #[test]
    fn the_screens_at_80_by_24_at_200_by_60_and_without_signs() {
        for (name, scene) in scenes() {
            let small = drawn(&scene, 80, 24, Ability::Unicode);
            insta::assert_snapshot!(format!("{name}-80x24"), shown(&small));
            let ascii = shown(&drawn(&scene, 80, 24, Ability::Ascii));
            assert!(ascii.is_ascii(), "{name}:\n{ascii}");
            if matches!(name, "turn" | "judged") {
                insta::assert_snapshot!(format!("{name}-80x24-ascii"), ascii);
                let large = drawn(&scene, 200, 60, Ability::Unicode);
                insta::assert_snapshot!(format!("{name}-200x60"), shown(&large));
            }
        }
    }

    #[test]
    fn sentence_keys_and_what_a_verdict_is_not_stand_whole_on_the_smallest_screen() {
        for (name, scene) in scenes() {
            let buffer = drawn(&scene, 80, 24, Ability::Unicode);
            // Beside the circle the sentence has the left half.
            let wide = match scene.picture {
                Picture::Circle(_) => 44,
                _ => 79,
            };
            let rows = buffer.content.chunks(80);
            let text: Vec<String> = rows.clone().map(|cells| line(&cells[1..wide])).collect();
            let text = text.join(" ");
            let read: Vec<&str> = text.split_whitespace().collect();
            let sentence: Vec<&str> = scene.sentence.split_whitespace().collect();
            let whole = read.windows(sentence.len()).any(|some| some == sentence);
            assert!(whole, "{name}: {}\n{}", scene.sentence, shown(&buffer));
            let foot: Vec<String> = rows.skip(22).map(line).collect();
            let foot = foot.join("\n");
            assert!(
                scene.keys.iter().all(|key| foot.contains(&key.does)),
                "{name}: {foot}"
            );
            assert!(
                name != "judged" || foot.contains(cautions::LAST_LINE),
                "{foot}"
            );
        }
    }
}
