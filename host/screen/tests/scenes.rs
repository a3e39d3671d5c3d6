//! Screens as a technician sees them, and any scene at any size.

use holdtrue_screen::{
    Ability, Beside, Circle, Column, Count, Figure, Ground, Key, Picture, Position, SMALLEST,
    Scene, Strip, draw,
};
use proptest::prelude::*;
use ratatui_core::buffer::Buffer;
use ratatui_core::layout::Rect;
use ratatui_core::style::Modifier;
use std::fmt::Write;

/// The cells as text; rows of reversed cells between bars, bold rows marked.
fn shown(buffer: &Buffer) -> String {
    let area = buffer.area;
    let mut text = String::new();
    for y in 0..area.height {
        let cells: Vec<_> = (0..area.width).map(|x| &buffer[(x, y)]).collect();
        let count = |style: Modifier| {
            cells
                .iter()
                .filter(|cell| cell.modifier.contains(style))
                .count()
        };
        let line: String = cells.iter().map(|cell| cell.symbol()).collect();
        let _ = writeln!(
            text,
            "{:3}r {:3}b |{}|",
            count(Modifier::REVERSED),
            count(Modifier::BOLD),
            line
        );
    }
    text
}

fn sized(columns: u16, rows: u16) -> Rect {
    Rect::new(0, 0, columns, rows)
}

fn words(all: &[&str]) -> Vec<String> {
    all.iter().map(|line| (*line).to_owned()).collect()
}

fn holding() -> Scene {
    let column = |label: &str, level: f64, share: f64| Column {
        label: label.to_owned(),
        forces: if share > 0.0 {
            vec![0.97 * level, level, level, 0.99 * level]
        } else {
            Vec::new()
        },
        share,
        aside: false,
    };
    Scene {
        corner: "07:20 (UTC+1)".to_owned(),
        ground: Ground::Filling(0.4),
        word: "HOLD 3".to_owned(),
        count: Some(Count {
            done: 2,
            under_way: true,
            wanted: 5,
        }),
        sentence: "Hold it. The word changes when it is enough.".to_owned(),
        figure: Some(Figure {
            digits: "7.58".to_owned(),
            unit: "kN".to_owned(),
        }),
        beside: vec![
            Beside {
                digits: "7.93".to_owned(),
                what: words(&["last time", "22 May 26"]),
            },
            Beside {
                digits: "7.00".to_owned(),
                what: words(&["at least", "70 % of 10"]),
            },
        ],
        picture: Picture::Columns {
            columns: vec![
                column("1  7.61", 7.61, 1.0),
                column("2  7.55", 7.55, 1.0),
                column("3  …", 7.58, 0.4),
                column("4", 0.0, 0.0),
                column("5", 0.0, 0.0),
            ],
            limit: Some((7.0, "7.00".to_owned())),
        },
        details: words(&[
            "clamp   kN     held   drops      peak   last time",
            "1       7.61   5.2 s  0.4 N/s    7.90   7.95",
        ]),
        link: "gauge TP-0031 · none lost · zero 0.01 kN · light 2 blinks".to_owned(),
        keys: vec![
            Key::new("R", "repeat"),
            Key::new("D", "set aside"),
            Key::new("P", "pause"),
            Key::new("Q", "stop"),
        ],
        ..Scene::new("Grip force, as found · Centre 2, BT 40")
    }
}

fn resting() -> Scene {
    Scene {
        ground: Ground::Hatched,
        word: "NOT FREE".to_owned(),
        sentence: "The gauge rests on something: it reads −0.82 kN with nothing clamped."
            .to_owned(),
        figure: Some(Figure {
            digits: "−0.82".to_owned(),
            unit: "kN".to_owned(),
        }),
        beside: Vec::new(),
        steps: words(&[
            "Lift it off the push-out.",
            "Hold it, knob touching nothing.",
            "Wait. It goes on by itself at ± 0.05 kN.",
        ]),
        lines: words(&["Clamps 1 and 2 stay. Nothing is counted until the gauge is free."]),
        ..holding()
    }
}

fn judged() -> Scene {
    Scene {
        ground: Ground::Plain,
        word: "WITHIN LIMIT".to_owned(),
        corner: "in the book 07:23 (UTC+1)".to_owned(),
        count: None,
        sentence: "Mean of 5 clamps 7.57 ± 0.12 kN. At least 7.00 kN, 70 % of the maker's 10.00."
            .to_owned(),
        picture: Picture::Strip(Strip {
            value: (7.57, "7.57".to_owned()),
            uncertainty: 0.12,
            limit: (7.0, "7.00".to_owned()),
            lower: true,
            last: Some((7.93, "7.93".to_owned())),
        }),
        lines: words(&[
            "Watch: under 85 % of the maker's figure, 0.36 kN less than last time.",
            "Held 30 s on clamp 5: drops 1 N/s, too little to tell from none.",
            "This supports a decision by a qualified person; it is not an approval to run.",
        ]),
        details: Vec::new(),
        ..holding()
    }
}

fn turning() -> Scene {
    let read = [0.0, 1.2, 2.2];
    Scene {
        ground: Ground::Plain,
        word: "TURN TO 4".to_owned(),
        count: None,
        sentence: "Turn at the nose or keys, not by the bar.".to_owned(),
        figure: Some(Figure {
            digits: "−1.1".to_owned(),
            unit: "µm".to_owned(),
        }),
        picture: Picture::Circle(Circle {
            positions: (0..8)
                .map(|place| Position {
                    reading: read.get(place).copied(),
                    next: place == 3,
                })
                .collect(),
            now: Some((-1.1, 0.34)),
        }),
        lines: words(&[
            "runout so far 3.3 µm    last time 4.4",
            "1 0.0   2 +1.2   3 +2.2   4 …",
        ]),
        ..holding()
    }
}

#[test]
fn the_screens_at_80_by_24_and_at_200_by_60() {
    let scenes = [
        ("holding", holding()),
        ("resting", resting()),
        ("judged", judged()),
        ("turning", turning()),
    ];
    for (name, scene) in scenes {
        insta::assert_snapshot!(
            format!("{name}-80x24"),
            shown(&draw(&scene, sized(80, 24), Ability::Unicode))
        );
        insta::assert_snapshot!(
            format!("{name}-80x24-ascii"),
            shown(&draw(&scene, sized(80, 24), Ability::Ascii))
        );
        insta::assert_snapshot!(
            format!("{name}-200x60"),
            shown(&draw(&scene, sized(200, 60), Ability::Unicode))
        );
    }
}

#[test]
fn steps_and_labels_give_way_before_they_lie_over_anything() {
    let lines = words(&["OPEN: a short visit since 29 Nov 2026, 14:51 (UTC). Work left: 39 min."]);
    for long in [
        "look and wipe, 5 min",
        "grip force as found, seven minutes or so",
    ] {
        let scene = Scene {
            ground: Ground::Plain,
            count: None,
            beside: Vec::new(),
            steps: vec![long.to_owned(); 6],
            picture: Picture::None,
            lines: lines.clone(),
            ..holding()
        };
        let text = shown(&draw(&scene, sized(80, 24), Ability::Unicode));
        let row = text
            .lines()
            .find(|row| row.contains("OPEN:"))
            .expect("the line");
        let inside = row.split('|').nth(1).expect("the row").trim();
        assert_eq!(inside, lines[0], "{text}");
        let first = long.split(',').next().expect("its beginning");
        let whole = text.matches(first).count();
        assert_eq!(
            whole,
            if long.starts_with("look") { 6 } else { 4 },
            "{text}"
        );
    }
    // A figure under a narrow column is whole or not there.
    let column = |number: u32| Column {
        label: format!("{number}  9.57"),
        forces: vec![9.57],
        share: 1.0,
        aside: false,
    };
    let scene = Scene {
        picture: Picture::Columns {
            columns: (1..=10).map(column).collect(),
            limit: None,
        },
        ..holding()
    };
    let text = shown(&draw(&scene, sized(80, 24), Ability::Unicode));
    let labels = text
        .lines()
        .find(|row| row.contains("9      10"))
        .expect("labels");
    assert!(!labels.contains('…'), "{text}");
}

#[test]
fn a_step_to_be_done_now_turns_the_whole_ground_round() {
    let scene = Scene {
        ground: Ground::Full,
        ..holding()
    };
    let buffer = draw(&scene, sized(80, 24), Ability::Unicode);
    assert!(
        buffer
            .content
            .iter()
            .all(|cell| cell.modifier.contains(Modifier::REVERSED))
    );
}

#[test]
fn what_is_wrong_is_told_without_colour() {
    for ability in [Ability::Unicode, Ability::Ascii] {
        let buffer = draw(&resting(), sized(80, 24), ability);
        let edge = |y| buffer[(0, y)].symbol().to_owned();
        assert!((0..24).all(|y| edge(y) != " "), "{ability:?}");
    }
}

/// Every word a small screen shows is one of the scene, whole; and all keys are there, or the size that has room for them is.
#[test]
fn on_a_small_screen_no_word_is_cut_and_the_keys_stay() {
    for scene in [holding(), resting(), judged(), turning(), item()] {
        let mut there = vec![
            scene.title.clone(),
            scene.word.clone(),
            scene.sentence.clone(),
        ];
        there.push("Window too small: make it letters. Needs".to_owned());
        let sizes = (1..=80).flat_map(|wide| (1..=24).map(move |high| format!("{wide}×{high}")));
        there.extend(sizes.flat_map(|size| [size.clone(), size + "."]));
        there.extend(scene.steps.iter().chain(&scene.lines).cloned());
        let choices = match &scene.picture {
            Picture::Choices(choices) => choices.clone(),
            _ => Vec::new(),
        };
        let keys = scene.keys.iter().chain(&choices);
        there.extend(keys.flat_map(|key| [key.name.clone(), key.does.clone()]));
        there.extend(
            scene
                .figure
                .iter()
                .flat_map(|f| [f.digits.clone(), f.unit.clone()]),
        );
        there.extend(scene.count.map(|c| format!("{} of {}", c.done, c.wanted)));
        there.extend((1..=scene.steps.len()).map(|number| number.to_string()));
        let there: Vec<&str> = there
            .iter()
            .flat_map(|text| text.split_whitespace())
            .collect();
        let sizes = [
            (79, 23),
            (60, 20),
            (40, 12),
            (40, 20),
            (30, 16),
            (20, 9),
            (12, 4),
        ];
        for (columns, rows) in sizes {
            let buffer = draw(&scene, sized(columns, rows), Ability::Unicode);
            let text = shown(&buffer);
            let drawn = |sign: char| !matches!(sign, '\u{2580}'..='\u{2593}');
            for row in text.lines() {
                let inside = row.split_once('|').map_or("", |(_, rest)| rest);
                let inside = inside.trim_end_matches('|');
                for word in inside.split_whitespace() {
                    let word: String = word.chars().filter(|sign| drawn(*sign)).collect();
                    assert!(
                        word.is_empty() || there.contains(&&*word),
                        "{word} at {columns} x {rows}:\n{text}"
                    );
                }
            }
            let size = text.split_once('×');
            if let Some((wide, high)) = size {
                assert!(rows < 20, "too small at {columns} x {rows}:\n{text}");
                let number = |text: &str| -> u16 {
                    let digits = text.trim_matches(|sign: char| !sign.is_ascii_digit());
                    digits.parse().expect("a size")
                };
                let wide = number(wide.rsplit([' ', '|']).next().unwrap_or_default());
                let high = number(high.split([' ', '.', '|']).next().unwrap_or_default());
                assert!(wide > columns || high > rows, "{wide}×{high}:\n{text}");
                let larger = shown(&draw(&scene, sized(wide, high), Ability::Unicode));
                assert!(!larger.contains('×'), "{wide}×{high}:\n{larger}");
                continue;
            }
            for key in &scene.keys {
                let key = format!("{} {}", key.name, key.does);
                assert!(text.contains(&key), "{key} at {columns} x {rows}:\n{text}");
            }
        }
    }
    let text = shown(&draw(&resting(), sized(60, 20), Ability::Unicode));
    for step in resting().steps {
        assert!(text.contains(&step), "no {step}:\n{text}");
    }
}

/// What was just said stands under the figures, and takes no row of them.
#[test]
fn no_figure_gives_way_to_what_was_just_said() {
    let news = words(&[
        "The bar must sit as it was clamped for the plane before. Was it unclamped since? Then stop, and begin anew with --new.",
        "Going on with the unfinished check of this visit: 3 planes are in. (--new begins another.)",
    ]);
    let table = words(&[
        " 1 0.0     2 +1.2    3 +2.2    4 +2.6    5 +2.1    6 +1.0    7 −0.3    8 −0.6",
        " 1 +0.1",
    ]);
    let of_check = Scene {
        lines: words(&[
            "bar 20 mm from the nose · seating 2 of 4 · plane 5 of 10",
            "runout so far 3.2 µm",
        ]),
        details: table.clone(),
        ..turning()
    };
    for news in [Vec::new(), news] {
        let scene = Scene {
            news: news.clone(),
            ..of_check.clone()
        };
        let text = shown(&draw(&scene, sized(80, 24), Ability::Unicode));
        for figure in table.iter().chain(&scene.lines) {
            assert!(text.contains(figure.as_str()), "no {figure}:\n{text}");
        }
        if !news.is_empty() {
            // There is room for the newest, whole.
            assert!(text.contains("begin anew with --new."), "{text}");
            assert!(!text.contains("Going on"), "{text}");
        }
    }
}

#[test]
fn a_terminal_without_signs_gets_nothing_but_ascii() {
    for scene in [holding(), resting(), judged(), turning()] {
        let buffer = draw(&scene, sized(80, 24), Ability::Ascii);
        let strange = buffer.content.iter().find(|cell| !cell.symbol().is_ascii());
        assert_eq!(strange, None);
    }
}

#[test]
fn a_figure_as_long_as_a_gauge_can_show_it_is_drawn_whole() {
    let digits = "−123.45";
    let scene = Scene {
        figure: Some(Figure {
            digits: digits.to_owned(),
            unit: "kN".to_owned(),
        }),
        ..holding()
    };
    let ink = |scene: &Scene| {
        let scene = Scene {
            beside: Vec::new(),
            picture: Picture::None,
            ground: Ground::Plain,
            count: None,
            word: String::new(),
            ..scene.clone()
        };
        draw(&scene, sized(80, 24), Ability::Unicode)
            .content
            .iter()
            .filter(|cell| cell.symbol() == "█")
            .count()
    };
    let dots = |digits: &str| {
        digits
            .chars()
            .map(|sign| {
                let one = Scene {
                    figure: Some(Figure {
                        digits: sign.to_string(),
                        unit: "kN".to_owned(),
                    }),
                    ..holding()
                };
                ink(&one)
            })
            .sum::<usize>()
    };
    assert_eq!(ink(&scene), dots(digits));
}

fn any_scene() -> impl Strategy<Value = Scene> {
    let number = prop_oneof![Just(0.0), Just(f64::MAX), Just(-1e9), -20.0..20.0_f64];
    (
        "\\PC{0,120}",
        "[A-Z0-9 ]{0,16}",
        "[-0-9.]{0,9}",
        prop_oneof![
            Just(Ground::Plain),
            Just(Ground::Full),
            Just(Ground::Hatched),
            (0.0..1.2_f64).prop_map(Ground::Filling)
        ],
        (0..40_usize, 0..40_usize, any::<bool>()),
        proptest::collection::vec(number.clone(), 0..40),
        (number.clone(), number.clone(), number, any::<bool>()),
        0..5_u8,
    )
        .prop_map(
            |(
                sentence,
                word,
                digits,
                ground,
                (done, wanted, under_way),
                values,
                (a, b, c, lower),
                picture,
            )| Scene {
                word,
                sentence: sentence.clone(),
                ground,
                count: Some(Count {
                    done,
                    under_way,
                    wanted,
                }),
                figure: Some(Figure {
                    digits: digits.clone(),
                    unit: "µm".to_owned(),
                }),
                beside: vec![Beside {
                    digits,
                    what: vec![sentence.clone()],
                }],
                steps: Vec::new(),
                lines: vec![sentence.clone()],
                details: vec![sentence.clone()],
                news: vec![sentence.clone()],
                link: sentence.clone(),
                keys: vec![Key::new("Q", sentence.clone())],
                corner: sentence.clone(),
                picture: match picture {
                    0 => Picture::None,
                    1 => Picture::Columns {
                        columns: values
                            .iter()
                            .map(|value| Column {
                                label: sentence.clone(),
                                forces: vec![*value; 3],
                                share: *value,
                                aside: lower,
                            })
                            .collect(),
                        limit: Some((a, "7.00".to_owned())),
                    },
                    2 => Picture::Circle(Circle {
                        positions: values
                            .iter()
                            .map(|value| Position {
                                reading: Some(*value),
                                next: lower,
                            })
                            .collect(),
                        now: Some((b, c)),
                    }),
                    3 => Picture::Choices(
                        values
                            .iter()
                            .map(|_| Key::new(sentence.clone(), sentence.clone()))
                            .collect(),
                    ),
                    _ => Picture::Strip(Strip {
                        value: (a, sentence.clone()),
                        uncertainty: c.abs(),
                        limit: (b, "7".to_owned()),
                        lower,
                        last: Some((c, "8".to_owned())),
                    }),
                },
                title: sentence,
            },
        )
}

proptest! {
    #[test]
    fn any_scene_is_drawn_at_any_size(scene in any_scene(), columns in 0_u16..230, rows in 0_u16..80, ascii in any::<bool>()) {
        let ability = if ascii { Ability::Ascii } else { Ability::Unicode };
        let buffer = draw(&scene, sized(columns, rows), ability);
        prop_assert_eq!(buffer.content.len(), usize::from(columns) * usize::from(rows));
    }

    #[test]
    fn the_sentence_of_a_step_is_never_cut_on_a_whole_screen(sentence in "[a-z]{1,9}( [a-z]{1,9}){0,12}", columns in SMALLEST.0..200) {
        let scene = Scene { sentence: sentence.clone(), picture: Picture::None, figure: None, beside: Vec::new(), count: None, ..holding() };
        let buffer = draw(&scene, sized(columns, 24), Ability::Unicode);
        let text: String = (0..24).map(|y| (0..columns).map(|x| buffer[(x, y)].symbol()).collect::<String>() + " ").collect();
        let read: Vec<&str> = text.split_whitespace().collect();
        let wanted: Vec<&str> = sentence.split(' ').collect();
        prop_assert!(read.windows(wanted.len()).any(|found| found == wanted), "{text}");
    }
}

fn item() -> Scene {
    Scene {
        corner: "23 items left".to_owned(),
        word: "FINGERS".to_owned(),
        sentence: "Count them. Any cracked, missing or shiny? Lamp and mirror, machine isolated. Photo before wiping."
            .to_owned(),
        picture: Picture::Choices(vec![
            Key::new("SPACE", "FINE"),
            Key::new("S", "SEEN"),
            Key::new("L", "NOT LOOKED"),
        ]),
        lines: words(&["last time, 22 May 2026: within weeks: two shiny"]),
        keys: vec![
            Key::new("A", "rest of these is fine"),
            Key::new("PageUp", "answer back"),
            Key::new("V", "value"),
            Key::new("Q", "leave"),
        ],
        ..Scene::new("Condition round · Centre 2 · gripper, 1st of 7")
    }
}

#[test]
fn an_item_of_the_condition_round_and_its_keys_are_read_from_two_metres() {
    for (ability, columns, rows) in [
        (Ability::Unicode, 80, 24),
        (Ability::Ascii, 80, 24),
        (Ability::Unicode, 200, 60),
        (Ability::Unicode, 60, 16),
    ] {
        let name = format!("item_{ability:?}_{columns}x{rows}");
        insta::assert_snapshot!(name, shown(&draw(&item(), sized(columns, rows), ability)));
    }
}
