//! Readings taken one after the other on a bench. In: steps, a gauge, a table. Out: the table with a row for every step.

use crate::calibration::arguments::CalibrateArgs;
use crate::calibration::guidance::{Answer, Guide, InPlan, Stage};
use crate::calibration::stand::{CalibrationStand, Typing};
use crate::tables::kept::KeptTable;
use crate::terminal::app::App;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::interrupt::{Interrupt, stopped_at_question};
use crate::terminal::keys::Typed;
use crate::terminal::one_key;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use crate::visits::book::book_writer;
use holdtrue_gauge::session::Session;
use holdtrue_metrology::calibration::expected::{Doubt, Follows};
use holdtrue_screen::Figure;
use std::path::PathBuf;

/// What the reference shows may differ from what was asked for by this share of the highest load. Two readings of one step
/// then lie within the half percent that counts as one load.
pub(crate) const NEAR: f64 = 0.0025;

/// One reading to take.
#[derive(Clone, Debug)]
pub struct Step {
    /// What the person is to do.
    pub prompt: String,
    /// The same for two metres, one word or two.
    pub word: String,
    /// Load or height asked for, in the unit of the table.
    pub nominal: f64,
    /// The others count from here: nothing is on the gauge, or the lowest blocks.
    pub zero: bool,
    /// How long it is held before it is read, s.
    pub hold_s: Option<f64>,
    /// Cells of the row before load and reading, and after.
    pub before: String,
    /// After.
    pub after: String,
}

/// How numbers are typed and said.
pub struct Unit<'a> {
    /// A reference shows what it is, so that it can be typed.
    pub is_shown: bool,
    /// One of it in the unit of the table.
    pub factor: f64,
    /// Rise of the reading by an earlier calibration or by the sensor's build, where one is known.
    pub rise: Option<f64>,
    /// What the gauge is rated for, in the unit of the table.
    pub rated: Option<f64>,
    /// Reading with nothing on by an earlier calibration.
    pub earlier_zero: Option<f64>,
    /// What it is when a reading falls as it should rise, and what to do.
    pub wrong_way: &'a str,
    /// A load or height, for the person.
    pub say: &'a dyn Fn(f64) -> String,
    /// A reading, for the person.
    pub say_reading: &'a dyn Fn(f64) -> String,
    /// A load or height, from afar.
    pub figure: &'a dyn Fn(f64) -> Figure,
    /// A reading, from afar.
    pub reading_figure: &'a dyn Fn(f64) -> Figure,
    /// The key that takes the last one back.
    pub back: &'a str,
    /// What is to be done while it is read, for two metres.
    pub still: &'a str,
}

/// Takes the steps that the table does not have yet, and gives the keyboard back. `subject`: what the screen is headed.
///
/// # Errors
/// The gauge goes away, somebody interrupts, the table cannot be written; what was kept stays, and how to go on is said.
pub(crate) fn lead(
    mut stand: CalibrationStand<'_>,
    steps: &[Step],
    done: &[(f64, f64)],
    table: &mut KeptTable,
    unit: &Unit<'_>,
    (subject, prompt): (&Subject, &mut dyn Prompt),
) -> Result<Typing, Error> {
    prompt.say_step(if unit.is_shown {
        "Enter when it stands there, or type what the reference shows; b takes the last reading back."
    } else {
        "Enter when it stands there; b takes the last reading back."
    });
    let mut guide = Guide::new(prompt, subject, unit);
    let taken = take(&mut stand, steps, done, table, unit, &mut guide);
    let (typing, ended) = stand.end();
    match taken.and(ended) {
        Ok(()) => Ok(typing),
        Err(error) => Err(kept_so_far(error, &table.name())),
    }
}

fn take(
    stand: &mut CalibrationStand<'_>,
    steps: &[Step],
    done: &[(f64, f64)],
    table: &mut KeptTable,
    unit: &Unit<'_>,
    guide: &mut Guide<'_>,
) -> Result<(), Error> {
    let highest = steps.iter().map(|step| step.nominal).fold(0.0, f64::max);
    let mut done = done.to_vec();
    // What a reading was taken at that was asked about: the same again keeps it.
    let mut doubted: Option<f64> = None;
    let mut stage = Stage::Set;
    while let Some(step) = steps.get(done.len()) {
        let at = done.len();
        let follows = follows(steps, &done, unit, highest);
        guide.say_step(&format!("{} of {}  {}", at + 1, steps.len(), step.prompt));
        guide.begin(InPlan::of(step, steps, &done, follows));
        stand.lead(std::mem::replace(&mut stage, Stage::Set), guide)?;
        let value = match stand.answer(guide)? {
            Answer::Back if at == 0 => {
                guide.say("  nothing was read yet.");
                continue;
            }
            Answer::Back => {
                table.take_back()?;
                done.pop();
                doubted = None;
                guide.say("  the last reading is taken back.");
                continue;
            }
            Answer::Shows(typed) => match shown(&typed, step, unit, highest) {
                Ok(value) => value,
                Err(why) => {
                    guide.say_step(&format!("  {why}"));
                    stage = Stage::Wrong(why);
                    continue;
                }
            },
            Answer::There | Answer::Stop => doubted.unwrap_or(step.nominal),
        };
        let reading = stand.read(guide)?;
        if let Some(why) = why_not(step, value, reading, &follows, unit, &mut doubted)? {
            guide.say_step(&format!("  {why}"));
            stage = Stage::Wrong(why);
            continue;
        }
        doubted = None;
        // A load that is held is read again at its end: it has crept meanwhile.
        let reading = match step.hold_s {
            Some(hold_s) => stand.hold(hold_s, guide)?,
            None => reading,
        };
        if step.zero {
            stand.zero = Some(reading);
        }
        table.add(&format!("{},{value},{reading}{}", step.before, step.after))?;
        guide.say(&format!(
            "  kept: {}, reading {}",
            (unit.say)(value),
            (unit.say_reading)(reading)
        ));
        done.push((value, reading));
    }
    Ok(())
}

/// What the readings so far say of the next one: the newest zero, and the highest load since the one that was read first.
fn follows(steps: &[Step], done: &[(f64, f64)], unit: &Unit<'_>, highest: f64) -> Follows {
    let taken = || steps.iter().zip(done);
    let zero = taken().rev().find(|(step, _)| step.zero);
    let loaded = taken().filter(|(step, _)| !step.zero).map(|(_, row)| *row);
    // Blocks may be set anew between runs, so that only rows since the zero belong together; a cell's zero hardly moves.
    let since_zero = taken().rev().take_while(|(step, _)| !step.zero);
    let other = if unit.is_shown {
        loaded.max_by(|a, b| a.0.total_cmp(&b.0))
    } else {
        since_zero
            .map(|(_, row)| *row)
            .max_by(|a, b| a.0.total_cmp(&b.0))
    };
    Follows {
        zero: zero.map(|(_, row)| *row),
        other,
        rise: unit.rise,
        earlier_zero: unit.earlier_zero,
        highest,
    }
}

/// Why a reading is not taken; none where it lies where it should.
fn why_not(
    step: &Step,
    value: f64,
    reading: f64,
    follows: &Follows,
    unit: &Unit<'_>,
    doubted: &mut Option<f64>,
) -> Result<Option<String>, Error> {
    // An indicator may be set anew for each run: its zero is what it is.
    if step.zero && !unit.is_shown {
        return Ok(None);
    }
    match follows.look(value, reading) {
        Ok(()) => Ok(None),
        Err(Doubt::ReadsUnlike(_)) if doubted.is_some() => Ok(None),
        Err(Doubt::ReadsUnlike(found)) => {
            *doubted = Some(value);
            Ok(Some(format!(
                "by what is known of it the gauge reads as about {}, asked for was {}: bring it there; Enter again keeps \
                 it all the same.",
                (unit.say)(found),
                (unit.say)(value)
            )))
        }
        Err(Doubt::WrongWay) => Err(wrong_way(value, reading, follows, unit)),
        Err(Doubt::ReadsAs(found)) => Ok(Some(format!(
            "the gauge reads as about {}, asked for was {}: bring it there first, or {} if the reading before was wrong.",
            (unit.say)(found),
            (unit.say)(value),
            unit.back
        ))),
    }
}

fn wrong_way(value: f64, reading: f64, follows: &Follows, unit: &Unit<'_>) -> Error {
    let zero = follows.zero.map_or(0.0, |(_, reading)| reading);
    Error::gauge(format!(
        "at {} the gauge reads {}, and {} at the zero: expected more. {}",
        (unit.say)(value),
        (unit.say_reading)(reading),
        (unit.say_reading)(zero),
        unit.wrong_way
    ))
}

fn shown(typed: &str, step: &Step, unit: &Unit<'_>, highest: f64) -> Result<f64, String> {
    if !unit.is_shown {
        return Err("the blocks are what they are: press Enter alone, or b".to_owned());
    }
    if step.zero {
        return Err("nothing is on the gauge now: press Enter alone".to_owned());
    }
    let number = crate::terminal::parse::finite(typed)?;
    let value = number * unit.factor;
    if let Some(rated) = unit.rated.filter(|rated| value > *rated) {
        return Err(format!(
            "found {}, expected at most the rated load, {}: lower the load, or is it the wrong unit?",
            (unit.say)(value),
            (unit.say)(rated)
        ));
    }
    if (value - step.nominal).abs() > NEAR * highest {
        return Err(format!(
            "found {}, expected about {}, within {}: bring it nearer, or is it the wrong unit?",
            (unit.say)(value),
            (unit.say)(step.nominal),
            (unit.say)(NEAR * highest)
        ));
    }
    Ok(value)
}

/// Puts a doubt to whoever is there: standard input is theirs as long as its lines are read.
pub(crate) fn ask(typing: &Typing, app: &mut App, question: &str) -> Result<Option<bool>, Error> {
    let Typing::Lines(lines) = typing else {
        return app.console.ask(question);
    };
    loop {
        app.console.say(&one_key::as_question(question));
        let interrupt = Interrupt::heard()?;
        let line = match lines.wait(|| interrupt.is_set()) {
            Some(Typed::Line(line)) => line,
            Some(Typed::End) => return Ok(None),
            None => return Err(stopped_at_question()),
        };
        if let Some(answer) = one_key::of_line(&line) {
            return Ok(Some(answer));
        }
    }
}

/// A broken-off table says how to go on with it.
pub(crate) fn kept_so_far(error: Error, table: &str) -> Error {
    Error {
        message: format!(
            "{}. What was kept is in {table}: the same command with --keep {table} goes on there, \
             and --from {table} computes what there is",
            error.message.trim_end_matches('.')
        ),
        ..error
    }
}

/// Where the readings are kept: as told, or a name of its own.
fn kept_path(args: &CalibrateArgs, what: &str, session: &Session) -> PathBuf {
    match &args.keep {
        Some(named) => PathBuf::from(named),
        None => {
            let day = jiff::Zoned::now().date();
            PathBuf::from(format!("{what}-{}-{day}.csv", session.hello().serial))
        }
    }
}

/// What a table of readings is.
pub(crate) struct Kind {
    /// First part of its name, where nobody named it.
    pub what: &'static str,
    /// Its first line.
    pub header: &'static str,
    /// What its remark says besides gauge and time.
    pub remark: &'static str,
}

/// What the table says of the gauge in it.
const OF_GAUGE: &str = "# gauge ";

/// A new table; or the one that was named, to be gone on with, and the rows it has.
///
/// # Errors
/// It cannot be written, or its rows are not those of the plan.
pub(crate) fn begin<R>(
    kind: &Kind,
    args: &CalibrateArgs,
    session: &Session,
    plan: &[Step],
    read: impl Fn(&str, &[u8]) -> Result<Vec<R>, Error>,
    is_planned: impl Fn(&R, &Step) -> bool,
    app: &mut App,
) -> Result<(KeptTable, Vec<R>), Error> {
    let path = kept_path(args, kind.what, session);
    let serial = session.hello().serial.as_str();
    let remark = format!("{OF_GAUGE}{serial}, {}{}", book_writer::now(), kind.remark);
    let options = options(args);
    if args.keep.is_none() || !path.exists() {
        let mut table = KeptTable::begin(&path, kind.header)?;
        table.add(&remark)?;
        for (name, value) in &options {
            table.add(&format!("{name}{value}"))?;
        }
        app.console
            .say(&format!("The readings are kept in {}.", table.name()));
        return Ok((table, Vec::new()));
    }
    let mut table = KeptTable::go_on(&path, kind.header)?;
    let bytes = table.bytes();
    require_same_gauge(&table.name(), &bytes, serial)?;
    require_same_options(&table.name(), &bytes, &options)?;
    // A table with its header alone has nothing to read yet.
    let rows = if has_rows(&bytes) {
        read(&table.name(), &bytes)?
    } else {
        Vec::new()
    };
    for (number, row) in (1..).zip(&rows) {
        match plan.get(number - 1) {
            Some(step) if is_planned(row, step) => {}
            Some(step) => return Err(other_plan(&table.name(), number, &step.prompt)),
            None => return Err(other_plan(&table.name(), number, "no more readings")),
        }
    }
    table.add(&remark)?;
    app.console.say(&format!(
        "{} of {} readings are in {}: it goes on from there.",
        rows.len(),
        plan.len(),
        table.name()
    ));
    Ok((table, rows))
}

/// What a table was begun with: name of the remark, value.
fn options(args: &CalibrateArgs) -> Vec<(&'static str, String)> {
    let list = |values: &[f64]| {
        let words: Vec<String> = values.iter().map(f64::to_string).collect();
        words.join(" ")
    };
    let directions = if args.up_only { "up" } else { "up and down" };
    let directions = ("# directions ", directions.to_owned());
    if args.indicator {
        return vec![
            ("# blocks ", list(&args.steps_um)),
            ("# runs ", args.runs.to_string()),
            directions,
        ];
    }
    vec![
        ("# loads ", list(&args.loads_n)),
        ("# positions ", list(&args.positions_deg)),
        ("# preloads ", args.preloads.to_string()),
        ("# dwell ", args.dwell_s.to_string()),
        directions,
    ]
}

/// One table is of one plan; one without remarks of it is held to the plan by its rows alone.
fn require_same_options(
    table: &str,
    bytes: &[u8],
    options: &[(&'static str, String)],
) -> Result<(), Error> {
    let text = String::from_utf8_lossy(bytes);
    for (name, now) in options {
        let of_others = text
            .lines()
            .filter_map(|line| line.strip_prefix(name))
            .find(|begun| begun != now);
        if let Some(begun) = of_others {
            let name = name.trim_start_matches("# ");
            let refusal = Refusal {
                found: &format!("readings begun with {name}{begun}"),
                expected: &format!("{name}{now}, as was asked for now"),
                next: "Give the options it was begun with, or begin a new table with --keep.",
            };
            return Err(Error::input(Place::file(table), refusal));
        }
    }
    Ok(())
}

/// One table is of one gauge.
fn require_same_gauge(table: &str, bytes: &[u8], serial: &str) -> Result<(), Error> {
    let text = String::from_utf8_lossy(bytes);
    let of_others = text
        .lines()
        .filter_map(|line| line.strip_prefix(OF_GAUGE)?.split(',').next())
        .find(|of| *of != serial);
    match of_others {
        None => Ok(()),
        Some(other) => Err(Error::input(
            Place::file(table),
            Refusal {
                found: &format!("readings of the gauge {other}"),
                expected: &format!("those of {serial}, which is plugged in"),
                next: "Plug in the other gauge, or begin a new table with --keep.",
            },
        )),
    }
}

/// Whether a table has more than its header and remarks.
fn has_rows(bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes);
    text.lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
        .nth(1)
        .is_some()
}

/// The table was begun with other options.
fn other_plan(table: &str, reading: usize, planned: &str) -> Error {
    Error::input(
        Place::file(table),
        Refusal {
            found: &format!("reading {reading} taken for something else"),
            expected: planned,
            next: "Give the options it was begun with, or begin a new table with --keep.",
        },
    )
}
