//! The first page: whose spindle, what was found, what to do, what the paper says, who signs.
//!
//! In: a document and how it is wanted, which says the sheet it must fit on. Out: blocks. The answer comes first, a verdict is
//! its figure drawn against its limit. What gives way where there is no room is written down in [`Room`]; figures never do.

use crate::checked::{Checked, TYPED, checks, not_overtaken, set};
use crate::document::Document;
use crate::ladder::{judged_name, ladder};
use crate::letterhead::letterhead;
use crate::paper::{Block, Cell, Kind, Table, Text, body, figure, flag, heading, label, note};
use crate::pdf::pages;
use crate::to_do::{Step, nothing_to_do, of_severity, steps, sums, to_do};
use crate::{Form, Letterhead};
use holdtrue_metrology::decision::{Figure, Judged};
use holdtrue_metrology::verdict::{of_visit, repeated};
use holdtrue_terms::vocabulary::{Outcome, Severity, State};
use holdtrue_wording::digits::Units;
use holdtrue_wording::paper::{self, CameTo};
use holdtrue_wording::words;

/// What is left of what gives way, in the order it does: all but the most urgent of what is to do, long names, sentences
/// under figures, the pictures of all but the worst figures, which stand in a table then, at the very end the rest of the table.
struct Room {
    steps: usize,
    /// Signs of a name; the evidence has the whole of it.
    names: usize,
    sentences: bool,
    /// Figures that are drawn.
    drawn: usize,
    /// Figures beside them.
    tabled: usize,
}

const ALL: usize = usize::MAX;

impl Room {
    const fn of(steps: usize, names: usize, sentences: bool, [drawn, tabled]: [usize; 2]) -> Self {
        Self {
            steps,
            names,
            sentences,
            drawn,
            tabled,
        }
    }

    fn cut(&self, name: &str) -> String {
        match name.char_indices().nth(self.names) {
            Some((end, _)) => format!("{}…", name[..end].trim_end()),
            None => name.to_owned(),
        }
    }
}

const ROOMS: [Room; 8] = [
    Room::of(ALL, ALL, true, [ALL, ALL]),
    Room::of(5, ALL, true, [ALL, ALL]),
    Room::of(5, 56, true, [ALL, ALL]),
    Room::of(5, 56, false, [ALL, ALL]),
    Room::of(5, 40, false, [3, ALL]),
    Room::of(5, 40, false, [2, ALL]),
    Room::of(5, 40, false, [1, ALL]),
    Room::of(5, 32, false, [1, 6]),
];

/// The same with a short letterhead: what was found is worth more than who says so.
const SMALL_ROOMS: [Room; 9] = [
    Room::of(5, 40, false, [2, ALL]),
    Room::of(5, 40, false, [1, ALL]),
    Room::of(5, 32, false, [1, 6]),
    Room::of(4, 24, false, [1, 4]),
    Room::of(3, 24, false, [1, 3]),
    Room::of(2, 24, false, [1, ALL]),
    Room::of(2, 24, false, [1, 3]),
    Room::of(2, 18, false, [1, 1]),
    Room::of(1, 18, false, [1, 1]),
];

/// With fewer things to do than these there is no room for what they come to; the evidence has it at each finding.
const LEAST_STEPS_WITH_SUMS: usize = 3;

/// Lines of a letterhead that stay where there is no room at all.
const SHORT_LETTERHEAD: usize = 2;

/// The first page.
pub(crate) struct Front {
    pub blocks: Vec<Block>,
    /// Not all that is to do stands on it.
    pub shortened: bool,
    /// After how many signs names are cut.
    pub names: usize,
}

/// The page, with as much on it as it holds.
pub(crate) fn front(document: &Document, form: &Form) -> Front {
    let found = found(document);
    let steps = steps(document);
    let page = |(of, room): (&Letterhead, &Room)| {
        let mut blocks = letterhead(of);
        blocks.extend(page(document, &found, &steps, room));
        Front {
            blocks,
            shortened: steps.len() > room.steps,
            names: room.names,
        }
    };
    let whole = &form.letterhead;
    let short = Letterhead {
        lines: whole.lines.iter().take(SHORT_LETTERHEAD).cloned().collect(),
        logo: None,
    };
    let last = &SMALL_ROOMS[SMALL_ROOMS.len() - 1];
    // A letterhead shrinks before all but two figures lose their pictures.
    let (large, tight) = ROOMS.split_at(5);
    let tight = if short == *whole { tight } else { &[] };
    let fitting = large
        .iter()
        .chain(tight)
        .map(|room| (whole, room))
        .chain(SMALL_ROOMS.iter().map(|room| (&short, room)))
        .map(page)
        .find(|front| pages(&front.blocks, form.sheet) == 1);
    fitting.unwrap_or_else(|| page((&short, last)))
}

fn page(document: &Document, found: &[Found], steps: &[Step], room: &Room) -> Vec<Block> {
    let mut blocks = head(document, room);
    blocks.push(Block::Paragraph(Kind::Answer, answer(document).into()));
    if let Some(headline) = &document.headline {
        blocks.push(body(format!("Grip force {headline}.")));
    }
    let mut found_here = vec![heading(2, "What we found")];
    found_here.extend(said_of_sets(document));
    let (drawn, others) = drawn_and_others(found, room.drawn);
    for row in &drawn {
        found_here.push(row.block(&document.units, room.sentences));
    }
    found_here.extend(how_drawn(&drawn).map(note));
    if !others.is_empty() {
        found_here.push(tabled(&document.units, &others, room.tabled));
    }
    let left_out = others.len().saturating_sub(room.tabled);
    if left_out > 0 {
        found_here.push(note(paper::and_more_figures(left_out)));
    }
    if found.is_empty() {
        found_here.push(body(paper::NOTHING_MEASURED));
    }
    if document.digest.is_none() && document.struck.is_none() {
        found_here.push(flag(paper::NOT_FINISHED));
    }
    if !document.later.is_empty() {
        found_here.push(flag(paper::added_later(document.later.len())));
    }
    let mut to_do_here = vec![heading(2, "What to do")];
    to_do_here.extend(match steps.is_empty() {
        true => vec![body(nothing_to_do(document))],
        false => to_do(steps, room.steps),
    });
    if room.steps >= LEAST_STEPS_WITH_SUMS {
        to_do_here.extend(sums(&document.sums));
    }
    // A buyer asks first what it will cost.
    let parts = match document.visit.before_purchase {
        true => [to_do_here, found_here],
        false => [found_here, to_do_here],
    };
    blocks.extend(parts.into_iter().flatten());
    blocks.extend(may_say(document, room));
    let technician = document.visit.technician.as_deref();
    let technician = technician.map(|name| room.cut(name));
    blocks.push(Block::Signatures(paper::signatures(
        technician.as_deref(),
        document.visit.before_purchase,
    )));
    blocks
}

/// Who, what, where, when.
fn head(document: &Document, room: &Room) -> Vec<Block> {
    let (spindle, visit) = (&document.spindle, &document.visit);
    let mut aside: Vec<String> = Vec::new();
    aside.extend(spindle.place_in_words());
    aside.extend(visit.customer.clone());
    aside.extend(visit.order.as_ref().map(|order| format!("order {order}")));
    let aside = aside.into_iter().map(|line| room.cut(&line));
    let mut aside: Vec<String> = aside.collect();
    aside.push(match &visit.purpose {
        Some(purpose) => format!("{}, {}", words::capital(purpose), visit.started),
        None => visit.started.clone(),
    });
    let title = vec![
        Block::Paragraph(Kind::Label, "Spindle condition".into()),
        heading(1, document.name()),
    ];
    let aside = aside
        .into_iter()
        .map(|line| Block::Paragraph(Kind::Aside, line.into()));
    let mut facts: Vec<(String, String)> = Vec::new();
    let mut fact = |label: &str, value: Option<&str>, is_name: bool| {
        if let Some(value) = value {
            let value = match is_name {
                true => room.cut(value),
                false => value.to_owned(),
            };
            facts.push((label.to_owned(), value));
        }
    };
    for each in spindle.facts.iter().filter(|fact| fact.in_front) {
        fact(&each.label, Some(&each.value), true);
    }
    fact("technician", visit.technician.as_deref(), true);
    let finished = visit.finished.as_deref().unwrap_or("not finished");
    fact("finished", Some(finished), false);
    let temperature = visit.temperature.as_deref();
    fact("temperature at the nose", temperature, false);
    fact("consent of", visit.consent_of.as_deref(), true);
    fact("operated by", visit.operated_by.as_deref(), true);
    for each in visit.facts.iter().filter(|fact| fact.in_front) {
        fact(&each.label, Some(&each.value), true);
    }
    let code = document.digest.as_deref().map(paper::short_code);
    facts.extend(code.map(|code| ("check code".to_owned(), code)));
    vec![
        Block::Paragraph(Kind::Caution, words::FIRST_LINE.into()),
        Block::Beside(vec![(1.25, title), (1.0, aside.collect())]),
        Block::Facts(facts),
    ]
}

/// What the visit came to, in one sentence.
pub(crate) fn answer(document: &Document) -> String {
    if let Some(why) = &document.struck {
        return paper::struck_visit(why);
    }
    let before_run: Vec<String> = of_severity(document, Severity::BeforeUse)
        .map(|finding| format!("{}, {}", finding.item, finding.text))
        .collect();
    let checks = checks(document);
    let standing = not_overtaken(&checks);
    // Sets of one kind that came to different things are told apart.
    let several = |check: &Checked| {
        let mut alike = standing.iter().filter(|other| other.what == check.what);
        alike.any(|other| other.comes_to() != check.comes_to())
    };
    let name = |check: &&Checked| match check.state.filter(|_| several(check)) {
        Some(state) => format!("{} {}", check.in_sentence, state.words()),
        None => check.in_sentence.to_owned(),
    };
    let names: Vec<String> = standing.iter().map(name).collect();
    let mut came_to: Vec<CameTo> = standing
        .iter()
        .zip(&names)
        .map(|(check, what)| CameTo {
            what,
            outcome: check.comes_to(),
            stop: !check.stops().is_empty(),
        })
        .collect();
    came_to.sort_by_key(|check| check.what);
    let all_struck = !checks.is_empty() && checks.iter().all(|check| check.struck.is_some());
    let answer = match all_struck {
        true => paper::answer_without(&before_run, paper::ALL_STRUCK),
        false => paper::answer(&before_run, &came_to),
    };
    let amended = checks.iter().filter(|check| check.struck.is_none());
    let amended = amended.filter_map(|check| {
        let amended = check.amended?;
        Some(format!("{}: {amended}.", words::capital(&check.title)))
    });
    let news = document.over_years.iter();
    let news = news.filter_map(|series| Some(series.news.as_ref()?.sentence.clone()));
    let answer = std::iter::once(answer)
        .chain(amended)
        .chain(news.filter(|_| document.struck.is_none()));
    let answer = answer.collect::<Vec<_>>().join(" ");
    let estimates = document.sums.iter().filter_map(|sum| {
        let cost = sum.cost.as_deref()?;
        Some((sum.severity.words(), cost))
    });
    let estimates: Vec<(&str, &str)> = estimates.collect();
    match document.visit.before_purchase && !estimates.is_empty() {
        true => format!("{} {answer}", paper::repairs(&estimates)),
        false => answer,
    }
}

/// What must be known before the figures are read: sets struck out, repeated until one was within.
fn said_of_sets(document: &Document) -> Vec<Block> {
    let checks = checks(document);
    let counted: Vec<&Checked> = checks
        .iter()
        .filter(|check| check.struck.is_none())
        .collect();
    let sets: Vec<_> = counted.iter().map(|check| set(check)).collect();
    let all: Vec<_> = checks.iter().map(set).collect();
    let struck = words::struck_out(all.len() - sets.len(), of_visit(&sets), of_visit(&all));
    let repeated = repeated(&sets).into_iter().map(|each| {
        let title = &counted[each.place].title;
        format!("{title}: {}.", words::repeated(each))
    });
    struck.into_iter().chain(repeated).map(flag).collect()
}

/// A figure of the first page with its verdict.
struct Found<'a> {
    title: String,
    word: String,
    outcome: Option<Outcome>,
    struck: bool,
    /// The figure, its unit and its value where it is judged.
    now: Option<Measured<'a>>,
    before: Option<Measured<'a>>,
    sentences: Vec<String>,
    flags: Vec<String>,
}

#[derive(Clone)]
struct Measured<'a> {
    figure: String,
    unit: String,
    judged: Option<&'a Judged>,
}

impl<'a> Measured<'a> {
    fn of(written: &str, judged: Option<&'a Judged>) -> Self {
        let (figure, unit) = written.split_once('\u{a0}').unwrap_or((written, ""));
        Self {
            figure: figure.to_owned(),
            unit: unit.to_owned(),
            judged,
        }
    }
}

impl Found<'_> {
    fn rank(&self) -> u8 {
        match self.outcome {
            _ if self.struck => 4,
            Some(Outcome::Reject) => 0,
            Some(Outcome::Undecided) => 1,
            None => 2,
            Some(Outcome::Accept) => 3,
        }
    }

    fn block(&self, units: &Units, sentences: bool) -> Block {
        let mut left = vec![label(self.title.as_str())];
        if let Some(now) = &self.now {
            let mut text = Text::default();
            if let Some(before) = &self.before {
                text = text.and(before.figure.as_str()).and(" → ");
            }
            let strong = text.with(crate::paper::Look::Strong, now.figure.as_str());
            let text = strong.soft(format!("\u{a0}{}", now.unit));
            left.push(Block::Paragraph(Kind::Large, text));
        }
        let mut right = vec![Block::Paragraph(Kind::Word, self.word.as_str().into())];
        if let Some(judged) = self.now.as_ref().and_then(|now| now.judged) {
            let before = self.before.as_ref().and_then(|before| before.judged);
            let drawn = ladder(units, before, judged, &self.word);
            right.push(figure(drawn, Text::default()));
        }
        let mut all = vec![Block::Beside(vec![(1.0, left), (1.0, right)])];
        all.extend(self.flags.iter().map(|line| flag(line.as_str())));
        if sentences {
            all.extend(self.sentences.iter().map(|line| note(line.as_str())));
        }
        Block::Together(all)
    }
}

/// The worst of them, in the order they were, and the others.
fn drawn_and_others<'a, 'b>(
    found: &'b [Found<'a>],
    most: usize,
) -> (Vec<&'b Found<'a>>, Vec<&'b Found<'a>>) {
    let mut worst: Vec<usize> = (0..found.len()).collect();
    worst.sort_by_key(|place| found[*place].rank());
    worst.truncate(most);
    let all = found.iter().enumerate();
    let (drawn, others): (Vec<_>, Vec<_>) = all.partition(|(place, _)| worst.contains(place));
    let rows = |rows: Vec<(usize, &'b Found<'a>)>| rows.into_iter().map(|(_, row)| row).collect();
    (rows(drawn), rows(others))
}

/// What hatching and bars mean, where there are any.
fn how_drawn(drawn: &[&Found]) -> Option<&'static str> {
    let judged = |measured: &Option<Measured>| {
        let measured = measured.as_ref();
        measured.is_some_and(|measured| measured.judged.is_some())
    };
    let pairs = drawn.iter().any(|row| judged(&row.before));
    match drawn.iter().any(|row| judged(&row.now)) {
        true if pairs => Some(paper::HOW_DRAWN_AFTER),
        true => Some(paper::HOW_DRAWN),
        false => None,
    }
}

/// Figures there is no room to draw, the worst first.
fn tabled(units: &Units, others: &[&Found], most: usize) -> Block {
    let mut table = Table::of(&["figure", "measured", "limit", "verdict"]);
    let mut rows: Vec<&&Found> = others.iter().collect();
    rows.sort_by_key(|row| row.rank());
    for row in rows.into_iter().take(most) {
        let measured = row.now.as_ref().map_or_else(String::new, |now| {
            let before = row.before.as_ref();
            let before = before.map_or_else(String::new, |before| format!("{} → ", before.figure));
            format!("{before}{}\u{a0}{}", now.figure, now.unit)
        });
        let judged = row.now.as_ref().and_then(|now| now.judged);
        let limit = judged.map_or_else(String::new, |judged| {
            let limit = units.in_unit(judged.limit, &judged.unit);
            format!("{} {limit}", words::side(judged.side))
        });
        let mut title = Cell::from(row.title.as_str());
        let flags = row.flags.iter().filter(|line| *line != TYPED);
        title.remarks.extend(flags.cloned());
        let word = Text::strong(row.word.as_str());
        table.row(vec![title, measured.into(), limit.into(), word.into()]);
    }
    Block::Table(table)
}

/// The figures of every set; one as left stands beside the one as found.
fn found(document: &Document) -> Vec<Found<'_>> {
    let units = &document.units;
    let checks: Vec<Checked<'_>> = checks(document);
    let mut found: Vec<Found> = Vec::new();
    let mut done = vec![false; checks.len()];
    for place in 0..checks.len() {
        if done[place] {
            continue;
        }
        let check = &checks[place];
        let pair = (check.state == Some(State::AsFound) && check.plain())
            .then(|| {
                let later = (place + 1..checks.len()).rev();
                let later = later.filter(|other| {
                    let other = &checks[*other];
                    other.what == check.what && other.state == Some(State::AsLeft) && other.plain()
                });
                let mut later = later.filter(|other| !done[*other]);
                later.next()
            })
            .flatten();
        let before = figures(units, check);
        let paired = pair.and_then(|other| in_pairs(units, check, &checks[other]));
        match (paired, pair) {
            (Some(rows), Some(other)) => {
                done[other] = true;
                rows_of(units, &checks[other], Some(check), rows, &mut found);
            }
            _ => {
                let rows = before
                    .into_iter()
                    .map(|(title, now)| (title, None, Some(now)));
                rows_of(units, check, None, rows.collect(), &mut found);
            }
        }
    }
    found
}

/// Figures of a set as found, each beside its own as left; none where one of them has none by the same limit.
fn in_pairs<'a>(
    units: &Units,
    before: &Checked<'a>,
    after: &Checked<'a>,
) -> Option<Vec<RowOf<'a>>> {
    let limit = |measured: &Measured| measured.judged.map(|judged| (judged.limit, judged.figure));
    let all = [before, after].map(|check| all_figures(units, check));
    let told = [before, after].map(|check| figures(units, check));
    let mut names: Vec<&String> = Vec::new();
    for (name, _) in told.iter().flatten() {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let row = |name: &String| {
        let of = |all: &[(String, Measured<'a>)]| {
            let named = all.iter().find(|(other, _)| other == name);
            named.map(|(_, measured)| measured.clone())
        };
        let (before, after) = (of(&all[0])?, of(&all[1])?);
        let alike = limit(&before) == limit(&after);
        alike.then(|| (name.clone(), Some(before), Some(after)))
    };
    names.into_iter().map(row).collect()
}

type RowOf<'a> = (String, Option<Measured<'a>>, Option<Measured<'a>>);

fn rows_of<'a>(
    units: &Units,
    check: &Checked<'a>,
    as_found: Option<&Checked<'a>>,
    mut rows: Vec<RowOf<'a>>,
    found: &mut Vec<Found<'a>>,
) {
    if rows.is_empty() {
        rows.push((check.title.clone(), None, None));
    }
    let last = rows.len() - 1;
    for (place, (title, before, now)) in rows.into_iter().enumerate() {
        let judged = now.as_ref().and_then(|now| now.judged);
        let outcome = match judged {
            Some(_) => of_row(check, judged),
            None => check.outcome(),
        };
        let earlier = as_found.zip(before.as_ref());
        let earlier = earlier.map(|(check, before)| of_row(check, before.judged));
        let word = match (check.struck, earlier) {
            (Some(_), _) => "Struck out".to_owned(),
            (None, Some(earlier)) => paper::before_and_after(earlier, outcome),
            (None, None) => outcome
                .map_or("Not judged", words::outcome_capital)
                .to_owned(),
        };
        let mut flags = Vec::new();
        let mut sentences = Vec::new();
        if let Some(judged) = judged {
            let limit = words::limit_in_full(judged, |value| units.in_unit(value, &judged.unit));
            sentences.push(format!("Limit {limit}."));
        }
        if let Some(judged) = judged.filter(|judged| judged.watch) {
            sentences.push(format!(
                "Watch: {} is within its limit, but near it.",
                judged_name(judged)
            ));
        }
        if place == last {
            flags.extend(check.flags());
            let held_back = as_found
                .filter(|check| rows_agree(check) && check.outcome() != Some(Outcome::Accept));
            let reasons = held_back.into_iter().flat_map(Checked::reasons);
            sentences.extend(reasons.map(|reason| format!("As found: {reason}")));
            sentences.extend(check.front_sentences());
        }
        let word = match check.amended_to {
            Some(_) => format!("{word}, by the limit then"),
            None => word,
        };
        let titled = match check.state {
            Some(state) if before.is_none() => format!("{title}, {}", state.words()),
            _ => title,
        };
        found.push(Found {
            title: words::capital(&titled),
            word,
            outcome,
            struck: check.struck.is_some(),
            now,
            before,
            sentences,
            flags,
        });
    }
}

/// What a figure came to. A verdict may be held back by what no single limit shows.
fn of_row(check: &Checked, judged: Option<&Judged>) -> Option<Outcome> {
    match (judged.map(|judged| judged.outcome), check.outcome()) {
        (Some(Outcome::Accept), Some(whole)) if rows_agree(check) => Some(whole),
        (own, _) => own,
    }
}

/// Every limit is met and the whole is not: the doubt is of the set, not of a figure.
fn rows_agree(check: &Checked) -> bool {
    check.verdict.is_some_and(|verdict| {
        verdict
            .limits
            .iter()
            .all(|limit| limit.outcome == Outcome::Accept)
    })
}

/// What stands large: the judged figures, or where none is judged the first.
fn figures<'a>(units: &Units, check: &Checked<'a>) -> Vec<(String, Measured<'a>)> {
    let mut all = all_figures(units, check);
    let mean = all.iter().position(|(_, measured)| {
        let judged = measured.judged;
        judged.is_some_and(|judged| judged.figure == Figure::GripMean)
    });
    if mean == Some(0) {
        // Beside a mean within its limit the others are told only where they are not.
        let mut place = 0;
        all.retain(|(_, measured)| {
            place += 1;
            let judged = measured.judged;
            place == 1 || judged.is_none_or(|judged| judged.outcome != Outcome::Accept)
        });
    }
    all
}

fn all_figures<'a>(units: &Units, check: &Checked<'a>) -> Vec<(String, Measured<'a>)> {
    let limits = check.verdict.map_or(&[][..], |verdict| &verdict.limits);
    let judged = |judged: &'a Judged| {
        let written = units.in_unit(judged.measured, &judged.unit);
        (judged_name(judged), Measured::of(&written, Some(judged)))
    };
    if !limits.is_empty() {
        return limits.iter().map(judged).collect();
    }
    let first = check.first_figure.clone();
    first
        .map(|(name, written)| (name, Measured::of(&written, None)))
        .into_iter()
        .collect()
}

/// What a paper like this may and may not say.
fn may_say(document: &Document, room: &Room) -> Vec<Block> {
    let visit = &document.visit;
    let cut = |name: &Option<String>| name.as_deref().map(|name| room.cut(name));
    let (consent_of, operated_by) = (cut(&visit.consent_of), cut(&visit.operated_by));
    let nose = visit.temperature.as_ref();
    let nose = nose.map(|celsius| format!("the nose at {celsius}"));
    let air = visit
        .air
        .as_ref()
        .map(|celsius| format!("the air at {celsius}"));
    let says = paper::says(&visit.started, nose.or(air).as_deref());
    let mut left = vec![note(Text::strong("It says: ").and(says))];
    let skipped = document.not_examined.iter().map(|item| item.item.as_str());
    let skipped: Vec<&str> = skipped.collect();
    if !skipped.is_empty() {
        left.push(note(paper::not_examined(&skipped)));
    }
    if !slow_drop_examined(document) {
        left.push(note(paper::SLOW_DROP));
    }
    let right = vec![
        note(Text::strong("It does not: ").and(paper::DOES_NOT_SAY)),
        note(paper::consent(
            consent_of.as_deref(),
            operated_by.as_deref(),
        )),
    ];
    vec![
        heading(2, "What this paper says, and what it does not"),
        Block::Beside(vec![(1.0, left), (1.0, right)]),
    ]
}

/// Whether a set that counts would have shown that the force drops slowly; nobody asks where no force was measured.
fn slow_drop_examined(document: &Document) -> bool {
    let judged = document.grips.iter().filter(|grip| grip.struck.is_none());
    let mut judged = judged.filter_map(|grip| grip.result.verdict.as_ref());
    judged.all(|verdict| verdict.drop_examined)
}
