//! From the book to the page. In: a visit and the units wanted. Out: the document the report draws, and the page.
//!
//! Everything on the page is read back from the book: results as they were stored, records as they were taken.

use crate::page::instruments::facts;
use crate::page::letterhead::letterhead;
use crate::page::years;
use crate::terminal::error::Error;
use crate::terminal::output_file;
use crate::terminal::settings::{OnOff, Paper, Settings};
use crate::terminal::times;
use crate::terminal::working::Working;
use crate::visits::amendments::changes;
use crate::visits::checks::since::AmongVisits;
use crate::visits::corrected;
use crate::visits::corrected::CorrectedFinding;
use crate::visits::findings::estimate::{Estimate, Sum};
use crate::visits::findings::photos;
use crate::visits::known_day;
use crate::visits::later_rows;
use crate::visits::spindles::spelled::{interface, words};
use holdtrue_book::{Book, FindingKind, Later, SpindleHeader, Visit, VisitHeader};
use holdtrue_photo::Picture;
use holdtrue_report::document::{
    Acknowledged, Document, Finding, How, NotExamined, Photo, Said, Spindle as SpindleOnPaper,
    Sum as SumOnPaper, Visit as VisitOnPaper,
};
use holdtrue_report::{Day, Form, Made, Sheet};
use holdtrue_terms::vocabulary::{Drawbar, Purpose};
use holdtrue_wording::words::sentence;
use jiff::civil::Date;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// The document of a visit.
///
/// # Errors
/// When the book cannot be read, or a finished visit no longer gives its digest: exit 6.
pub fn document(book: &Book, visit: Uuid, settings: &Settings) -> Result<Document, Error> {
    let digest = book.sealed(visit)?;
    let visit = book.visit(visit)?;
    let spindle = visit.spindle.as_ref().map(|spindle| spindle.header());
    let (findings, not_examined) = findings(book, &visit)?;
    let units = settings.units().on_paper();
    let among = AmongVisits::read(book, visit.visit.id)?;
    let among = among.as_ref();
    let up_to = years::up_to(book, &visit, &units)?;
    Ok(Document {
        units,
        spindle: spindle
            .map(|header| on_paper(header, settings))
            .unwrap_or_default(),
        visit: circumstances(&visit),
        headline: among.and_then(|among| among.headline(&units)),
        grips: crate::page::checks::grips(book, &visit, among, &units)?,
        runouts: crate::page::checks::runouts(book, &visit, among, &units)?,
        over_years: up_to.series,
        rises: up_to.rises,
        findings,
        sums: sums(&visit),
        not_examined,
        acknowledged: acknowledged(&visit),
        notes: visit
            .notes
            .iter()
            .map(|note| said(&note.stamp, &note.text))
            .collect(),
        struck: struck(book, visit.visit.id)?,
        amendments: amendments(book, &visit)?,
        later: visit.later.iter().map(later).collect(),
        digest: digest.map(|digest| digest.to_string()),
        made: Some(visit.finishes.first().map_or_else(
            || visit.visit.header().started_at.clone(),
            |finish| finish.stamp.at.clone(),
        )),
        program: program(),
    })
}

/// The paper of a visit, as the settings want it.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn paper(book: &Book, visit: Uuid, settings: &Settings) -> Result<Made, Error> {
    let document = document(book, visit, settings)?;
    Ok(Made::of_visit(&document, &form(settings)?))
}

/// The paper of visits of one day, as the settings want it.
///
/// # Errors
/// As [`paper`].
pub fn of_day(book: &Book, visits: &[Uuid], day: Date, settings: &Settings) -> Result<Made, Error> {
    let form = form(settings)?;
    let working = Working::of("Visits read", visits.len());
    let documents = visits.iter().map(|visit| {
        let document = document(book, *visit, settings)?;
        working.step();
        Ok(document)
    });
    let made = day.to_string();
    let day = Day {
        day: known_day::words(&made),
        made,
        visits: documents.collect::<Result<_, Error>>()?,
        program: program(),
    };
    Ok(Made::of_day(&day, &form))
}

/// How the settings want a paper.
pub(crate) fn form(settings: &Settings) -> Result<Form, Error> {
    Ok(Form {
        sheet: match settings.paper {
            Paper::A4 => Sheet::A4,
            Paper::Letter => Sheet::Letter,
        },
        appendix: settings.appendix == OnOff::On,
        letterhead: letterhead(settings)?,
    })
}

fn program() -> String {
    format!("holdtrue {}", env!("CARGO_PKG_VERSION"))
}

/// Where a paper is to be written.
#[derive(Clone, Copy, Debug)]
pub struct Files<'a> {
    /// The page.
    pub html: Option<&'a Path>,
    /// The same as a PDF.
    pub pdf: Option<&'a Path>,
    /// One that is there may be replaced.
    pub overwrite: bool,
    /// Nothing is written.
    pub dry_run: bool,
}

/// Writes a paper into the files named, all of them or none as far as that can be told before.
///
/// # Errors
/// One file for both: exit 2. A file cannot be written: exit 6.
pub fn write(paper: &Made, files: &Files<'_>) -> Result<(), Error> {
    let made = [
        files.html.map(|path| (path, output_file::PAGE)),
        files.pdf.map(|path| (path, output_file::PDF)),
    ];
    let made: Vec<_> = made.into_iter().flatten().collect();
    let places = made.iter().map(|(path, _)| output_file::place(path));
    let places = places.collect::<Result<Vec<PathBuf>, Error>>()?;
    if let [html, pdf] = &places[..]
        && html == pdf
    {
        return Err(Error::usage(format!(
            "--html and --pdf: found {} for both, expected two files: name another one for the PDF. Nothing was written",
            html.display()
        )));
    }
    for (path, kind) in &made {
        output_file::allowed(path, *kind, files.overwrite)?;
    }
    let html = files.html.map(|path| (path, paper.html().into_bytes()));
    let pdf = files.pdf.map(|path| match paper.pdf() {
        Ok(bytes) => Ok((path, bytes)),
        Err(error) => Err(Error::book(format!("{}: {error}", path.display()))),
    });
    let pages = html.into_iter().chain(pdf.transpose()?);
    if files.dry_run {
        return Ok(());
    }
    for ((path, bytes), (_, kind)) in pages.zip(made) {
        output_file::write(path, kind, &bytes, files.overwrite)?;
    }
    Ok(())
}

/// A spindle as it stands on a page.
pub(crate) fn on_paper(header: &SpindleHeader, settings: &Settings) -> SpindleOnPaper {
    let yes_no = |value: Option<bool>| value.map(|yes| if yes { "yes" } else { "no" }.to_owned());
    let force = |newton: Option<f64>| newton.map(|newton| settings.units().force(newton));
    SpindleOnPaper {
        name: Some(header.name.clone()).filter(|name| !name.is_empty()),
        place: header.place.clone(),
        invented: header.invented,
        facts: facts(vec![
            ("machine", header.machine.clone()),
            (
                "serial number of the machine",
                header.machine_serial.clone(),
            ),
            (
                "serial number of the spindle",
                header.spindle_serial.clone(),
            ),
            ("taper", interface(header)),
            ("retention knob (pull stud)", header.retention_knob.clone()),
            ("drawbar", header.drawbar.as_deref().map(drawbar_words)),
            ("drive", header.drive.clone()),
            (
                "coolant through the spindle",
                yes_no(header.through_coolant),
            ),
            ("face contact", yes_no(header.face_contact)),
            ("spindle axis", header.axis.clone()),
            ("maker's nominal grip force", force(header.grip_nominal_n)),
            ("maker's least grip force", force(header.grip_minimum_n)),
        ]),
    }
}

/// What holds the tool.
fn drawbar_words(stored: &str) -> String {
    match stored.parse() {
        Ok(Drawbar::DiscSprings) => "disc (Belleville) springs".to_owned(),
        Ok(_) | Err(_) => words(stored),
    }
}

/// What a visit is for.
fn purpose_words(stored: &str) -> String {
    match stored.parse() {
        Ok(Purpose::BeforePurchase) => "pre-purchase inspection".to_owned(),
        Ok(_) | Err(_) => words(stored),
    }
}

/// When and by whom a visit was entered from paper.
fn entered(visit: &Visit) -> Option<String> {
    visit.visit.header().entered_from.as_ref()?;
    let stamp = &visit.visit.heads.first()?.stamp;
    Some(format!("{}, by {}", times::moment(&stamp.at), stamp.author))
}

fn circumstances(visit: &Visit) -> VisitOnPaper {
    let header: &VisitHeader = visit.visit.header();
    let hours = |hours: Option<f64>| hours.map(|hours| format!("{hours:.0} h"));
    VisitOnPaper {
        id: Some(visit.visit.id.to_string()),
        started: known_day::moment(&header.started_at),
        finished: visit
            .finishes
            .first()
            .map(|finish| times::moment(&finish.stamp.at)),
        technician: Some(header.technician.clone()).filter(|name| !name.is_empty()),
        consent_of: header.consent_of.clone(),
        operated_by: header.operated_by.clone(),
        temperature: header
            .temperature_c
            .map(|celsius| format!("{celsius:.0} °C")),
        air: header.ambient_c.map(|celsius| format!("{celsius:.0} °C")),
        customer: header.customer.clone(),
        order: header.order_number.clone(),
        purpose: header.purpose.as_deref().map(purpose_words),
        before_purchase: matches!(
            header.purpose.as_deref().map(str::parse),
            Some(Ok(Purpose::BeforePurchase))
        ),
        facts: facts(vec![
            ("entered from paper", entered(visit)),
            ("customer", header.customer.clone()),
            ("order", header.order_number.clone()),
            ("reason", header.purpose.as_deref().map(purpose_words)),
            (
                "short round",
                header.short.then(|| "yes, forty minutes".to_owned()),
            ),
            ("power-on hours", hours(header.power_on_hours)),
            ("spindle hours", hours(header.spindle_hours)),
            ("cutting hours", hours(header.cutting_hours)),
            (
                "tool changes",
                header.tool_changes.map(|number| number.to_string()),
            ),
            (
                "temperature of the air",
                header.ambient_c.map(|celsius| format!("{celsius:.0} °C")),
            ),
            (
                "running before the visit",
                header
                    .running_min
                    .map(|minutes| format!("{minutes:.0} min")),
            ),
            (
                "tool taken out",
                header.tool_in_spindle.as_ref().map(|tool| {
                    let back = if header.tool_back { ", back in" } else { "" };
                    format!("{tool}{back}")
                }),
            ),
        ]),
    }
}

fn findings(book: &Book, visit: &Visit) -> Result<(Vec<Finding>, Vec<NotExamined>), Error> {
    let found = corrected::findings(visit).into_iter();
    let (skipped, seen): (Vec<_>, Vec<_>) =
        found.partition(|each| each.finding.kind == FindingKind::NotExamined);
    let item =
        |each: &CorrectedFinding| format!("{}, {}", each.finding.assembly, each.finding.item);
    let remarks = |each: &CorrectedFinding| {
        let mut remarks = each.correction_lines();
        remarks.extend(each.struck.as_ref().map(corrected::strike_words));
        remarks
    };
    let seen = seen.into_iter().map(|each| {
        Ok(Finding {
            severity: each.finding.severity,
            item: item(&each),
            struck: each.struck.is_some(),
            remarks: remarks(&each),
            measured: Estimate::of(&each.finding).measured_words(),
            estimate: Estimate::of(&each.finding).estimate_words(),
            photos: photos_of(book, &each.finding, visit)?,
            text: each.finding.text,
        })
    });
    let seen: Vec<Finding> = seen.collect::<Result<_, Error>>()?;
    let skipped = skipped.into_iter().map(|each| NotExamined {
        item: item(&each),
        remarks: remarks(&each),
        because: each.finding.text,
    });
    Ok((seen, skipped.collect()))
}

/// What mending may cost, where anything was estimated.
fn sums(visit: &Visit) -> Vec<SumOnPaper> {
    let sums = Sum::of(&corrected::findings(visit));
    if !sums.iter().any(Sum::is_estimated) {
        return Vec::new();
    }
    let each = sums.into_iter().map(|sum| SumOnPaper {
        severity: sum.severity,
        findings: sum.findings,
        cost: sum.cost_words(),
        hours: sum.hours.map(|hours| format!("{hours} h")),
    });
    each.collect()
}

/// The photos of a finding that are to be shown; one without words of its own shows what was found.
fn photos_of(
    book: &Book,
    finding: &holdtrue_book::Finding,
    visit: &Visit,
) -> Result<Vec<Photo>, Error> {
    let photos = photos::of(finding.id, visit).into_iter();
    let shown = photos.filter(|photo| photo.struck.is_none()).map(|photo| {
        let Picture {
            jpeg,
            width,
            height,
        } = photo.picture(book)?;
        let said = [&photo.row.text, &finding.text, &finding.item];
        let caption = said.into_iter().find(|text| !text.is_empty());
        Ok(Photo {
            jpeg,
            width,
            height,
            caption: caption.cloned().unwrap_or_default(),
        })
    });
    shown.collect()
}

/// What was said after the end, each with what it changes and its own check code; one without an end has none.
/// Why the visit counts nowhere: a strike after its end does once an amendment takes it up.
fn struck(book: &Book, visit: Uuid) -> Result<Option<String>, Error> {
    let strikes = book.strikes()?.counted;
    let why = strikes.get(&visit).map(|strike| strike.reason.as_str());
    Ok(why.map(|why| why.trim_end_matches('.').to_owned()))
}

fn amendments(book: &Book, visit: &Visit) -> Result<Vec<Said>, Error> {
    let amended = book.amended(visit.visit.id)?;
    let each = visit.amendments.iter().map(|amendment| {
        let with_end = amended
            .iter()
            .find(|amended| amended.amendments.iter().any(|row| row.id == amendment.id));
        let mut text = sentence(&amendment.reason);
        if let Some(amended) = with_end {
            for change in changes(visit, amended) {
                text.push_str(&format!(" {}", sentence(&change)));
            }
            text.push_str(&format!(
                " Check code with the amendment: {}.",
                amended.digest
            ));
        }
        said(&amendment.stamp, &text)
    });
    Ok(each.collect())
}

fn acknowledged(visit: &Visit) -> Vec<Acknowledged> {
    visit
        .acknowledgements
        .iter()
        .map(|row| Acknowledged {
            caution: caution_words(row),
            how: match row.how {
                holdtrue_book::How::Asked => How::Asked,
                holdtrue_book::How::ByFlag => How::ByFlag,
                holdtrue_book::How::Printed => How::Printed,
            },
            who: row.stamp.author.clone(),
            at: times::moment(&row.stamp.at),
        })
        .collect()
}

/// The one line that named the act; where the cautions were said in full, the state.
fn caution_words(row: &holdtrue_book::Acknowledgement) -> String {
    if row.text.lines().count() == 1 {
        row.text.clone()
    } else {
        words(&row.caution)
    }
}

fn later(row: &Later) -> Said {
    match &row.stamp {
        Some(stamp) => said(stamp, &later_rows::what(row)),
        None => Said {
            at: "no time given".to_owned(),
            who: "nobody named".to_owned(),
            text: later_rows::what(row),
        },
    }
}

fn said(stamp: &holdtrue_book::Stamp, text: &str) -> Said {
    Said {
        at: times::moment(&stamp.at),
        who: stamp.author.clone(),
        text: text.to_owned(),
    }
}
