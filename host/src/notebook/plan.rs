//! What a notebook comes to. In: its rows and the book. Out: visits with their sets analysed, and events, ready to be written;
//! or the first row that cannot be.

use super::rows::{Reading, Row, refuse, whole};
use crate::grip::arguments::{GripArgs, GripSource};
use crate::grip::noted as grip_noted;
use crate::grip::noted::NotedGrip;
use crate::limits::LimitsFile;
use crate::runout::noted as runout_noted;
use crate::runout::stored::Begun;
use crate::tables::{Table, readings};
use crate::terminal::app::App;
use crate::terminal::doubts;
use crate::terminal::doubts::{Doubted, Unit};
use crate::terminal::error::{Error, Place as InFile};
use crate::terminal::parse::MET_WITH_C;
use crate::visits::book::opening::{find_spindle, taper_of};
use crate::visits::checks::stored_check::PaperFigure;
use crate::visits::counters;
use crate::visits::counters::Counter;
use crate::visits::known_day::KnownDay;
use crate::visits::spindles::event_command::is_same;
use crate::visits::spindles::events;
use crate::visits::spindles::events::VisitDay;
use crate::visits::visit_command::PAPER;
use holdtrue_book::{Book, Entity, Event, Json, SpindleHeader, Stamp, VisitHeader, sha256_hex};
use holdtrue_metrology::doubt::{self, Doubt, Spindle};
use holdtrue_metrology::runout::nose::BarTurns;
use holdtrue_metrology::runout::{self, Place, RunoutResult, RunoutSetup};
use holdtrue_terms::units::LengthUnit;
use holdtrue_terms::vocabulary::State;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use uuid::Uuid;

/// The member of a visit's header that tells the rows it was entered from.
pub(super) const ROWS_SHA256: &str = "rows_sha256";

/// A notebook, ready to be written.
#[derive(Debug, Default)]
pub(super) struct Plan {
    /// Visits the book does not have.
    pub visits: Vec<PlannedVisit>,
    /// Visits it has already.
    pub known_visits: Vec<Uuid>,
    /// Events it does not have.
    pub events: Vec<Event>,
    /// How many events it has already.
    pub known_events: usize,
}

/// A visit, ready to be written.
#[derive(Debug)]
pub(super) struct PlannedVisit {
    pub id: Uuid,
    pub spindle_name: String,
    pub day: KnownDay,
    pub header: VisitHeader,
    pub grips: Vec<GripSet>,
    pub runouts: Vec<RunoutSet>,
    pub remarks: Vec<String>,
}

/// Forces of one state, read on one gauge.
#[derive(Debug)]
pub(super) struct GripSet {
    /// Holding forces, word for word.
    pub text: Option<String>,
    pub figures: Vec<PaperFigure>,
    pub gauge: Option<String>,
    pub noted: NotedGrip,
}

/// TIRs of one state, read on one indicator.
#[derive(Debug)]
pub(super) struct RunoutSet {
    pub figures: Vec<PaperFigure>,
    pub gauge: Option<String>,
    pub begun: Begun,
    pub limits: LimitsFile,
    pub result: RunoutResult,
}

/// What is needed to plan.
pub(super) struct Planner<'a> {
    pub table: &'a Table,
    pub rows: &'a [Row],
    pub book: &'a Book,
    pub file: &'a str,
    pub as_read: bool,
    pub stamp: Stamp,
}

impl Planner<'_> {
    /// The whole notebook.
    ///
    /// # Errors
    /// The first row that cannot be: exit 4. The book cannot be read: exit 6.
    pub fn plan(&self, app: &mut App) -> Result<Plan, Error> {
        let mut plan = Plan::default();
        let mut spindles: BTreeMap<&str, Entity<SpindleHeader>> = BTreeMap::new();
        for row in self.rows {
            if !spindles.contains_key(row.spindle.as_str()) {
                let found = find_spindle(self.book, &row.spindle).map_err(|why| {
                    let found = format!("\"{}\" ({why})", row.spindle);
                    self.refuse(row, "spindle", &found, "a spindle of this book")
                })?;
                spindles.insert(&row.spindle, found);
            }
        }
        let spindle = |row: &Row| &spindles[row.spindle.as_str()];
        self.events(&mut plan, spindle)?;
        let mut groups: BTreeMap<(Uuid, KeyOfDay), Vec<&Row>> = BTreeMap::new();
        for row in self.rows.iter().filter(|row| self.is_of_a_visit(row)) {
            let key = KeyOfDay(row.day.first, row.day.text.clone());
            groups.entry((spindle(row).id, key)).or_default().push(row);
        }
        let mut groups: Vec<_> = groups.into_values().collect();
        groups.sort_by_key(|rows| (rows[0].day.first, rows[0].row));
        for rows in groups {
            let planned = self.visit(&rows, spindle(rows[0]), app)?;
            match self.known(&rows, &planned)? {
                Some(known) => plan.known_visits.push(known),
                None => plan.visits.push(planned),
            }
        }
        self.counters(&plan, app)?;
        Ok(plan)
    }

    fn refuse(&self, row: &Row, key: &str, found: &str, expected: &str) -> Error {
        refuse(self.table, row.row, key, found, expected)
    }

    /// A row with nothing but an event is of no visit.
    fn is_of_a_visit(&self, row: &Row) -> bool {
        row.event.is_none() || row.reading.is_some() || row.reason.is_some() || self.has_facts(row)
    }

    fn has_facts(&self, row: &Row) -> bool {
        FACTS.iter().any(|key| {
            self.table.text(row.row, key).is_some() || self.table.written(row.row, key).is_some()
        })
    }

    fn events<'s>(
        &self,
        plan: &mut Plan,
        spindle: impl Fn(&Row) -> &'s Entity<SpindleHeader>,
    ) -> Result<(), Error> {
        for row in self.rows {
            let Some(what) = row.event else {
                continue;
            };
            let entity = spindle(row).id;
            let event = Event {
                id: Uuid::now_v7(),
                entity,
                kind: what.word().to_owned(),
                happened: row.day.text.clone(),
                text: row.remark.clone().unwrap_or_default(),
                content: Json::empty(),
                stamp: self.stamp.clone(),
            };
            let known = events::of_spindle(self.book, entity)?;
            let mut all = known
                .iter()
                .chain(plan.events.iter().filter(|event| event.entity == entity));
            match all.any(|known| is_same(known, &event)) {
                true => plan.known_events += 1,
                false => plan.events.push(event),
            }
        }
        Ok(())
    }

    fn visit(
        &self,
        rows: &[&Row],
        spindle: &Entity<SpindleHeader>,
        app: &mut App,
    ) -> Result<PlannedVisit, Error> {
        let mut header = self.header(rows, spindle.id)?;
        let grips = self.grips(rows, spindle.header(), app)?;
        let runouts = self.runouts(rows, spindle.header(), app)?;
        let remarks: Vec<String> = rows
            .iter()
            .filter(|row| row.event.is_none())
            .filter_map(|row| row.remark.clone())
            .collect();
        let mut content = serde_json::to_value(&header).unwrap_or_default();
        if let Some(content) = content.as_object_mut() {
            content.remove("spindle");
            // Whoever enters the rows stands in where they name nobody; the rows are the same ones all the same.
            if rows
                .iter()
                .all(|row| self.table.text(row.row, "technician").is_none())
            {
                content.remove("technician");
            }
        }
        let said: Vec<Value> = grips
            .iter()
            .map(|set| {
                json!([
                    "grip",
                    set.noted.result.state,
                    set.text,
                    set.noted.begun.unit,
                    set.figures,
                    set.gauge
                ])
            })
            .chain(
                runouts
                    .iter()
                    .map(|set| json!(["runout", set.result.state, set.figures, set.gauge])),
            )
            .collect();
        let rows_sha256 = sha256_hex(json!([content, said, remarks]).to_string().as_bytes());
        header
            .more
            .insert(ROWS_SHA256.to_owned(), rows_sha256.into());
        Ok(PlannedVisit {
            id: Uuid::now_v7(),
            spindle_name: spindle.header().name.clone(),
            day: rows[0].day.clone(),
            header,
            grips,
            runouts,
            remarks,
        })
    }

    /// The visit in the book that was entered from these rows.
    fn known(&self, rows: &[&Row], planned: &PlannedVisit) -> Result<Option<Uuid>, Error> {
        let spindle = planned.header.spindle.unwrap_or_default();
        for (place, header) in counters::known_visits(self.book, spindle)? {
            if place.day.text != planned.day.text {
                continue;
            }
            if header.more.get(ROWS_SHA256) == planned.header.more.get(ROWS_SHA256) {
                return Ok(Some(place.visit));
            }
            let found = format!(
                "a visit to {} of {}, and the book has another one of that day",
                planned.spindle_name,
                planned.day.words()
            );
            let expected = "rows as they were entered before, or a day that is not in the book yet";
            return Err(self.refuse(rows[0], "date", &found, expected));
        }
        Ok(None)
    }

    fn header(&self, rows: &[&Row], spindle: Uuid) -> Result<VisitHeader, Error> {
        let text = |key| {
            self.agreed(rows, key, |row| {
                self.table.text(row.row, key).map(str::to_owned)
            })
        };
        let number = |key, range: [f64; 2], expected: &str| {
            let number = self.agreed(rows, key, |row| {
                self.table
                    .written(row.row, key)
                    .map(|written| written.text.clone())
            })?;
            let Some(number) = number.and_then(|text| text.parse::<f64>().ok()) else {
                return Ok(None);
            };
            match (
                (range[0]..=range[1]).contains(&number),
                rows.iter()
                    .find(|row| self.table.written(row.row, key).is_some()),
            ) {
                (false, Some(row)) => Err(self.refuse(row, key, &number.to_string(), expected)),
                _ => Ok(Some(number)),
            }
        };
        let counted = |key| number(key, [0.0, f64::INFINITY], "0 or more");
        let [low, high] = MET_WITH_C;
        let expected = format!("{low} to {high} °C");
        let degrees = |key| number(key, MET_WITH_C, &expected);
        let mut tool_changes = None;
        for row in rows {
            let here = whole(self.table, row.row, "tool_changes", 0)?;
            tool_changes = tool_changes.or(here);
        }
        self.agreed(rows, "tool_changes", |row| {
            self.table
                .written(row.row, "tool_changes")
                .map(|written| written.text.clone())
        })?;
        let reason = self.agreed(rows, "reason", |row| row.reason)?;
        Ok(VisitHeader {
            spindle: Some(spindle),
            technician: text("technician")?.unwrap_or_else(|| self.stamp.author.clone()),
            started_at: rows[0].day.text.clone(),
            purpose: reason.map(|reason| reason.word().to_owned()),
            customer: text("customer")?,
            order_number: text("order_number")?,
            power_on_hours: counted("power_on_hours")?,
            spindle_hours: counted("spindle_hours")?,
            cutting_hours: counted("cutting_hours")?,
            tool_changes,
            temperature_c: degrees("temperature_c")?,
            ambient_c: degrees("ambient_c")?,
            running_min: counted("running_min")?,
            entered_from: Some(PAPER.to_owned()),
            ..VisitHeader::default()
        })
    }

    /// What all rows of a visit say, as far as they say anything.
    fn agreed<T: PartialEq>(
        &self,
        rows: &[&Row],
        key: &str,
        of: impl Fn(&Row) -> Option<T>,
    ) -> Result<Option<T>, Error> {
        let mut agreed: Option<T> = None;
        for row in rows {
            match (&agreed, of(row)) {
                (Some(known), Some(here)) if *known != here => {
                    let found = "another one than further up for the same visit";
                    return Err(self.refuse(
                        row,
                        key,
                        found,
                        "one for each visit; other rows may leave it empty",
                    ));
                }
                (None, here @ Some(_)) => agreed = here,
                _ => {}
            }
        }
        Ok(agreed)
    }

    /// Rows with a reading of one kind, by state and gauge in the order of their first row; as found comes before as left.
    fn sets<'r>(&self, rows: &[&'r Row], is_force: bool) -> Vec<(Option<String>, Vec<&'r Row>)> {
        let mut sets: Vec<(Option<State>, Option<String>, Vec<&Row>)> = Vec::new();
        for row in rows {
            let Some(reading) = &row.reading else {
                continue;
            };
            if matches!(reading, Reading::Force { .. }) != is_force {
                continue;
            }
            let gauge = self.table.text(row.row, "gauge").map(str::to_owned);
            match sets
                .iter_mut()
                .find(|set| set.0 == row.state && set.1 == gauge)
            {
                Some(set) => set.2.push(row),
                None => sets.push((row.state, gauge, vec![row])),
            }
        }
        sets.sort_by_key(|set| set.0 == Some(State::AsLeft));
        sets.into_iter()
            .map(|(_, gauge, rows)| (gauge, rows))
            .collect()
    }

    fn grips(
        &self,
        rows: &[&Row],
        spindle: &SpindleHeader,
        app: &mut App,
    ) -> Result<Vec<GripSet>, Error> {
        let sets = self.sets(rows, true).into_iter();
        sets.map(|(gauge, rows)| self.grip(gauge, &rows, spindle, app))
            .collect()
    }

    fn grip(
        &self,
        gauge: Option<String>,
        rows: &[&Row],
        spindle: &SpindleHeader,
        app: &mut App,
    ) -> Result<GripSet, Error> {
        let (mut words, mut forces_n, mut held) = (Vec::new(), Vec::new(), Vec::new());
        let (mut figures, mut unit) = (Vec::new(), None);
        for row in rows {
            let Some(Reading::Force {
                figure,
                force,
                text,
            }) = &row.reading
            else {
                continue;
            };
            match figure {
                Some(figure) => figures.push(grip_noted::figure(figure, force.number, force.unit)),
                None if unit.is_some_and(|unit| unit != force.unit) => {
                    let found = format!("{} beside another unit", force.unit.symbol());
                    return Err(self.refuse(
                        row,
                        "unit",
                        &found,
                        "one unit for the holding forces of a set",
                    ));
                }
                None => {
                    unit = Some(force.unit);
                    words.push(text.clone());
                    forces_n.push(force.newtons());
                    held.push(*row);
                }
            }
            if !words.is_empty() && matches!(figure, Some("mean_n" | "lowest_n")) {
                let found = "a mean or a lowest force beside the holding forces it is of";
                return Err(self.refuse(row, "what", found, "either the forces or their figure"));
            }
        }
        let of = Spindle {
            interface: taper_of(spindle)?,
            nominal_n: spindle.grip_nominal_n,
        };
        let mut as_read = self.as_read;
        for (number, doubt) in of.readings(&forces_n) {
            as_read |= self.ask_force(held[number - 1], doubt, &of, app)?;
        }
        for (row, figure) in rows
            .iter()
            .filter(|row| !held.iter().any(|each| each.row == row.row))
            .zip(&figures)
        {
            if let Some(doubt) = of.force(figure.value) {
                as_read |= self.ask_force(row, doubt, &of, app)?;
            }
        }
        let text = (!words.is_empty()).then(|| words.join(" "));
        let args = GripArgs {
            source: GripSource {
                readings: text.clone(),
                ..GripSource::default()
            },
            unit,
            as_read,
            state: rows[0].state,
            ..GripArgs::default()
        };
        let noted = grip_noted::analysed(text.as_deref(), &figures, &args, spindle)
            .map_err(|why| self.refuse(rows[0], "value", &why.message, "forces"))?;
        Ok(GripSet {
            text,
            figures,
            gauge,
            noted,
        })
    }

    /// Asks about a force that cannot be; whether it is meant as it reads.
    fn ask_force(
        &self,
        row: &Row,
        doubt: Doubt,
        of: &Spindle,
        app: &mut App,
    ) -> Result<bool, Error> {
        let Some(Reading::Force { force, .. }) = &row.reading else {
            return Ok(false);
        };
        let unit = Unit::Force(force.unit);
        self.ask(row, "force", doubt, (force.number, unit), of, app)
    }

    fn ask(
        &self,
        row: &Row,
        column: &str,
        doubt: Doubt,
        (number, unit): (f64, Unit),
        of: &Spindle,
        app: &mut App,
    ) -> Result<bool, Error> {
        let column = ["value", column]
            .into_iter()
            .find(|key| self.table.written(row.row, key).is_some())
            .unwrap_or(column);
        let doubted = Doubted {
            doubt,
            number,
            unit,
            place: InFile::file(self.file)
                .line(self.table.line(row.row))
                .column(self.table.header(column).unwrap_or(column)),
            typed: false,
            spindle: *of,
        };
        let App {
            settings, console, ..
        } = app;
        doubts::put(&doubted, self.as_read, false, settings, console)?;
        Ok(true)
    }

    fn runouts(
        &self,
        rows: &[&Row],
        spindle: &SpindleHeader,
        app: &mut App,
    ) -> Result<Vec<RunoutSet>, Error> {
        let sets = self.sets(rows, false).into_iter();
        sets.map(|(gauge, rows)| self.runout(gauge, &rows, spindle, app))
            .collect()
    }

    fn runout(
        &self,
        gauge: Option<String>,
        rows: &[&Row],
        spindle: &SpindleHeader,
        app: &mut App,
    ) -> Result<RunoutSet, Error> {
        let interface = taper_of(spindle)?;
        let (mut figures, mut as_read, mut finest_um) = (Vec::new(), self.as_read, f64::INFINITY);
        for row in rows {
            let Some(Reading::Tir {
                tir,
                at,
                height_mm,
                seating,
                orientation_deg,
            }) = &row.reading
            else {
                continue;
            };
            let place = Place {
                at: *at,
                height_mm: *height_mm,
                ..Place::default()
            };
            let place = place.seated(*seating, *orientation_deg);
            let of = Spindle::default();
            if let Some(doubt) = doubt::runout(tir.micrometres()) {
                let unit = Unit::Length(tir.unit);
                as_read |= self.ask(row, "tir", doubt, (tir.number, unit), &of, app)?;
            }
            if let Some((mm, doubt)) =
                height_mm.and_then(|mm| Some((mm, doubt::height(*at, mm, interface)?)))
            {
                as_read |= self.ask(row, "height_mm", doubt, (mm, Unit::Millimetre), &of, app)?;
            }
            let step = readings::step(&tir.number.to_string(), tir.unit.micrometres());
            finest_um = step.map_or(finest_um, |step| finest_um.min(step));
            figures.push(runout_noted::figure(*tir, place));
        }
        let setup = RunoutSetup {
            state: rows[0].state,
            typed: true,
            as_read,
            typed_step_um: Some(finest_um).filter(|um| um.is_finite()),
            bar_turns: interface.map_or(BarTurns::NotKnown, BarTurns::of),
            ..RunoutSetup::default()
        };
        let begun = Begun {
            planes: None,
            unit: Some(LengthUnit::Um),
            place: Default::default(),
            way: Default::default(),
            setup,
            calibration_sha256: None,
        };
        let record = begun.from_noted(None, &figures)?;
        let result = runout::analyse(&record, &begun.setup)
            .map_err(|why| self.refuse(rows[0], "value", &why.to_string(), "runouts"))?;
        let limits = LimitsFile {
            title: "none: entered from paper".to_owned(),
            interface,
            nominal: None,
            limits: Vec::new(),
        };
        Ok(RunoutSet {
            figures,
            gauge,
            begun,
            limits,
            result,
        })
    }

    /// Holds the counters of each visit to those of all others, in the book and in the notebook.
    fn counters(&self, plan: &Plan, app: &mut App) -> Result<(), Error> {
        // From the last one back, so that of two that contradict each other the later is named.
        for visit in plan.visits.iter().rev() {
            let spindle = visit.header.spindle.unwrap_or_default();
            let place = |visit: &PlannedVisit| VisitDay {
                visit: visit.id,
                day: visit.day.clone(),
            };
            let planned = plan.visits.iter().filter(|other| other.id != visit.id);
            let mut others = counters::known_visits(self.book, spindle)?;
            others.extend(
                planned
                    .filter(|other| other.header.spindle == Some(spindle))
                    .map(|other| (place(other), other.header.clone())),
            );
            others.sort_by_key(|(place, _)| place.day.moments[0]);
            let mut known = events::of_spindle(self.book, spindle)?;
            known.extend(
                plan.events
                    .iter()
                    .filter(|event| event.entity == spindle)
                    .cloned(),
            );
            let doubts = counters::held_to_others(&visit.header, place(visit), others, known);
            for (counter, why) in doubts {
                if self.as_read {
                    app.console.message(&format!("Meant as it reads: {why}"));
                    continue;
                }
                return Err(self.refuse_counter(visit, counter, &why));
            }
        }
        Ok(())
    }

    fn refuse_counter(&self, visit: &PlannedVisit, counter: Counter, why: &str) -> Error {
        let key = counter.key();
        let row = self.rows.iter().find(|row| {
            row.day.text == visit.day.text
                && row.spindle == visit.spindle_name
                && self.table.written(row.row, key).is_some()
        });
        let expected = "a counter that fits those visits, a row before it with the event control-replaced, or --as-read";
        refuse(self.table, row.map_or(0, |row| row.row), key, why, expected)
    }
}

/// Columns that tell something of a visit.
const FACTS: [&str; 10] = [
    "technician",
    "customer",
    "order_number",
    "power_on_hours",
    "spindle_hours",
    "cutting_hours",
    "tool_changes",
    "ambient_c",
    "temperature_c",
    "running_min",
];

/// A day as visits are grouped by it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct KeyOfDay(jiff::civil::Date, String);
