//! One figure of a stored check, by the name a person calls it. In: the result document of a check in the book. Out: a
//! number with its uncertainty, or none where this check does not give it.

use crate::terminal::error::Error;
use clap::ValueEnum;
use holdtrue_book::{Book, CheckKind, CheckResult};
use holdtrue_metrology::decision::{Figure, Side};
use holdtrue_metrology::grip::budget::{CALIBRATION, REPEATABILITY};
use holdtrue_metrology::runout::remarks::Source;
use holdtrue_metrology::statistics::{mean, median, stdev};
use holdtrue_metrology::uncertainty::{Budget, Contribution};
use holdtrue_metrology::verdict::Verdict;
use holdtrue_terms::figure::GivenBy;
use holdtrue_terms::vocabulary::{At, Provenance};
use serde::{Deserialize, Serialize};

/// A figure that is followed over checks and visits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, ValueEnum, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StoredFigure {
    /// Mean holding force of the counted clamps
    #[default]
    GripMean,
    /// Lowest holding force of a counted clamp
    GripLowest,
    /// Scatter of the clamps, % of their mean
    GripScatter,
    /// How fast the force drops while held
    #[value(alias = "grip-sag")]
    GripDrop,
    /// Holding force of the first counted clamp
    FirstClamp,
    /// Time the force takes from 10 to 90 % of its level, median of the counted clamps
    ClampingTime,
    /// Push-out (knock-out) distance, mean of the counted clamps
    PushOut,
    /// TIR of the test bar at the height nearest the nose, mean over the seatings; of one height alone up to 100 mm
    Nose,
    /// TIR of the test bar at the height farthest out, mean over the seatings; of one height alone beyond 100 mm
    Bar,
    /// Tilt of the axis
    Tilt,
    /// How far from the same at every seating: reseating repeatability
    Seat,
}

/// A bar read at one height only is read near the nose up to here, mm. Common practice, no source: it is read close to the
/// nose and 300 mm out.
const NEAR_THE_NOSE_MM: f64 = 100.0;

/// Heights at which readings are taken to be of one place, mm and share of the height.
const SAME_HEIGHT_MM: f64 = 2.0;
const SAME_HEIGHT_SHARE: f64 = 0.02;

/// Whether readings at these heights, mm, are taken to be of one place.
pub fn is_one_place(height_mm: f64, other_mm: f64) -> bool {
    let within = SAME_HEIGHT_MM.max(SAME_HEIGHT_SHARE * height_mm.abs());
    (other_mm - height_mm).abs() <= within
}

/// A figure of one check, with what is known of its uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The figure, in its unit.
    pub value: f64,
    /// What makes it uncertain, as far as the check tells: standard uncertainties in the unit of the figure.
    pub budget: Budget,
    /// The budget holds everything: the uncertainty of the gauge or indicator was known, or does not matter.
    pub complete: bool,
    /// The height it was read at, mm.
    pub height_mm: Option<f64>,
}

/// Every figure a check gives.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CheckFigures {
    /// The figures, in the order of their names.
    pub figures: Vec<(StoredFigure, Measured)>,
    /// The lowest grip force noted without its clamps, N: a mean or a peak, and the mean is no higher than either.
    pub noted_n: Option<f64>,
    /// The limits it was judged by.
    pub limits: Vec<StoredLimit>,
    /// Why its result document could not be read; none where it could.
    pub unreadable: Option<String>,
}

/// The verdict in the result document of a check; none where it has none.
pub fn verdict_in(document: &str) -> Option<Verdict> {
    #[derive(Deserialize)]
    struct Decided {
        verdict: Option<Verdict>,
    }
    let read: Result<Decided, _> = serde_json::from_str(document);
    read.ok().and_then(|decided| decided.verdict)
}

impl CheckFigures {
    /// Reads the result document of a check.
    pub fn read(kind: CheckKind, document: &str) -> Self {
        let read = match kind {
            CheckKind::Grip => serde_json::from_str(document).map(|grip: GripDocument| Self {
                noted_n: Stated::lowest(&grip.stated),
                ..Self::told(of_grip(&grip), grip.verdict)
            }),
            CheckKind::Runout => serde_json::from_str(document)
                .map(|runout| Self::told(of_runout(&runout), runout.verdict)),
            CheckKind::Calibration => Ok(Self::default()),
        };
        read.unwrap_or_else(|error| Self::not_read(&error))
    }

    /// Of a grip check the mean force alone, with its uncertainty in two parts: for many checks at once.
    pub fn read_mean(document: &str) -> Self {
        let read = serde_json::from_str(document).map(|grip: MeanDocument<'_>| {
            let mean = grip.statistics.map(|statistics| {
                let lines = grip.uncertainty.iter().flat_map(|stored| &stored.budget);
                let parts = lines.map(|line| (line.source.as_ref(), line.standard, line.dof));
                let budget = match &grip.uncertainty {
                    Some(_) => in_two_parts(parts),
                    None => of_mean(None, &statistics),
                };
                let measured = Measured {
                    value: statistics.mean_n,
                    budget,
                    complete: grip.uncertainty.is_some(),
                    height_mm: None,
                };
                (StoredFigure::GripMean, measured)
            });
            let noted = grip
                .stated
                .iter()
                .filter(|stated| stated.figure == "mean_n");
            let noted = noted.map(|stated| (StoredFigure::GripMean, stated.measured()));
            Self {
                noted_n: Stated::lowest(&grip.stated),
                ..Self::told(mean.into_iter().chain(noted).collect(), grip.verdict)
            }
        });
        read.unwrap_or_else(|error| Self::not_read(&error))
    }

    /// Of a runout check the TIRs of the bar alone, each with its uncertainty in two parts: for many checks at once.
    pub fn read_tirs(document: &str) -> Self {
        let mut read = Self::read(CheckKind::Runout, document);
        read.figures
            .retain(|(figure, _)| matches!(figure, StoredFigure::Nose | StoredFigure::Bar));
        for (_, measured) in &mut read.figures {
            let lines = measured.budget.contributions.iter();
            measured.budget =
                in_two_parts(lines.map(|line| (line.source.as_str(), line.standard, line.dof)));
        }
        read
    }

    fn told(figures: Vec<(StoredFigure, Measured)>, verdict: Option<Judged>) -> Self {
        Self {
            figures,
            noted_n: None,
            limits: verdict.map_or_else(Vec::new, |verdict| verdict.limits),
            unreadable: None,
        }
    }

    fn not_read(error: &serde_json::Error) -> Self {
        Self {
            unreadable: Some(error.to_string()),
            ..Self::default()
        }
    }

    /// The limit a figure was judged by, the first of several.
    pub fn limit_of(&self, figure: StoredFigure) -> Option<&StoredLimit> {
        let height_mm = self.get(figure).and_then(|measured| measured.height_mm);
        self.limits.iter().find(|limit| {
            let same_height = limit.height_mm.is_none() || limit.height_mm == height_mm;
            Some(limit.figure) == figure.limited_as()
                && (limit.figure != Figure::Tir || same_height)
        })
    }

    /// One of them.
    pub fn get(&self, figure: StoredFigure) -> Option<&Measured> {
        let mut figures = self.figures.iter();
        figures
            .find(|(name, _)| *name == figure)
            .map(|(_, measured)| measured)
    }
}

impl Measured {
    /// Standard uncertainty of everything that is known.
    pub fn standard(&self) -> f64 {
        self.budget.combined()
    }

    /// The part that two checks with one calibration have in common.
    pub fn shared(&self) -> f64 {
        self.part(|line| is_calibration(&line.source))
    }

    /// The part that is this check's alone.
    pub fn own(&self) -> f64 {
        self.part(|line| !is_calibration(&line.source))
    }

    /// Effective degrees of freedom of that; may be infinite.
    pub fn own_dof(&self) -> f64 {
        let lines = self.budget.contributions.iter();
        Budget::new(
            lines
                .filter(|line| !is_calibration(&line.source))
                .cloned()
                .collect(),
        )
        .effective_dof()
    }

    fn part(&self, of: impl Fn(&Contribution) -> bool) -> f64 {
        let lines = self.budget.contributions.iter().filter(|line| of(line));
        lines.map(|line| line.standard.powi(2)).sum::<f64>().sqrt()
    }
}

/// What two checks of one calibration share, and everything else, as two lines.
fn in_two_parts<'a>(lines: impl Iterator<Item = (&'a str, f64, Option<f64>)>) -> Budget {
    let (mut shared, mut own, mut per_dof) = (0.0, 0.0, 0.0);
    for (source, standard, dof) in lines {
        let variance: f64 = standard * standard;
        if is_calibration(source) {
            shared += variance;
        } else {
            own += variance;
            per_dof += dof.map_or(0.0, |dof| variance * variance / dof);
        }
    }
    let dof = (per_dof > 0.0).then(|| own * own / per_dof);
    Budget::new(vec![
        Contribution::new(CALIBRATION, shared.sqrt(), None),
        Contribution::new("everything else", own.sqrt(), dof),
    ])
}

/// Whether a contribution puts all checks with one calibration off alike.
pub(crate) fn is_calibration(source: &str) -> bool {
    source == CALIBRATION || source == Source::Certificate.name()
}

/// What is known of a figure that is followed.
struct Facts {
    check: CheckKind,
    unit: &'static str,
    words: &'static str,
    /// What a limit on it is for.
    limited: Option<Figure>,
}

impl StoredFigure {
    fn facts(self) -> Facts {
        use CheckKind::{Grip, Runout};
        let limited = |figure: Figure, words| Facts {
            check: match figure.facts().given_by {
                GivenBy::Grip => Grip,
                GivenBy::Runout => Runout,
            },
            unit: figure.unit(),
            words,
            limited: Some(figure),
        };
        let as_limited = |figure: Figure| limited(figure, figure.words());
        let never_limited = |check, unit, words| Facts {
            check,
            unit,
            words,
            limited: None,
        };
        match self {
            Self::GripMean => as_limited(Figure::GripMean),
            Self::GripLowest => as_limited(Figure::GripLowest),
            Self::GripScatter => as_limited(Figure::GripScatter),
            Self::GripDrop => as_limited(Figure::GripSag),
            Self::FirstClamp => never_limited(Grip, "N", "first clamp"),
            Self::ClampingTime => never_limited(Grip, "s", "clamping time"),
            Self::PushOut => as_limited(Figure::PushOut),
            Self::Nose => limited(Figure::Tir, "TIR of the bar near the nose"),
            Self::Bar => limited(Figure::Tir, "TIR of the bar farthest out"),
            Self::Tilt => never_limited(Runout, "um/m", "tilt of the axis"),
            Self::Seat => as_limited(Figure::Seat),
        }
    }

    /// The check that gives it.
    pub fn check(self) -> CheckKind {
        self.facts().check
    }

    /// Its unit.
    pub fn unit(self) -> &'static str {
        self.facts().unit
    }

    /// The words a person reads.
    pub fn words(self) -> &'static str {
        self.facts().words
    }

    /// The figure a limit on it is for; none: nothing limits it.
    pub fn limited_as(self) -> Option<Figure> {
        self.facts().limited
    }

    /// Its value in a stored result; none where the check does not give it.
    ///
    /// # Errors
    /// A result document that cannot be read: exit 6.
    pub fn of(self, book: &Book, result: &CheckResult) -> Result<Option<f64>, Error> {
        let figures = CheckFigures::read(self.check(), result.content.text());
        match &figures.unreadable {
            None => Ok(figures.get(self).map(|measured| measured.value)),
            Some(why) => Err(Error::book(format!(
                "{}: a stored check cannot be read back ({why}). Was it written by a newer program? Update this one.",
                book.path().display()
            ))),
        }
    }
}

/// A limit a stored figure was judged by.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct StoredLimit {
    /// What was limited.
    pub figure: Figure,
    /// At which height, mm; none: at every one, or no height.
    #[serde(default)]
    pub height_mm: Option<f64>,
    /// Which side of it is good.
    pub side: Side,
    /// The limit, in the unit of the figure.
    pub limit: f64,
    /// Where it comes from.
    pub provenance: Provenance,
}

#[derive(Deserialize)]
struct Judged {
    limits: Vec<StoredLimit>,
}

/// What is read of a grip document where the mean alone is wanted; nothing is copied.
#[derive(Deserialize)]
struct MeanDocument<'a> {
    statistics: Option<Statistics>,
    #[serde(borrow)]
    uncertainty: Option<BorrowedUncertainty<'a>>,
    verdict: Option<Judged>,
    #[serde(default)]
    stated: Vec<Stated>,
}

#[derive(Deserialize)]
struct BorrowedUncertainty<'a> {
    #[serde(borrow)]
    budget: Vec<BorrowedLine<'a>>,
}

#[derive(Deserialize)]
struct BorrowedLine<'a> {
    #[serde(borrow)]
    source: std::borrow::Cow<'a, str>,
    #[serde(rename = "standard_n")]
    standard: f64,
    dof: Option<f64>,
}

/// What is read out of a grip document. Later programs may add to it.
#[derive(Deserialize)]
struct GripDocument {
    statistics: Option<Statistics>,
    uncertainty: Option<Uncertainty>,
    verdict: Option<Judged>,
    clamps: Vec<Clamp>,
    #[serde(default)]
    stated: Vec<Stated>,
}

/// A figure noted without its clamps.
#[derive(Deserialize)]
struct Stated {
    figure: String,
    value_n: f64,
}

impl Stated {
    /// Nothing shows how the clamps behind it scattered.
    fn measured(&self) -> Measured {
        Measured {
            value: self.value_n,
            budget: Budget::new(Vec::new()),
            complete: false,
            height_mm: None,
        }
    }

    fn lowest(all: &[Self]) -> Option<f64> {
        let forces = all.iter().map(|stated| stated.value_n);
        forces.min_by(f64::total_cmp)
    }
}

#[derive(Deserialize)]
struct Statistics {
    count: u32,
    mean_n: f64,
    lowest_n: f64,
    stdev_n: Option<f64>,
    cv_percent: Option<f64>,
}

#[derive(Deserialize)]
struct Clamp {
    counted: bool,
    settled_n: Option<f64>,
    sag_n_per_s: Option<f64>,
    clamping_s: Option<f64>,
    push_out_mm: Option<f64>,
}

#[derive(Deserialize)]
struct Uncertainty {
    budget: Vec<Line>,
}

/// A line of a budget, in the unit of its document.
#[derive(Clone, Deserialize)]
struct Line {
    source: String,
    #[serde(alias = "standard_n", alias = "standard_um")]
    standard: f64,
    dof: Option<f64>,
}

impl From<Line> for Contribution {
    fn from(line: Line) -> Self {
        Self::new(line.source, line.standard, line.dof)
    }
}

/// What is read out of a runout document.
#[derive(Deserialize)]
struct RunoutDocument {
    planes: Vec<Plane>,
    axis: Option<Axis>,
    seat_repeatability_um: Option<f64>,
    uncertainty: Option<Uncertainty>,
    verdict: Option<Judged>,
}

#[derive(Deserialize)]
struct Plane {
    at: Option<At>,
    height_mm: Option<f64>,
    orientation_deg: Option<f64>,
    tir_um: Option<f64>,
}

#[derive(Deserialize)]
struct Axis {
    tilt_um_per_m: f64,
}

fn of_grip(grip: &GripDocument) -> Vec<(StoredFigure, Measured)> {
    let counted = || grip.clamps.iter().filter(|clamp| clamp.counted);
    let every = |of: fn(&Clamp) -> Option<f64>| counted().filter_map(of).collect::<Vec<f64>>();
    let mut found = Vec::new();
    if let Some(statistics) = &grip.statistics {
        let complete = grip.uncertainty.is_some();
        let figure = |value, budget| Measured {
            value,
            budget,
            complete,
            height_mm: None,
        };
        let one = of_one_clamp(grip.uncertainty.as_ref(), statistics);
        found.push((
            StoredFigure::GripMean,
            figure(
                statistics.mean_n,
                of_mean(grip.uncertainty.as_ref(), statistics),
            ),
        ));
        found.push((
            StoredFigure::GripLowest,
            figure(statistics.lowest_n, one.clone()),
        ));
        let scatter = statistics.cv_percent.zip(statistics.stdev_n);
        found.extend(
            scatter.map(|(cv, _)| (StoredFigure::GripScatter, of_scatter(cv, statistics.count))),
        );
        let first = counted().next().and_then(|clamp| clamp.settled_n);
        found.extend(first.map(|first_n| (StoredFigure::FirstClamp, figure(first_n, one))));
    }
    let noted = grip.stated.iter().filter_map(|stated| {
        let figure = match stated.figure.as_str() {
            "mean_n" => StoredFigure::GripMean,
            "lowest_n" => StoredFigure::GripLowest,
            _ => return None,
        };
        Some((figure, stated.measured()))
    });
    found.extend(noted);
    let drops = every(|clamp| clamp.sag_n_per_s);
    let times = every(|clamp| clamp.clamping_s);
    let push_outs = every(|clamp| clamp.push_out_mm);
    found.extend(of_several(&drops, mean).map(|drop| (StoredFigure::GripDrop, drop)));
    found.extend(of_several(&times, median).map(|time| (StoredFigure::ClampingTime, time)));
    found.extend(of_several(&push_outs, mean).map(|mm| (StoredFigure::PushOut, mm)));
    found.sort_by_key(|(name, _)| *name);
    found
}

/// As stored; without the gauge's uncertainty the scatter of the clamps is all that is known.
fn of_mean(uncertainty: Option<&Uncertainty>, statistics: &Statistics) -> Budget {
    match uncertainty {
        Some(stored) => Budget::new(stored.budget.iter().cloned().map(Into::into).collect()),
        None => {
            let scatter = one_clamp(statistics)
                .map(|one| one.times(1.0 / f64::from(statistics.count).sqrt()));
            Budget::new(scatter.into_iter().collect())
        }
    }
}

/// What all clamps share, and the scatter of one of them.
fn of_one_clamp(uncertainty: Option<&Uncertainty>, statistics: &Statistics) -> Budget {
    let stored = uncertainty.into_iter().flat_map(|stored| &stored.budget);
    let shared = stored
        .filter(|line| !line.source.starts_with(REPEATABILITY))
        .cloned();
    Budget::new(
        shared
            .map(Into::into)
            .chain(one_clamp(statistics))
            .collect(),
    )
}

fn one_clamp(statistics: &Statistics) -> Option<Contribution> {
    let dof = f64::from(statistics.count) - 1.0;
    let stdev_n = statistics.stdev_n?;
    Some(Contribution::new(
        "scatter of the clamps",
        stdev_n,
        Some(dof),
    ))
}

/// A standard deviation of n normal values is known to within 1/√(2(n − 1)) of itself, and a scale common to all of them
/// cancels. Source: JCGM 100:2008, E.4.3.
fn of_scatter(cv_percent: f64, count: u32) -> Measured {
    let dof = f64::from(count) - 1.0;
    let standard = cv_percent / (2.0 * dof).sqrt();
    Measured {
        value: cv_percent,
        budget: Budget::new(vec![Contribution::new("number of clamps", standard, None)]),
        complete: true,
        height_mm: None,
    }
}

/// One figure of several values a clamp or a seating, with the scatter of their mean.
fn of_several(values: &[f64], of: fn(&[f64]) -> f64) -> Option<Measured> {
    let count = values.len() as f64;
    let scatter = (values.len() > 1).then(|| {
        Contribution::new(
            "scatter of the clamps",
            stdev(values) / count.sqrt(),
            Some(count - 1.0),
        )
    });
    (!values.is_empty()).then(|| Measured {
        value: of(values),
        complete: scatter.is_some(),
        budget: Budget::new(scatter.into_iter().collect()),
        height_mm: None,
    })
}

fn of_runout(runout: &RunoutDocument) -> Vec<(StoredFigure, Measured)> {
    let heights = bar_heights(&runout.planes);
    let mut found = Vec::new();
    // Of one height alone its distance from the nose says which of the two it is.
    let one_height = heights.len() == 1;
    let near = heights
        .first()
        .filter(|height| !one_height || **height <= NEAR_THE_NOSE_MM);
    let near = near.and_then(|height| of_tir(runout, *height));
    found.extend(near.map(|tir| (StoredFigure::Nose, tir)));
    let far = heights
        .last()
        .filter(|height| !one_height || **height > NEAR_THE_NOSE_MM);
    let far = far.and_then(|height| of_tir(runout, *height));
    found.extend(far.map(|tir| (StoredFigure::Bar, tir)));
    let alone = |value, budget: Budget| Measured {
        value,
        complete: !budget.contributions.is_empty(),
        budget,
        height_mm: None,
    };
    let tilt = runout.axis.as_ref().map(|axis| axis.tilt_um_per_m);
    found.extend(tilt.map(|tilt| (StoredFigure::Tilt, alone(tilt, Budget::default()))));
    found.extend(runout.seat_repeatability_um.map(|seat_um| {
        let dof = seat_dof(&runout.planes);
        let part = (dof > 0.0)
            .then(|| Contribution::new("number of seatings", seat_um / (2.0 * dof).sqrt(), None));
        (
            StoredFigure::Seat,
            alone(seat_um, Budget::new(part.into_iter().collect())),
        )
    }));
    found
}

/// Two components of each seating about the mean of their group; heights of one seating repeat it.
fn seat_dof(planes: &[Plane]) -> f64 {
    let mut groups: Vec<(f64, f64, u32)> = Vec::new();
    for plane in planes {
        let key = (
            plane.height_mm.unwrap_or(f64::NAN),
            plane.orientation_deg.unwrap_or(0.0),
        );
        let same = |group: &&mut (f64, f64, u32)| {
            group.0.total_cmp(&key.0).is_eq() && group.1.total_cmp(&key.1).is_eq()
        };
        match groups.iter_mut().find(same) {
            Some(group) => group.2 += 1,
            None => groups.push((key.0, key.1, 1)),
        }
    }
    let free = |height: f64| {
        let here = groups
            .iter()
            .filter(|group| group.0.total_cmp(&height).is_eq());
        here.map(|group| 2.0 * f64::from(group.2 - 1)).sum::<f64>()
    };
    groups.iter().map(|group| free(group.0)).fold(0.0, f64::max)
}

/// Heights at which the bar was read, lowest first, each once.
fn bar_heights(planes: &[Plane]) -> Vec<f64> {
    let bar = planes.iter().filter(|plane| plane.at == Some(At::Bar));
    let mut heights: Vec<f64> = bar.filter_map(|plane| plane.height_mm).collect();
    heights.sort_by(f64::total_cmp);
    heights.dedup_by(|a, b| a.total_cmp(b).is_eq());
    heights
}

/// Mean TIR of the seatings at one height: what the indicator brings once, and the scatter from seating to seating.
fn of_tir(runout: &RunoutDocument, height_mm: f64) -> Option<Measured> {
    let here = runout.planes.iter().filter(|plane| {
        let same = plane.height_mm.map(|h| h.total_cmp(&height_mm).is_eq());
        plane.at == Some(At::Bar) && same == Some(true)
    });
    let tirs: Vec<f64> = here.filter_map(|plane| plane.tir_um).collect();
    let mut measured = of_several(&tirs, mean)?;
    let stored = runout.uncertainty.iter().flat_map(|stored| &stored.budget);
    measured
        .budget
        .contributions
        .extend(stored.cloned().map(Into::into));
    measured.complete = runout.uncertainty.is_some();
    measured.height_mm = Some(height_mm);
    Some(measured)
}
