//! Limits that contradict each other. In: what a limits file says. Out: the first figure that cannot go with the others.

use super::grip::InFile;
use super::{Nominal, SourcedLimit};
use crate::decision::{Figure, Side};
use crate::grip::limits::Shares;

/// A share of the nominal force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Share {
    /// Below it a spindle is acted on.
    Act,
    /// Below it it is watched.
    Watch,
}

/// What a lower limit lies above.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Above {
    /// The lower limit on a figure that is never smaller.
    LimitOn(Figure),
    /// The upper limit on the same figure.
    Upper,
    /// The nominal force.
    Nominal,
}

/// A figure that cannot go with another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Contradiction {
    /// More than the nominal force itself.
    OverNominal {
        /// Which share.
        share: Share,
        /// The share, %.
        percent: f64,
    },
    /// A spindle to be acted on is past watching.
    WatchBelowAct {
        /// Watched below, %.
        watch_percent: f64,
        /// Acted on below, %.
        act_percent: f64,
    },
    /// A lower limit above what the figure can be.
    LimitAbove {
        /// The figure.
        figure: Figure,
        /// Its lower limit, N.
        limit_n: f64,
        /// What it lies above.
        above: Above,
        /// And what that is, N.
        most_n: f64,
    },
}

/// The first contradiction; `is_hollow`: the usual shares are those of a hollow taper.
///
/// Source: what the figures mean.
pub fn contradiction(file: InFile<'_>, is_hollow: bool) -> Option<Contradiction> {
    let shares = file.nominal.and_then(|nominal| shares(nominal, is_hollow));
    shares.or_else(|| forces(file))
}

/// A spindle that pulls what it should is neither to be acted on nor watched, and one to be acted on is past watching.
fn shares(nominal: &Nominal, is_hollow: bool) -> Option<Contradiction> {
    let usual = Shares::usual(is_hollow);
    let act_percent = nominal.act_percent.unwrap_or(usual.act_percent);
    let watch_percent = nominal.watch_percent.unwrap_or(usual.watch_percent);
    let both = [(Share::Act, act_percent), (Share::Watch, watch_percent)];
    let over = both.into_iter().find(|(_, percent)| *percent > 100.0);
    over.map(|(share, percent)| Contradiction::OverNominal { share, percent })
        .or_else(|| {
            (watch_percent < act_percent).then_some(Contradiction::WatchBelowAct {
                watch_percent,
                act_percent,
            })
        })
}

/// The lowest clamp is never above the mean, and no lower limit is above an upper one or above the nominal force.
fn forces(file: InFile<'_>) -> Option<Contradiction> {
    let of = |figure: Figure, side: Side| {
        let is_it = |one: &&SourcedLimit| one.limit.figure == figure && one.limit.side == side;
        file.limits.iter().find(is_it).map(|one| one.limit.limit)
    };
    let contradicted = |figure: Figure, above: Above, most_n: Option<f64>| {
        let (limit_n, most_n) = of(figure, Side::Lower).zip(most_n)?;
        (limit_n > most_n).then_some(Contradiction::LimitAbove {
            figure,
            limit_n,
            above,
            most_n,
        })
    };
    let forces = || {
        let all = Figure::ALL.iter().copied();
        all.filter(|figure| figure.is_holding_force())
    };
    let nominal_n = file.nominal.map(|nominal| nominal.force_n);
    let of_another = forces().find_map(|figure| {
        let other = figure.facts().never_above?;
        contradicted(figure, Above::LimitOn(other), of(other, Side::Lower))
    });
    let of_its_own =
        || forces().find_map(|figure| contradicted(figure, Above::Upper, of(figure, Side::Upper)));
    let of_nominal = || forces().find_map(|figure| contradicted(figure, Above::Nominal, nominal_n));
    of_another.or_else(of_its_own).or_else(of_nominal)
}
