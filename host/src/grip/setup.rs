//! What a grip check is held to. In: options, a limits file, what the book knows of the spindle. Out: one setup for the
//! analysis and the limits in force as a file of their own, to be stored with the result.
//!
//! What is said on the command line comes before the limits file, and that before the book. A figure limited twice on
//! one level is refused.

use crate::grip::arguments::{GripArgs, GripLimits};
use crate::limits;
use crate::limits::LimitsFile;
use crate::tables::readings;
use crate::terminal::error::Error;
use crate::visits::book::opening;
use crate::visits::corrected;
use crate::visits::corrected::CorrectedFinding;
use crate::visits::spindles::taper;
use holdtrue_book::{Book, FindingKind, SpindleHeader};
use holdtrue_metrology::grip::excluded::Discard;
use holdtrue_metrology::grip::is_cause;
use holdtrue_metrology::grip::limits::{Assumption, MakersFigure, share_of_nominal};
use holdtrue_metrology::grip::setup::{Allowance, Gauge, GripSetup, Turned};
use holdtrue_metrology::limits::grip::{
    Page, held_by_page, highest_expected_n, limits_the_mean, own,
};
use holdtrue_metrology::limits::{Nominal, SourcedLimit};
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::{Drawbar, Provenance};
use uuid::Uuid;

/// What a grip check is held to.
#[derive(Clone, Debug)]
pub struct GripConditions {
    /// For the analysis.
    pub setup: GripSetup,
    /// The limits in force.
    pub limits: LimitsFile,
    /// The highest force anything known of the spindle speaks of, N; what the gauge must be big enough for.
    pub highest_expected_n: Option<f64>,
}

/// Brings together what is known. The gauge stays as [`Gauge::default`] unless its uncertainty is on the command line.
///
/// # Errors
/// Options that contradict each other, an unknown interface: exit 2. A limits file that cannot be used: exit 4.
pub fn gather(args: &GripArgs, spindle: Option<&SpindleHeader>) -> Result<GripConditions, Error> {
    let file = args
        .limits
        .limits
        .as_deref()
        .map(|name| limits::read(name, args.as_read))
        .transpose()?;
    let interface = taper::of(args.spindle.interface.as_deref(), file.as_ref(), spindle)?;
    let drawbar = drawbar(args, spindle)?;
    let own_nominal = own_nominal(&args.limits, file.as_ref());
    let shared = args.limits.limit_percent.and(args.limits.nominal_n);
    let shared_n = shared.map(|nominal| nominal.newtons());
    let own = own(
        typed_limits(&args.limits),
        file.as_ref().map(LimitsFile::says),
        own_nominal.as_ref(),
        interface,
        shared_n,
    );
    let nominal = own_nominal.or_else(|| page_nominal(spindle));
    let page = page(spindle);
    let conditions = held_by_page(own, page, interface, shared_n);
    let class = class(args, spindle, interface)?;
    let gauge = args.limits.uncertainty_percent.map(Gauge::stated);
    let in_file = file.as_ref().and_then(|file| file.nominal.as_ref());
    let nominals = [nominal.as_ref(), in_file].map(|known| Some(known?.force_n));
    let of_page = [page.figures.nominal_n, page.figures.minimum_n];
    let highest_expected_n =
        highest_expected_n(nominals.into_iter().chain(of_page), class, &conditions);
    let setup = GripSetup {
        state: args.state,
        discards: args.discard.iter().map(discard).collect(),
        turned: turned(args)?,
        limits: conditions
            .iter()
            .map(|sourced| sourced.limit.clone())
            .collect(),
        nominal_n: nominal.as_ref().map(|nominal| nominal.force_n),
        interface,
        assumption: class.filter(|_| !limits_the_mean(&conditions)),
        drawbar,
        gauge: gauge.unwrap_or_default(),
        allowances: Allowance::usual(interface),
        typed_step_n: args
            .source
            .readings
            .as_deref()
            .zip(args.unit)
            .and_then(|(text, unit)| readings::step(text, unit.newtons())),
        at_spindle: args.source.gauge.is_some(),
        as_read: args.as_read,
        drop_because: args.drop_because.clone(),
        end_probe: None,
    };
    Ok(GripConditions {
        setup,
        limits: LimitsFile {
            title: title(args, file.as_ref(), spindle),
            interface,
            nominal,
            limits: conditions,
        },
        highest_expected_n,
    })
}

/// The item of a finding that names why the force drops while held.
const DROP_ITEM: &str = "drop while held";

/// Why the force drops while held, where a finding of the visit says it: the newest one.
///
/// # Errors
/// When the book cannot be read: exit 6.
pub fn drop_found(book: &Book, visit: Uuid) -> Result<Option<String>, Error> {
    let names_it = |each: &CorrectedFinding| {
        each.finding.kind == FindingKind::Found
            && each.finding.item.eq_ignore_ascii_case(DROP_ITEM)
            && each.struck.is_none()
            && is_cause(&each.finding.text)
    };
    let found = corrected::findings(&book.visit(visit)?).into_iter().rev();
    Ok(found.filter(names_it).map(|each| each.finding.text).next())
}

/// Without a gauge that brings its calibration, limits ask for a stated uncertainty.
///
/// # Errors
/// A limit and no uncertainty: exit 2.
pub fn require_uncertainty(setup: &GripSetup) -> Result<(), Error> {
    if setup.limits.is_empty() || setup.gauge.expanded_percent.is_some() {
        return Ok(());
    }
    Err(Error::usage(
        "a verdict needs the gauge's uncertainty: add --uncertainty-percent with the figure (k = 2) from its certificate, \
         or leave the limits out",
    ))
}

/// Title of limits that were not taken from a file or the book.
pub(super) const TYPED: &str = "typed on the command line";

fn title(args: &GripArgs, file: Option<&LimitsFile>, spindle: Option<&SpindleHeader>) -> String {
    match (file, spindle) {
        (Some(file), _) => file.title.clone(),
        (None, Some(spindle)) if !spindle.name.is_empty() && !args.limits.any() => {
            spindle.name.clone()
        }
        _ => TYPED.to_owned(),
    }
}

fn discard((number, reason): &(u32, String)) -> Discard {
    Discard {
        number: *number,
        reason: reason.clone(),
    }
}

fn turned(args: &GripArgs) -> Result<Vec<Turned>, Error> {
    let Some(text) = &args.orientation_deg else {
        return Ok(Vec::new());
    };
    let angles = readings::read("--orientation-deg", text, 1.0)?;
    Ok((1..)
        .zip(angles)
        .map(|(number, orientation_deg)| Turned {
            number,
            orientation_deg,
        })
        .collect())
}

fn drawbar(args: &GripArgs, spindle: Option<&SpindleHeader>) -> Result<Drawbar, Error> {
    let known = match (args.spindle.drawbar, spindle) {
        (None, Some(spindle)) => opening::drawbar_of(spindle)?,
        (typed, _) => typed,
    };
    Ok(known.unwrap_or_default())
}

/// Where a maker's figure stands that was entered with the spindle.
pub(super) const SPINDLE_PAGE: &str = "the spindle's page in the book";

fn own_nominal(options: &GripLimits, file: Option<&LimitsFile>) -> Option<Nominal> {
    let typed = options.nominal_n.map(|force| Nominal {
        force_n: force.newtons(),
        act_percent: None,
        watch_percent: None,
        provenance: options.provenance(),
        source: None,
    });
    typed.or_else(|| file.and_then(|file| file.nominal.clone()))
}

/// What the spindle's page says of its maker's figures.
pub(super) fn page(spindle: Option<&SpindleHeader>) -> Page<'static> {
    Page {
        figures: MakersFigure {
            nominal_n: spindle.and_then(|spindle| spindle.grip_nominal_n),
            minimum_n: spindle.and_then(|spindle| spindle.grip_minimum_n),
        },
        source: SPINDLE_PAGE,
    }
}

pub(super) fn page_nominal(spindle: Option<&SpindleHeader>) -> Option<Nominal> {
    Some(Nominal {
        force_n: spindle?.grip_nominal_n?,
        act_percent: None,
        watch_percent: None,
        provenance: Provenance::Maker,
        source: Some(SPINDLE_PAGE.to_owned()),
    })
}

/// Readings without a unit.
pub fn no_unit() -> Error {
    Error::usage("--readings needs --unit kN, N, lbf, kgf or daN, or a unit behind the numbers")
}

fn typed_limits(options: &GripLimits) -> Vec<SourcedLimit> {
    let provenance = options.provenance();
    let share = options
        .nominal_n
        .zip(options.limit_percent)
        .map(|(nominal, percent)| share_of_nominal(nominal.newtons(), percent, provenance));
    let share = share.map(|limit| SourcedLimit {
        limit,
        source: None,
    });
    share
        .into_iter()
        .chain(options.typed.limits(provenance))
        .collect()
}

/// What class the spindle is taken to be of.
fn class(
    args: &GripArgs,
    spindle: Option<&SpindleHeader>,
    interface: Option<Interface>,
) -> Result<Option<Assumption>, Error> {
    if args.spindle.class.is_some() && interface.is_none() {
        return Err(Error::usage(
            "--class needs the taper it is a class of: add --interface, such as 7/24-40 or HSK-A63",
        ));
    }
    let class = match (args.spindle.class, spindle) {
        (None, Some(spindle)) => opening::class_of(spindle)?,
        (typed, _) => typed,
    };
    Ok(class
        .zip(interface)
        .map(|(class, interface)| Assumption { interface, class }))
}

impl GripLimits {
    /// Whether the command line says anything about forces the check is held to.
    pub fn any(&self) -> bool {
        !typed_limits(self).is_empty() || self.nominal_n.is_some()
    }

    /// A figure typed without a word on where it comes from has no source.
    fn provenance(&self) -> Provenance {
        self.provenance.unwrap_or(Provenance::CommonPractice)
    }
}
