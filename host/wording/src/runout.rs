//! Remarks and reasons of a runout check. In: values of the analysis. Out: sentences.

use crate::digits::Units;
use crate::grip::as_read;
use crate::say::Say;
use crate::shown::shown;
use holdtrue_metrology::runout::mistake::Mistake;
use holdtrue_metrology::runout::remarks::{
    CertificateGap, LimitOn, Missing, PlaneNote, RunoutNote, RunoutReason, RunoutRemedy, Source,
    Untrue,
};
use holdtrue_terms::vocabulary::Outcome;

impl Say for PlaneNote {
    fn say(&self, units: &Units) -> String {
        match *self {
            Self::OnePosition => "all readings at one position: the TIR is their spread".to_owned(),
            Self::DriftNotKnown => {
                "no reading at the end of the turn: the drift is not known".to_owned()
            }
            Self::ReadAt360 => "no reading at 0°: the one at 360° stands for it".to_owned(),
            Self::FewPositions { positions, fewest } => format!(
                "no eccentricity: it needs at least {fewest} different positions round the turn, here are {positions}"
            ),
            Self::Bunched => "no eccentricity: the positions are bunched on one side of the turn; spread them round it and read again".to_owned(),
            Self::TirAlone => {
                "noted without its readings: TIR only, an eccentricity needs them".to_owned()
            }
            Self::FreeTurn => {
                "free turn: TIR only, an eccentricity needs angles or a mark once a turn".to_owned()
            }
            Self::ReadingsMissing => {
                "readings are missing in the turn: the TIR may be higher".to_owned()
            }
            Self::NoWholeTurn => "the mark came by less than twice: no whole turn".to_owned(),
            Self::NoTurnComplete => "readings are missing in every turn".to_owned(),
            Self::TurnsLeftOut { turns } => {
                format!("{turns} turns with missing readings were left out")
            }
            Self::FewReadings {
                readings_a_turn,
                low_percent,
            } => format!(
                "{readings_a_turn:.0} readings a turn: each extreme may read low by {low_percent:.1} % of the eccentricity; turn slower, for at least 16"
            ),
            Self::NoBearingTest => "slow turn, includes the bar; not a bearing test".to_owned(),
            Self::Sloped { factor } => format!(
                "readings times {factor:.4} for the slope of wall or lever; \"as read\" is without it"
            ),
            Self::InDoubt {
                mistake,
                between,
                positions,
                moves_um,
            } => {
                let doubt = doubt(mistake, between, positions);
                match mistake {
                    Mistake::NotBack => format!("{doubt}: something moved; read the plane again"),
                    Mistake::Alike | Mistake::LeftOut => format!(
                        "{doubt}: if so, the eccentricity moves by {}, which the uncertainty allows for; read the plane again",
                        units.micrometres(moves_um)
                    ),
                }
            }
            Self::LostInNoise { floor_um } => format!(
                "the eccentricity is not told from the scatter of the readings, which alone would show {} on average",
                units.micrometres(floor_um)
            ),
            Self::Untrue { untrue } => untrue_words(untrue).to_owned(),
        }
    }
}

/// What speaks against readings, as a sentence goes on.
fn untrue_words(untrue: Untrue) -> &'static str {
    match untrue {
        Untrue::Still => {
            "the indicator hardly moved: a spindle that runs true and one that stood still read alike"
        }
        Untrue::NotRound => {
            "the readings do not show that the spindle came round: no stretch of them repeats"
        }
        Untrue::Stopped => {
            "neighbouring readings stand at one value where the surface goes on: did the indicator touch, or is it at the end of its travel?"
        }
        Untrue::Mark => {
            "what comes once a turn does not explain the readings: does the mark come once a turn?"
        }
        Untrue::Unsigned => {
            "the readings lie on one side of zero and swing twice a turn: were they written without their signs?"
        }
        Untrue::Steps => {
            "what comes once a turn is the least of it: were the positions as far apart as was said?"
        }
        Untrue::NotBack => {
            "the reading back at position 1 is not what it was at first: something moved, or the turn was not whole"
        }
        Untrue::Alone => {
            "a single reading stands far off all its neighbours: was the stand knocked?"
        }
        Untrue::Besides => {
            "readings before or after the whole turns go far beyond those in them: does the mark come once a turn?"
        }
        Untrue::PartTurn => "the readings go on like part of a turn: was one whole turn divided?",
        Untrue::Unturned => {
            "no plane shows more than the scatter of its readings: was the spindle turned between them?"
        }
    }
}

fn read_true(untrue: Untrue, units: &Units) -> String {
    let text = match untrue {
        Untrue::Still => "read eight positions, or turn with a mark once a turn",
        Untrue::NotRound => {
            "turn steadily in one direction for two whole turns or more, or read eight positions"
        }
        Untrue::Stopped => "set the indicator to the middle of its travel and read again",
        Untrue::Mark | Untrue::Besides => "put one mark on the spindle itself and read again",
        Untrue::Unsigned => {
            return format!(
                "write what lies below zero with a minus and judge again{}",
                units.option("; if no reading did, say so with --as-read")
            );
        }
        Untrue::Steps => "divide one whole turn evenly and read again",
        Untrue::NotBack => "find what moved, and read one whole turn again",
        Untrue::PartTurn => {
            "mark the spindle, divide one whole turn from the mark back to it, begin at another position than before, and read the first \
             again at its end"
        }
        Untrue::Unturned => {
            return format!(
                "turn the spindle on to each position and read again{}",
                units.option("; if that was done, say so with --as-read")
            );
        }
        Untrue::Alone => "leave stand and indicator alone and turn again",
    };
    text.to_owned()
}

/// What the readings of a turn with so many positions look like.
pub fn doubt(mistake: Mistake, between: [usize; 2], positions: usize) -> String {
    let name = |position: usize| {
        if position > positions {
            "back at 1".to_owned()
        } else {
            position.to_string()
        }
    };
    let [first, second] = between.map(name);
    match mistake {
        Mistake::Alike => format!("positions {first} and {second} look like one"),
        Mistake::LeftOut => format!("a position between {first} and {second} looks left out"),
        Mistake::NotBack => "the reading back at position 1 is not what it was at first".to_owned(),
    }
}

impl Say for RunoutNote {
    fn say(&self, units: &Units) -> String {
        let text = match self {
            Self::TypedByHand => "typed by hand, no record",
            Self::AxisOfWall => "the axis is that of the taper wall",
            Self::AxisAsRead => {
                "the axis is the bar's as read in one seating: it includes the bar and its seat"
            }
            Self::NoAxis => {
                "no axis: it needs two heights on one surface in one seating, never wall against bar"
            }
            Self::KeysOneWay => {
                "the keys let the bar in one position only: bar and spindle cannot be told apart, and no limit on the runout of the spindle alone is judged"
            }
            Self::OneOrientation => {
                "one orientation of the bar: spindle and bar are not told apart; where the keys allow it, turn the bar by 180° in the spindle and read again"
            }
            Self::OrientationsClose => {
                "the orientations of the bar lie too close together to tell spindle and bar apart; use 0° and 180°"
            }
            Self::OvalityNotToldApart => {
                "half turns of the bar say nothing about ovality: it is the bar's or the spindle's"
            }
            Self::WallNotRead => {
                "no reading on the taper wall: what stays with the spindle may be dirt on the wall or the taper itself"
            }
            Self::OnlyByReversal => {
                "the spindle alone is within its limit because the runout turned with the bar; no reading of the wall that agrees and no certificate of the bar says the same: were the positions counted from the mark on the spindle?"
            }
            Self::NoBarPart => {
                "nothing of the bar's own is seen: a bar that runs true shows that, and so does one that was not turned; was it turned?"
            }
            Self::KeptAsRead => "figures that were asked about are kept as read",
            Self::TakenAsRead { reason } => {
                return format!("taken as read{}: {}", as_read(units), reason.say(units));
            }
            Self::File(note) => return note.say(units),
        };
        text.to_owned()
    }
}

impl Say for RunoutReason {
    fn say(&self, units: &Units) -> String {
        match self {
            Self::LimitUnit { on, unit } => {
                let unit = shown(unit);
                let limit = limit_words(on, &format!("{} {unit}", on.limit));
                format!("{limit}: its unit is \"{unit}\", expected \"um\"; no verdict on it")
            }
            Self::NotMeasured { on, missing } => {
                let why = match (missing, on.height_mm) {
                    (Missing::AtHeight, height_mm) => {
                        format!("nothing was measured{}", at_height(height_mm))
                    }
                    (Missing::FourSeatings, _) => {
                        "it is for four seatings 90° apart, which were not read".to_owned()
                    }
                    (Missing::KeysOneWay, _) => "the keys let the bar in one position only, so bar and spindle cannot be told apart".to_owned(),
                    (Missing::TwoOrientations, _) => {
                        "it is for the spindle alone, which needs the bar in two orientations"
                            .to_owned()
                    }
                    (Missing::TwoSeatings, _) => "it is for how well the bar comes back to its seat, which needs two seatings in one orientation".to_owned(),
                    (Missing::Kind, _) => "nothing of the kind was measured".to_owned(),
                };
                format!("{}: {why}; no verdict on it", of_limit(on, units))
            }
            Self::IndicatorCoarse {
                on,
                error_um,
                most_um,
            } => format!(
                "{}: the indicator's error of {} is more than a fifth of the limit; no verdict with it, use one good to {}",
                of_limit(on, units),
                units.exact_micrometres(*error_um),
                units.micrometres(*most_um)
            ),
            Self::RunoutStands {
                figure,
                place,
                percent,
                outcome,
                watch,
                held_back,
            } => {
                let relation = match outcome {
                    Outcome::Accept if *watch => "within limit, watch it",
                    Outcome::Accept => "within limit",
                    Outcome::Reject => "outside limit",
                    Outcome::Undecided if *held_back => "undecided",
                    Outcome::Undecided => "too near to decide",
                };
                format!(
                    "{}, {place}, is at {percent:.0} % of its limit: {relation}",
                    figure.words()
                )
            }
            Self::FormNotSeen {
                positions,
                times_a_turn,
            } => {
                let comes = match times_a_turn {
                    1 => "once a turn".to_owned(),
                    most => format!("up to {most} times a turn"),
                };
                format!(
                    "{positions} positions show what comes {comes}: form finer than that (ovality, lobes) can make the true TIR larger and is in no uncertainty"
                )
            }
            Self::HighSpotMissed { place } => format!(
                "{place}: the readings may have missed the high spot, so they cannot show that it is within a limit"
            ),
            Self::ReadingsUntrue { place, untrue } => {
                format!("{place}: {}", untrue_words(*untrue))
            }
            Self::PlanesAlike { one, other } => format!(
                "{one}, and {other}: the readings are the same to the last digit, as they stand or moved on, turned over or scaled: was one plane copied?"
            ),
            Self::HeightsAlike { place, nearer_mm } => format!(
                "{place}: in every seating it reads the same as at {nearer_mm} mm, as closely as the readings repeat: was the indicator moved?"
            ),
            Self::SeatingsAlike { turned } => {
                let what = if *turned {
                    "taken out and turned"
                } else {
                    "taken out"
                };
                format!(
                    "the seatings agree as closely as the readings repeat: was the bar {what} in between?"
                )
            }
            Self::BarBeyondCertificate { place } => format!(
                "{place}: the bar runs out far more than its certificate says: were the positions counted from the mark on the spindle, and is it that bar?"
            ),
            Self::WallContradicts {
                place,
                wall_um,
                spindle_um,
            } => format!(
                "{place}: the taper wall runs out {} there, the spindle alone {}: they cannot both be right; were the positions counted from the mark on the spindle?",
                units.micrometres(*wall_um),
                units.micrometres(*spindle_um)
            ),
            Self::BarExplains {
                place,
                spindle_um,
                bar_um,
                bar_or_seat,
            } => format!(
                "{place}: the spindle alone runs out {}, the {} {}: the excess is not shown to be the spindle's; clean, and repeat with a good bar",
                units.micrometres(*spindle_um),
                bar_words(*bar_or_seat),
                units.micrometres(*bar_um)
            ),
            Self::SeatExplains { place, scatter_um } => format!(
                "{place}: from seating to seating the runout scatters by {}: some of what stays may be dirt that lay alike each time, so \
                 the excess is not shown to be the spindle's",
                units.micrometres(*scatter_um)
            ),
            Self::RunoutFarOut { certificate } => format!(
                "far too much, by an indicator out of calibration ({}): do not run until measured again",
                certificate_words(*certificate)
            ),
            Self::IndicatorNotInForce { certificate } => format!(
                "{}: no verdict until the indicator is calibrated",
                certificate_words(*certificate)
            ),
        }
    }
}

impl Say for RunoutRemedy {
    fn say(&self, units: &Units) -> String {
        let text = match *self {
            Self::CorrectUnit => "correct the unit of the limit",
            Self::LimitOnBar => {
                "no further reading on this taper: set a limit on the TIR at the bar instead"
            }
            Self::ReadFourOrientations => {
                "seat the bar at four orientations 90° apart and read each of them"
            }
            Self::ReadTwoOrientations => {
                "read the bar in two orientations, 0° and 180°, seated twice in each"
            }
            Self::SeatAgain => "seat the bar at least twice in one orientation, better three times",
            Self::MeasureThere => "measure where the limit holds",
            Self::FinerIndicator => "use a finer indicator",
            Self::IndicatorInForce => "measure with an indicator whose certificate is in force",
            Self::ReadRoundTurn => {
                "read at least four positions, better eight, spread round the turn"
            }
            Self::CleanSeat => {
                "wipe taper and bar, look at both ends of the taper, and take all seatings again"
            }
            Self::GoodBar => "clean taper and bar, and repeat with a good bar",
            Self::ReadTrue { untrue } => return read_true(untrue, units),
            Self::ReadEachPlane => "read each plane by itself",
            Self::MoveIndicator => {
                return format!(
                    "set the indicator to the height that is meant and read again{}",
                    units.option("; if it was moved, say so with --as-read")
                );
            }
            Self::TakeBarOut => {
                return format!(
                    "take the bar out before each seating and read again{}",
                    units.option("; if that was done, say so with --as-read")
                );
            }
            Self::CountFromSpindle => {
                "count the positions from the mark on the spindle, clean taper and bar, and read again"
            }
            Self::MoreSeatings { more } => {
                return format!(
                    "seat the bar about {more} more times in the orientations it was in: few seatings say little about how well it comes back"
                );
            }
            Self::SeatTooNear { most } => {
                return format!(
                    "the seat is too near its limit for {most} more seatings to tell: clean taper and bar, and measure as left"
                );
            }
            Self::MorePositions { missed_um } => {
                return format!(
                    "the positions may have missed {} of the turn: read more positions round it",
                    units.micrometres(missed_um)
                );
            }
            Self::Shrink { source } => {
                return format!("most of the doubt is {}: {}", source.name(), shrink(source));
            }
        };
        text.to_owned()
    }
}

fn shrink(source: Source) -> &'static str {
    match source {
        Source::Scatter | Source::Head | Source::Drift => {
            "prop the head, wait for a still reading and read again"
        }
        Source::Doubt => "read the plane again whose positions are in doubt",
        Source::Position => "set the positions by the control's angle display",
        Source::Lever => "set the lever along the surface or use a plunger",
        Source::AssumedSeat => "seat the bar twice in each orientation",
        Source::Seat => "clean, and seat the bar more often",
        Source::Bar => "turn the bar by 180° and read again",
        Source::Axial => "find the cause of the axial float first",
        Source::Certificate | Source::Resolution => "use an indicator with a smaller uncertainty",
    }
}

/// "limit of 10 µm on the TIR at 300 mm".
fn of_limit(on: &LimitOn, units: &Units) -> String {
    limit_words(on, &units.exact_micrometres(on.limit))
}

fn limit_words(on: &LimitOn, limit: &str) -> String {
    format!(
        "limit of {limit} on the {}{}",
        on.figure.words(),
        at_height(on.height_mm)
    )
}

fn at_height(height_mm: Option<f64>) -> String {
    match height_mm {
        None => String::new(),
        Some(mm) if mm < 0.0 => format!(" {} mm inside the mouth", -mm),
        Some(mm) => format!(" at {mm} mm"),
    }
}

/// "bar", or "bar or seat".
pub(crate) fn bar_words(bar_or_seat: bool) -> &'static str {
    if bar_or_seat { "bar or seat" } else { "bar" }
}

/// What is wrong with an indicator's certificate.
pub fn certificate_words(gap: CertificateGap) -> &'static str {
    match gap {
        CertificateGap::Missing => "the indicator has no certificate",
        CertificateGap::Lapsed => "its calibration has lapsed",
    }
}
