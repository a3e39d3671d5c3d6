//! A stored grip check by what is known of its spindle now. In: what it was begun with, the spindle's page. Out: what it is
//! held to now, and its result by that, computed from the record by the one analysis.

use crate::grip::setup::{GripConditions, SPINDLE_PAGE, TYPED, page, page_nominal};
use crate::grip::stored;
use crate::grip::stored::{Forces, GripInputs};
use crate::limits::LimitsFile;
use crate::terminal::error::Error;
use crate::visits::book::opening;
use crate::visits::checks::anew::{Anew, Judge, Judged, Pages};
use crate::visits::checks::check_inputs;
use crate::visits::checks::stored_check;
use crate::visits::checks::stored_limits;
use crate::visits::spindles::taper;
use holdtrue_book::{Book, Check, CheckResult, Json};
use holdtrue_metrology::grip::limits::Assumption;
use holdtrue_metrology::grip::result::ANALYSIS_VERSION;
use holdtrue_metrology::grip::setup::{Allowance, GripSetup};
use holdtrue_metrology::limits::grip::{held_by_page, join, limits_the_mean, of_nominal};
use holdtrue_metrology::limits::{Nominal, SourcedLimit};
use holdtrue_terms::taper::Interface;
use holdtrue_terms::vocabulary::{Class, Drawbar};

/// Judges stored grip checks.
#[derive(Clone, Copy, Debug)]
pub struct GripJudge;

impl Judge for GripJudge {
    fn as_kept(&self, book: &Book, check: &Check, inputs: &Json) -> Result<Json, Error> {
        let inputs: GripInputs = check_inputs::read_json(book, &check.start, inputs)?;
        check_inputs::to_keep(&inputs)
    }

    fn taper(
        &self,
        book: &Book,
        check: &Check,
        stored: &CheckResult,
    ) -> Result<Option<Interface>, Error> {
        let inputs: GripInputs = check_inputs::in_force(book, &check.start, stored)?;
        Ok(inputs.setup.interface)
    }

    fn anew(&self, book: &Book, check: &Check, pages: &Pages<'_>) -> Result<Anew, Error> {
        let begun: GripInputs = check_inputs::read(book, &check.start)?;
        let kept = stored_limits::by_sha256(book, check.start.limits_sha256.as_deref())?;
        let mut conditions = gather(&begun, kept.as_ref(), pages)?;
        let mut inputs = GripInputs {
            setup: conditions.setup,
            ..begun
        };
        // What was set aside changes the force, and with it whether it is far too low.
        let mut as_taken = inputs.clone().with_set_aside(book, check.start.id)?;
        if let Some((forces @ Forces::Typed { .. }, _)) = stored::forces(book, check, &inputs)? {
            // What gives no result is told by whoever judges it.
            let _ = as_taken.analyse_typed(&forces, &mut conditions.limits);
            inputs.setup.limits = as_taken.setup.limits;
        }
        let limits = conditions.limits;
        Ok(Anew {
            inputs: check_inputs::to_keep(&inputs)?,
            limits: limits.to_keep()?,
        })
    }

    fn judge(&self, book: &Book, check: &Check, inputs: &Json) -> Result<Option<Judged>, Error> {
        let inputs: GripInputs = check_inputs::read_json(book, &check.start, inputs)?;
        let inputs = inputs.with_set_aside(book, check.start.id)?;
        let Some((forces, _file)) = stored::forces(book, check, &inputs)? else {
            return Ok(None);
        };
        // What gave a result once gives one again; a record that does not is damaged, which recheck says.
        let Ok(result) = inputs.analyse(&forces) else {
            return Ok(None);
        };
        Ok(Some(Judged {
            analysis: format!("grip-{ANALYSIS_VERSION}"),
            outcome: result.verdict.as_ref().map(|verdict| verdict.outcome),
            document: stored_check::document(&result)?,
        }))
    }
}

/// What a stored check is held to by the page of its spindle now. What was typed for it or stood in its limits file stays;
/// what it had from a page does not. `kept` are the limits it was begun with.
fn gather(
    begun: &GripInputs,
    kept: Option<&LimitsFile>,
    pages: &Pages<'_>,
) -> Result<GripConditions, Error> {
    let setup = &begun.setup;
    let interface = interface(setup, pages)?;
    let own = Own::of(setup, kept, interface);
    let title = own.title.clone().or_else(|| page_name(pages));
    let limits = held_by_page(own.limits, page(pages.now), interface, own.shared_n);
    let nominal = own.nominal.or_else(|| page_nominal(pages.now));
    let assumption = class(setup, pages)?
        .zip(interface)
        .map(|(class, interface)| Assumption { interface, class });
    let allowances = match interface == setup.interface {
        true => setup.allowances.clone(),
        false => Allowance::usual(interface),
    };
    let setup = GripSetup {
        limits: limits.iter().map(|sourced| sourced.limit.clone()).collect(),
        nominal_n: nominal.as_ref().map(|nominal| nominal.force_n),
        interface,
        assumption: assumption.filter(|_| !limits_the_mean(&limits)),
        drawbar: drawbar(setup, pages)?,
        allowances,
        ..setup.clone()
    };
    Ok(GripConditions {
        setup,
        limits: LimitsFile {
            title: title.unwrap_or_else(|| TYPED.to_owned()),
            interface,
            nominal,
            limits,
        },
        highest_expected_n: None,
    })
}

fn page_name(pages: &Pages<'_>) -> Option<String> {
    let name = pages.now.map(|page| page.name.clone());
    name.filter(|name| !name.is_empty())
}

/// What a check was held to beside the page of its spindle.
struct Own {
    /// None where it was held to the page alone.
    title: Option<String>,
    nominal: Option<Nominal>,
    limits: Vec<SourcedLimit>,
    /// The nominal force a share of which was typed.
    shared_n: Option<f64>,
}

impl Own {
    fn of(setup: &GripSetup, kept: Option<&LimitsFile>, interface: Option<Interface>) -> Self {
        let is_own = |source: &Option<String>| source.as_deref() != Some(SPINDLE_PAGE);
        let is_typed = kept.is_none_or(|kept| kept.title == TYPED);
        let nominal = kept.and_then(|kept| kept.nominal.clone());
        let nominal = nominal.filter(|nominal| is_own(&nominal.source));
        // Of what a limit is a share stands in the inputs, where it comes from in the file; both are in one order.
        let kept_limits = kept.iter().flat_map(|kept| &kept.limits);
        let mut limits: Vec<SourcedLimit> = kept_limits
            .zip(&setup.limits)
            .filter(|(kept, _)| is_own(&kept.source))
            .map(|(kept, limit)| SourcedLimit {
                source: kept.source.clone(),
                limit: limit.clone(),
            })
            .collect();
        let is_share = |sourced: &SourcedLimit| sourced.limit.share.is_some();
        let shares = limits
            .iter()
            .filter_map(|sourced| sourced.limit.share.as_ref());
        let shared_n = shares
            .map(|share| share.nominal)
            .next()
            .filter(|_| is_typed);
        let usual = nominal
            .as_ref()
            .filter(|nominal| !is_typed && nominal.act_percent.is_none());
        if usual.is_some() {
            // The usual share hangs on the taper.
            limits.retain(|sourced| !is_share(sourced));
            limits = join(limits, of_nominal(usual, interface));
        }
        let is_there = !limits.is_empty() || nominal.is_some();
        Self {
            title: kept.filter(|_| is_there).map(|kept| kept.title.clone()),
            nominal,
            limits,
            shared_n,
        }
    }
}

/// The taper on the page; where it has none, the one typed.
fn interface(setup: &GripSetup, pages: &Pages<'_>) -> Result<Option<Interface>, Error> {
    let page = pages.now.map(opening::taper_of).transpose()?.flatten();
    let typed = setup
        .interface
        .filter(|taper| !pages.had(*taper, opening::taper_of));
    Ok(match (typed, page) {
        (Some(typed), Some(page)) if !taper::is_same(typed, page) => Some(page),
        (typed, page) => typed.or(page),
    })
}

/// What was typed, else what the page says.
fn drawbar(setup: &GripSetup, pages: &Pages<'_>) -> Result<Drawbar, Error> {
    let typed = setup.drawbar != Drawbar::Unknown && !pages.had(setup.drawbar, opening::drawbar_of);
    if typed {
        return Ok(setup.drawbar);
    }
    let page = pages.now.map(opening::drawbar_of).transpose()?.flatten();
    Ok(page.unwrap_or_default())
}

/// What was typed, else what the page says.
fn class(setup: &GripSetup, pages: &Pages<'_>) -> Result<Option<Class>, Error> {
    let typed = setup.assumption.map(|assumed| assumed.class);
    let typed = typed.filter(|class| !pages.had(*class, opening::class_of));
    let page = pages.now.map(opening::class_of).transpose()?.flatten();
    Ok(typed.or(page))
}
