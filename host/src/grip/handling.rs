//! What somebody at the keyboard does between clamps: one taken again or set aside, a pause, a note, a finding. In: keys. Out:
//! what is asked over the picture, and what is to be done.

use crate::grip::guidance::Stage;
use crate::terminal::keys::Key;
use crate::terminal::prompt::Prompt;
use crate::visits::findings::jotting;
use crate::visits::findings::jotting::{Answer, Jotting};
use holdtrue_screen::{Key as ShownKey, Scene};
use holdtrue_terms::vocabulary::Severity;

/// Why a clamp is set aside, as it is mostly said; the last one asks for other words.
const REASONS: [&str; 4] = [
    "gauge pulled sideways",
    "chip or oil in the taper",
    "let go too early",
    "something else: type it",
];
/// Why a clamp does not count that is taken again.
const AGAIN: &str = "taken again";

/// What is to be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// A clamp does not count any more.
    Aside {
        /// Its number.
        number: u32,
        /// Why.
        reason: String,
    },
    /// Nothing is read until somebody goes on.
    Pause,
    /// Something was seen.
    Jot(Severity, String),
    /// The check is to stop.
    Stop,
}

/// What the keys do now.
#[derive(Debug, Default)]
pub enum Handling {
    /// What they always do.
    #[default]
    Nothing,
    /// Why a clamp is set aside.
    Why {
        /// Its number.
        number: u32,
        /// Other words than the usual ones are being typed.
        typed: Option<String>,
    },
    /// Something is being written down.
    Jotting(Jotting),
}

impl Handling {
    /// Takes what was typed since the last look. `last`: the clamp that was taken last, where it counts.
    pub fn hear(
        &mut self,
        stage: Stage,
        last: Option<u32>,
        prompt: &mut dyn Prompt,
    ) -> Option<Act> {
        let answer = match self {
            Self::Nothing => return self.begin(stage, last, prompt.typed()?),
            Self::Jotting(jotting) => match jotting.hear(prompt) {
                Answer::Done((severity, text)) => Answer::Done(Act::Jot(severity, text)),
                Answer::Open => Answer::Open,
                Answer::Left => Answer::Left,
                Answer::Stop => Answer::Stop,
            },
            Self::Why { number, typed } => {
                let number = *number;
                match why(typed, prompt) {
                    Answer::Done(reason) => Answer::Done(Act::Aside { number, reason }),
                    Answer::Open => Answer::Open,
                    Answer::Left => Answer::Left,
                    Answer::Stop => Answer::Stop,
                }
            }
        };
        match answer {
            Answer::Open => return None,
            Answer::Left => {}
            Answer::Stop => return Some(Act::Stop),
            Answer::Done(act) => {
                *self = Self::Nothing;
                return Some(act);
            }
        }
        *self = Self::Nothing;
        None
    }

    fn begin(&mut self, stage: Stage, last: Option<u32>, key: Key) -> Option<Act> {
        let between = is_between(stage);
        match (key, last.filter(|_| between)) {
            (Key::Stop | Key::Quit, _) => return Some(Act::Stop),
            (Key::Pause, _) if between => return Some(Act::Pause),
            (Key::Again, Some(number)) => {
                let reason = AGAIN.to_owned();
                return Some(Act::Aside { number, reason });
            }
            (Key::Aside, Some(number)) => {
                let typed = None;
                *self = Self::Why { number, typed };
            }
            (Key::Note, _) => *self = Self::Jotting(Jotting::note()),
            (Key::Finding, _) => *self = Self::Jotting(Jotting::finding()),
            _ => {}
        }
        None
    }

    /// The picture of the step with what is asked over it.
    pub fn over(&self, scene: Scene) -> Scene {
        match self {
            Self::Nothing => scene,
            Self::Jotting(jotting) => jotting.over(scene),
            Self::Why {
                number,
                typed: None,
            } => {
                let question = format!("Why is clamp {number} set aside?");
                jotting::choice_over(scene, &question, REASONS.into_iter())
            }
            Self::Why {
                number,
                typed: Some(text),
            } => jotting::text_over(
                scene,
                &format!("Clamp {number} is set aside, because"),
                text,
            ),
        }
    }
}

fn why(typed: &mut Option<String>, prompt: &mut dyn Prompt) -> Answer<String> {
    if let Some(text) = typed {
        return jotting::typed(text, prompt);
    }
    match jotting::chosen(&[0, 1, 2, 3], prompt) {
        Answer::Done(3) => {
            *typed = Some(String::new());
            Answer::Open
        }
        Answer::Done(place) => Answer::Done(REASONS[place].to_owned()),
        Answer::Open => Answer::Open,
        Answer::Left => Answer::Left,
        Answer::Stop => Answer::Stop,
    }
}

/// Between clamps, with the last one in the book: only then it is sure which one is meant.
fn is_between(stage: Stage) -> bool {
    matches!(stage, Stage::Clamp | Stage::Resting { .. } | Stage::Loaded)
}

/// The keys that work now.
pub fn keys(stage: Stage, last: Option<u32>) -> Vec<ShownKey> {
    let mut keys = Vec::new();
    if is_between(stage) {
        if let Some(number) = last {
            keys.push(ShownKey::new("R", format!("clamp {number} again")));
            keys.push(ShownKey::new("D", "set aside"));
        }
        keys.push(ShownKey::new("P", "pause"));
    }
    keys.extend([
        ShownKey::new("N", "note"),
        ShownKey::new("F", "finding"),
        ShownKey::new("Q", "stop"),
    ]);
    keys
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::terminal::prompt::Entry;
    use holdtrue_screen::{Ability, draw};
    use ratatui_core::layout::Rect;
    use std::collections::VecDeque;

    /// Somebody who presses these keys, and types this.
    struct Hand(VecDeque<Key>, &'static str);

    impl Prompt for Hand {
        fn say(&mut self, _line: &str) {}

        fn typed(&mut self) -> Option<Key> {
            self.0.pop_front()
        }

        fn enter(&mut self, text: &mut String) -> Entry {
            text.push_str(self.1);
            Entry::Done
        }
    }

    fn acts(stage: Stage, last: Option<u32>, keys: &[Key], text: &'static str) -> Vec<Act> {
        let mut hand = Hand(keys.iter().copied().collect(), text);
        let mut handling = Handling::default();
        let looks = 0..keys.len() + 3;
        looks
            .filter_map(|_| handling.hear(stage, last, &mut hand))
            .collect()
    }

    fn aside(number: u32, reason: &str) -> Act {
        let reason = reason.to_owned();
        Act::Aside { number, reason }
    }

    #[test]
    fn each_key_does_one_thing_and_only_where_it_is_sure_which_clamp_is_meant() {
        use Key::{Aside, Back, Choice, Finding, Note, Pause, Quit};
        let on = |keys: &[Key]| acts(Stage::Clamp, Some(3), keys, "hose");
        assert_eq!(on(&[Key::Again]), [aside(3, AGAIN)]);
        assert_eq!(on(&[Aside, Choice(2)]), [aside(3, REASONS[1])]);
        assert_eq!(on(&[Aside, Choice(9), Choice(4)]), [aside(3, "hose")]);
        assert_eq!(on(&[Aside, Back, Choice(1)]), []);
        assert_eq!(on(&[Aside, Quit]), []);
        assert_eq!(on(&[Aside, Key::Stop]), [Act::Stop]);
        assert_eq!(on(&[Pause]), [Act::Pause]);
        assert_eq!(on(&[Note]), [Act::Jot(Severity::Note, "hose".to_owned())]);
        let soon = Act::Jot(Severity::Soon, "hose".to_owned());
        assert_eq!(on(&[Finding, Choice(2)]), [soon]);
        for stage in [Stage::Hold { held_s: 1.0 }, Stage::Released, Stage::Rising] {
            for key in [Key::Again, Aside, Pause] {
                assert_eq!(acts(stage, Some(3), &[key], ""), [], "{stage:?} {key:?}");
            }
        }
        assert_eq!(
            acts(Stage::Clamp, None, &[Key::Again, Aside, Choice(1)], ""),
            []
        );
        assert_eq!(
            acts(Stage::Clamp, Some(1), &[Note], " "),
            [],
            "nothing was typed"
        );
    }

    #[test]
    fn the_keys_shown_are_those_that_work_and_all_fit_on_the_smallest_screen() {
        let shown = |stage, last| {
            let scene = Scene {
                keys: keys(stage, last),
                ..Scene::new("Grip force")
            };
            let buffer = draw(&scene, Rect::new(0, 0, 80, 24), Ability::Ascii);
            let last = buffer.content.chunks(80).next_back().unwrap_or_default();
            last.iter().map(|cell| cell.symbol()).collect::<String>()
        };
        let all = shown(Stage::Clamp, Some(12));
        let every = "R clamp 12 again   D set aside   P pause   N note   F finding   Q stop";
        assert_eq!(all.trim(), every);
        let first = shown(Stage::Clamp, None);
        assert_eq!(first.trim(), "P pause   N note   F finding   Q stop");
        let held = shown(Stage::Hold { held_s: 1.0 }, Some(12));
        assert_eq!(held.trim(), "N note   F finding   Q stop");
    }
}
