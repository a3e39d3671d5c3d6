//! Limits that contradict each other. In: a limits file as understood, and where its numbers stand. Out: the first number
//! that cannot go with the others.

use crate::limits::{LimitsFile, RawNominal};
use crate::terminal::error::{Error, Refusal};
use crate::terminal::toml_file;
use holdtrue_metrology::decision::Side;
use holdtrue_metrology::limits::contradiction::{Above, Contradiction, Share, contradiction};
use holdtrue_terms::taper::Interface;

/// Where the numbers of a limits file stand, in bytes from its beginning.
#[derive(Clone, Debug, Default)]
pub(crate) struct Places {
    /// The share of the nominal force that is the limit, where it is written.
    pub(crate) act: Option<Written>,
    /// The share below which to watch.
    watch: Option<Written>,
    /// The nominal force.
    pub(crate) force: Option<Written>,
    /// One for each limit.
    pub(crate) limits: Vec<Written>,
}

/// A number as it stands in a limits file.
#[derive(Clone, Debug)]
pub(crate) struct Written {
    /// Where, in bytes from the beginning.
    pub(crate) at: usize,
    /// The number, in its unit.
    pub(crate) number: f64,
    /// The unit.
    pub(crate) unit: String,
}

impl Written {
    pub(crate) fn of(number: &toml::Spanned<f64>, unit: &toml::Spanned<String>) -> Self {
        Self {
            at: number.span().start,
            number: *number.get_ref(),
            unit: unit.get_ref().clone(),
        }
    }
}

impl Places {
    pub(crate) fn of(nominal: Option<&RawNominal>) -> Self {
        let share = |of: fn(&RawNominal) -> &Option<toml::Spanned<f64>>| {
            let share = nominal.and_then(|nominal| of(nominal).as_ref())?;
            Some(Written {
                at: share.span().start,
                number: *share.get_ref(),
                unit: "%".to_owned(),
            })
        };
        Self {
            act: share(|nominal| &nominal.act_percent),
            watch: share(|nominal| &nominal.watch_percent),
            force: nominal.map(|nominal| Written::of(&nominal.force, &nominal.unit)),
            limits: Vec::new(),
        }
    }
}

/// Refuses a file that contradicts itself.
///
/// # Errors
/// With line and column of the number: exit 4.
pub(crate) fn refuse(
    file: &LimitsFile,
    places: &Places,
    name: &str,
    text: &str,
) -> Result<(), Error> {
    let is_hollow = file.interface.is_some_and(Interface::is_hollow);
    let Some(found) = contradiction(file.says(), is_hollow) else {
        return Ok(());
    };
    Err(Error::input(
        toml_file::place(name, text, place(&found, file, places)),
        Refusal {
            found: &words(&found, file),
            expected: match found {
                Contradiction::OverNominal { .. } => "100 at most",
                Contradiction::WatchBelowAct { .. } => "a watch share not below the act share",
                Contradiction::LimitAbove { .. } => "a limit not above it",
            },
            next: "Correct one of the two.",
        },
    ))
}

/// A share that is not written stands nowhere.
fn at(written: &Option<Written>) -> usize {
    written.as_ref().map_or(0, |written| written.at)
}

fn place(found: &Contradiction, file: &LimitsFile, places: &Places) -> usize {
    match *found {
        Contradiction::OverNominal { share, .. } => match share {
            Share::Act => at(&places.act),
            Share::Watch => at(&places.watch),
        },
        Contradiction::WatchBelowAct { .. } => match states(file, Share::Watch) {
            true => at(&places.watch),
            false => at(&places.act),
        },
        Contradiction::LimitAbove { figure, .. } => {
            let mut all = file.limits.iter().zip(&places.limits);
            all.find(|(one, _)| one.limit.figure == figure && one.limit.side == Side::Lower)
                .map_or(0, |(_, written)| written.at)
        }
    }
}

fn words(found: &Contradiction, file: &LimitsFile) -> String {
    let usual = |share| match states(file, share) {
        true => "",
        false => " (the usual share)",
    };
    match *found {
        Contradiction::OverNominal { share, percent } => {
            let word = match share {
                Share::Act => "act_percent",
                Share::Watch => "watch_percent",
            };
            format!("{word} = {percent}, more than the nominal force itself")
        }
        Contradiction::WatchBelowAct {
            watch_percent,
            act_percent,
        } => format!(
            "watch at {watch_percent} %{} below act at {act_percent} %{}",
            usual(Share::Watch),
            usual(Share::Act)
        ),
        Contradiction::LimitAbove {
            figure,
            limit_n,
            above,
            most_n,
        } => {
            let than = match above {
                Above::LimitOn(other) => format!("the limit on {}", other.facts().named),
                Above::Upper => "the upper limit on it".to_owned(),
                Above::Nominal => "the nominal force".to_owned(),
            };
            let what = figure.facts().named;
            format!("at least {limit_n:.0} N for {what}, above {than} ({most_n:.0} N)")
        }
    }
}

/// Whether the file has a share of its own; else the usual one is taken.
fn states(file: &LimitsFile, share: Share) -> bool {
    file.nominal.as_ref().is_some_and(|nominal| match share {
        Share::Act => nominal.act_percent.is_some(),
        Share::Watch => nominal.watch_percent.is_some(),
    })
}
