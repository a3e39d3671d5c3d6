//! `gauge check`: may the gauge measure? In: a port, perhaps a check standard, and the book's history of this gauge. Out:
//! each quantity beside its bound, kept in the book; exit 5 with the reason where the gauge is not fit.

use crate::connection::connect;
use crate::connection::lost;
use crate::connection::lost::Measured;
use crate::gauge_check::arguments::CheckArgs;
use crate::gauge_check::document::{self, Fitness, Row};
use crate::gauge_check::guidance;
use crate::gauge_check::knob::Knob;
use crate::gauge_check::look::{self, Look, Open};
use crate::gauge_check::standard;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::terminal::interrupt::Interrupt;
use crate::terminal::keys::Key;
use crate::terminal::prompt::Prompt;
use crate::terminal::scene_words::Subject;
use crate::terminal::settings::Settings;
use crate::visits::acknowledge;
use crate::visits::book::book_writer::BookWriter;
use crate::visits::cautions;
use crate::visits::checks::stored_check::json_of;
use crate::visits::gauge_entry::FORCE_GAUGE;
use crate::visits::overloads;
use crate::visits::unfit;
use holdtrue_book::{GaugeCheck, GaugeHeader, How};
use holdtrue_gauge::session::Session;
use holdtrue_metrology::gauge_check::control::{Baseline, OnStandard, open_finding};
use holdtrue_metrology::gauge_check::fitness;
use holdtrue_metrology::grip::limits::{CAPACITY_FACTOR, capacity_suffices};
use holdtrue_protocol::message::{CalibrationRecord, Channel};
use holdtrue_screen::Picture;
use uuid::Uuid;

pub(crate) fn run(args: &CheckArgs, app: &mut App) -> Result<Finished, Error> {
    // A book that cannot be read is told before somebody holds a gauge free for ten seconds.
    let keeps = app.book_if_there()?.is_some() || app.book.is_some();
    let acknowledged = match args.standard_n {
        Some(_) => Some(acknowledge::loading(
            cautions::STANDARD_HEADING,
            cautions::STANDARD,
            app,
        )?),
        None => None,
    };
    let mut session = connect(&args.port.gauge)?;
    require_load_cell(&session)?;
    let record = session.sound_calibration(Channel::Force)?;
    if let Some(load_n) = args.standard_n {
        require_room(&session, record.as_ref(), load_n, app)?;
    }
    let mut file = if keeps {
        Some(File::open(&session, record.as_ref(), app)?)
    } else {
        None
    };
    let interrupt = Interrupt::on_ctrl_c()?;
    let subject = Subject {
        title: format!("Gauge check · {}", session.hello().serial),
        gauge: format!("gauge {} on {}", session.hello().serial, session.port()),
    };
    app.console.open_screen();
    app.console
        .say_step("Hold the gauge free, knob touching nothing, for 10 seconds …");
    app.console.ring(1);
    let mut look = loop {
        let looked = look::look(&mut session, &interrupt, &mut |seconds, force_n| {
            if app.console.wants_scene() {
                let scene = guidance::at_rest(seconds, force_n, &subject, &app.settings);
                app.console.show(&scene);
            }
            matches!(app.console.typed(), Some(Key::Stop | Key::Quit))
        });
        match looked {
            Ok(look) => break look,
            Err(error) => {
                let measured = Measured {
                    subject: &subject,
                    picture: &Picture::None,
                    kept: "Then it is watched for 10 seconds again.",
                    calibration: record.as_ref(),
                };
                lost::wait_for(&mut session, error, &measured, &mut app.console, &interrupt)?;
            }
        }
    };
    let baseline = match &mut file {
        Some(file) => file.told(&mut session, &mut look)?,
        None => {
            look.overloads = session.overloads()?.len();
            Baseline::default()
        }
    };
    let step_counts = look.tests.shunt_step_counts();
    look.shunt = step_counts.map(|step| baseline.shunt(step));
    if let (Some(load_n), Some(how), Some(record)) = (args.standard_n, acknowledged, &record) {
        if fitness::may_be_loaded(&look.figures()) {
            let asked = Asked { load_n, how, args };
            let read = on_standard(&mut session, record, &asked, &subject, app, &interrupt)
                .map_err(|error| {
                    let kept =
                        "Take the load off. Plug the gauge in again, then repeat the command.";
                    lost::told(error, &subject, kept, &mut app.console, &interrupt)
                })?;
            let expanded_n = (record.expanded_relative * load_n).hypot(record.expanded_fixed);
            look.standard = Some(baseline.standard(read, expanded_n));
        } else {
            app.console
                .say("The gauge is not loaded: first put right what was found at rest.");
        }
    }
    let fitness = document::judge(look);
    app.console.ring(if fitness.fit { 1 } else { 5 });
    let scene = guidance::judged(&fitness, &subject, &app.settings);
    app.console.keep_scene(&scene, || interrupt.is_set());
    app.console.close_screen();
    finish(fitness, file, app)
}

fn finish(mut fitness: Fitness, file: Option<File>, app: &App) -> Result<Finished, Error> {
    let exit = if fitness.fit { Exit::Done } else { Exit::Gauge };
    let kept = file.map(|file| file.keep(&mut fitness));
    let mut text = words(&fitness, &app.settings);
    match &fitness.kept {
        Some(book) => text.push_str(&format!("\nKept in the book {book}.")),
        None if kept.is_none() => text.push_str(&format!(
            "\nNot kept: there is no book {}. Name one with --book FILE and it is begun, with the history of this gauge.",
            app.book_path().display()
        )),
        None => {}
    }
    let finished = Finished::new(exit, &fitness, text)?;
    Ok(match kept {
        Some(Err(error)) => finished.cut_short(error),
        _ => finished,
    })
}

/// Where a check is kept.
struct File {
    writer: BookWriter,
    gauge: Uuid,
    record: Option<CalibrationRecord>,
}

impl File {
    fn open(
        session: &Session,
        record: Option<&CalibrationRecord>,
        app: &mut App,
    ) -> Result<Self, Error> {
        let mut writer = app.writer()?;
        let gauge = writer.gauge(GaugeHeader {
            serial: session.hello().serial.to_string(),
            what: FORCE_GAUGE.to_owned(),
            rated_n: record.map(|record| record.rated),
            resolution: record.map(|record| record.coefficients[1].abs()),
            ..GaugeHeader::default()
        })?;
        Ok(Self {
            writer,
            gauge,
            record: record.cloned(),
        })
    }

    /// Completes a look with what the book knows, and hands back what the gauge read since its calibration.
    fn told(&mut self, session: &mut Session, look: &mut Look) -> Result<Baseline, Error> {
        let history = session.overloads()?;
        let known = self.writer.note_overloads(self.gauge, &history, None)?;
        look.overloads = match &self.record {
            Some(record) => overloads::since(&known, record).count(),
            None => history.len(),
        };
        if let Some(history) = session.stops()? {
            look.stops = Some(self.writer.note_stops(self.gauge, &history)?);
        }
        look.knob = Some(Knob::of(&self.writer.book, self.gauge)?);
        Ok(match &self.record {
            Some(record) => {
                let kept = unfit::checks_under(&self.writer.book, self.gauge, record)?;
                let found = kept.iter().map(|(_, found)| found);
                look.open = open_finding(found, record.rated).map(|(place, standard)| Open {
                    standard: standard.clone(),
                    at: kept[place].0.stamp.at.clone(),
                });
                // A gauge is held to the checks under its calibration that found it fit.
                let good = kept.into_iter().filter(|(check, _)| check.fit);
                Baseline::of(good.map(|(_, found)| found))
            }
            None => Baseline::default(),
        })
    }

    fn keep(mut self, fitness: &mut Fitness) -> Result<(), Error> {
        let calibration = match &self.record {
            Some(record) => Some(self.writer.keep_calibration(record)?),
            None => None,
        };
        let (id, stamp) = (self.writer.id(), self.writer.stamp());
        self.writer.book.keep_gauge_check(&GaugeCheck {
            id,
            gauge: self.gauge,
            calibration,
            fit: fitness.fit,
            content: json_of(fitness)?,
            stamp,
        })?;
        fitness.kept = Some(self.writer.book.path().display().to_string());
        Ok(())
    }
}

/// What is looked at here is all of a load cell.
fn require_load_cell(session: &Session) -> Result<(), Error> {
    if session.hello().fitted.force {
        return Ok(());
    }
    Err(Error::gauge(format!(
        "{}: gauge {} cannot be tried as a force gauge: it has no load cell. It reads runout, and how its probe or indicator is calibrated \
         says `holdtrue gauge info`",
        session.port(),
        session.hello().serial
    )))
}

/// Refuses a load the gauge has no calibration or no room for, before anybody puts it on.
fn require_room(
    session: &Session,
    record: Option<&CalibrationRecord>,
    load_n: f64,
    app: &App,
) -> Result<(), Error> {
    let refused = |reason: String| {
        Err(Error::gauge(format!(
            "{}: the gauge cannot be tried on this standard: {reason}",
            session.port()
        )))
    };
    let force = |newton| app.settings.force(newton);
    let Some(record) = record else {
        return refused("no calibration is stored in it; enter its certificate first".to_owned());
    };
    if !capacity_suffices(load_n, record.rated) {
        return refused(format!(
            "{CAPACITY_FACTOR} × {} is more than the {} it is rated for; use a smaller standard",
            force(load_n),
            force(record.rated)
        ));
    }
    let [low, high] = record.span;
    if !(low..=high).contains(&load_n) {
        return refused(format!(
            "{} lies outside its calibration, {} to {}; use a standard inside",
            force(load_n),
            force(low),
            force(high)
        ));
    }
    Ok(())
}

/// The standard that is to go on.
struct Asked<'a> {
    load_n: f64,
    how: How,
    args: &'a CheckArgs,
}

fn on_standard(
    session: &mut Session,
    record: &CalibrationRecord,
    asked: &Asked<'_>,
    subject: &Subject,
    app: &mut App,
    interrupt: &Interrupt,
) -> Result<OnStandard, Error> {
    let Asked { load_n, how, args } = *asked;
    let settings = app.settings.clone();
    let read = standard::read(
        session,
        record,
        load_n,
        &mut app.console,
        (subject, &settings),
        interrupt,
    )
    .map_err(|error| Error {
        message: format!("{}. If the load is still on, take it off", error.message),
        ..error
    })?;
    Ok(OnStandard {
        name: args.standard.clone(),
        load_n,
        expanded_percent: args.standard_percent,
        acknowledged: how.word().to_owned(),
        read,
    })
}

fn words(fitness: &Fitness, settings: &Settings) -> String {
    let force = |newton: f64| settings.small_force(newton);
    let quantities = fitness.quantities.iter();
    let mut lines: Vec<String> = quantities.map(|quantity| line(quantity, &force)).collect();
    if fitness.fit {
        lines.push("Fit to measure.".to_owned());
    } else {
        lines.push("NOT fit to measure:".to_owned());
        let reasons = fitness.reasons_in(&force);
        lines.extend(reasons.iter().map(|reason| format!("  {reason}")));
    }
    lines.join("\n")
}

fn line(quantity: &Row, force: &dyn Fn(f64) -> String) -> String {
    let value = quantity.figure(force);
    let mark = match quantity.ok {
        Some(true) => "good",
        Some(false) => "BAD ",
        None => "    ",
    };
    let beside = quantity.beside(force);
    format!("{mark}  {:38} {value:>15}  {beside}", quantity.name)
        .trim_end()
        .to_owned()
}
