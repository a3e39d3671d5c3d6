//! Limits typed on the command line: an option for each figure that has one, as the table of figures has it. In: words.
//! Out: limits, and how each was written.

use crate::terminal::parse::{force, height_and_limit, newtons_per_second, positive};
use clap::{Arg, ArgAction, ArgMatches, Command};
use holdtrue_metrology::decision::Limit;
use holdtrue_metrology::limits::SourcedLimit;
use holdtrue_terms::figure::{Figure, GivenBy, LimitOption, Measure};
use holdtrue_terms::quantity::Quantity;
use holdtrue_terms::units::{ForceUnit, LengthUnit};
use holdtrue_terms::vocabulary::Provenance;
use std::marker::PhantomData;

/// The check a command carries out.
pub trait Check {
    /// The figures it gives.
    const GIVES: GivenBy;
}

/// A grip check.
#[derive(Clone, Debug, Default)]
pub struct Grip;

/// A runout check.
#[derive(Clone, Debug, Default)]
pub struct Runout;

impl Check for Grip {
    const GIVES: GivenBy = GivenBy::Grip;
}

impl Check for Runout {
    const GIVES: GivenBy = GivenBy::Runout;
}

/// A value as it was typed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Typed {
    /// A force.
    Force(Quantity<ForceUnit>),
    /// A share in percent, or what a force loses in a second, N/s.
    Number(f64),
    /// A length, at a height (mm) or at every one.
    Length(Option<f64>, Quantity<LengthUnit>),
}

impl Typed {
    /// In the unit it is judged in.
    pub fn value(self) -> f64 {
        match self {
            Self::Force(force) => force.newtons(),
            Self::Number(number) => number,
            Self::Length(_, length) => length.micrometres(),
        }
    }

    fn height_mm(self) -> Option<f64> {
        match self {
            Self::Length(height_mm, _) => height_mm,
            Self::Force(_) | Self::Number(_) => None,
        }
    }
}

fn read(measure: Measure, text: &str) -> Result<Typed, String> {
    match measure {
        Measure::Force(_) => force(text).map(Typed::Force),
        Measure::Share => positive(text).map(Typed::Number),
        Measure::ForceRate => newtons_per_second(text).map(Typed::Number),
        // No figure of this kind is typed: the maker's stands in a limits file.
        Measure::Travel => positive(text).map(Typed::Number),
        Measure::Length => {
            height_and_limit(text).map(|(height_mm, length)| Typed::Length(height_mm, length))
        }
    }
}

/// The limits on figures of a check.
#[derive(Clone, Debug, Default)]
pub struct TypedLimits<C> {
    typed: Vec<(Figure, Typed)>,
    check: PhantomData<C>,
}

impl<C: Check> TypedLimits<C> {
    /// Each, in the order of the figures.
    pub fn iter(&self) -> impl Iterator<Item = (Figure, Typed)> {
        self.typed.iter().copied()
    }

    /// As limits.
    pub fn limits(&self, provenance: Provenance) -> impl Iterator<Item = SourcedLimit> {
        self.iter().map(move |(figure, typed)| SourcedLimit {
            source: None,
            limit: Limit {
                height_mm: typed.height_mm(),
                ..Limit::on(figure, typed.value(), provenance)
            },
        })
    }

    fn options() -> impl Iterator<Item = (Figure, LimitOption)> {
        let given = Figure::ALL.iter().filter(|figure| figure.is_of(C::GIVES));
        given.filter_map(|&figure| Some((figure, figure.facts().option?)))
    }
}

impl<C: Check> clap::Args for TypedLimits<C> {
    fn augment_args(command: Command) -> Command {
        Self::options().fold(command, |command, (figure, option)| {
            let measure = figure.facts().measure;
            let with_height = measure == Measure::Length;
            command.arg(
                Arg::new(option.name)
                    .long(option.name)
                    .value_name(option.value)
                    .help(option.help)
                    .value_parser(move |text: &str| read(measure, text))
                    .allow_hyphen_values(with_height)
                    .action(if with_height {
                        ArgAction::Append
                    } else {
                        ArgAction::Set
                    }),
            )
        })
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl<C: Check> clap::FromArgMatches for TypedLimits<C> {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let typed = Self::options().flat_map(|(figure, option)| {
            let values = matches.get_many::<Typed>(option.name);
            values
                .into_iter()
                .flatten()
                .map(move |typed| (figure, *typed))
        });
        Ok(Self {
            typed: typed.collect(),
            check: PhantomData,
        })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}
