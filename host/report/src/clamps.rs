//! Every clamp beside the others, with the limit and what the measurement leaves open.
//!
//! In: the sets of a visit that stand. Out: one picture: are the clamps alike, and clear of the limit? Hollow is as found where
//! there is a set as left; a cross is a clamp that does not count. The grey band is the mean with its uncertainty.

use crate::document::Grip;
use crate::picture::{BAND, HAIR, INK, Label, Pen, Picture, SOFT, WHITE};
use crate::scale::Axis;
use holdtrue_metrology::decision::{Figure, Judged, Side};
use holdtrue_terms::vocabulary::State;
use holdtrue_wording::digits::{Units, fixed};
use holdtrue_wording::words;

const WIDTH: f64 = 236.0;
const LEFT: f64 = 32.0;
const RIGHT: f64 = 232.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 158.0;
/// Half of one clamp's room at both ends of a set.
const ENDS: f64 = 0.7;

/// The picture; none where no clamp holds a level.
pub(crate) fn clamps(units: &Units, sets: &[&Grip]) -> Option<Picture> {
    let sets: Vec<&Grip> = sets
        .iter()
        .copied()
        .filter(|set| {
            set.result
                .clamps
                .iter()
                .any(|clamp| clamp.settled_n.is_some())
        })
        .collect();
    if sets.is_empty() {
        return None;
    }
    let force = axis(units, &sets);
    let place = |newton: f64| force.place(units.force_value(newton));
    let mut picture = Picture::new(WIDTH, BOTTOM + 26.0);
    picture.title = "Every clamp".to_owned();
    let limits: Vec<&Judged> = limits(&sets);
    for limit in &limits {
        let y = place(limit.limit);
        let [top, bottom] = match limit.side {
            Side::Lower => [y, BOTTOM],
            Side::Upper => [TOP, y],
        };
        picture.hatch([LEFT, top, RIGHT, bottom]);
    }
    grid(&mut picture, units, &force);
    for limit in &limits {
        let y = place(limit.limit);
        picture.line((LEFT, y), (RIGHT, y), Pen::line(2.0, INK));
        let text = format!("{} {}", words::side(limit.side), units.force(limit.limit));
        let under = y + 12.0 < BOTTOM;
        let label = Label::new(LEFT + 4.0, if under { y + 11.0 } else { y - 5.0 }, text);
        picture.label(label.on_white());
    }
    let room: f64 = sets.iter().map(|set| in_set(set)).sum();
    let each = (RIGHT - LEFT) / room;
    let mut from = LEFT;
    let mut told = Vec::new();
    let after = sets
        .iter()
        .any(|set| set.result.state == Some(State::AsLeft));
    for set in &sets {
        let to = from + each * in_set(set);
        told.push(one(&mut picture, units, set, [from, to], after, place));
        from = to;
    }
    let limit = limits.first().map_or_else(String::new, |limit| {
        format!(
            " Limit of the {}: {} {}.",
            limit.figure.words(),
            words::side(limit.side),
            units.force(limit.limit)
        )
    });
    picture.description = format!("{}.{limit}", told.join("; "));
    Some(picture)
}

fn in_set(set: &Grip) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "some clamps")]
    let many = set.result.clamps.len() as f64;
    many + 2.0 * ENDS
}

/// The limits on a force, each once.
fn limits<'a>(sets: &[&'a Grip]) -> Vec<&'a Judged> {
    let mut limits: Vec<&Judged> = Vec::new();
    let all = sets
        .iter()
        .flat_map(|set| &set.result.verdict)
        .flat_map(|verdict| &verdict.limits);
    for limit in all.filter(|limit| matches!(limit.figure, Figure::GripMean | Figure::GripLowest)) {
        let drawn = limits
            .iter()
            .any(|other| (other.limit - limit.limit).abs() < 1e-9);
        if !drawn && limits.len() < 2 {
            limits.push(limit);
        }
    }
    limits
}

fn axis(units: &Units, sets: &[&Grip]) -> Axis {
    let mut span = [f64::INFINITY, f64::NEG_INFINITY];
    let mut take = |newton: f64| {
        let value = units.force_value(newton);
        span = [span[0].min(value), span[1].max(value)];
    };
    for set in sets {
        set.result
            .clamps
            .iter()
            .filter_map(|clamp| clamp.settled_n)
            .for_each(&mut take);
        if let (Some(statistics), Some(uncertainty)) =
            (&set.result.statistics, &set.result.uncertainty)
        {
            take(statistics.mean_n - uncertainty.expanded_n);
            take(statistics.mean_n + uncertainty.expanded_n);
        }
    }
    limits(sets).iter().for_each(|limit| take(limit.limit));
    let room = (0.16 * (span[1] - span[0]))
        .max(0.02 * span[1].abs())
        .max(1e-9);
    Axis::new([span[0] - room, span[1] + room], [BOTTOM, TOP])
}

fn grid(picture: &mut Picture, units: &Units, force: &Axis) {
    let (ticks, digits) = force.ticks(5);
    picture.label(Label::new(0.0, TOP - 10.0, units.force_symbol()));
    for tick in ticks {
        let y = force.place(tick);
        picture.line((LEFT - 3.0, y), (LEFT, y), Pen::line(0.6, SOFT));
        picture.line((LEFT, y), (RIGHT, y), Pen::line(0.3, HAIR));
        picture.label(Label::new(LEFT - 5.0, y + 2.7, fixed(tick, digits)).end());
    }
    picture.line((LEFT, TOP), (LEFT, BOTTOM), Pen::line(0.6, SOFT));
    picture.line((LEFT, BOTTOM), (RIGHT, BOTTOM), Pen::line(0.6, SOFT));
}

/// A set between two places; what it says in words.
fn one(
    picture: &mut Picture,
    units: &Units,
    set: &Grip,
    [from, to]: [f64; 2],
    after: bool,
    place: impl Fn(f64) -> f64,
) -> String {
    let result = &set.result;
    let each = (to - from) / in_set(set);
    let state = result
        .state
        .map_or_else(String::new, |state| state.words().to_owned());
    let mut told = state.clone();
    if let Some(statistics) = &result.statistics {
        let inside = [from + 3.0, to - 3.0];
        let mean = place(statistics.mean_n);
        let mut value = units.force(statistics.mean_n);
        let (mut over, mut under) = (mean, mean);
        if let Some(uncertainty) = &result.uncertainty {
            let ends =
                [-1.0, 1.0].map(|side| place(statistics.mean_n + side * uncertainty.expanded_n));
            picture.block(
                [inside[0], ends[1], inside[1], ends[0]],
                Pen::line(0.5, INK).filled(BAND),
            );
            value = format!(
                "{} ± {}",
                units.force_digits(statistics.mean_n),
                units.force_spread(uncertainty.expanded_n, statistics.mean_n)
            );
            (over, under) = (ends[1], ends[0]);
        }
        picture.line((inside[0], mean), (inside[1], mean), Pen::line(0.8, INK));
        told = format!(
            "{told} mean {value}, lowest {}",
            units.force(statistics.lowest_n)
        )
        .trim_start()
        .to_owned();
        let highest = result
            .clamps
            .iter()
            .filter_map(|clamp| clamp.settled_n)
            .map(&place);
        let over = highest.fold(over, f64::min);
        let label = Label::new(f64::midpoint(from, to), over - 6.0, value)
            .middle()
            .strong();
        let label = label.within(LEFT + 1.0, RIGHT);
        let lowest = result.clamps.iter().filter_map(|clamp| clamp.settled_n);
        let under = lowest.map(&place).fold(under, f64::max);
        let at = |y: f64| Label { y, ..label.clone() }.on_white();
        let places = [label.y, under + 12.0, label.y - 10.0, label.y - 20.0];
        let mut inside = places.into_iter().filter(|y| (TOP..BOTTOM).contains(y));
        inside.any(|y| picture.label_if_free(at(y)));
    }
    // Thirty clamps are small, none lies on another.
    let size = (0.44 * each).min(2.9);
    let hollow = after && result.state != Some(State::AsLeft);
    for (number, clamp) in result.clamps.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "some clamps")]
        let x = from + each * (ENDS + 0.5 + number as f64);
        let name = Label::new(x, BOTTOM + 10.5, clamp.number.to_string()).middle();
        picture.label_if_free(name);
        let Some(settled_n) = clamp.settled_n else {
            continue;
        };
        let y = place(settled_n);
        if clamp.counted {
            let fill = if hollow { WHITE } else { INK };
            picture.ring((x, y), size, Pen::line(0.9, INK).filled(fill));
        } else {
            picture.line(
                (x - size, y - size),
                (x + size, y + size),
                Pen::line(0.8, SOFT),
            );
            picture.line(
                (x - size, y + size),
                (x + size, y - size),
                Pen::line(0.8, SOFT),
            );
        }
    }
    if !state.is_empty() {
        let label = Label::new(f64::midpoint(from, to), BOTTOM + 22.0, state).middle();
        picture.label_if_free(label.within(LEFT, RIGHT));
    }
    told
}
