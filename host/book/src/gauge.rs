//! What happens to a gauge beside the visits: its own checks, and the changes of its retention knob.
//!
//! In: a check of the gauge with all it found; a new knob. Out: the history of a gauge, oldest first, and how many
//! clamps its knob has seen. A book of schema 1 has none of either.

use crate::book::{Book, Result, Stamp, id, maybe_id, maybe_text, read_id, read_maybe_id};
use crate::header::GaugeHeader;
use crate::json::Json;
use crate::revision::{Entity, Kind};
use crate::schema::{GAUGE_CHECK, KNOB_CHANGE};
use rusqlite::Row;
use rusqlite::types::Value;
use std::collections::BTreeSet;
use uuid::Uuid;

/// One check of a gauge: at rest, on the shunt, on a check standard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GaugeCheck {
    /// This row.
    pub id: Uuid,
    /// The gauge.
    pub gauge: Uuid,
    /// The calibration it carried, stored before with [`Book::import_calibration`].
    pub calibration: Option<Uuid>,
    /// Whether it was found fit to measure.
    pub fit: bool,
    /// The whole result document.
    pub content: Json,
    /// Who and when.
    pub stamp: Stamp,
}

/// The gauge got another retention knob.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnobChange {
    /// This row.
    pub id: Uuid,
    /// The gauge.
    pub gauge: Uuid,
    /// Which knob it is now: standard, serial number, as far as known.
    pub knob: Option<String>,
    /// Clamps its maker gives it.
    pub good_for: Option<u32>,
    /// Who and when.
    pub stamp: Stamp,
}

impl Book {
    /// Keeps a check of a gauge.
    pub fn keep_gauge_check(&mut self, check: &GaugeCheck) -> Result<()> {
        let [author, at] = self.stamp(&check.stamp)?;
        self.together(|book| {
            book.get::<GaugeHeader>(check.gauge)?;
            if let Some(missing) = check.calibration
                && book.calibration(missing)?.is_none()
            {
                return Err(book.unknown("calibration", missing));
            }
            let row = vec![
                id(check.id),
                id(check.gauge),
                maybe_id(check.calibration),
                Value::Integer(check.fit.into()),
                (&check.content).into(),
                author,
                at,
            ];
            book.put(&GAUGE_CHECK, row).map(|_| ())
        })
    }

    /// The checks of a gauge, all its entries together, oldest first; withdrawn ones left out.
    pub fn gauge_checks(&self, gauge: Uuid) -> Result<Vec<GaugeCheck>> {
        let sql = "SELECT * FROM gauge_check WHERE gauge = ?1";
        let rows = self.of_gauge(gauge, self.has(&GAUGE_CHECK)?, sql, |row| {
            Ok(GaugeCheck {
                id: read_id(row, "id")?,
                gauge: read_id(row, "gauge")?,
                calibration: read_maybe_id(row, "calibration")?,
                fit: row.get("fit")?,
                content: row.get("content")?,
                stamp: Stamp::from_row(row)?,
            })
        })?;
        self.in_order(rows, |check| (check.id, &check.stamp))
    }

    /// Serial numbers of the gauges that measured, or were checked, with this calibration, or that it was entered for; each once.
    pub fn gauges_calibrated_by(&self, calibration: Uuid) -> Result<BTreeSet<String>> {
        let checks = "SELECT gauge FROM check_start WHERE calibration = ?1 AND gauge IS NOT NULL";
        let own = "SELECT gauge FROM gauge_check WHERE calibration = ?1";
        let read = |row: &Row| read_id(row, "gauge");
        let mut gauges = self.rows(checks, [calibration.to_string()], read)?;
        if self.has(&GAUGE_CHECK)? {
            gauges.extend(self.rows(own, [calibration.to_string()], read)?);
        }
        for entry in self.list::<GaugeHeader>()? {
            let history = self.history::<GaugeHeader>(entry.id)?;
            let mut entered = history.iter().map(|revision| revision.header.calibration);
            if entered.any(|entered| entered == Some(calibration)) {
                gauges.push(entry.id);
            }
        }
        let serial = |gauge| Ok(self.get::<GaugeHeader>(gauge)?.header().serial.clone());
        gauges.into_iter().map(serial).collect()
    }

    /// Notes that a gauge got another knob.
    pub fn change_knob(&mut self, change: &KnobChange) -> Result<()> {
        let [author, at] = self.stamp(&change.stamp)?;
        if change.good_for == Some(0) {
            return Err(self.refused("good_for", "0", "one clamp or more, or nothing"));
        }
        self.together(|book| {
            book.get::<GaugeHeader>(change.gauge)?;
            let row = vec![
                id(change.id),
                id(change.gauge),
                maybe_text(change.knob.as_deref()),
                change
                    .good_for
                    .map_or(Value::Null, |clamps| Value::Integer(clamps.into())),
                author,
                at,
            ];
            book.put(&KNOB_CHANGE, row).map(|_| ())
        })
    }

    /// The changes of a gauge's knob, oldest first; withdrawn ones left out.
    pub fn knob_changes(&self, gauge: Uuid) -> Result<Vec<KnobChange>> {
        let sql = "SELECT * FROM knob_change WHERE gauge = ?1";
        let rows = self.of_gauge(gauge, self.has(&KNOB_CHANGE)?, sql, |row| {
            Ok(KnobChange {
                id: read_id(row, "id")?,
                gauge: read_id(row, "gauge")?,
                knob: row.get("knob")?,
                good_for: row.get("good_for")?,
                stamp: Stamp::from_row(row)?,
            })
        })?;
        self.in_order(rows, |change| (change.id, &change.stamp))
    }

    /// How many clamps a gauge has taken after a moment, or in all. Every one counts, whether it counted for the
    /// figures or not, and those of withdrawn checks too: the knob felt them all. Clamps typed by hand say nothing of their
    /// time, and are left out.
    pub fn clamps_of(&self, gauge: Uuid, after: Option<&str>) -> Result<u64> {
        let sql = "SELECT count(*) FROM recorded JOIN check_start ON check_start.id = check_id
                   WHERE recorded.kind = 'clamp' AND gauge = ?1
                   AND NOT EXISTS (SELECT 1 FROM capture WHERE capture.check_id = check_start.id AND source = 'typed')
                   AND (?2 IS NULL OR julianday(recorded.at) > julianday(?2))";
        let mut clamps = 0;
        for entry in self.entries_of(gauge)? {
            let count: i64 = self.run(|db| {
                db.prepare_cached(sql)?
                    .query_row((entry.to_string(), after), |row| row.get(0))
            })?;
            clamps += count.unsigned_abs();
        }
        Ok(clamps)
    }

    /// All entries of one gauge: those said to be the same, and those of the same serial number, which two copies of a
    /// book enter apart.
    fn entries_of(&self, gauge: Uuid) -> Result<BTreeSet<Uuid>> {
        let all = self.list::<GaugeHeader>()?;
        let named = |entry: &Entity<GaugeHeader>| {
            let header = entry.header();
            (header.serial.clone(), header.what.clone())
        };
        let mut entries = self.same(Kind::Gauge, gauge)?;
        loop {
            let before = entries.len();
            let inside = all.iter().filter(|entry| entries.contains(&entry.id));
            let names: BTreeSet<_> = inside.map(named).collect();
            for entry in all.iter().filter(|entry| names.contains(&named(entry))) {
                entries.extend(self.same(Kind::Gauge, entry.id)?);
            }
            if entries.len() == before {
                return Ok(entries);
            }
        }
    }

    fn of_gauge<T>(
        &self,
        gauge: Uuid,
        there: bool,
        sql: &str,
        mut read: impl FnMut(&Row) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>> {
        let mut rows = Vec::new();
        if there {
            for entry in self.entries_of(gauge)? {
                rows.extend(self.rows(sql, [entry.to_string()], &mut read)?);
            }
        }
        Ok(rows)
    }

    /// By moment, then by identifier; what a tombstone lies on is left out.
    fn in_order<T>(&self, mut rows: Vec<T>, key: fn(&T) -> (Uuid, &Stamp)) -> Result<Vec<T>> {
        let removed = self.removed()?;
        rows.retain(|row| !removed.contains(&key(row).0));
        let mut moments = Vec::new();
        for row in rows {
            let sql = "SELECT julianday(?1)";
            let moment: f64 = self.run(|db| {
                db.prepare_cached(sql)?
                    .query_row([&key(&row).1.at], |row| row.get(0))
            })?;
            moments.push((moment, row));
        }
        moments.sort_by(|(left_at, left), (right_at, right)| {
            left_at
                .total_cmp(right_at)
                .then_with(|| key(left).0.cmp(&key(right).0))
        });
        Ok(moments.into_iter().map(|(_, row)| row).collect())
    }
}
