//! What the condition round looks at. In: a list as TOML, our own or somebody's; what is known of the machine. Out: the items
//! this machine has, assembly by assembly.

use crate::terminal::error::{Error, Place, Refusal};
use crate::terminal::toml_file;
use crate::visits::corrected::findings;
use crate::visits::findings::estimate::Estimate;
use holdtrue_book::{SpindleHeader, Visit};
use holdtrue_terms::vocabulary::{Drawbar, Purpose};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

/// Our own list, written from the trade: what technicians look at, and no more.
pub const BUILT_IN: &str = include_str!("condition_list.toml");
/// What an error in it is told of as.
const BUILT_IN_NAME: &str = "built-in list";
/// Signs of the word that is read from two metres.
const SHORT: usize = 13;

/// The whole list.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ConditionList {
    /// In the order one walks.
    #[serde(rename = "assembly")]
    pub assemblies: Vec<Assembly>,
}

/// What belongs together.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Assembly {
    /// As it stands on the paper.
    pub name: String,
    /// Only for a machine with one of these.
    #[serde(default)]
    only: Vec<Feature>,
    /// What is looked at.
    #[serde(rename = "item")]
    pub items: Vec<Item>,
}

/// One thing to look at.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Item {
    /// The same through all visits.
    pub id: String,
    /// Read from two metres.
    pub short: String,
    /// As it stands on the paper.
    pub name: String,
    /// What to look for.
    pub look: String,
    /// How, and with which caution.
    #[serde(default)]
    pub how: String,
    /// Of a value that may be measured.
    #[serde(default)]
    pub unit: Option<String>,
    /// Only for a machine with one of these.
    #[serde(default)]
    only: Vec<Feature>,
}

/// What a machine may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Feature {
    /// Gears between motor and spindle.
    Gearbox,
    /// A belt between them.
    Belt,
    /// Neither: the motor sits on the spindle.
    Direct,
    /// The drawbar is pulled by disc springs.
    DiscSprings,
    /// By a gas spring.
    GasSpring,
    /// By oil pressure.
    Hydraulic,
    /// The spindle stands.
    Vertical,
    /// The spindle lies.
    Horizontal,
    /// A 7/24 taper.
    SteepTaper,
    /// A hollow shank taper.
    Hsk,
    /// Coolant through the spindle.
    ThroughCoolant,
    /// A face that bears.
    FaceContact,
    /// Somebody wants to buy the machine.
    BeforePurchase,
}

/// What is known of the machine and of what the visit is for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Machine<'a> {
    /// Its spindle, once it is named.
    pub spindle: Option<&'a SpindleHeader>,
    /// As the visit's header has it.
    pub purpose: Option<&'a str>,
}

impl Machine<'_> {
    /// Whether it has this; none where nobody knows.
    fn has(&self, feature: Feature) -> Option<bool> {
        let spindle = self.spindle;
        let drive = |word: &str| Some(spindle?.drive.as_deref()?.eq_ignore_ascii_case(word));
        let drawbar = |kind: Drawbar| {
            let known: Drawbar = spindle?.drawbar.as_deref()?.parse().ok()?;
            (known != Drawbar::Unknown).then_some(known == kind)
        };
        let axis = |word: &str| Some(spindle?.axis.as_deref()?.eq_ignore_ascii_case(word));
        let is_hsk = || Some(spindle?.taper.as_deref()?.starts_with("HSK"));
        match feature {
            Feature::Gearbox => drive("gearbox"),
            Feature::Belt => drive("belt"),
            Feature::Direct => drive("direct"),
            Feature::DiscSprings => drawbar(Drawbar::DiscSprings),
            Feature::GasSpring => drawbar(Drawbar::GasSpring),
            Feature::Hydraulic => drawbar(Drawbar::Hydraulic),
            Feature::Vertical => axis("vertical"),
            Feature::Horizontal => axis("horizontal"),
            Feature::SteepTaper => is_hsk().map(|hsk| !hsk),
            Feature::Hsk => is_hsk(),
            Feature::ThroughCoolant => spindle?.through_coolant,
            Feature::FaceContact => spindle?.face_contact,
            Feature::BeforePurchase => {
                let purpose = self.purpose.and_then(|word| word.parse().ok());
                Some(purpose == Some(Purpose::BeforePurchase))
            }
        }
    }

    fn is_for(&self, only: &[Feature]) -> bool {
        only.is_empty() || only.iter().any(|feature| self.has(*feature) != Some(false))
    }
}

impl ConditionList {
    /// Our own.
    ///
    /// # Errors
    /// Never: a test reads it.
    pub fn built_in() -> Result<Self, Error> {
        Self::read(BUILT_IN_NAME, BUILT_IN)
    }

    /// Somebody's own list.
    ///
    /// # Errors
    /// What is wrong with it, with its place: exit 4.
    pub fn read(name: &str, text: &str) -> Result<Self, Error> {
        const NEXT: &str = "holdtrue finding round --print-list shows how a list is written.";
        let list: Self = toml_file::parse(name, text, NEXT)?;
        let refuse = |found: String, expected: &str| {
            let refusal = Refusal {
                found: &found,
                expected,
                next: NEXT,
            };
            Err(Error::input(Place::file(name), refusal))
        };
        let mut known = BTreeSet::new();
        for item in list.assemblies.iter().flat_map(|assembly| &assembly.items) {
            if !known.insert(&item.id) {
                return refuse(format!("the id \"{}\" twice", item.id), "each id once");
            }
            let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
            if item.id.is_empty() || !item.id.chars().all(plain) {
                return refuse(
                    format!("the id \"{}\"", item.id),
                    "small letters, digits and hyphens",
                );
            }
            if item.short.chars().count() > SHORT || item.short.trim().is_empty() {
                return refuse(
                    format!("the short name \"{}\" of {}", item.short, item.id),
                    "1 to 13 signs: it is read from two metres",
                );
            }
        }
        let names: BTreeSet<_> = list.assemblies.iter().map(|each| &each.name).collect();
        if names.len() < list.assemblies.len() {
            return refuse("an assembly twice".to_owned(), "each assembly once");
        }
        if known.is_empty() {
            return refuse("no item".to_owned(), "one at least");
        }
        Ok(list)
    }

    /// Without what this machine does not have.
    #[must_use]
    pub fn for_machine(mut self, machine: &Machine) -> Self {
        self.assemblies
            .retain(|assembly| machine.is_for(&assembly.only));
        for assembly in &mut self.assemblies {
            assembly.items.retain(|item| machine.is_for(&item.only));
        }
        self.assemblies
            .retain(|assembly| !assembly.items.is_empty());
        self
    }

    /// These items alone; all of them where none is named. Those this machine does not have are left out.
    ///
    /// # Errors
    /// None of them is one of this machine's.
    pub fn only(mut self, ids: &[String]) -> Result<Self, String> {
        if ids.is_empty() {
            return Ok(self);
        }
        for assembly in &mut self.assemblies {
            assembly.items.retain(|item| ids.contains(&item.id));
        }
        self.assemblies
            .retain(|assembly| !assembly.items.is_empty());
        match self.assemblies.is_empty() {
            false => Ok(self),
            true => Err(format!(
                "--item: found {}, expected items of this machine: holdtrue finding round lists them",
                ids.join(", ")
            )),
        }
    }
}

/// Items of our own list that a round begun in this visit has left, and how many there are; none where no round was begun, or
/// by another list.
pub fn left_of_round(visit: &Visit) -> Option<(usize, usize)> {
    let there = our_items(visit);
    let left = there.values().filter(|answered| !**answered).count();
    (left < there.len()).then_some((left, there.len()))
}

/// Items of our own list that the machine of a visit has, by id: whether each was answered.
pub fn our_items(visit: &Visit) -> BTreeMap<String, bool> {
    let answered: BTreeSet<String> = findings(visit)
        .iter()
        .filter(|each| each.struck.is_none())
        .filter_map(|each| Estimate::of(&each.finding).round)
        .collect();
    let machine = Machine {
        spindle: visit.spindle.as_ref().map(|spindle| spindle.header()),
        purpose: visit.visit.header().purpose.as_deref(),
    };
    let list = ConditionList::built_in().map(|list| list.for_machine(&machine));
    let assemblies = list.into_iter().flat_map(|list| list.assemblies);
    assemblies
        .flat_map(|assembly| assembly.items)
        .map(|item| {
            let is_answered = answered.contains(&item.id);
            (item.id, is_answered)
        })
        .collect()
}

/// The same in words, where something is left.
pub fn left_words(visit: &Visit) -> Option<String> {
    let (left, all) = left_of_round(visit)?;
    (left > 0).then(|| format!("{left} of {all} items of the condition round are not answered: holdtrue finding round goes on there"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn ids(machine: &Machine) -> Vec<String> {
        let list = ConditionList::built_in().unwrap().for_machine(machine);
        let items = list.assemblies.into_iter().flat_map(|each| each.items);
        items.map(|item| item.id).collect()
    }

    #[test]
    fn a_question_and_its_caution_fit_under_the_word() {
        let list = ConditionList::built_in().unwrap();
        for item in list.assemblies.iter().flat_map(|each| &each.items) {
            let both = item.look.chars().count() + 1 + item.how.chars().count();
            assert!(both <= 150, "{}: {both}", item.id);
        }
    }

    #[test]
    fn what_a_machine_does_not_have_is_not_asked_and_what_nobody_knows_is() {
        let unknown = ids(&Machine::default());
        for shown in [
            "belt",
            "gearbox",
            "push-out",
            "drawbar-setting",
            "axis-drop",
            "rotary-union",
        ] {
            assert!(unknown.iter().any(|id| id == shown), "{shown}");
        }
        assert!(!unknown.iter().any(|id| id == "papers"));
        let spindle = SpindleHeader {
            taper: Some("HSK-A".to_owned()),
            drive: Some("belt".to_owned()),
            axis: Some("horizontal".to_owned()),
            through_coolant: Some(false),
            ..SpindleHeader::default()
        };
        let known = ids(&Machine {
            spindle: Some(&spindle),
            purpose: Some("before-purchase"),
        });
        for shown in ["belt", "drawbar-setting", "papers", "parameters"] {
            assert!(known.iter().any(|id| id == shown), "{shown}");
        }
        for hidden in ["gearbox", "push-out", "axis-drop", "rotary-union"] {
            assert!(!known.iter().any(|id| id == hidden), "{hidden}");
        }
    }
}
