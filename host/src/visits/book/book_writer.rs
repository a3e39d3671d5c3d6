//! In: an open book and who writes in it. Out: the visit at hand, its gauges and calibrations, with ids and times filled in.
//!
//! The book has no clock and makes no ids; this is where both come from.

use crate::terminal::error::Error;
use crate::visits::checks::stored_calibration;
use crate::visits::known_day::whole_days;
use crate::visits::told::Told;
use crate::visits::{overloads, stops};
use holdtrue_book::{
    Book, Calibration, Entity, GaugeHeader, GaugeOverload, GaugeStop, Revision, SpindleHeader,
    Stamp, VisitHeader,
};
use holdtrue_gauge::calibration;
use holdtrue_protocol::message::{CalibrationRecord, Overload, Stop};
use std::path::Path;
use uuid::Uuid;

/// A book with a writer.
pub struct BookWriter {
    /// The book.
    pub book: Book,
    author: String,
}

/// The time now, local, with its offset: what the book stores and the paper prints.
pub fn now() -> String {
    jiff::Zoned::now()
        .strftime("%Y-%m-%dT%H:%M:%S%.3f%:z")
        .to_string()
}

/// The entry of a gauge of that serial number and kind.
///
/// # Errors
/// When the book cannot be read.
pub(crate) fn known_gauge(
    book: &Book,
    serial: &str,
    what: &str,
) -> holdtrue_book::Result<Option<Entity<GaugeHeader>>> {
    let is_it = |gauge: &Entity<GaugeHeader>| {
        let header = gauge.header();
        !gauge.removed && header.serial == serial && header.what == what
    };
    Ok(book.list::<GaugeHeader>()?.into_iter().find(is_it))
}

/// Today, counted in days from 1970-01-01, as calibration dates are.
pub fn today_days() -> i32 {
    whole_days(jiff::Zoned::now().date())
}

/// A calibration as the book keeps it.
fn calibration_row(record: &CalibrationRecord) -> Calibration {
    Calibration {
        id: Uuid::from_bytes(record.id),
        channel: calibration::channel_word(record.channel).to_owned(),
        format: "wire-1".to_owned(),
        record: calibration::to_bytes(record),
    }
}

/// Whether a visit is entered from paper: no gauge measures in it.
pub fn is_from_paper(header: &VisitHeader) -> bool {
    header.entered_from.is_some()
}

impl BookWriter {
    /// Opens the book at `path`, creating it where there is none.
    ///
    /// # Errors
    /// As [`Book::open_or_create`].
    pub fn open(path: &Path, author: &str) -> holdtrue_book::Result<Self> {
        Ok(Self {
            book: Book::open_or_create(path)?,
            author: author.to_owned(),
        })
    }

    /// Opens the book at `path`, which must be there.
    ///
    /// # Errors
    /// As [`Book::open`].
    pub fn open_existing(path: &Path, author: &str) -> holdtrue_book::Result<Self> {
        Ok(Self {
            book: Book::open(path)?,
            author: author.to_owned(),
        })
    }

    /// A new id.
    pub fn id(&self) -> Uuid {
        Uuid::now_v7()
    }

    /// Who and when.
    pub fn stamp(&self) -> Stamp {
        Stamp::new(self.author.clone(), now())
    }

    /// The open visit that is measured at the machine, the latest of several: none that is entered from paper.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn open_visit(&self) -> holdtrue_book::Result<Option<Entity<VisitHeader>>> {
        let mut open = self.book.open_visits()?;
        open.retain(|visit| !is_from_paper(visit.header()));
        Ok(open.pop())
    }

    /// Starts a visit; without a spindle it is "unnamed" and assigned later.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn start_visit(&mut self, header: VisitHeader) -> holdtrue_book::Result<Uuid> {
        let header = self.begun(header);
        self.first_revision(header)
    }

    /// A header with who measures and when it began, now unless it says so itself.
    pub fn begun(&self, mut header: VisitHeader) -> VisitHeader {
        if header.technician.is_empty() {
            header.technician.clone_from(&self.author);
        }
        if header.started_at.is_empty() {
            header.started_at = now();
        }
        header
    }

    /// The open visit a gauge measures in, or a new one for a spindle still unnamed.
    ///
    /// # Errors
    /// When the book cannot be read or does not take it.
    pub fn visit_at_hand(&mut self) -> holdtrue_book::Result<Uuid> {
        match self.open_visit()? {
            Some(visit) => Ok(visit.id),
            None => self.start_visit(VisitHeader::default()),
        }
    }

    /// The spindle of a visit, where it has been named.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn spindle_of(&self, visit: Uuid) -> holdtrue_book::Result<Option<SpindleHeader>> {
        let visit = self.book.get::<VisitHeader>(visit)?;
        crate::visits::book::opening::spindle_of(&self.book, visit.header())
    }

    /// Stores the first revision of something new.
    ///
    /// # Errors
    /// When the book does not take it.
    pub fn first_revision<H: holdtrue_book::Header>(
        &mut self,
        header: H,
    ) -> holdtrue_book::Result<Uuid> {
        let entity = self.id();
        let revision = Revision {
            id: self.id(),
            entity,
            parents: Vec::new(),
            header,
            stamp: self.stamp(),
        };
        self.book.revise(&revision)?;
        Ok(entity)
    }

    /// The gauge with this serial number, entered now if the book does not know it.
    ///
    /// # Errors
    /// When the book cannot be read or does not take it.
    pub fn gauge(&mut self, wanted: GaugeHeader) -> holdtrue_book::Result<Uuid> {
        match known_gauge(&self.book, &wanted.serial, &wanted.what)? {
            Some(gauge) => Ok(gauge.id),
            None => self.first_revision(wanted),
        }
    }

    /// The gauge something was read on, by its serial number; entered now if the book does not know it.
    ///
    /// # Errors
    /// When the book cannot be read or does not take it.
    pub fn gauge_read_on(&mut self, serial: &str, what: &str) -> holdtrue_book::Result<Uuid> {
        self.gauge(GaugeHeader {
            serial: serial.to_owned(),
            what: what.to_owned(),
            ..GaugeHeader::default()
        })
    }

    /// Notes the overloads a gauge tells of, and hands back all that are known of it. `written`: a newer calibration
    /// has just been written into it, so that what it tells of lies before if it is of today.
    ///
    /// # Errors
    /// When the book cannot be read or does not take it.
    pub fn note_overloads(
        &mut self,
        gauge: Uuid,
        history: &[Overload],
        written: Option<&CalibrationRecord>,
    ) -> holdtrue_book::Result<Vec<GaugeOverload>> {
        let before = overloads::of(&self.book.get::<GaugeHeader>(gauge)?);
        let known = match written {
            Some(record) => overloads::recalibrated(&before, history, record, today_days()),
            None => overloads::seen(&before, history, today_days()),
        };
        if known != before {
            self.revise_gauge(gauge, |header| header.overloads.clone_from(&known))?;
        }
        Ok(known)
    }

    /// Notes the stops of its program a gauge tells of, and hands back those this book was not told of before: a gauge for force
    /// and runout has an entry for either, and is one program.
    ///
    /// # Errors
    /// When the book cannot be read or does not take it.
    pub fn note_stops(
        &mut self,
        gauge: Uuid,
        history: &[Stop],
    ) -> holdtrue_book::Result<Vec<GaugeStop>> {
        let entry = self.book.get::<GaugeHeader>(gauge)?;
        let mut known = stops::of(&entry);
        let before = known.len();
        known = stops::seen(&known, history, &calibration::day_text(today_days()));
        if known.len() > before {
            self.revise_gauge(gauge, |header| header.stops.clone_from(&known))?;
        }
        let mut new = known.split_off(before);
        for other in self.book.list::<GaugeHeader>()? {
            if other.id != gauge && other.header().serial == entry.header().serial {
                let told = stops::of(&other);
                new.retain(|stop| !told.iter().any(|told| told.is_same(stop)));
            }
        }
        Ok(new)
    }

    /// Keeps a gauge's calibration record.
    ///
    /// # Errors
    /// The same id with other bytes, or what no certificate states: exit 5, because the gauge cannot be used with it; else
    /// when the book does not take it: exit 6.
    pub fn keep_calibration(&mut self, kept: &CalibrationRecord) -> Result<Uuid, Error> {
        stored_calibration::require_usable(&self.book.path().display().to_string(), kept)?;
        self.require_no_other(kept)?;
        let row = calibration_row(kept);
        self.book.import_calibration(&row)?;
        Ok(row.id)
    }

    /// Says which calibration a gauge has, unless that is known of it; an older one goes before the newest, which stays.
    ///
    /// # Errors
    /// As [`Self::keep_calibration`].
    pub fn gauge_has(&mut self, gauge: Uuid, record: &CalibrationRecord) -> Result<(), Error> {
        let id = self.keep_calibration(record)?;
        let known: Vec<_> = stored_calibration::entered_for(&self.book, gauge)?.collect();
        if known.contains(record) {
            return Ok(());
        }
        let newest = known
            .iter()
            .filter(|other| other.date_days > record.date_days);
        let newest = newest.max_by_key(|other| other.date_days);
        self.revise_gauge(gauge, |header| header.calibration = Some(id))?;
        if let Some(newest) = newest {
            let id = Uuid::from_bytes(newest.id);
            self.revise_gauge(gauge, |header| header.calibration = Some(id))?;
        }
        Ok(())
    }

    /// Changes the latest head alone: a conflict of entries is for the technician to settle.
    fn revise_gauge(
        &mut self,
        gauge: Uuid,
        change: impl FnOnce(&mut GaugeHeader),
    ) -> holdtrue_book::Result<()> {
        let entry = self.book.get::<GaugeHeader>(gauge)?;
        let head = &entry.heads[0];
        let mut header = head.header.clone();
        change(&mut header);
        self.book.revise(&Revision {
            id: self.id(),
            entity: gauge,
            parents: vec![head.id],
            header,
            stamp: self.stamp(),
        })
    }

    /// Refuses a calibration that the book knows by the same id with other content.
    ///
    /// # Errors
    /// Exit 5.
    pub fn require_no_other(&self, wanted: &CalibrationRecord) -> Result<(), Error> {
        let row = calibration_row(wanted);
        match self.book.calibration(row.id)? {
            Some(known) if known != row => Err(Error::gauge(format!(
                "calibration {} of the gauge (certificate {}) is in the book with other content: one of the two is \
                 damaged. Compare both with the paper; write the certificate into the gauge anew, or work in another book",
                row.id, wanted.certificate
            ))),
            _ => Ok(()),
        }
    }
}
