//! Limits that contradict each other. In: a limits file as understood, and where its numbers stand. Out: the first number
//! that cannot go with the others.

use crate::limits::{LimitsFile, RawNominal};
use crate::terminal::error::{Error, Refusal};
use crate::terminal::toml_file;
use holdtrue_metrology::decision::{Figure, Side};
use holdtrue_metrology::grip::limits::Shares;
use holdtrue_terms::taper::Interface;

/// Where the numbers of a limits file stand, in bytes from its beginning.
#[derive(Clone, Debug, Default)]
pub(crate) struct Places {
    act: usize,
    watch: usize,
    /// The nominal force.
    pub(crate) force: Option<Written>,
    /// The share of it that is the limit, where it is written.
    pub(crate) share: Option<Written>,
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
            let share = nominal.and_then(|nominal| of(nominal).as_ref());
            share.map_or(0, |share| share.span().start)
        };
        Self {
            act: share(|nominal| &nominal.act_percent),
            watch: share(|nominal| &nominal.watch_percent),
            force: nominal.map(|nominal| Written::of(&nominal.force, &nominal.unit)),
            share: nominal
                .and_then(|nominal| nominal.act_percent.as_ref())
                .map(|share| Written {
                    at: share.span().start,
                    number: *share.get_ref(),
                    unit: "%".to_owned(),
                }),
            limits: Vec::new(),
        }
    }
}

/// A number that cannot go with another.
struct Contradiction {
    at: usize,
    found: String,
    expected: String,
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
    let Some(found) = shares(file, places).or_else(|| forces(file, places)) else {
        return Ok(());
    };
    Err(Error::input(
        toml_file::place(name, text, found.at),
        Refusal {
            found: &found.found,
            expected: &found.expected,
            next: "Correct one of the two.",
        },
    ))
}

/// A spindle that pulls what it should is neither to be acted on nor watched, and one to be acted on is past watching.
fn shares(file: &LimitsFile, places: &Places) -> Option<Contradiction> {
    let nominal = file.nominal.as_ref()?;
    let usual = Shares::usual(file.interface.is_some_and(Interface::is_hollow));
    let act = nominal.act_percent.unwrap_or(usual.act_percent);
    let watch = nominal.watch_percent.unwrap_or(usual.watch_percent);
    let place =
        |typed: Option<f64>, own: usize, other: usize| if typed.is_some() { own } else { other };
    let too_much = [
        ("act_percent", act, places.act),
        ("watch_percent", watch, places.watch),
    ];
    if let Some((word, share, at)) = too_much.into_iter().find(|(_, share, _)| *share > 100.0) {
        return Some(Contradiction {
            at,
            found: format!("{word} = {share}, more than the nominal force itself"),
            expected: "100 at most".to_owned(),
        });
    }
    let usual_word = |typed: Option<f64>| {
        if typed.is_some() {
            ""
        } else {
            " (the usual share)"
        }
    };
    (watch < act).then(|| Contradiction {
        at: place(nominal.watch_percent, places.watch, places.act),
        found: format!(
            "watch at {watch} %{} below act at {act} %{}",
            usual_word(nominal.watch_percent),
            usual_word(nominal.act_percent)
        ),
        expected: "a watch share not below the act share".to_owned(),
    })
}

/// The lowest clamp is never above the mean, and no lower limit is above an upper one or above the nominal force.
fn forces(file: &LimitsFile, places: &Places) -> Option<Contradiction> {
    let of = |figure: Figure, side: Side| {
        let mut all = file.limits.iter().zip(&places.limits);
        all.find(|(one, _)| one.limit.figure == figure && one.limit.side == side)
            .map(|(one, written)| (one.limit.limit, written.at))
    };
    let above = |figure: Figure, than: &str, most: Option<f64>| {
        let ((limit, at), most) = of(figure, Side::Lower).zip(most)?;
        let what = figure.facts().named;
        (limit > most).then(|| Contradiction {
            at,
            found: format!("at least {limit:.0} N for {what}, above {than} ({most:.0} N)"),
            expected: "a limit not above it".to_owned(),
        })
    };
    let forces = || {
        Figure::ALL
            .iter()
            .copied()
            .filter(|figure| figure.is_holding_force())
    };
    let nominal_n = file.nominal.as_ref().map(|nominal| nominal.force_n);
    let of_another = forces().find_map(|figure| {
        let other = figure.facts().never_above?;
        let than = format!("the limit on {}", other.facts().named);
        above(figure, &than, of(other, Side::Lower).map(|least| least.0))
    });
    let of_its_own = || {
        let most = |figure| of(figure, Side::Upper).map(|most| most.0);
        forces().find_map(|figure| above(figure, "the upper limit on it", most(figure)))
    };
    let of_nominal = || forces().find_map(|figure| above(figure, "the nominal force", nominal_n));
    of_another.or_else(of_its_own).or_else(of_nominal)
}
