//! A figure through the visits as it is drawn: points, line, bands, limit.

/// One figure through the visits.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct YearSeries {
    /// What it is.
    pub title: String,
    /// The unit its values are in.
    pub unit: String,
    /// The visits in order of time.
    pub points: Vec<YearPoint>,
    /// The line and its bands, where one is shown.
    pub bands: Vec<YearBand>,
    /// The limit.
    pub limit: Option<YearLimit>,
    /// Days of what happened, its name, and whether the series breaks there.
    pub marks: Vec<(f64, String, bool)>,
    /// What is to be said of it.
    pub lines: Vec<String>,
    /// Where its line runs to the limit: what belongs into the answer.
    pub news: Option<YearNews>,
}

/// A figure runs to its limit.
#[derive(Clone, Debug, PartialEq)]
pub struct YearNews {
    /// In a sentence.
    pub sentence: String,
    /// What to do.
    pub step: String,
    /// Its line has crossed the limit.
    pub crossed: bool,
}

/// A limit through the years.
#[derive(Clone, Debug, PartialEq)]
pub struct YearLimit {
    /// Where it lies.
    pub value: f64,
    /// What is over it is not allowed; else what is under it.
    pub upper: bool,
    /// Its name.
    pub name: String,
}

/// The figure of a visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearPoint {
    /// Days from 1970-01-01.
    pub day: f64,
    /// The figure.
    pub value: f64,
    /// Half width of what the visit alone leaves open (k = 2); none where it is not known.
    pub half_width: Option<f64>,
    /// Drawn hollow.
    pub hollow: bool,
}

/// The line at a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearBand {
    /// Days from 1970-01-01.
    pub day: f64,
    /// The line.
    pub line: f64,
    /// Its 95 % interval.
    pub confidence: [f64; 2],
    /// That of one more visit.
    pub prediction: [f64; 2],
}
