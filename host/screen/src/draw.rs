//! A scene laid out. In: a scene, the size of the terminal, its letters. Out: the buffer.
//!
//! The blocks grow by whole steps, with the smaller of columns ÷ 80 and rows ÷ 24; the text does not, so what a larger
//! terminal gains goes to whoever reads the details. Below 80 × 24 the word and the figure stay and the rest gives way.

use crate::canvas::{Canvas, narrow};
use crate::glyphs;
use crate::pictures;
use crate::scene::{Ability, Count, Ground, Key, Picture, Scene};
use crate::text::{columns, in_block_letters, in_pieces, plain, wrapped};
use ratatui_core::buffer::Buffer;
use ratatui_core::layout::Rect;
use ratatui_core::style::{Modifier, Style};

/// Columns and rows of the whole screen. A smaller terminal shows word and figure.
pub const SMALLEST: (u16, u16) = (80, 24);
/// Empty columns at the left edge; one at the right.
const MARGIN: u16 = 2;
/// Column of what stands beside word and figure, on 80 columns.
const BESIDE: u16 = 48;

/// Draws a scene into a sheet of `area`.
pub fn draw(scene: &Scene, area: Rect, ability: Ability) -> Buffer {
    let mut canvas = Canvas::new(Rect::new(0, 0, area.width, area.height), ability);
    if area.width >= SMALLEST.0 && area.height >= SMALLEST.1 {
        whole(scene, &mut canvas);
    } else {
        small(scene, &mut canvas);
    }
    // Words alone, and the circle, reach beyond the row under the figure.
    let parted = scene.figure.is_some() && !matches!(scene.picture, Picture::Circle(_));
    ground(scene, parted, &mut canvas);
    canvas.buffer
}

/// Where things stand.
struct Layout {
    scale: u16,
    word: u16,
    sentence: u16,
    figure: u16,
    picture: u16,
    /// First row of the lines and details.
    lines: u16,
    /// Row of the link line.
    link: u16,
    /// First row of the keys, below it.
    keys: u16,
}

/// More rows of keys would take too much from what they are about.
const MOST_ROWS_OF_KEYS: usize = 3;

impl Layout {
    fn of(canvas: &Canvas, scene: &Scene) -> Self {
        let width = canvas.width() - MARGIN - 1;
        let rows = in_rows(&scene.keys, width, canvas.ability).len();
        let keys = canvas.height() - narrow(rows.clamp(1, MOST_ROWS_OF_KEYS));
        // A link line without words leaves its row to the keys and to what stands above.
        let link = keys - u16::from(!scene.link.is_empty() || rows < 2);
        let scale = (canvas.width() / SMALLEST.0).min(canvas.height() / SMALLEST.1);
        let (word, gap) = (2, scale);
        // Letters of whole rows are two rows higher: the empty row above the sentence gives way.
        let tight = u16::from(canvas.ability == Ability::Ascii);
        let sentence = word + canvas.word_rows(scale) + gap - tight * gap.min(1);
        let figure = (sentence + 1 + gap).max(8);
        let picture = figure + 7 * scale + gap;
        Self {
            scale,
            word,
            sentence,
            figure,
            picture,
            lines: picture + pictures::ROWS * scale,
            link,
            keys,
        }
    }

    fn beside(&self) -> u16 {
        BESIDE * self.scale
    }
}

fn whole(scene: &Scene, canvas: &mut Canvas) {
    let at = Layout::of(canvas, scene);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let width = canvas.width() - MARGIN - 1;
    canvas.words_to(MARGIN + width, 0, &scene.corner, bold);
    let room = width.saturating_sub(columns(&scene.corner) + 1);
    canvas.words(MARGIN, 0, room, &scene.title, bold);
    word(scene, canvas, &at);
    let round = matches!(scene.picture, Picture::Circle(_));
    let sentence_width = if round {
        at.beside() - MARGIN - 4
    } else {
        width
    };
    for (row, line) in
        (at.sentence..at.figure).zip(wrapped(&scene.sentence, sentence_width, canvas.ability))
    {
        canvas.words(MARGIN, row, sentence_width, &line, bold);
    }
    figure(scene, canvas, &at);
    beside(scene, canvas, &at);
    let picture = match &scene.picture {
        Picture::Circle(_) => Rect::new(
            at.beside() - 4,
            at.word,
            canvas.width() - 1 - at.beside() + 4,
            at.picture - at.word,
        ),
        // They give way to the lines, made smaller or told as text: what was just refused or taken is read.
        Picture::Choices(choices) => {
            let lines = scene.lines.iter();
            let rows = lines.map(|line| wrapped(line, width, canvas.ability).len());
            let room = (at.link - at.figure).saturating_sub(narrow(rows.sum()));
            Rect::new(MARGIN, at.figure, width, room.max(narrow(choices.len())))
        }
        _ => Rect::new(MARGIN, at.picture, width, pictures::ROWS * at.scale),
    };
    let used = pictures::draw(&scene.picture, picture, canvas);
    let words_alone =
        scene.figure.is_none() && scene.steps.is_empty() && scene.picture == Picture::None;
    let lines_from = match scene.picture {
        _ if words_alone => at.figure,
        Picture::Choices(_) => at.figure + used,
        Picture::Circle(_) => at.picture,
        _ => at.picture + used,
    };
    foot(scene, canvas, &at, lines_from);
}

/// The word, made smaller by whole steps where it would reach into the count.
fn word(scene: &Scene, canvas: &mut Canvas, at: &Layout) {
    let room = match scene.count {
        Some(_) => at.beside() - MARGIN - 1,
        None => canvas.width() - MARGIN - 1,
    };
    let block = in_block_letters(&scene.word).and_then(|word| {
        let dots = narrow(glyphs::width(&word, glyphs::letter));
        let fits = (1..=at.scale).rev().find(|scale| dots * scale <= room);
        Some((word, fits?))
    });
    match block {
        Some((word, scale)) => canvas.block_word(MARGIN, at.word, scale, &word),
        None => {
            let style = Style::new().add_modifier(Modifier::BOLD);
            canvas.words(MARGIN, at.word + 1, room, &scene.word, style);
        }
    }
    if let Some(count) = scene.count {
        squares(count, canvas, at);
    }
}

/// Taken: solid; being taken: a frame; to come: a dot. More than fit are said in words.
fn squares(count: Count, canvas: &mut Canvas, at: &Layout) {
    let room = canvas.width() - 1 - at.beside();
    let wanted = narrow(count.wanted.max(count.done + usize::from(count.under_way)));
    let each = (6 * at.scale).min(room / wanted.max(1));
    if each < 4 {
        let words = format!("{}/{}", count.done, count.wanted);
        return canvas.block_word(at.beside(), at.word, at.scale, &words);
    }
    let (wide, high) = (each - 1, 3 * at.scale);
    for place in 0..wanted {
        let x = at.beside() + place * each;
        if usize::from(place) < count.done {
            canvas.ink(x, at.word, wide, high);
        } else if usize::from(place) == count.done && count.under_way {
            frame(canvas, Rect::new(x, at.word, wide, high), at.scale);
        } else {
            canvas.ink(x + wide / 2, at.word + high - 1, 1, 1);
        }
    }
}

fn frame(canvas: &mut Canvas, area: Rect, thick: u16) {
    canvas.ink(area.x, area.y, area.width, thick);
    canvas.ink(area.x, area.bottom() - thick, area.width, thick);
    canvas.ink(area.x, area.y, thick, area.height);
    canvas.ink(area.right() - thick, area.y, thick, area.height);
}

fn figure(scene: &Scene, canvas: &mut Canvas, at: &Layout) {
    let Some(figure) = &scene.figure else { return };
    let dots = 2 * narrow(glyphs::width(&figure.digits, glyphs::digit));
    let unit = columns(&figure.unit) + 1;
    let alone = scene.beside.is_empty()
        && scene.steps.is_empty()
        && !matches!(scene.picture, Picture::Circle(_));
    let room = if alone {
        canvas.width() - MARGIN - 1
    } else {
        at.beside() - MARGIN - 1
    };
    // A figure never gives way: one that is too wide is drawn smaller, over what stands beside it if it must.
    let scale = (1..=at.scale)
        .rev()
        .find(|scale| dots * scale + unit <= room)
        .unwrap_or(1);
    let end = canvas.block_digits(MARGIN, at.figure, scale, &figure.digits);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    // An empty column stays between the unit and what stands beside it.
    let end = end - u16::from(!alone && end + columns(&figure.unit) >= at.beside());
    canvas.words(end, at.figure + 7 * scale - 1, unit, &figure.unit, bold);
}

fn beside(scene: &Scene, canvas: &mut Canvas, at: &Layout) {
    if matches!(scene.picture, Picture::Circle(_)) {
        return;
    }
    let room = canvas.width() - 1 - at.beside();
    if !scene.steps.is_empty() {
        return steps(scene, canvas, at, room);
    }
    for (place, beside) in (0_u16..).zip(scene.beside.iter().take(2)) {
        let y = at.figure + place * 4 * at.scale;
        let dots = narrow(glyphs::width(&beside.digits, glyphs::letter)) * at.scale;
        // Letters of whole rows would reach into the second figure: text says it.
        let (text_x, first) = if canvas.ability == Ability::Unicode {
            canvas.block_word(at.beside(), y, at.scale, &beside.digits);
            (at.beside() + dots + 2, None)
        } else {
            (at.beside(), Some(&beside.digits))
        };
        let width = (canvas.width() - 1).saturating_sub(text_x);
        let lines: Vec<String> = first
            .into_iter()
            .chain(&beside.what)
            .flat_map(|line| wrapped(line, width, canvas.ability))
            .collect();
        for (row, line) in (y..).zip(lines.iter().take(usize::from(3 * at.scale))) {
            canvas.words(text_x, row, width, line, Style::new());
        }
    }
}

/// What to do, step by step, an empty row between them where there is room for it. The last ones give way: nothing stands over
/// what is under the figure.
fn steps(scene: &Scene, canvas: &mut Canvas, at: &Layout, room: u16) {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let hatched = u16::from(scene.ground == Ground::Hatched);
    let end = at.picture - hatched;
    let each: Vec<Vec<String>> = scene
        .steps
        .iter()
        .map(|step| wrapped(step, room - 3, canvas.ability))
        .collect();
    let rows = |gap: u16| {
        each.iter()
            .map(|step| narrow(step.len()) + gap)
            .sum::<u16>()
            - gap
    };
    let gap = u16::from(at.figure + rows(1) <= end);
    let mut row = at.figure;
    for (number, step) in (1..).zip(&each) {
        if row + narrow(step.len()) > end {
            return;
        }
        canvas.words(at.beside(), row, 3, &format!("{number}"), bold);
        for line in step {
            canvas.words(at.beside() + 3, row, room - 3, line, Style::new());
            row += 1;
        }
        row += gap;
    }
}

/// Lines, details, news, link and keys. News give way to figures, then the last details, then the last lines.
fn foot(scene: &Scene, canvas: &mut Canvas, at: &Layout, from: u16) {
    let width = canvas.width() - MARGIN - 1;
    let from = match scene.picture {
        Picture::Choices(_) => from,
        _ => from.min(at.lines),
    };
    let ability = canvas.ability;
    let in_rows_of = |lines: &[String]| -> Vec<Vec<String>> {
        let each = lines.iter().map(|line| wrapped(line, width, ability));
        each.collect()
    };
    let (lines, news) = (in_rows_of(&scene.lines), in_rows_of(&scene.news));
    let details: Vec<Vec<String>> = scene.details.iter().map(|row| vec![row.clone()]).collect();
    // The empty row above the details gives way to what was just said.
    let rows = |all: &[Vec<String>]| narrow(all.iter().map(Vec::len).sum());
    let of_news = news.first().map_or(0, |first| narrow(first.len()));
    let needs = rows(&lines) + rows(&details) + of_news;
    let gap = !details.is_empty() && (news.is_empty() || from + needs < at.link);
    let gap = gap.then(|| vec![String::new()]);
    let mut row = from;
    let figures = lines.into_iter().chain(gap).chain(details);
    for (is_news, line) in figures
        .map(|line| (false, line))
        .chain(news.into_iter().map(|line| (true, line)))
    {
        // Half a sentence can say the opposite of the whole.
        if row + narrow(line.len()) > at.link {
            match is_news {
                true => continue,
                false => break,
            }
        }
        for part in line {
            canvas.words(MARGIN, row, width, &part, Style::new());
            row += 1;
        }
    }
    if at.link < at.keys {
        canvas.words(MARGIN, at.link, width, &scene.link, Style::new());
    }
    for (row, keys) in (at.keys..canvas.height()).zip(in_rows(&scene.keys, width, ability)) {
        row_of_keys(&keys, canvas, MARGIN, row, width);
    }
}

/// Keys in as many rows as they need; none is broken over two, and one that is wider than a row has it alone.
fn in_rows(keys: &[Key], width: u16, ability: Ability) -> Vec<Vec<&Key>> {
    let mut rows: Vec<Vec<&Key>> = Vec::new();
    let mut used = 0;
    for key in keys {
        let words = plain(&format!("{} {}", key.name, key.does), ability);
        let needs = columns(&words);
        match rows.last_mut() {
            Some(row) if used + BETWEEN_KEYS + needs <= width => {
                row.push(key);
                used += BETWEEN_KEYS + needs;
            }
            _ => {
                rows.push(vec![key]);
                used = needs;
            }
        }
    }
    rows
}

/// Empty columns between two keys.
const BETWEEN_KEYS: u16 = 3;

fn row_of_keys(keys: &[&Key], canvas: &mut Canvas, left: u16, row: u16, width: u16) {
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let underlined = bold.add_modifier(Modifier::UNDERLINED);
    let end = left + width;
    let mut x = left;
    for key in keys {
        let name = plain(&key.name, canvas.ability);
        let does = plain(&key.does, canvas.ability);
        let does_x = x + columns(&name) + 1;
        canvas.words(x, row, end.saturating_sub(x), &name, underlined);
        canvas.words(does_x, row, end.saturating_sub(does_x), &does, bold);
        x = does_x + columns(&does) + BETWEEN_KEYS;
    }
}

/// What a small screen has to show, in rows as wide as it is.
struct Small<'a> {
    word: Vec<String>,
    /// Digits and unit in a line.
    figure: Vec<String>,
    count: Option<String>,
    sentence: Vec<String>,
    choices: Vec<String>,
    keys: Vec<Vec<&'a Key>>,
}

/// Rows of a figure in blocks, with the empty one under it.
const ROWS_OF_DIGITS: u16 = 8;

impl<'a> Small<'a> {
    fn of(scene: &'a Scene, width: u16, ability: Ability) -> Self {
        let figure = scene.figure.as_ref();
        let choices: &[Key] = match &scene.picture {
            Picture::Choices(choices) => choices,
            _ => &[],
        };
        let in_lines = |words: &str| wrapped(&plain(words, ability), width, ability);
        Self {
            word: in_lines(&scene.word),
            figure: figure
                .map(|figure| in_lines(&format!("{} {}", figure.digits, figure.unit)))
                .unwrap_or_default(),
            count: scene
                .count
                .map(|count| format!("{} of {}", count.done, count.wanted)),
            sentence: in_lines(&in_pieces(&plain(&scene.sentence, ability), width)),
            choices: choices
                .iter()
                .map(|key| plain(&format!("{:<6} {}", key.name, key.does), ability))
                .collect(),
            keys: in_rows(&scene.keys, width, ability),
        }
    }

    /// Rows of all of it, with so many for the word and the figure.
    fn rows(&self, word: u16, figure: u16) -> u16 {
        let rest = self.sentence.len() + self.choices.len() + self.keys.len();
        let rest = narrow(rest).saturating_add(u16::from(self.count.is_some()));
        rest.saturating_add(word).saturating_add(figure)
    }

    /// Rows of it in letters alone, the least there can be.
    fn least_rows(&self) -> u16 {
        self.rows(narrow(self.word.len()), narrow(self.figure.len()))
    }
}

/// Columns in which none of these words is cut.
fn widest_word(words: &str, ability: Ability) -> u16 {
    let words = plain(words, ability);
    let each = words.split_whitespace().map(columns);
    each.max().unwrap_or_default()
}

/// Columns in which no word, key or choice of a scene is cut.
fn least_width(scene: &Scene, ability: Ability) -> u16 {
    let figure = scene.figure.iter();
    let figure = figure.flat_map(|figure| [figure.digits.as_str(), &figure.unit]);
    let words = std::iter::once(scene.word.as_str());
    let words = words.chain(figure).map(|words| widest_word(words, ability));
    let whole = Small::of(scene, u16::MAX, ability);
    let choices = whole.choices.iter().map(|choice| columns(choice));
    let keys = scene.keys.iter();
    let keys = keys.map(|key| columns(&plain(&format!("{} {}", key.name, key.does), ability)));
    let widest = words.chain(choices).chain(keys).max();
    widest.unwrap_or_default()
}

/// Word and figure, the sentence and the keys, all of them whole; in what is left the title, the steps and the lines. The blocks
/// give way to letters before any of it does. A window that cannot hold it says which one can.
fn small(scene: &Scene, canvas: &mut Canvas) {
    // The last column is the hatching's.
    let hatched = u16::from(scene.ground == Ground::Hatched);
    let width = canvas.width().saturating_sub(hatched);
    let (height, ability) = (canvas.height(), canvas.ability);
    let parts = Small::of(scene, width, ability);
    let least = least_width(scene, ability);
    if least > width || parts.least_rows() > height {
        return too_small(scene, &parts, least.max(width), hatched, canvas);
    }
    let bold = Style::new().add_modifier(Modifier::BOLD);
    let block = in_block_letters(&scene.word)
        .filter(|word| narrow(glyphs::width(word, glyphs::letter)) <= width);
    let digits = scene.figure.as_ref().filter(|figure| {
        let dots = 2 * narrow(glyphs::width(&figure.digits, glyphs::digit));
        dots + columns(&figure.unit) < width
    });
    // The figure is read from farther away than the word.
    let word_rows = [canvas.word_rows(1) + 1, narrow(parts.word.len())];
    let figure_rows = [ROWS_OF_DIGITS, narrow(parts.figure.len())];
    let layouts = [(0, 0), (1, 0), (0, 1), (1, 1)].into_iter();
    let mut layouts = layouts
        .filter(|(word, _)| *word == 1 || block.is_some())
        .filter(|(_, figure)| *figure == 1 || digits.is_some());
    let fits = |(word, figure): &(usize, usize)| {
        parts.rows(word_rows[*word], figure_rows[*figure]) <= height
    };
    let (in_word, in_figure) = layouts.find(fits).unwrap_or((1, 1));
    let mut spare = height
        - parts
            .rows(word_rows[in_word], figure_rows[in_figure])
            .min(height);
    let mut row = 0;
    let lines = |lines: &[String], style: Style, row: &mut u16, canvas: &mut Canvas| {
        for line in lines {
            canvas.words(0, *row, width, line, style);
            *row += 1;
        }
    };
    // With a row to spare for what comes to its end below.
    let title = wrapped(&plain(&scene.title, ability), width, ability);
    if title.len() == 1 && spare > 1 {
        lines(&title, Style::new(), &mut row, canvas);
        spare -= 1;
    }
    match block.filter(|_| in_word == 0) {
        Some(word) => {
            canvas.block_word(0, row, 1, &word);
            row += word_rows[0];
        }
        None => lines(&parts.word, bold, &mut row, canvas),
    }
    match digits.filter(|_| in_figure == 0) {
        Some(figure) => {
            let end = canvas.block_digits(0, row, 1, &figure.digits);
            let unit = columns(&figure.unit) + 1;
            canvas.words(end, row + 6, unit, &figure.unit, bold);
            row += ROWS_OF_DIGITS;
        }
        None => lines(&parts.figure, bold, &mut row, canvas),
    }
    lines(parts.count.as_slice(), bold, &mut row, canvas);
    lines(&parts.sentence, Style::new(), &mut row, canvas);
    lines(&parts.choices, bold, &mut row, canvas);
    let end = height - narrow(parts.keys.len()).min(height);
    for (row, keys) in (end..).zip(&parts.keys) {
        row_of_keys(keys, canvas, 0, row, width);
    }
    let steps = (1..).zip(&scene.steps);
    let steps = steps.map(|(number, step)| format!("{number} {step}"));
    let more = scene.lines.iter().chain(&scene.news).cloned();
    for line in steps.chain(more) {
        let parts = wrapped(&plain(&line, ability), width, ability);
        // Half a sentence can say the opposite of the whole.
        if narrow(parts.len()) > spare {
            break;
        }
        spare -= narrow(parts.len());
        lines(&parts, Style::new(), &mut row, canvas);
    }
}

/// The word and the figure where they fit, and how large a window has to be for the rest; `wide`: so many columns are enough.
fn too_small(scene: &Scene, parts: &Small<'_>, wide: u16, hatched: u16, canvas: &mut Canvas) {
    let (ability, height) = (canvas.ability, canvas.height());
    let width = canvas.width().saturating_sub(hatched);
    let high = Small::of(scene, wide, ability).least_rows();
    // Nobody counts rows: what holds everything is as good an answer where that is not much more.
    let (wide, high) = match wide + hatched > SMALLEST.0 || high > SMALLEST.1 {
        true => SMALLEST,
        false => (wide + hatched, high),
    };
    let size = plain(&format!("{wide}×{high}"), ability);
    let told = [
        format!("Window too small: make it {size} letters."),
        format!("Needs {size}."),
        size,
    ];
    let whole = told
        .iter()
        .filter(|told| widest_word(told, ability) <= width);
    let told = whole.map(|told| wrapped(told, width, ability));
    let fits = |told: &Vec<String>| narrow(told.len()) <= height;
    let told = told.into_iter().find(fits).unwrap_or_default();
    let end = height - narrow(told.len()).min(height);
    let bold = Style::new().add_modifier(Modifier::BOLD);
    for (row, line) in (end..).zip(&told) {
        canvas.words(0, row, width, line, bold);
    }
    let figure = scene.figure.as_ref();
    let figure = figure.map_or_else(String::new, |figure| {
        format!("{} {}", figure.digits, figure.unit)
    });
    let mut row = 0;
    for (words, lines) in [
        (&scene.word, &parts.word),
        (&figure, &parts.figure),
        (&String::new(), &parts.sentence),
    ] {
        let is_whole = widest_word(words, ability) <= width;
        if is_whole && row + narrow(lines.len()) <= end {
            for line in lines {
                canvas.words(0, row, width, line, bold);
                row += 1;
            }
        }
    }
}

/// The state, laid under everything.
fn ground(scene: &Scene, parted: bool, canvas: &mut Canvas) {
    let height = canvas.height();
    match scene.ground {
        Ground::Plain => {}
        Ground::Full => (0..height).for_each(|row| canvas.reverse_row(row)),
        Ground::Filling(share) => {
            let full = (0..height)
                .rev()
                .take_while(|row| f64::from(height - row) <= share * f64::from(height));
            for row in full.collect::<Vec<_>>() {
                canvas.reverse_row(row);
            }
        }
        Ground::Hatched => hatch(scene, parted, canvas),
    }
}

/// Hatching all round; on a whole screen also above the word and under the figure.
fn hatch(scene: &Scene, parted: bool, canvas: &mut Canvas) {
    let sign = match canvas.ability {
        Ability::Unicode => '▒',
        Ability::Ascii => '/',
    };
    let (width, height) = (canvas.width(), canvas.height());
    if width < SMALLEST.0 || height < SMALLEST.1 {
        return (0..height)
            .for_each(|row| canvas.sign(width.saturating_sub(1), row, sign, Style::new()));
    }
    let at = Layout::of(canvas, scene);
    for row in 0..height {
        canvas.sign(0, row, sign, Style::new());
        canvas.sign(width - 1, row, sign, Style::new());
    }
    let lower = parted.then(|| at.picture - 1);
    for row in [1].into_iter().chain(lower) {
        for column in 0..width {
            canvas.sign(column, row, sign, Style::new());
        }
    }
}
