//! What goes onto the paper.
//!
//! In: facts as strings ready to print (times are local, with their offset) and results as the analysis gave them. Out:
//! the one value the paper is built from. Nothing is computed anew here.

use crate::year_series::YearSeries;
use holdtrue_metrology::grip::record::ForceRecord;
use holdtrue_metrology::grip::result::GripResult;
use holdtrue_metrology::runout::RunoutRecord;
use holdtrue_metrology::runout::RunoutResult;
use holdtrue_terms::vocabulary::{Outcome, Provenance, Severity};
use holdtrue_wording::CheckWords;
use holdtrue_wording::digits::Units;

/// A whole page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Document {
    /// Units a reader wants.
    pub units: Units,
    /// Whose spindle it is.
    pub spindle: Spindle,
    /// The visit.
    pub visit: Visit,
    /// A visit with a repair in one line: as found, as left, what was done.
    pub headline: Option<String>,
    /// Grip checks in order of time.
    pub grips: Vec<Grip>,
    /// Runout checks in order of time.
    pub runouts: Vec<Runout>,
    /// Figures of the spindle through its visits up to this one.
    pub over_years: Vec<YearSeries>,
    /// How the force rose at clamping as found, visit by visit, this one last; empty where this one has no record of it.
    pub rises: Vec<Rise>,
    /// What was seen.
    pub findings: Vec<Finding>,
    /// What mending them may cost, most urgent first; empty where nothing was estimated.
    pub sums: Vec<Sum>,
    /// What was not looked at.
    pub not_examined: Vec<NotExamined>,
    /// Cautions and how they were acknowledged.
    pub acknowledged: Vec<Acknowledged>,
    /// Notes of the visit.
    pub notes: Vec<Said>,
    /// Why the visit was struck out as a whole; none where it counts.
    pub struck: Option<String>,
    /// What was said after the visit had been finished.
    pub amendments: Vec<Said>,
    /// What came after the visit had been finished and changes nothing in it.
    pub later: Vec<Said>,
    /// Digest of the visit; none while it is not finished.
    pub digest: Option<String>,
    /// When the visit was finished, or else began, as the book has it.
    pub made: Option<String>,
    /// The version of the program that made the page.
    pub program: String,
}

impl Document {
    /// What the spindle is called on paper.
    pub(crate) fn name(&self) -> &str {
        self.spindle.name.as_deref().unwrap_or("unnamed spindle")
    }
}

/// How the force rose at clamping.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rise {
    /// The day of the visit, as it is read.
    pub day: String,
    /// Time from 10 to 90 %, s.
    pub clamping_s: f64,
    /// Seconds since the rise began, and the force as a share of what it settled at.
    pub points: Vec<(f64, f64)>,
}

/// One labelled fact, ready to print.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fact {
    /// What it is.
    pub label: String,
    /// With unit.
    pub value: String,
    /// It stands on the first page too.
    pub in_front: bool,
}

impl Fact {
    /// A fact.
    pub fn new(label: impl Into<String>, value: impl Into<String>) -> Self {
        Self {
            label: label.into(),
            value: value.into(),
            in_front: false,
        }
    }

    /// One that stands on the first page too.
    #[must_use]
    pub fn in_front(mut self) -> Self {
        self.in_front = true;
        self
    }
}

/// Machine and spindle.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Spindle {
    /// What people call it; none while it is "unnamed".
    pub name: Option<String>,
    /// Where it stands.
    pub place: Option<String>,
    /// The place is invented for demonstration: prints so.
    pub invented: bool,
    /// Serial numbers, taper, drawbar, drive, maker's figures …
    pub facts: Vec<Fact>,
}

impl Spindle {
    /// Where it stands, and that it is invented where it is and the place does not say so itself.
    pub(crate) fn place_in_words(&self) -> Option<String> {
        const INVENTED: &str = "invented for demonstration";
        match (&self.place, self.invented) {
            (Some(place), true) if !place.contains("(invented") => {
                Some(format!("{place} ({INVENTED})"))
            }
            (None, true) => Some(INVENTED.to_owned()),
            (place, _) => place.clone(),
        }
    }
}

/// Time, people and circumstances.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Visit {
    /// Identifier in the book, if it is in one.
    pub id: Option<String>,
    /// When it began.
    pub started: String,
    /// When it was finished.
    pub finished: Option<String>,
    /// Who measured.
    pub technician: Option<String>,
    /// Who gave consent.
    pub consent_of: Option<String>,
    /// Who operated the machine.
    pub operated_by: Option<String>,
    /// Temperature at the nose.
    pub temperature: Option<String>,
    /// Temperature of the air.
    pub air: Option<String>,
    /// Whose order it is.
    pub customer: Option<String>,
    /// Its number.
    pub order: Option<String>,
    /// What it is for, in words.
    pub purpose: Option<String>,
    /// A machine that somebody wants to buy.
    pub before_purchase: bool,
    /// Counters, running time …
    pub facts: Vec<Fact>,
}

/// A gauge, an indicator or a test bar with its calibration.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Instrument {
    /// "force gauge", "indicator", "test bar".
    pub what: String,
    /// Serial number.
    pub serial: Option<String>,
    /// Everything else: capacity, resolution, firmware …
    pub facts: Vec<Fact>,
    /// Its calibration, if there is one.
    pub calibration: Option<Calibration>,
    /// It is a simulation: prints so.
    pub simulated: bool,
}

/// A calibration as it stood at the visit.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Calibration {
    /// Number of the certificate.
    pub certificate: Option<String>,
    /// Who calibrated.
    pub laboratory: Option<String>,
    /// When.
    pub date: Option<String>,
    /// When the next is due.
    pub due: Option<String>,
    /// Expanded uncertainty with its unit and k.
    pub uncertainty: Option<String>,
    /// Calibrated span with its unit.
    pub span: Option<String>,
    /// Identifier of the record.
    pub id: Option<String>,
    /// How it stands: "in force", "out of date", "overloaded since" …
    pub standing: String,
}

/// A grip check.
#[derive(Clone, Debug, PartialEq)]
pub struct Grip {
    /// When it was taken.
    pub at: String,
    /// What came out.
    pub result: GripResult,
    /// Its sentences, in the units of the document.
    pub words: CheckWords,
    /// Its change since the last visit, a line each figure.
    pub since_last: Vec<String>,
    /// The force record; none for figures typed by hand or a file that is not at hand.
    pub record: Option<ForceRecord>,
    /// Settled forces were typed, not recorded.
    pub typed_by_hand: bool,
    /// Name of the imported file.
    pub file: Option<String>,
    /// The maker's grip force, N, or another nominal with its provenance.
    pub nominal_n: Option<(f64, Provenance)>,
    /// What was assumed where nothing was known: the class of spindle …
    pub assumptions: Vec<String>,
    /// The force gauge.
    pub gauge: Option<Instrument>,
    /// Documents the limits stand in, and the digest of the limits file.
    pub limit_sources: Vec<String>,
    /// It was struck out: why, who, when. It is shown and does not count.
    pub struck: Option<String>,
    /// It was broken off: how far it came. It is shown and not judged.
    pub broken_off: Option<String>,
    /// What else is to be said of it: that it was judged anew, and what it was before.
    pub remarks: Vec<String>,
    /// What an amendment made of it: "amended after …: outside limit".
    pub amended: Option<String>,
    /// The same as an outcome.
    pub amended_to: Option<Outcome>,
    /// Version of the analysis.
    pub analysis: String,
}

/// A runout check.
#[derive(Clone, Debug, PartialEq)]
pub struct Runout {
    /// When it was taken.
    pub at: String,
    /// What came out.
    pub result: RunoutResult,
    /// Its sentences, in the units of the document.
    pub words: CheckWords,
    /// Its change since the last visit, a line each figure.
    pub since_last: Vec<String>,
    /// The readings, planes in the order of the result.
    pub record: Option<RunoutRecord>,
    /// Readings were typed, not recorded.
    pub typed_by_hand: bool,
    /// Name of the imported file.
    pub file: Option<String>,
    /// Indicator and test bar.
    pub instruments: Vec<Instrument>,
    /// Documents the limits stand in, and the digest of the limits file.
    pub limit_sources: Vec<String>,
    /// It was struck out: why, who, when. It is shown and does not count.
    pub struck: Option<String>,
    /// It was broken off: how far it came. It is shown and not judged.
    pub broken_off: Option<String>,
    /// What else is to be said of it: that it was judged anew, and what it was before.
    pub remarks: Vec<String>,
    /// What an amendment made of it: "amended after …: outside limit".
    pub amended: Option<String>,
    /// The same as an outcome.
    pub amended_to: Option<Outcome>,
    /// Version of the analysis.
    pub analysis: String,
}

/// Something seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// How urgent; none: looked at and nothing found.
    pub severity: Option<Severity>,
    /// Assembly and item.
    pub item: String,
    /// What was found.
    pub text: String,
    /// It was struck out: it is shown and asks for nothing.
    pub struck: bool,
    /// Why it was struck, what was corrected; who and when.
    pub remarks: Vec<String>,
    /// What was measured, and how it stands to the maker's figure: a sentence.
    pub measured: Option<String>,
    /// Cost and hours: "estimate 400 to 600 EUR, 2 to 4 h".
    pub estimate: Option<String>,
    /// What shows it.
    pub photos: Vec<Photo>,
}

/// What the findings of one urgency come to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sum {
    /// How urgent.
    pub severity: Severity,
    /// How many.
    pub findings: usize,
    /// Each currency, and how many have no estimate.
    pub cost: Option<String>,
    /// Hours of work.
    pub hours: Option<String>,
}

/// A photo for the page: upright, small enough, without metadata.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// A JPEG.
    pub jpeg: Vec<u8>,
    /// In pixels.
    pub width: u32,
    /// In pixels.
    pub height: u32,
    /// What it shows.
    pub caption: String,
}

/// An item nobody looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotExamined {
    /// The item.
    pub item: String,
    /// Follows "not examined, because".
    pub because: String,
    /// Why it was struck, what was corrected; who and when.
    pub remarks: Vec<String>,
}

/// A caution and its acknowledgement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Acknowledged {
    /// Which cautions.
    pub caution: String,
    /// How.
    pub how: How,
    /// Who.
    pub who: String,
    /// When.
    pub at: String,
}

/// How a caution came to be acknowledged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// Somebody was asked and said yes.
    Asked,
    /// By a flag on the command line.
    ByFlag,
    /// Printed only.
    Printed,
}

impl How {
    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::Asked => "asked and acknowledged",
            Self::ByFlag => "by flag: nobody was asked",
            Self::Printed => "printed only: nothing was energised",
        }
    }
}

/// Something said by somebody.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said {
    /// When.
    pub at: String,
    /// Who.
    pub who: String,
    /// What.
    pub text: String,
}
