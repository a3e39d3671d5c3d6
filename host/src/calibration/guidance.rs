//! What somebody at a press or with gauge blocks is led through. In: the step of the plan, what the gauge reads, keys. Out: one
//! stage, and of it the light, the bells and the picture, so that all three say the same; and what was answered.

use crate::calibration::guided_steps::{Step, Unit};
use crate::terminal::keys::Stroke;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use holdtrue_gauge::link::Damage;
use holdtrue_metrology::calibration::expected::Follows;
use holdtrue_metrology::calibration::{Calibration, IndicatorCalibration};
use holdtrue_protocol::message::Signal;
use holdtrue_screen::{Beside, Column, Count, Figure, Ground, Key, Picture, Scene};
use holdtrue_wording::{digits, words};

/// What is to be done now.
#[derive(Clone, Debug, PartialEq)]
pub enum Stage {
    /// The load or the blocks are set; a key says that they stand.
    Set,
    /// It is read.
    Reading,
    /// The load stands before it is read.
    Holding {
        /// Since when, s.
        held_s: f64,
        /// For how long, s.
        of_s: f64,
    },
    /// It was not taken, because of this.
    Wrong(String),
}

impl Stage {
    /// What the gauge's light shows.
    pub fn signal(&self) -> Signal {
        match self {
            Self::Set => Signal::Wait,
            Self::Reading | Self::Holding { .. } => Signal::Hold,
            Self::Wrong(_) => Signal::Fault,
        }
    }

    /// Bells at its beginning: as many as the light blinks.
    fn bells(&self) -> u8 {
        match self {
            Self::Set => 1,
            Self::Reading | Self::Holding { .. } => 2,
            Self::Wrong(_) => 5,
        }
    }
}

/// What the gauge reads now.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Live {
    /// In the unit of the table.
    pub reading: Option<f64>,
    /// Whether it stands still; none before it was listened to for long enough.
    pub rests: Option<bool>,
}

/// What was answered.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// It stands there.
    There,
    /// It stands there, and this is what the reference shows.
    Shows(String),
    /// The last reading again.
    Back,
    /// Enough.
    Stop,
}

/// Where in the plan it is.
#[derive(Clone, Debug)]
pub struct InPlan {
    step: Step,
    /// Readings taken, and how many the plan has.
    taken: usize,
    wanted: usize,
    /// Loads or heights of the steps alike in a run, with whether they are taken.
    run: Vec<(f64, bool)>,
    follows: Follows,
}

impl InPlan {
    /// The step after the readings taken, with what they say of the next one.
    pub fn of(step: &Step, steps: &[Step], done: &[(f64, f64)], follows: Follows) -> Self {
        let number = |step: &Step| step.before.split(',').next().map(str::to_owned);
        let run = steps
            .iter()
            .enumerate()
            .filter(|(_, other)| number(other) == number(step))
            .map(|(at, other)| {
                let taken = done.get(at).map(|(value, _)| *value);
                (taken.unwrap_or(other.nominal), taken.is_some())
            })
            .collect();
        Self {
            step: step.clone(),
            taken: done.len(),
            wanted: steps.len(),
            run,
            follows,
        }
    }

    /// What the gauge reads, as load or height as soon as that is known.
    fn figure(&self, reading: f64, unit: &Unit<'_>) -> Figure {
        match self.follows.reads_as(reading) {
            Some(value) => (unit.figure)(value),
            None => (unit.reading_figure)(reading),
        }
    }
}

/// Whoever sets the loads, and what is shown to them.
pub struct Guide<'a> {
    prompt: &'a mut dyn Prompt,
    subject: &'a Subject,
    unit: &'a Unit<'a>,
    place: Option<InPlan>,
    stage: Option<Stage>,
    typed: String,
}

impl<'a> Guide<'a> {
    /// Before the first step.
    pub fn new(prompt: &'a mut dyn Prompt, subject: &'a Subject, unit: &'a Unit<'a>) -> Self {
        Self {
            prompt,
            subject,
            unit,
            place: None,
            stage: None,
            typed: String::new(),
        }
    }

    /// The step that is set now.
    pub fn begin(&mut self, place: InPlan) {
        self.place = Some(place);
        self.typed.clear();
        self.prompt.forget_typed();
    }

    /// What is to be done changes.
    pub fn lead(&mut self, stage: Stage) {
        let kind = std::mem::discriminant::<Stage>;
        if self.stage.as_ref().map(kind) != Some(kind(&stage)) {
            self.prompt.ring(stage.bells());
        }
        self.stage = Some(stage);
    }

    /// A line that the picture says already.
    pub fn say_step(&mut self, line: &str) {
        self.prompt.say_step(line);
    }

    /// A line that is news.
    pub fn say(&mut self, line: &str) {
        self.prompt.say(line);
    }

    /// Draws what the gauge reads, where a picture is wanted.
    pub fn show(&mut self, live: &dyn Fn() -> Live, damage: Damage) {
        if self.prompt.wants_scene()
            && let (Some(place), Some(stage)) = (&self.place, &self.stage)
        {
            let scene = scene(stage, place, live(), &self.typed, self.unit);
            self.prompt.show(&Scene {
                title: format!("{} · {}", self.subject.title, scene.title),
                link: scene_words::link(self.subject, damage, Some(stage.signal())),
                ..scene
            });
        }
    }

    /// What a key pressed since the last look answers, where the live screen listens.
    pub fn answer(&mut self) -> Option<Answer> {
        while let Some(stroke) = self.prompt.stroke() {
            match stroke {
                Stroke::Interrupt | Stroke::Sign('q' | 'Q') => return Some(Answer::Stop),
                Stroke::Sign(sign) if self.unit.is_shown && is_of_figure(sign) => {
                    self.typed.push(sign);
                }
                Stroke::Erase => _ = self.typed.pop(),
                Stroke::Enter if !self.typed.is_empty() => {
                    return Some(Answer::Shows(std::mem::take(&mut self.typed)));
                }
                Stroke::Enter | Stroke::Forward | Stroke::Sign(' ') if self.typed.is_empty() => {
                    return Some(Answer::There);
                }
                Stroke::Backward if self.typed.is_empty() => return Some(Answer::Back),
                _ => {}
            }
        }
        None
    }

    /// Whether somebody wants no more; what else is pressed while it is read answers nothing.
    pub fn stops(&mut self) -> bool {
        let typed = std::mem::take(&mut self.typed);
        let stops = std::iter::from_fn(|| self.answer()).any(|answer| answer == Answer::Stop);
        self.typed = typed;
        stops
    }
}

fn is_of_figure(sign: char) -> bool {
    sign.is_ascii_digit() || matches!(sign, '.' | ',')
}

/// The picture of a stage.
fn scene(stage: &Stage, place: &InPlan, live: Live, typed: &str, unit: &Unit<'_>) -> Scene {
    let InPlan {
        step,
        taken,
        wanted,
        run,
        ..
    } = place;
    let (word, ground) = match stage {
        Stage::Set => (step.word.clone(), Ground::Plain),
        Stage::Reading => (unit.still.to_owned(), Ground::Full),
        Stage::Holding { held_s, of_s } => (
            format!("HOLD {:.0}", (of_s - held_s).ceil().max(1.0)),
            Ground::Filling(held_s / of_s),
        ),
        Stage::Wrong(_) => ("NOT YET".to_owned(), Ground::Hatched),
    };
    let sentence = match stage {
        _ if !typed.is_empty() => format!("The reference shows {typed}_  Enter takes it."),
        Stage::Wrong(why) => words::capital(why),
        Stage::Reading => "Leave it as it stands. It is being read.".to_owned(),
        Stage::Holding { .. } => "Hold it there. It is read at the end.".to_owned(),
        Stage::Set => format!("{}.", step.prompt),
    };
    let rests = match live.rests {
        Some(true) => "it stands still",
        Some(false) => "it still moves",
        None => "",
    };
    let is_set = matches!(stage, Stage::Set | Stage::Wrong(_));
    let rests = (is_set && !rests.is_empty()).then(|| Beside {
        digits: String::new(),
        what: vec![rests.to_owned()],
    });
    let asked = Beside {
        digits: (unit.figure)(step.nominal).digits,
        what: vec!["asked for".to_owned()],
    };
    Scene {
        ground,
        word,
        count: Some(Count {
            done: *taken,
            under_way: *stage != Stage::Set,
            wanted: *wanted,
        }),
        sentence,
        figure: live.reading.map(|reading| place.figure(reading, unit)),
        beside: std::iter::once(asked).chain(rests).collect(),
        picture: columns(run, step),
        keys: keys(stage, *taken, unit),
        ..Scene::new(format!("reading {} of {wanted}", taken + 1))
    }
}

/// The steps of this run, a column each: those that are taken are filled.
fn columns(run: &[(f64, bool)], step: &Step) -> Picture {
    let open = run.iter().position(|(_, taken)| !taken);
    let column = |(at, (value, taken)): (usize, &(f64, bool))| Column {
        label: (at + 1).to_string(),
        // A zero that is taken is seen, too.
        forces: if *taken {
            vec![value.max(f64::MIN_POSITIVE)]
        } else {
            Vec::new()
        },
        share: 1.0,
        aside: false,
    };
    let under_way = open.map(|_| (step.nominal, String::new()));
    Picture::Columns {
        columns: run.iter().enumerate().map(column).collect(),
        limit: under_way.filter(|(value, _)| *value > 0.0),
    }
}

fn keys(stage: &Stage, taken: usize, unit: &Unit<'_>) -> Vec<Key> {
    let stop = Key::new("Q", "stop");
    if matches!(stage, Stage::Reading | Stage::Holding { .. }) {
        return vec![stop];
    }
    let there = match stage {
        Stage::Wrong(_) => "take it again",
        _ => "it stands there",
    };
    let mut keys = vec![Key::new("Space", there)];
    if unit.is_shown {
        keys.push(Key::new("0-9", "reference shows"));
    }
    if taken > 0 {
        keys.push(Key::new("PageUp", "last one back"));
    }
    keys.push(stop);
    keys
}

/// The calibration of a load cell, last and big.
pub fn calibrated(found: &Calibration, subject: &Subject, settings: &Settings) -> Scene {
    let [low, high] = found.span_n.map(|newton| settings.force(newton));
    let word = match found.class {
        Some(class) => format!("CLASS {}", class.words()),
        None => "NO CLASS".to_owned(),
    };
    let fixed = settings.small_force(found.expanded_n);
    let (figure, uncertainty) = match found.expanded_percent {
        Some(percent) => (
            Figure {
                digits: digits::fixed(percent, 3),
                unit: "% of the load".to_owned(),
            },
            format!("{percent:.3} % of the load and {fixed}"),
        ),
        None => (
            settings.force_figure(found.expanded_n),
            format!("{fixed}, the reference apart"),
        ),
    };
    let missing = found.missing.iter().chain(&found.lacking).cloned();
    let lacks = (found.class.is_none()).then(|| "For a class it lacks:".to_owned());
    Scene {
        word,
        sentence: format!("From {low} to {high}. U (k = 2): {uncertainty}."),
        figure: Some(figure),
        lines: lacks.into_iter().chain(missing).collect(),
        link: subject.gauge.clone(),
        keys: vec![Key::new("Space", "every figure, in lines")],
        ..Scene::new(subject.title.clone())
    }
}

/// The calibration of an indicator, last and big.
pub fn indicator_calibrated(
    found: &IndicatorCalibration,
    subject: &Subject,
    settings: &Settings,
) -> Scene {
    let [low, high] = found.span_um.map(|um| settings.length(um));
    let figure = found.expanded_um.unwrap_or(found.error_of_indication_um);
    let what = match found.expanded_um {
        Some(_) => "U (k = 2) of a difference of two readings",
        None => "Error of indication; no uncertainty without that of the blocks",
    };
    Scene {
        word: "COMPARED".to_owned(),
        sentence: format!("{what}. Blocks from {low} to {high}."),
        figure: Some(settings.length_figure(figure)),
        beside: vec![Beside {
            digits: settings.length_figure(found.error_of_indication_um).digits,
            what: vec!["error of".to_owned(), "indication".to_owned()],
        }],
        link: subject.gauge.clone(),
        keys: vec![Key::new("Space", "every figure, in lines")],
        ..Scene::new(subject.title.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terminal::drawn::text;
    use holdtrue_screen::Ability;

    fn step(before: &str, word: &str, prompt: &str, nominal: f64) -> Step {
        Step {
            prompt: prompt.to_owned(),
            word: word.to_owned(),
            nominal,
            zero: nominal <= 0.0,
            hold_s: None,
            before: before.to_owned(),
            after: String::new(),
        }
    }

    #[test]
    fn the_screens_of_a_calibration_in_the_press() {
        let settings = Settings::default();
        let steps = [
            step("0,preload", "LOAD OFF", "Load off, gauge free", 0.0),
            step(
                "0,preload",
                "PRELOAD",
                "Load off. Preload 1 of 1: bring the reference to 20.00 kN, hold 30 s",
                20_000.0,
            ),
            step("1,up", "LOAD OFF", "Run 1 at 0°: load off, gauge free", 0.0),
            step(
                "1,up",
                "LOAD UP",
                "Run 1 at 0°: up to 10.00 kN, and hold",
                10_000.0,
            ),
            step(
                "1,up",
                "LOAD UP",
                "Run 1 at 0°: up to 20.00 kN, and hold",
                20_000.0,
            ),
            step(
                "1,down",
                "LOAD DOWN",
                "Run 1 at 0°: down to 10.00 kN, and hold",
                10_000.0,
            ),
        ];
        let say = |value: f64| settings.force(value);
        let unit = Unit {
            is_shown: true,
            factor: 1000.0,
            rise: Some(80.0),
            rated: None,
            earlier_zero: Some(1_000.0),
            wrong_way: "",
            say: &say,
            say_reading: &say,
            figure: &|newton| settings.force_figure(newton),
            reading_figure: &|newton| settings.force_figure(newton),
            back: "PageUp",
            still: "HOLD",
        };
        let done = [
            (0.0, 1_000.0),
            (20_000.0, 1_601_000.0),
            (0.0, 1_020.0),
            (10_010.0, 801_800.0),
        ];
        let follows = Follows {
            zero: Some((0.0, 1_000.0)),
            rise: Some(80.0),
            highest: 20_000.0,
            ..Follows::default()
        };
        let at = |taken: usize| InPlan::of(&steps[taken], &steps, &done[..taken], follows);
        let live = |newton: f64, rests: bool| Live {
            reading: Some(1_000.0 + 80.0 * newton),
            rests: Some(rests),
        };
        let shown = |stage: Stage, taken: usize, live: Live, typed: &str| Scene {
            corner: "07:31 (UTC+1)".to_owned(),
            link: "gauge TP-0031 on /dev/ttyACM0 · none lost · light 1 blink".to_owned(),
            ..scene(&stage, &at(taken), live, typed, &unit)
        };
        let holding = Stage::Holding {
            held_s: 12.0,
            of_s: 30.0,
        };
        let wrong =
            "the gauge reads as about 10.01 kN, asked for was 20.00 kN: bring it there first";
        for (name, scene) in [
            ("zero", shown(Stage::Set, 0, live(3.0, true), "")),
            ("preload-held", shown(holding, 1, live(20_003.0, true), "")),
            ("up", shown(Stage::Set, 4, live(13_420.0, false), "")),
            ("typed", shown(Stage::Set, 4, live(20_010.0, true), "20,0")),
            ("read", shown(Stage::Reading, 4, live(20_010.0, true), "")),
            (
                "wrong",
                shown(Stage::Wrong(wrong.to_owned()), 4, live(10_010.0, true), ""),
            ),
        ] {
            for (columns, rows) in [(80, 24), (200, 60)] {
                let drawn = text(&scene, columns, rows, Ability::Unicode);
                insta::assert_snapshot!(format!("{name}-{columns}x{rows}"), drawn);
            }
            let ascii = text(&scene, 80, 24, Ability::Ascii);
            assert!(ascii.is_ascii(), "{name}:\n{ascii}");
        }
    }
}
