//! Which limits a grip check is judged by.

use super::{Nominal, SourcedLimit};
use crate::decision::{Figure, Side};
use crate::grip::limits::{Assumption, MakersFigure, Shares, UsualRange};
use holdtrue_terms::figure::GivenBy;
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::Provenance;

/// What a limits file says.
#[derive(Clone, Copy, Debug)]
pub struct InFile<'a> {
    /// The maker's grip force.
    pub nominal: Option<&'a Nominal>,
    /// The limits.
    pub limits: &'a [SourcedLimit],
}

/// What a spindle's page says of its maker's figures.
#[derive(Clone, Copy, Debug)]
pub struct Page<'a> {
    /// The figures.
    pub figures: MakersFigure,
    /// What the page is called as a document.
    pub source: &'a str,
}

/// What was typed, else what stands in the file; the maker's figures in the file hold beside either. `nominal`: the nominal
/// force of the first of the two that has one; `shared_n`: the nominal force a share of which was typed.
///
/// Source: the order is common practice.
pub fn own(
    typed: Vec<SourcedLimit>,
    file: Option<InFile<'_>>,
    nominal: Option<&Nominal>,
    interface: Option<Interface>,
    shared_n: Option<f64>,
) -> Vec<SourcedLimit> {
    let Some(file) = file else {
        // A nominal force typed by hand sets no limit; one in a file or in the book does, at the usual share.
        return join(typed, Vec::new());
    };
    let own = match typed.is_empty() {
        false => join(typed, file.limits.to_vec()),
        true => join(file.limits.to_vec(), of_nominal(nominal, interface)),
    };
    held_by_maker(own, of_file(file, interface, shared_n))
}

/// A nominal force as a limit, by the share chosen with it, else the usual one.
///
/// Source: as [`Shares::usual`].
pub fn of_nominal(nominal: Option<&Nominal>, interface: Option<Interface>) -> Vec<SourcedLimit> {
    let figures = MakersFigure {
        nominal_n: nominal.map(|nominal| nominal.force_n),
        minimum_n: None,
    };
    let source = nominal.and_then(|nominal| nominal.source.clone());
    of_maker(figures, nominal, source, interface)
}

/// What the spindle's page says stands beside what is laxer, and where nothing is said. A share chosen with `--limit-percent`
/// takes the place of the usual one, of this nominal force and of no other: `shared_n` is what it is a share of.
///
/// Source: the order is common practice.
pub fn held_by_page(
    own: Vec<SourcedLimit>,
    page: Page<'_>,
    interface: Option<Interface>,
    shared_n: Option<f64>,
) -> Vec<SourcedLimit> {
    let mut says = of_maker(page.figures, None, Some(page.source.to_owned()), interface);
    says.retain(|sourced| !is_share_of(sourced, shared_n));
    held_by_maker(own, says)
}

/// Whether a limit is a share of this nominal force.
fn is_share_of(sourced: &SourcedLimit, nominal_n: Option<f64>) -> bool {
    let share = sourced.limit.share.as_ref().zip(nominal_n);
    share.is_some_and(|(share, nominal_n)| {
        (share.nominal - nominal_n).abs() <= SAME_NOMINAL * nominal_n
    })
}

/// Nominal forces that differ by less are one, written in two units.
const SAME_NOMINAL: f64 = 1e-3;

/// What a maker's figures come to, by the shares chosen with the nominal force, else the usual ones.
fn of_maker(
    figures: MakersFigure,
    nominal: Option<&Nominal>,
    source: Option<String>,
    interface: Option<Interface>,
) -> Vec<SourcedLimit> {
    let usual = Shares::usual(interface.is_some_and(Interface::is_hollow));
    let chosen = |percent: fn(&Nominal) -> Option<f64>| nominal.and_then(percent);
    let shares = Shares {
        act_percent: chosen(|nominal| nominal.act_percent).unwrap_or(usual.act_percent),
        watch_percent: chosen(|nominal| nominal.watch_percent).unwrap_or(usual.watch_percent),
    };
    let limits = figures.limits(shares).into_iter().map(|mut limit| {
        if let (Some(share), Some(nominal)) = (&mut limit.share, nominal) {
            share.provenance = nominal.provenance;
        }
        SourcedLimit {
            source: source.clone(),
            limit,
        }
    });
    limits.collect()
}

/// What the maker says in the file: it holds whatever else is typed. A share chosen with `--limit-percent` takes the place of
/// the usual one, of this nominal force and of no other.
fn of_file(
    file: InFile<'_>,
    interface: Option<Interface>,
    shared_n: Option<f64>,
) -> Vec<SourcedLimit> {
    let stated = file.limits.iter().filter(|sourced| {
        sourced.limit.provenance == Provenance::Maker && sourced.limit.figure.is_of(GivenBy::Grip)
    });
    let nominal = file
        .nominal
        .filter(|nominal| nominal.provenance == Provenance::Maker);
    let mut by_file = of_nominal(nominal, interface);
    // Where the file limits a figure itself, it has chosen what its nominal force means for it.
    let is_chosen = |figure| {
        file.limits
            .iter()
            .any(|stated| stated.limit.figure == figure)
    };
    by_file.retain(|sourced| !is_chosen(sourced.limit.figure) && !is_share_of(sourced, shared_n));
    stated.cloned().chain(by_file).collect()
}

/// A limit of the maker's stands beside a laxer one on the same figure, and where there is none.
fn held_by_maker(
    mut conditions: Vec<SourcedLimit>,
    makers: Vec<SourcedLimit>,
) -> Vec<SourcedLimit> {
    for maker in makers {
        let as_strict = |known: &SourcedLimit| {
            known.limit.figure == maker.limit.figure
                && known.limit.side == maker.limit.side
                && match known.limit.side {
                    Side::Lower => known.limit.limit >= maker.limit.limit,
                    Side::Upper => known.limit.limit <= maker.limit.limit,
                }
        };
        if !conditions.iter().any(as_strict) {
            conditions.push(maker);
        }
    }
    conditions
}

/// `also` fills in what `first` does not limit; of grip alone.
///
/// Source: the order is common practice.
pub fn join(mut first: Vec<SourcedLimit>, also: Vec<SourcedLimit>) -> Vec<SourcedLimit> {
    for limit in also {
        let known = first.iter().any(|known| {
            known.limit.figure == limit.limit.figure && known.limit.side == limit.limit.side
        });
        if !known && limit.limit.figure.is_of(GivenBy::Grip) {
            first.push(limit);
        }
    }
    first.retain(|sourced| sourced.limit.figure.is_of(GivenBy::Grip));
    first
}

/// Whether the mean is limited below: then a class, an assumption in place of the maker's figure, has no say.
///
/// Source: common practice.
pub fn limits_the_mean(conditions: &[SourcedLimit]) -> bool {
    conditions
        .iter()
        .any(|limit| limit.limit.figure == Figure::GripMean && limit.limit.side == Side::Lower)
}

/// A spring drawbar pulls with all it has whatever it is held to, so every figure counts, also one that another
/// overrules: `figures_n` (nominal forces, the maker's minimum), limits on a force, the upper end of the class.
///
/// Source: common practice.
pub fn highest_expected_n(
    figures_n: impl IntoIterator<Item = Option<f64>>,
    class: Option<Assumption>,
    conditions: &[SourcedLimit],
) -> Option<f64> {
    let usual = class.and_then(UsualRange::of).map(|range| range.high_n);
    let limits = conditions
        .iter()
        .filter(|sourced| sourced.limit.figure.is_holding_force())
        .map(|sourced| sourced.limit.limit);
    figures_n
        .into_iter()
        .flatten()
        .chain(usual)
        .chain(limits)
        .reduce(f64::max)
}
