//! What was measured so far, drawn. In: columns, a circle, a strip. Out: cells.

use crate::canvas::{Canvas, narrow};
use crate::glyphs;
use crate::scene::{Ability, Circle, Column, Key, Picture, Strip};
use crate::text::columns as width_of;
use ratatui_core::layout::Rect;
use ratatui_core::style::{Modifier, Style};
use std::f64::consts::TAU;

/// Rows a picture under the figure may take, at the smallest scale.
pub(crate) const ROWS: u16 = 5;
/// Columns and strips reach this much beyond their largest value.
const HEADROOM: f64 = 1.12;
/// Columns between a large key and what it answers.
const GAP: u16 = 4;
/// Eighths of a row.
const EIGHTHS: [char; 9] = [' ', '▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// Draws a picture; returns the rows it took.
pub(crate) fn draw(picture: &Picture, area: Rect, canvas: &mut Canvas) -> u16 {
    match picture {
        Picture::None => 0,
        Picture::Columns { columns, limit } => {
            clamps(columns, limit.as_ref(), area, canvas);
            area.height
        }
        Picture::Circle(circle) => {
            round(circle, area, canvas);
            0
        }
        Picture::Strip(strip) => {
            verdict(strip, area, canvas);
            3
        }
        Picture::Choices(choices) => large_keys(choices, area, canvas),
    }
}

/// A key at the left, what it answers beside it; as text where the blocks do not fit. Returns the rows they took.
fn large_keys(choices: &[Key], area: Rect, canvas: &mut Canvas) -> u16 {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let count = narrow(choices.len());
    let dots = |words: &str| narrow(glyphs::width(words, glyphs::letter));
    let names = choices.iter().map(|key| dots(&key.name)).max().unwrap_or(0);
    let answers = choices.iter().map(|key| dots(&key.does)).max().unwrap_or(0);
    let wide = names + GAP + answers;
    let fits = |scale: &u16| {
        let rows = canvas.word_rows(*scale) * count;
        wide * scale <= area.width && rows <= area.height
    };
    let Some(scale) = (1..=area.width / wide.max(1)).rev().find(fits) else {
        for (row, key) in (area.y..area.bottom()).zip(choices) {
            canvas.words(
                area.x,
                row,
                area.width,
                &format!("{:<8} {}", key.name, key.does),
                bold,
            );
        }
        return count;
    };
    // An empty row between them where there is room for it.
    let rows = canvas.word_rows(scale);
    let gap = u16::from((rows + 1) * count <= area.height);
    for (place, key) in (0_u16..).zip(choices) {
        let y = area.y + place * (rows + gap);
        canvas.block_word(area.x, y, scale, &key.name);
        canvas.block_word(area.x + (names + GAP) * scale, y, scale, &key.does);
    }
    count * (rows + gap)
}

/// One solid column a clamp, and the limit as a line it reaches or does not.
fn clamps(columns: &[Column], limit: Option<&(f64, String)>, area: Rect, canvas: &mut Canvas) {
    let rows = area.height.saturating_sub(1);
    let label = limit.map_or(0, |(_, words)| width_of(words) + 1);
    let room = area.width.saturating_sub(label);
    let forces = columns.iter().flat_map(|column| &column.forces).copied();
    let highest = forces
        .chain(limit.map(|(value, _)| *value))
        .fold(0.0, f64::max);
    if rows == 0 || columns.is_empty() || highest <= 0.0 {
        return;
    }
    let eighths = f64::from(rows) * 8.0;
    let height = |force: f64| to_u16((force / (highest * HEADROOM) * eighths).round(), rows * 8);
    if let Some((value, words)) = limit {
        let row = area.y + rows - 1 - (height(*value) / 8).min(rows - 1);
        let dash = if canvas.ability == Ability::Unicode {
            '╌'
        } else {
            '-'
        };
        for x in area.x..area.x + room {
            canvas.sign(x, row, dash, Style::new());
        }
        canvas.words(area.x + room + 1, row, label, words, Style::new());
    }
    let each = (room / narrow(columns.len())).clamp(2, 15 * (area.height / ROWS).max(1));
    for (place, column) in (0_u16..).zip(columns) {
        let x = area.x + place * each;
        if x + each > area.x + room + 1 {
            break;
        }
        let wide = each - each.div_ceil(5).min(each - 1);
        one_clamp(column, Rect::new(x, area.y, wide, rows), height, canvas);
        let style = if column.aside {
            Style::new()
        } else {
            Style::new().add_modifier(Modifier::BOLD)
        };
        // A figure is whole or not there.
        let label = match width_of(&column.label) < each {
            true => column.label.as_str(),
            false => column.label.split_whitespace().next().unwrap_or_default(),
        };
        canvas.words(x, area.y + rows, each - 1, label, style);
    }
}

fn one_clamp(column: &Column, area: Rect, height: impl Fn(f64) -> u16, canvas: &mut Canvas) {
    if column.forces.is_empty() {
        for x in area.x..area.right() {
            let sign = if canvas.ability == Ability::Unicode {
                '▁'
            } else {
                '_'
            };
            canvas.sign(x, area.bottom() - 1, sign, Style::new());
        }
        return;
    }
    let filled = to_u16(
        (f64::from(area.width) * column.share.clamp(0.0, 1.0)).ceil(),
        area.width,
    )
    .max(1);
    for x in 0..filled {
        let place = usize::from(x) * column.forces.len() / usize::from(filled);
        let eighths = height(column.forces[place].max(0.0));
        for row in 0..area.height {
            let part = eighths.saturating_sub(row * 8).min(8);
            let y = area.bottom() - 1 - row;
            // A clamp that does not count stands hollow: every second column.
            if part == 0 || column.aside && x % 2 == 1 {
                continue;
            }
            match canvas.ability {
                Ability::Unicode => {
                    canvas.sign(area.x + x, y, EIGHTHS[usize::from(part)], Style::new())
                }
                Ability::Ascii if part >= 4 => canvas.ink(area.x + x, y, 1, 1),
                Ability::Ascii => canvas.sign(area.x + x, y, '_', Style::new()),
            }
        }
    }
}

/// Positions round the turn: the ring is the first reading, outwards is plus.
fn round(circle: &Circle, area: Rect, canvas: &mut Canvas) {
    let count = circle.positions.len();
    if count == 0 || area.height < 7 || area.width < 20 {
        return;
    }
    // Cells are about twice as high as wide.
    let radius = (f64::from(area.height) / 2.0 - 1.5).min(f64::from(area.width) / 4.0 - 2.5);
    let middle = (
        f64::from(area.x) + f64::from(area.width) / 2.0,
        f64::from(area.y) + f64::from(area.height) / 2.0 - 0.5,
    );
    let cell = |turn: f64, r: f64| {
        let angle = turn * TAU;
        (
            to_u16((middle.0 + 2.0 * r * angle.sin()).round(), u16::MAX),
            to_u16((middle.1 - r * angle.cos()).round(), u16::MAX),
        )
    };
    let ring = 0.72 * radius;
    let dot = if canvas.ability == Ability::Unicode {
        '·'
    } else {
        '.'
    };
    for place in 0..96 {
        let (x, y) = cell(f64::from(place) / 96.0, ring);
        canvas.sign(x, y, dot, Style::new());
    }
    let (x, y) = cell(0.0, 0.0);
    canvas.sign(x, y, '+', Style::new());
    let first = circle.positions[0].reading.unwrap_or(0.0);
    let apart = |value: &f64| (value - first).abs();
    let readings = circle
        .positions
        .iter()
        .filter_map(|position| position.reading);
    let largest = readings
        .clone()
        .chain(circle.now.map(|(value, _)| value))
        .map(|value| apart(&value))
        .fold(0.0, f64::max);
    let scale = if largest > 0.0 {
        (radius - ring) / largest
    } else {
        0.0
    };
    let out = |value: f64| ring + (value - first) * scale;
    let bold = Style::new().add_modifier(Modifier::BOLD);
    for (place, position) in circle.positions.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "a few dozen positions")]
        let turn = place as f64 / count as f64;
        if count <= 16 {
            let (x, y) = cell(turn, radius + 1.0);
            let style = if position.next {
                bold.add_modifier(Modifier::REVERSED)
            } else {
                bold
            };
            canvas.words(x, y, 2, &(place + 1).to_string(), style);
        }
        if let Some(value) = position.reading {
            let (x, y) = cell(turn, out(value));
            canvas.ink(x, y, 2, 1);
        }
    }
    if let Some((value, turn)) = circle.now {
        let (x, y) = cell(turn, out(value));
        canvas.sign(x, y, 'X', bold);
    }
}

/// The measurement against its limit: hatched from the limit outwards on the side it is on.
fn verdict(strip: &Strip, area: Rect, canvas: &mut Canvas) {
    let (value, limit) = (strip.value.0, strip.limit.0);
    let marks = [value - strip.uncertainty, value + strip.uncertainty, limit];
    let all = marks
        .into_iter()
        .chain(strip.last.as_ref().map(|last| last.0));
    let (low, high) = all.fold((f64::MAX, f64::MIN), |(low, high), mark| {
        (low.min(mark), high.max(mark))
    });
    let span = (high - low).max(f64::MIN_POSITIVE);
    let (from, to) = (low - 0.25 * span, high + 0.25 * span);
    let last_column = area.width.saturating_sub(1);
    let column = |mark: f64| {
        let share = ((mark - from) / (to - from)).clamp(0.0, 1.0);
        area.x + to_u16((share * f64::from(last_column)).round(), last_column)
    };
    let (labels, line) = (area.y, area.y + 1);
    let at_limit = column(limit);
    let hatched = if strip.lower {
        area.x..at_limit
    } else {
        at_limit + 1..area.right()
    };
    for x in hatched {
        canvas.sign(x, line, '/', Style::new());
    }
    canvas.ink(at_limit, line, 1, 1);
    let unicode = canvas.ability == Ability::Unicode;
    for x in column(value - strip.uncertainty)..=column(value + strip.uncertainty) {
        canvas.sign(
            x,
            line,
            if unicode { '═' } else { '=' },
            Style::new().add_modifier(Modifier::BOLD),
        );
    }
    canvas.sign(
        column(value),
        line,
        if unicode { '●' } else { '*' },
        Style::new().add_modifier(Modifier::BOLD),
    );
    if let Some((last, _)) = &strip.last {
        canvas.sign(
            column(*last),
            line,
            if unicode { '○' } else { 'o' },
            Style::new(),
        );
    }
    let mut taken: Vec<(u16, u16)> = Vec::new();
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let written = [
        (value, Some(&strip.value.1), bold),
        (limit, Some(&strip.limit.1), bold),
        (
            strip.last.as_ref().map_or(limit, |last| last.0),
            strip.last.as_ref().map(|last| &last.1),
            Style::new(),
        ),
    ];
    for (mark, words, style) in written {
        let Some(words) = words else { continue };
        let wide = width_of(words);
        let x = column(mark)
            .saturating_sub(wide / 2)
            .clamp(area.x, area.right().saturating_sub(wide).max(area.x));
        // Two labels never stand on one another: the later one gives way, its mark stays.
        if taken
            .iter()
            .all(|(begin, end)| x > end + 1 || x + wide + 1 < *begin)
        {
            canvas.words(x, labels, wide, words, style);
            taken.push((x, x + wide));
        }
    }
}

/// A place on the sheet; what is off it, or no number, is at its edge.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the range before"
)]
fn to_u16(place: f64, most: u16) -> u16 {
    place.clamp(0.0, f64::from(most)) as u16
}
