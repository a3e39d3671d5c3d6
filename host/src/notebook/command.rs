//! `visit enter`: a notebook of old visits goes into the book. In: a table. Out: finished visits and events, all or none.

use super::plan::{Plan, PlannedVisit, Planner};
use super::rows;
use crate::grip::stored as grip_stored;
use crate::runout::stored as runout_stored;
use crate::tables;
use crate::terminal::app::App;
use crate::terminal::console::Finished;
use crate::terminal::error::Error;
use crate::terminal::exit::Exit;
use crate::visits::book::book_writer;
use crate::visits::checks::stored_check::{FinishedCheck, Ready, Record};
use crate::visits::spindles::events;
use crate::visits::visit_end;
use holdtrue_book::{Book, GaugeHeader, Note, Revision, Stamp};
use holdtrue_metrology::grip::result::{GripResult, Stated};
use holdtrue_wording::{Say, joined_lines, words};
use serde_json::{Value, json};
use uuid::Uuid;

pub(crate) fn run(
    from: &str,
    dry_run: bool,
    as_read: bool,
    app: &mut App,
) -> Result<Finished, Error> {
    let bytes = tables::read_file(from)?;
    let (table, rows) = rows::read(from, &bytes)?;
    for note in &table.messages {
        app.console.message(&note.say(&app.settings.units()));
    }
    let book = app.read_book()?;
    let planner = Planner {
        table: &table,
        rows: &rows,
        book: &book,
        file: from,
        as_read,
        stamp: Stamp::new(app.author(), book_writer::now()),
    };
    let plan = planner.plan(app)?;
    drop(book);
    if !dry_run && !plan.is_empty() {
        write(&plan, app)?;
    }
    let lines = lines(&plan, dry_run, app);
    Finished::new(
        Exit::Done,
        &document(&plan, from, dry_run),
        joined_lines(&lines),
    )
}

impl Plan {
    fn is_empty(&self) -> bool {
        self.visits.is_empty() && self.events.is_empty()
    }
}

/// Writes everything in one transaction.
fn write(plan: &Plan, app: &App) -> Result<(), Error> {
    let mut writer = app.writer_of_existing()?;
    let stamp = writer.stamp();
    let gauges = Gauges::of(plan, &writer.book, &stamp)?;
    let mut filed: Vec<Vec<FinishedCheck<'_>>> = Vec::new();
    for visit in &plan.visits {
        filed.push(checks(visit, &gauges)?);
    }
    let mut ready: Vec<Vec<Ready<'_>>> = Vec::new();
    for checks in &filed {
        let each = checks.iter().map(|check| Ready::of(&writer, check));
        ready.push(each.collect::<Result<_, Error>>()?);
    }
    writer.book.together(|book| {
        for gauge in &gauges.new {
            book.revise(gauge)?;
        }
        for event in &plan.events {
            book.keep_event(event)?;
        }
        for (visit, checks) in plan.visits.iter().zip(&ready) {
            put(visit, checks, &stamp, book)?;
        }
        // Each is compared with the others, so their ends come behind them all.
        for visit in &plan.visits {
            let ids = [Uuid::now_v7(), Uuid::now_v7()];
            visit_end::seal(book, visit.id, ids, &stamp)?;
        }
        Ok(())
    })?;
    Ok(())
}

fn put(
    visit: &PlannedVisit,
    checks: &[Ready<'_>],
    stamp: &Stamp,
    book: &mut Book,
) -> holdtrue_book::Result<()> {
    book.revise(&Revision {
        id: Uuid::now_v7(),
        entity: visit.id,
        parents: Vec::new(),
        header: visit.header.clone(),
        stamp: stamp.clone(),
    })?;
    for check in checks {
        check.put(book, visit.id)?;
    }
    for text in &visit.remarks {
        book.note(&Note {
            id: Uuid::now_v7(),
            visit: visit.id,
            check: None,
            text: text.clone(),
            stamp: stamp.clone(),
        })?;
    }
    Ok(())
}

fn checks<'p>(visit: &'p PlannedVisit, gauges: &Gauges) -> Result<Vec<FinishedCheck<'p>>, Error> {
    let grips = visit.grips.iter().map(|set| {
        let record = Record::Typed {
            text: set.text.as_deref(),
            figures: &set.figures,
        };
        let gauge = gauges.id(set.gauge.as_deref(), FORCE_GAUGE);
        let noted = &set.noted;
        grip_stored::to_file(&noted.begun, &noted.limits, &noted.result, record, gauge)
    });
    let runouts = visit.runouts.iter().map(|set| {
        let record = Record::Typed {
            text: None,
            figures: &set.figures,
        };
        let gauge = gauges.id(set.gauge.as_deref(), INDICATOR);
        runout_stored::to_file(&set.begun, &set.limits, &set.result, record, gauge)
    });
    grips.chain(runouts).collect()
}

const FORCE_GAUGE: &str = "force-gauge";
const INDICATOR: &str = "indicator";

/// The gauges a notebook names: those of the book, and new ones.
#[derive(Default)]
struct Gauges {
    known: Vec<(String, &'static str, Uuid)>,
    new: Vec<Revision<GaugeHeader>>,
}

impl Gauges {
    fn of(plan: &Plan, book: &Book, stamp: &Stamp) -> Result<Self, Error> {
        let mut gauges = Self::default();
        let forces = plan.visits.iter().flat_map(|visit| &visit.grips);
        let runouts = plan.visits.iter().flat_map(|visit| &visit.runouts);
        let named = forces
            .filter_map(|set| Some((set.gauge.as_ref()?, FORCE_GAUGE)))
            .chain(runouts.filter_map(|set| Some((set.gauge.as_ref()?, INDICATOR))));
        let in_book = book.list::<GaugeHeader>()?;
        for (serial, what) in named {
            if gauges.id(Some(serial), what).is_some() {
                continue;
            }
            let known = in_book.iter().find(|gauge| {
                let header = gauge.header();
                !gauge.removed && header.serial == *serial && header.what == what
            });
            let id = known.map_or_else(Uuid::now_v7, |gauge| gauge.id);
            gauges.known.push((serial.clone(), what, id));
            if known.is_none() {
                gauges.new.push(Revision {
                    id: Uuid::now_v7(),
                    entity: id,
                    parents: Vec::new(),
                    header: GaugeHeader {
                        serial: serial.clone(),
                        what: what.to_owned(),
                        ..GaugeHeader::default()
                    },
                    stamp: stamp.clone(),
                });
            }
        }
        Ok(gauges)
    }

    fn id(&self, serial: Option<&str>, what: &str) -> Option<Uuid> {
        let serial = serial?;
        let mut known = self.known.iter();
        known
            .find(|known| known.0 == serial && known.1 == what)
            .map(|known| known.2)
    }
}

fn lines(plan: &Plan, dry_run: bool, app: &App) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for visit in &plan.visits {
        lines.push(format!("{}, {}", visit.spindle_name, visit.day.words()));
        let state = |state: Option<holdtrue_terms::vocabulary::State>| {
            state.map_or("", |state| state.words())
        };
        for set in &visit.grips {
            let result = &set.noted.result;
            lines.push(format!(
                "  grip    {:<9} {}",
                state(result.state),
                forces(result, app)
            ));
        }
        for set in &visit.runouts {
            let tirs = set.result.planes.iter().filter_map(|plane| plane.tir_um);
            let tirs: Vec<String> = tirs.map(|um| app.settings.length(um)).collect();
            lines.push(format!(
                "  runout  {:<9} TIR {}",
                state(set.result.state),
                tirs.join(", ")
            ));
        }
    }
    for event in &plan.events {
        lines.push(format!(
            "event, {}: {}",
            event.happened,
            events::line(event)
        ));
    }
    let known = plan.known_visits.len() + plan.known_events;
    if known > 0 {
        lines.push(format!(
            "In the book already, and left as they are: {}, {}.",
            counted(plan.known_visits.len(), "visit"),
            counted(plan.known_events, "event")
        ));
    }
    let new = format!(
        "{}, {}",
        counted(plan.visits.len(), "visit"),
        counted(plan.events.len(), "event")
    );
    lines.push(match (plan.is_empty(), dry_run) {
        (true, _) => "Nothing new: nothing was added.".to_owned(),
        (false, true) => format!("Would be entered: {new}. Nothing was written."),
        (false, false) => format!("Entered: {new}."),
    });
    lines
}

fn counted(count: usize, what: &str) -> String {
    match count {
        1 => format!("1 {what}"),
        count => format!("{count} {what}s"),
    }
}

fn forces(result: &GripResult, app: &App) -> String {
    let mean = result.statistics.as_ref().map(|statistics| {
        format!(
            "mean {} over {}",
            app.settings.force(statistics.mean_n),
            statistics.count
        )
    });
    let stated = |stated: &Stated| {
        format!(
            "{} {}",
            words::stated_figure(stated.figure),
            app.settings.force(stated.value_n)
        )
    };
    let all: Vec<String> = mean
        .into_iter()
        .chain(result.stated.iter().map(stated))
        .collect();
    all.join(", ")
}

fn document(plan: &Plan, from: &str, dry_run: bool) -> Value {
    let visits: Vec<Value> = plan
        .visits
        .iter()
        .map(|visit| {
            json!({
                "id": (!dry_run).then_some(visit.id),
                "spindle": visit.spindle_name,
                "date": visit.day.text,
                "checks": visit.grips.len() + visit.runouts.len(),
            })
        })
        .collect();
    let events: Vec<Value> = plan
        .events
        .iter()
        .map(|event| json!({ "what": event.kind, "on": event.happened, "text": event.text }))
        .collect();
    json!({
        "schema": 1,
        "from": from,
        "dry_run": dry_run,
        "visits": visits,
        "events": events,
        "known_visits": plan.known_visits,
        "known_events": plan.known_events,
    })
}
