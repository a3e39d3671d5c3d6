//! How every picture of the hard cases looks: no label on another, none cut off.

#[path = "../tests/common/mod.rs"]
mod common;

use crate::document::Rise;
use crate::paper::Block;
use crate::picture::{Picture, touch};
use crate::year_series::{YearBand, YearLimit, YearPoint, YearSeries};
use crate::{Form, visit};
use common::hard;

fn pictures(blocks: &[Block]) -> Vec<&Picture> {
    let each = blocks.iter().flat_map(|block| match block {
        Block::Figure(figure) => vec![&figure.picture],
        Block::Together(inside) => pictures(inside),
        Block::Beside(columns) => {
            let inside = columns.iter().map(|(_, inside)| inside);
            inside.flat_map(|inside| pictures(inside)).collect()
        }
        _ => Vec::new(),
    });
    each.collect()
}

fn holds(name: &str, picture: &Picture) {
    let labels: Vec<_> = picture.labels().collect();
    for (place, label) in labels.iter().enumerate() {
        let [left, top, right, bottom] = label.bounds();
        let room = 0.6;
        let inside = left > -room
            && top > -room
            && right < picture.width + room
            && bottom < picture.height + room;
        let (title, text) = (&picture.title, &label.text);
        assert!(
            inside,
            "{name}, {title}: \"{text}\" is cut off: {:?}",
            label.bounds()
        );
        for other in &labels[place + 1..] {
            let on = touch(label.bounds(), other.bounds());
            assert!(
                !on,
                "{name}, {title}: \"{text}\" lies on \"{}\"",
                other.text
            );
        }
    }
    assert!(
        !picture.title.is_empty() && !picture.description.is_empty(),
        "{name}"
    );
}

#[test]
fn no_label_lies_on_another_and_none_is_cut_off() {
    let mut many = 0;
    for (name, document) in hard() {
        let paper = visit::paper(&document, &Form::default());
        for picture in pictures(&paper.blocks) {
            holds(name, picture);
            many += 1;
        }
    }
    assert!(many > 60, "{many} pictures");
}

/// Visits, repairs and limits in every order, near one another and far, on both widths.
#[test]
fn a_figure_through_the_years_keeps_its_labels_apart() {
    for visits in [1_u8, 2, 7, 40] {
        for upper in [false, true] {
            for limit in [2.0, 6.9, 7.05, 30.0] {
                let point = |number: u8| YearPoint {
                    day: 20_000.0 + 91.0 * f64::from(number),
                    value: 7.0 + 0.3 * f64::from(number % 5),
                    half_width: Some(0.12),
                    hollow: number.is_multiple_of(3),
                };
                let points: Vec<YearPoint> = (0..visits).map(point).collect();
                let band = |point: &YearPoint| YearBand {
                    day: point.day,
                    line: point.value,
                    confidence: [point.value - 0.2, point.value + 0.2],
                    prediction: [point.value - 0.4, point.value + 0.4],
                };
                let series = YearSeries {
                    title: "Mean grip force as found".to_owned(),
                    unit: "kN".to_owned(),
                    bands: points.iter().map(band).collect(),
                    limit: Some(YearLimit {
                        value: limit,
                        upper,
                        name: format!("limit {limit:.2} kN"),
                    }),
                    marks: points
                        .iter()
                        .map(|point| {
                            (
                                point.day + 20.0,
                                "disc springs and gripper changed".to_owned(),
                                true,
                            )
                        })
                        .collect(),
                    points,
                    lines: vec!["no trend".to_owned()],
                    news: None,
                };
                for width in [236.0, 498.9] {
                    let name = format!("{visits} visits, limit {limit}, upper {upper}, {width}");
                    if let Some(picture) = crate::years::picture(&series, width) {
                        holds(&name, &picture);
                    }
                }
            }
        }
    }
}

/// Fast and slow, few and many, one that shoots over and one that takes ten times as long as the others.
#[test]
fn rises_laid_over_one_another_keep_their_days_apart() {
    for visits in [2_u8, 3, 5, 9] {
        for clamping_s in [0.02, 0.2, 1.0] {
            let rise = |number: u8| {
                let slow = if number == 1 { 10.0 } else { 1.0 };
                let clamping_s = slow * clamping_s;
                let point = |place: i32| {
                    let s = 0.01 * clamping_s * f64::from(place);
                    let share = (s / clamping_s / 1.25).clamp(0.0, 1.0);
                    let over = if number == 2 { 0.9 * share } else { 0.0 };
                    (s, share + over)
                };
                Rise {
                    day: format!("{number} September 2026"),
                    clamping_s,
                    points: (-100..1000).map(point).collect(),
                }
            };
            let rises: Vec<Rise> = (0..visits).map(rise).collect();
            let picture = crate::rise::picture(&rises).expect("two rises or more");
            holds(&format!("{visits} rises of {clamping_s} s"), &picture);
            let days = picture.labels().filter(|label| label.text.contains("2026"));
            let drawn = usize::from(visits).min(5);
            assert_eq!(days.count(), drawn);
        }
    }
    let alone = Rise::default();
    assert!(crate::rise::picture(&[]).is_none() && crate::rise::picture(&[alone]).is_none());
}
