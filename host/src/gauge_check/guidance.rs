//! The pictures of a gauge check. In: what the person is to do, what the gauge reads. Out: scenes.

use crate::gauge_check::document::Fitness;
use crate::gauge_check::look::REST_S;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use holdtrue_metrology::gauge_check::loading::Phase;
use holdtrue_screen::{Beside, Ground, Key, Picture, Scene};

/// The gauge is held free for a while.
pub fn at_rest(seconds: f64, force_n: f64, subject: &Subject, settings: &Settings) -> Scene {
    let left = (REST_S - seconds).ceil().max(1.0);
    Scene {
        ground: Ground::Filling(seconds / REST_S),
        word: format!("FREE {left:.0}"),
        sentence: "Hold the gauge free, knob touching nothing, until the ground is full."
            .to_owned(),
        figure: Some(settings.force_figure(force_n)),
        link: format!("{} · light 1 blink", subject.gauge),
        keys: vec![Key::new("Q", "stop")],
        ..Scene::new(subject.title.clone())
    }
}

/// The gauge on a check standard.
pub fn on_standard(
    phase: Phase,
    load_n: f64,
    force_n: f64,
    subject: &Subject,
    settings: &Settings,
) -> Scene {
    let (ground, word, sentence) = match phase {
        Phase::Free => (
            Ground::Plain,
            "FREE",
            "Nothing touches the gauge. Its zero is being taken.",
        ),
        Phase::Waiting => (Ground::Full, "LOAD ON", "Put the standard on, slowly."),
        Phase::Loaded => (
            Ground::Plain,
            "HANDS OFF",
            "Let it stand. It is read as soon as it has settled.",
        ),
        Phase::Unloading(_) => (
            Ground::Full,
            "LOAD OFF",
            "It is read. Take the load off, slowly.",
        ),
    };
    Scene {
        ground,
        word: word.to_owned(),
        sentence: sentence.to_owned(),
        figure: Some(settings.force_figure(force_n)),
        beside: vec![Beside {
            digits: settings.digits(load_n),
            what: vec!["the".to_owned(), "standard".to_owned()],
        }],
        picture: Picture::None,
        link: format!("{} · light 2 blinks", subject.gauge),
        keys: vec![Key::new("Q", "stop")],
        ..Scene::new(subject.title.clone())
    }
}

/// Whether the gauge may measure, and why not.
pub fn judged(fitness: &Fitness, subject: &Subject, settings: &Settings) -> Scene {
    let force = |newton: f64| settings.small_force(newton);
    let (ground, word, sentence) = match fitness.fit {
        true => (Ground::Plain, "FIT", "The gauge may measure."),
        false => (Ground::Hatched, "NOT FIT", "The gauge may not measure."),
    };
    Scene {
        ground,
        word: word.to_owned(),
        sentence: sentence.to_owned(),
        lines: fitness.reasons_in(&force),
        link: subject.gauge.clone(),
        keys: vec![Key::new("Space", "every figure, in lines")],
        ..Scene::new(subject.title.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gauge_check::document;
    use crate::gauge_check::look::Look;
    use crate::terminal::drawn::text;
    use holdtrue_screen::Ability;

    #[test]
    fn the_screens_of_a_gauge_check() {
        let subject = Subject {
            title: "Gauge check · TP-0031".to_owned(),
            gauge: "gauge TP-0031 on /dev/ttyACM0".to_owned(),
        };
        let settings = Settings::default();
        let unfit = document::judge(Look {
            serial: "TP-0031".to_owned(),
            ..Look::default()
        });
        let scenes = [
            ("rest", at_rest(4.2, -12.0, &subject, &settings)),
            (
                "standard",
                on_standard(Phase::Waiting, 5_000.0, 812.0, &subject, &settings),
            ),
            ("unfit", judged(&unfit, &subject, &settings)),
        ];
        for (name, scene) in scenes {
            let scene = Scene {
                corner: "07:31 (UTC+1)".to_owned(),
                ..scene
            };
            let small = text(&scene, 80, 24, Ability::Unicode);
            insta::assert_snapshot!(format!("{name}-80x24"), small);
            let large = text(&scene, 200, 60, Ability::Unicode);
            insta::assert_snapshot!(format!("{name}-200x60"), large);
            let ascii = text(&scene, 80, 24, Ability::Ascii);
            assert!(ascii.is_ascii(), "{name}:\n{ascii}");
        }
    }
}
