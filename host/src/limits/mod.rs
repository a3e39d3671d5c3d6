//! Limits a person writes down. In: a TOML file. Out: limits in newton, percent and micrometre, each with its
//! provenance, or the line and column that cannot be used.
//!
//! ```toml
//! schema = 1
//! title = "Centre 1, spindle sheet"
//! interface = "7/24-40"      # optional
//!
//! [nominal]                  # optional: the maker's grip force
//! force = 9.8
//! unit = "kN"
//! provenance = "maker"
//! source = "spindle sheet, page 4"
//! act_percent = 70           # optional: the limit, where no grip-mean is limited below
//! watch_percent = 85         # optional
//!
//! [[limit]]
//! figure = "grip-mean"
//! limit = 8.0
//! unit = "kN"
//! provenance = "maker"
//! source = "spindle sheet, page 4"
//! watch = 8.5                # optional: accepted but to be watched below this
//! ```

pub mod arguments;
pub mod command;

use crate::tables::read_file;
use crate::terminal::doubts;
use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::toml_file;
use holdtrue_metrology::decision::{Figure, Limit, Side};
use holdtrue_metrology::limits::grip::InFile;
use holdtrue_metrology::limits::{Nominal, SourcedLimit};
use holdtrue_terms::figure::{ForceOf, GivenBy, Measure};
use holdtrue_terms::taper::{Interface, UnknownInterface};
use holdtrue_terms::units::{ForceUnit, NoForceUnit};
use holdtrue_terms::vocabulary::Provenance;
use serde::{Deserialize, Serialize};
use toml::Spanned;

mod contradiction;
mod doubtful;
mod kept;
pub mod typed;

use crate::limits::contradiction::{Places, Written};

/// Version of the file this program writes down as its own.
const SCHEMA: i64 = 1;

/// A limits file as it is understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitsFile {
    /// What the limits are for, in the words of who wrote them.
    pub title: String,
    /// The spindle's interface.
    pub interface: Option<Interface>,
    /// The maker's grip force.
    pub nominal: Option<Nominal>,
    /// The limits.
    pub limits: Vec<SourcedLimit>,
}

impl LimitsFile {
    /// What it says of a grip check.
    pub fn says(&self) -> InFile<'_> {
        InFile {
            nominal: self.nominal.as_ref(),
            limits: &self.limits,
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFile {
    schema: Spanned<i64>,
    title: String,
    interface: Option<Spanned<String>>,
    nominal: Option<RawNominal>,
    #[serde(default)]
    limit: Vec<RawLimit>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawNominal {
    force: Spanned<f64>,
    unit: Spanned<String>,
    act_percent: Option<Spanned<f64>>,
    watch_percent: Option<Spanned<f64>>,
    provenance: Spanned<Provenance>,
    source: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawLimit {
    figure: Spanned<Figure>,
    side: Option<Spanned<Side>>,
    limit: Spanned<f64>,
    unit: Spanned<String>,
    provenance: Spanned<Provenance>,
    source: Option<String>,
    watch: Option<Spanned<f64>>,
    height_mm: Option<Spanned<f64>>,
}

/// Reads a limits file. `as_read`: figures far out of the usual are meant as they stand.
///
/// # Errors
/// The first thing that cannot be used, with line and column: exit 4.
pub fn read(name: &str, as_read: bool) -> Result<LimitsFile, Error> {
    let bytes = read_file(name)?;
    let text = std::str::from_utf8(&bytes).map_err(|_| {
        Error::input(
            Place::file(name),
            Refusal {
                found: "bytes that are not UTF-8",
                expected: "a limits file (TOML)",
                next: "Is this the right file?",
            },
        )
    })?;
    let (file, places) = parse(name, text, Repeated::Refused)?;
    contradiction::refuse(&file, &places, name, text)?;
    match doubtful::first(&file, &places, name, text).filter(|_| !as_read) {
        Some(doubted) => Err(doubts::refusal(&doubted)),
        None => Ok(file),
    }
}

/// Understands the text of a limits file, as one is kept with a result: what was in force was in force, whether it
/// agrees with itself or not; a laxer limit may stand beside the maker's.
///
/// # Errors
/// The first thing that cannot be used, with line and column: exit 4.
pub fn understand(name: &str, text: &str) -> Result<LimitsFile, Error> {
    parse(name, text, Repeated::Kept).map(|(file, _places)| file)
}

/// What a second limit for one figure is: a slip in a file somebody wrote, not in what was in force.
#[derive(Clone, Copy, PartialEq)]
enum Repeated {
    Refused,
    Kept,
}

fn parse(name: &str, text: &str, repeated: Repeated) -> Result<(LimitsFile, Places), Error> {
    let raw: RawFile = toml_file::parse(name, text, "Correct the file.")?;
    let reader = Reader { name, text };
    reader.check_schema(&raw.schema)?;
    if raw.limit.is_empty() && raw.nominal.is_none() {
        return Err(Error::input(
            Place::file(name),
            Refusal {
                found: "neither [[limit]] nor [nominal]",
                expected: "at least one of them",
                next: "Write down the maker's figure.",
            },
        ));
    }
    let interface = raw
        .interface
        .map(|name| reader.interface(&name))
        .transpose()?;
    let mut places = Places::of(raw.nominal.as_ref());
    let nominal = raw
        .nominal
        .map(|nominal| reader.nominal(nominal))
        .transpose()?;
    let mut limits: Vec<SourcedLimit> = Vec::new();
    for raw in raw.limit {
        let span = raw.figure.span().start;
        places.limits.push(Written::of(&raw.limit, &raw.unit));
        let limit = reader.limit(raw)?;
        let mut earlier = limits.iter();
        if repeated == Repeated::Refused
            && earlier.any(|earlier| same_subject(&earlier.limit, &limit.limit))
        {
            return Err(reader.refuse(
                span,
                "a second limit for the same figure, side and height",
                "one",
                "Take the other one out.",
            ));
        }
        limits.push(limit);
    }
    let file = LimitsFile {
        title: raw.title,
        interface,
        nominal,
        limits,
    };
    Ok((file, places))
}

fn needs_source(provenance: Provenance) -> bool {
    matches!(
        provenance,
        Provenance::Maker | Provenance::Published | Provenance::FromMemory
    )
}

fn same_subject(a: &Limit, b: &Limit) -> bool {
    a.figure == b.figure
        && a.side == b.side
        && a.height_mm.map(f64::to_bits) == b.height_mm.map(f64::to_bits)
}

struct Reader<'a> {
    name: &'a str,
    text: &'a str,
}

impl Reader<'_> {
    fn refuse(&self, at: usize, found: &str, expected: &str, next: &str) -> Error {
        Error::input(
            toml_file::place(self.name, self.text, at),
            Refusal {
                found,
                expected,
                next,
            },
        )
    }

    fn check_schema(&self, schema: &Spanned<i64>) -> Result<(), Error> {
        if *schema.get_ref() == SCHEMA {
            return Ok(());
        }
        Err(self.refuse(
            schema.span().start,
            &format!("schema {}", schema.get_ref()),
            &format!("schema {SCHEMA}"),
            "Update this program, or write the file for this one.",
        ))
    }

    fn interface(&self, name: &Spanned<String>) -> Result<Interface, Error> {
        name.get_ref().parse().map_err(|unknown: UnknownInterface| {
            self.refuse(
                name.span().start,
                &format!("interface \"{}\"", name.get_ref()),
                "one such as 7/24-40, BT40 or HSK-A63",
                &format!("{unknown}."),
            )
        })
    }

    fn nominal(&self, raw: RawNominal) -> Result<Nominal, Error> {
        let factor = self.unit(&raw.unit, &Measure::Force(ForceOf::Hold).units())?;
        let source = self.source(&raw.provenance, raw.source)?;
        Ok(Nominal {
            force_n: self.positive(&raw.force)? * factor,
            act_percent: raw
                .act_percent
                .map(|share| self.positive(&share))
                .transpose()?,
            watch_percent: raw
                .watch_percent
                .map(|share| self.positive(&share))
                .transpose()?,
            provenance: raw.provenance.into_inner(),
            source,
        })
    }

    fn limit(&self, raw: RawLimit) -> Result<SourcedLimit, Error> {
        let figure = *raw.figure.get_ref();
        let provenance = *raw.provenance.get_ref();
        if figure == Figure::PushOut && provenance != Provenance::Maker {
            return Err(self.refuse(
                raw.provenance.span().start,
                &format!("provenance \"{provenance}\""),
                "provenance = \"maker\": a push-out is judged by the maker's figure only",
                "Enter what the maker of machine or spindle states, or take the limit out.",
            ));
        }
        let factor = self.unit(&raw.unit, &figure.facts().measure.units())?;
        let side = self.side(figure, raw.side)?;
        let limit = self.positive(&raw.limit)? * factor;
        let watch = raw
            .watch
            .map(|watch| self.watch(&watch, factor, limit, side))
            .transpose()?;
        Ok(SourcedLimit {
            source: self.source(&raw.provenance, raw.source)?,
            limit: Limit {
                height_mm: self.height(figure, raw.height_mm)?,
                side,
                watch,
                ..Limit::on(figure, limit, raw.provenance.into_inner())
            },
        })
    }

    /// The factor of a unit among those a figure may be in.
    fn unit(&self, unit: &Spanned<String>, known: &[(String, f64)]) -> Result<f64, Error> {
        let written = unit.get_ref();
        if let Some((_, factor)) = known.iter().find(|(name, _)| name == written) {
            return Ok(*factor);
        }
        let names: Vec<_> = known.iter().map(|(name, _)| name.as_str()).collect();
        let next = match written.parse::<ForceUnit>() {
            Err(pressure @ NoForceUnit::Pressure(_)) => &format!("{pressure}."),
            _ => "Correct the unit.",
        };
        Err(self.refuse(
            unit.span().start,
            &format!("unit \"{written}\""),
            &names.join(" or "),
            next,
        ))
    }

    fn side(&self, figure: Figure, side: Option<Spanned<Side>>) -> Result<Side, Error> {
        let good = figure.facts().good;
        let Some(side) = side else { return Ok(good) };
        let at = side.span().start;
        match side.into_inner() {
            // More than the nominal by far is a fault too, so an upper limit on a grip force makes sense.
            Side::Upper => Ok(Side::Upper),
            Side::Lower if good == Side::Lower => Ok(Side::Lower),
            Side::Lower => Err(self.refuse(
                at,
                "a lower limit on a figure that is good when small",
                "side = \"upper\"",
                "Correct the side.",
            )),
        }
    }

    fn positive(&self, number: &Spanned<f64>) -> Result<f64, Error> {
        let value = *number.get_ref();
        if value.is_finite() && value > 0.0 {
            return Ok(value);
        }
        Err(self.refuse(
            number.span().start,
            &value.to_string(),
            "a number above 0",
            "Correct the number.",
        ))
    }

    fn watch(
        &self,
        watch: &Spanned<f64>,
        factor: f64,
        limit: f64,
        side: Side,
    ) -> Result<f64, Error> {
        let value = self.positive(watch)? * factor;
        let inside = match side {
            Side::Lower => value >= limit,
            Side::Upper => value <= limit,
        };
        if inside {
            return Ok(value);
        }
        Err(self.refuse(
            watch.span().start,
            "a watch value on the bad side of its limit",
            "one on the good side",
            "Correct one of the two.",
        ))
    }

    fn height(&self, figure: Figure, height: Option<Spanned<f64>>) -> Result<Option<f64>, Error> {
        let Some(height) = height else {
            return Ok(None);
        };
        if figure == Figure::Seat {
            return Err(self.refuse(
                height.span().start,
                "height_mm",
                "no height: reseating repeatability is one figure for all heights",
                "Leave the line out.",
            ));
        }
        if figure.is_of(GivenBy::Runout) && height.get_ref().is_finite() {
            return Ok(Some(height.into_inner()));
        }
        Err(self.refuse(
            height.span().start,
            "height_mm",
            "no height for a grip figure, a finite one for runout",
            "Correct the line.",
        ))
    }

    fn source(
        &self,
        provenance: &Spanned<Provenance>,
        source: Option<String>,
    ) -> Result<Option<String>, Error> {
        let source = source.filter(|source| !source.trim().is_empty());
        if needs_source(*provenance.get_ref()) && source.is_none() {
            return Err(self.refuse(
                provenance.span().start,
                "no source",
                "source = \"the document it stands in\"",
                "Name the document, or say provenance = \"common-practice\".",
            ));
        }
        Ok(source)
    }
}

#[cfg(test)]
mod tests;
