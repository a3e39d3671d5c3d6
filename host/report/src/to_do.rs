//! What is to do. In: the visit's document. Out: each thing with how soon, the most urgent first, and what mending may cost.

use crate::checked::{Checked, checks, not_overtaken, overtaking};
use crate::document::{Document, Finding, Sum};
use crate::paper::{Block, Cell, Table, Text, label, note};
use holdtrue_terms::vocabulary::{Outcome, Severity};
use holdtrue_wording::{paper, words};

/// How soon, the most urgent first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum When {
    BeforeNextRun,
    Now,
    ToFindTheCause,
    ForAVerdict,
    ToDecideIt,
    Soon,
    NextVisit,
    Later,
}

impl When {
    fn of(severity: Severity) -> Self {
        match severity {
            Severity::BeforeUse => Self::BeforeNextRun,
            Severity::Soon => Self::Soon,
            // A note asks for nothing; none becomes a step.
            Severity::Later | Severity::Note => Self::Later,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::BeforeNextRun => Severity::BeforeUse.words(),
            Self::Now => "now",
            Self::ToFindTheCause => "to find the cause",
            Self::ForAVerdict => "for a verdict",
            Self::ToDecideIt => "to decide it",
            Self::Soon => Severity::Soon.words(),
            Self::NextVisit => "next visit",
            Self::Later => Severity::Later.words(),
        }
    }
}

/// One thing to do.
pub(crate) struct Step {
    when: When,
    pub what: Text,
    /// What it may cost, and how long it takes.
    pub estimate: Option<String>,
}

/// Most urgent first.
pub(crate) fn steps(document: &Document) -> Vec<Step> {
    let all = checks(document);
    let standing = not_overtaken(&all);
    let mut steps = Vec::new();
    let mut step = |when: When, what: Text| steps.push(Step::of(when, what));
    let before_run = When::BeforeNextRun;
    for check in &standing {
        for reason in check.stops() {
            let what = Text::strong(format!("{}: ", check.title));
            step(before_run, what.and(words::uncapital(&reason)));
        }
        match check.amended_to {
            Some(Outcome::Reject) => {
                let what =
                    Text::strong(format!("{}, as amended: outside its limit. ", check.title));
                step(before_run, what.and(paper::QUALIFIED_DECIDES));
            }
            Some(Outcome::Undecided) => {
                let what = Text::strong(format!("{}, as amended: undecided. ", check.title));
                step(before_run, what.and(paper::AMENDED_UNDECIDED));
            }
            Some(Outcome::Accept) | None => {}
        }
    }
    for check in standing
        .iter()
        .filter(|check| check.outcome() == Some(Outcome::Reject) && check.amended_to.is_none())
    {
        let what = Text::strong(format!("{} is outside its limit. ", check.title));
        step(before_run, what.and(paper::QUALIFIED_DECIDES));
    }
    for finding in of_severity(document, Severity::BeforeUse) {
        steps.push(Step::of_finding(before_run, finding));
    }
    let mut step = |when: When, what: Text| steps.push(Step::of(when, what));
    for check in &standing {
        for hint in &check.words.hints {
            let what = Text::from(words::sentence(&hint.text));
            step(
                When::ToFindTheCause,
                what.soft(format!(" Likely cause, {}.", hint.provenance.words())),
            );
        }
    }
    for check in standing
        .iter()
        .filter(|check| check.verdict.is_none() && check.broken_off.is_none())
        .filter(|check| check.amended_to.is_none())
    {
        let what = Text::strong(format!("{} was not judged: ", check.title));
        let then = paper::for_a_verdict(check.limit_known);
        step(When::ForAVerdict, what.and(then));
    }
    for series in &document.over_years {
        if let Some(news) = &series.news {
            let what = Text::strong(format!("{}: ", series.title));
            let when = if news.crossed {
                When::Now
            } else {
                When::NextVisit
            };
            step(when, what.and(news.step.as_str()));
        }
    }
    for check in &standing {
        let said = check.words.verdict.as_ref();
        if let Some(would_decide) = said.and_then(|verdict| verdict.would_decide.as_deref()) {
            let what = Text::strong(format!("{} would be decided by: ", check.title));
            step(When::ToDecideIt, what.and(words::sentence(would_decide)));
        }
        if check
            .verdict
            .is_some_and(|verdict| verdict.limits.iter().any(|limit| limit.watch))
        {
            let what = Text::strong(format!("{}: ", check.title));
            step(
                When::NextVisit,
                what.and("measure again at the next visit."),
            );
        }
    }
    let counted: Vec<&Checked> = all.iter().filter(|check| check.struck.is_none()).collect();
    for (place, found) in counted.iter().enumerate() {
        let left = overtaking(found, &counted[place + 1..]);
        if let Some(what) = left.and_then(|left| was_put_right(found, left)) {
            step(When::NextVisit, what);
        }
    }
    for severity in [Severity::Soon, Severity::Later] {
        for finding in of_severity(document, severity) {
            steps.push(Step::of_finding(When::of(severity), finding));
        }
    }
    // What is said of one check and one urgency stays in its order.
    steps.sort_by_key(|step| step.when);
    steps
}

impl Step {
    /// How soon, in words.
    pub(crate) fn when(&self) -> &'static str {
        self.when.words()
    }

    fn of(when: When, what: Text) -> Self {
        Self {
            when,
            what,
            estimate: None,
        }
    }

    fn of_finding(when: When, finding: &Finding) -> Self {
        let what = Text::strong(format!("{}: ", finding.item)).and(words::sentence(&finding.text));
        Self {
            estimate: finding.estimate.clone(),
            ..Self::of(when, what)
        }
    }
}

/// What was not within its limit and is now: whether it lasts is seen at the next visit.
fn was_put_right(found: &Checked, left: &Checked) -> Option<Text> {
    let was = found.comes_to().filter(|was| *was != Outcome::Accept)?;
    (left.comes_to() == Some(Outcome::Accept)).then(|| {
        let was = format!(
            "{} was {}, as left it is within limit: ",
            found.title,
            words::outcome(was)
        );
        Text::strong(was).and("measure again at the next visit, to see whether it lasts.")
    })
}

pub(crate) fn of_severity(
    document: &Document,
    severity: Severity,
) -> impl Iterator<Item = &Finding> {
    let wanted = move |finding: &&Finding| finding.severity == Some(severity) && !finding.struck;
    document.findings.iter().filter(wanted)
}

/// Where nothing is to do.
pub(crate) fn nothing_to_do(document: &Document) -> String {
    let measured = !document.grips.is_empty() || !document.runouts.is_empty();
    match measured || !document.findings.is_empty() {
        true => paper::nothing_to_do(document.over_years.is_empty()),
        false => paper::NOTHING_EXAMINED.to_owned(),
    }
}

pub(crate) fn to_do(steps: &[Step], most: usize) -> Vec<Block> {
    let estimated = steps.iter().any(|step| step.estimate.is_some());
    let heads = ["how soon", "what", "estimate"];
    let mut table = Table::of(if estimated { &heads } else { &heads[..2] });
    for step in steps.iter().take(most) {
        let mut cells: Vec<Cell> = vec![Text::strong(step.when()).into(), step.what.clone().into()];
        if estimated {
            let estimate = step.estimate.as_deref().unwrap_or("–");
            let estimate = estimate.strip_prefix("estimate ").unwrap_or(estimate);
            cells.push(estimate.into());
        }
        table.row(cells);
    }
    let mut blocks = vec![Block::Table(table)];
    if steps.len() > most {
        blocks.push(note(paper::and_more(steps.len() - most, "to do")));
    }
    blocks
}

/// What mending may cost, by urgency.
pub(crate) fn sums(sums: &[Sum]) -> Vec<Block> {
    if sums.is_empty() {
        return Vec::new();
    }
    let mut table = Table::of(&["urgency", "findings#", "cost", "hours"]);
    for sum in sums {
        let known = |text: &Option<String>| text.as_deref().unwrap_or("not estimated").into();
        table.row(vec![
            Text::strong(sum.severity.words()).into(),
            sum.findings.to_string().into(),
            known(&sum.cost),
            known(&sum.hours),
        ]);
    }
    vec![label(paper::MAY_COST), Block::Table(table)]
}
