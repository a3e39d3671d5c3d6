//! Tapers. In: a name as people write it, such as `BT40` or `hsk a63`. Out: the interface, or which names are known.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// The family of a spindle interface.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Family {
    /// Steep taper 7/24.
    SteepTaper,
    /// Hollow shank taper 1:10 with its form letter, A to F.
    HollowTaper(char),
}

/// A spindle interface, written `7/24-40` or `HSK-A63`; `7/24-40 BT` where the shank form is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Interface {
    /// The family.
    pub family: Family,
    /// Taper number, or flange diameter in mm.
    pub size: u32,
    /// Shank form of a steep taper, as it was named. Forms share the cone, not flange, length or knob.
    pub shank: Option<Shank>,
}

/// A shank form a steep taper is named by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Shank(&'static str);

impl Shank {
    /// As it is written.
    pub fn name(self) -> &'static str {
        self.0
    }
}

/// Shank forms a steep taper is named by.
const SHANKS: [&str; 8] = ["BT", "SK", "CAT", "ISO", "CV", "DV", "NT", "NMTB"];

/// The family of steep tapers.
const STEEP: &str = "7/24";

/// Steep tapers: their numbers.
const STEEP_SIZES: [u32; 4] = [30, 40, 45, 50];

/// Hollow tapers: their sizes, mm.
const HOLLOW_SIZES: [u32; 9] = [25, 32, 40, 50, 63, 80, 100, 125, 160];

/// What is written is no interface known here.
#[derive(Clone, Debug, thiserror::Error, PartialEq, Eq)]
#[error("{}", self.told())]
pub struct UnknownInterface(String);

impl UnknownInterface {
    fn told(&self) -> String {
        let bare: String = self.0.chars().filter(char::is_ascii_alphanumeric).collect();
        let size = bare.to_ascii_uppercase();
        if let Some(size) = size
            .strip_prefix("HSK")
            .and_then(|size| size.parse::<u32>().ok())
            && HOLLOW_SIZES.contains(&size)
        {
            return format!(
                "\"{}\" lacks the letter of its form: write HSK-A{size}, HSK-C{size}, HSK-E{size} or HSK-F{size}, as it stands in the \
                 papers of the machine",
                self.0
            );
        }
        format!(
            "\"{}\" is no taper known here; known are 7/24-30, -40, -45 and -50 (also as BT40, SK40, CAT40, ISO40, CV40, DV40, NT40 \
             or NMTB40) and HSK forms A to F with sizes 25 to 160, such as HSK-A63. For any other kind leave the taper out: the widest \
             of the usual allowances are used then",
            self.0
        )
    }
}

impl Interface {
    /// A hollow taper grips by a wedge: its limits and warnings differ from a steep taper's.
    pub fn is_hollow(self) -> bool {
        matches!(self.family, Family::HollowTaper(_))
    }

    /// The family as a book keeps it beside the size: `7/24` or `HSK-A`.
    pub fn family_name(self) -> String {
        match self.family {
            Family::SteepTaper => STEEP.to_owned(),
            Family::HollowTaper(form) => format!("HSK-{form}"),
        }
    }

    /// Forms B, D and F carry the taper of one size smaller; DIN 69893-5/-6, from memory.
    pub fn taper_size(self) -> u32 {
        let smaller = matches!(self.family, Family::HollowTaper('B' | 'D' | 'F'));
        let place = HOLLOW_SIZES.iter().position(|&size| size == self.size);
        place
            .and_then(|place| {
                HOLLOW_SIZES
                    .get(place.checked_sub(usize::from(smaller))?)
                    .copied()
            })
            .unwrap_or(self.size)
    }
}

/// The name of a taper from what a book keeps of it, as far as that goes: `7/24-40 BT`, `HSK-A63`, `7/24`.
pub fn name_of_parts(family: &str, size: Option<u16>, shank: Option<&str>) -> String {
    let between = if family == STEEP { "-" } else { "" };
    let size = size.map_or_else(String::new, |size| format!("{between}{size}"));
    let shank = shank.map_or_else(String::new, |shank| format!(" {shank}"));
    format!("{family}{size}{shank}")
}

impl fmt::Display for Interface {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.family, self.shank) {
            (Family::SteepTaper, None) => write!(f, "7/24-{}", self.size),
            (Family::SteepTaper, Some(shank)) => write!(f, "7/24-{} {}", self.size, shank.name()),
            (Family::HollowTaper(form), _) => write!(f, "HSK-{form}{}", self.size),
        }
    }
}

/// Trade names in any case, with or without blanks and dashes: `7/24 no. 40`, `BT40`, `SK 40`, `CAT-40`, `hsk a63`.
impl FromStr for Interface {
    type Err = UnknownInterface;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let bare: String = text
            .to_uppercase()
            .chars()
            .filter(|c| !matches!(c, ' ' | '-' | '.' | '_' | '#' | '(' | ')'))
            .collect();
        hollow_named(&bare)
            .or_else(|| steep_named(&bare))
            .ok_or_else(|| UnknownInterface(text.to_owned()))
    }
}

fn hollow_named(bare: &str) -> Option<Interface> {
    let rest = bare.strip_prefix("HSK")?;
    let form = rest.chars().find(|c| ('A'..='F').contains(c))?;
    let size = rest
        .strip_prefix(form)
        .or_else(|| rest.strip_suffix(form))?;
    let size = known_size(size, &HOLLOW_SIZES)?;
    Some(Interface {
        family: Family::HollowTaper(form),
        size,
        shank: None,
    })
}

/// `7/24` or a shank form with the number, or all three.
fn steep_named(bare: &str) -> Option<Interface> {
    let steep = bare.strip_prefix(STEEP);
    let rest = steep.unwrap_or(bare);
    let without = |form| rest.strip_prefix(form).or_else(|| rest.strip_suffix(form));
    let named = SHANKS
        .into_iter()
        .find_map(|form| Some((form, without(form)?)));
    let shank = named.map(|(form, _)| Shank(form));
    // "A 40 taper" is a steep one to whoever says it; a bare 40 may be the size of a hollow one.
    let spoken = || {
        rest.strip_suffix("TAPER")
            .or_else(|| rest.strip_prefix("TAPER"))
    };
    let number = match named {
        Some((_, number)) => number,
        None => steep.or_else(spoken)?,
    };
    let number = number.strip_prefix("NO").unwrap_or(number);
    Some(Interface {
        family: Family::SteepTaper,
        size: known_size(number, &STEEP_SIZES)?,
        shank,
    })
}

fn known_size(digits: &str, known: &[u32]) -> Option<u32> {
    let size = digits.parse().ok()?;
    known.contains(&size).then_some(size)
}

impl TryFrom<String> for Interface {
    type Error = UnknownInterface;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        text.parse()
    }
}

impl From<Interface> for String {
    fn from(interface: Interface) -> Self {
        interface.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hollow_taper_without_its_form_is_asked_for_that() {
        for bare in ["HSK63", "hsk-63", "HSK 100"] {
            let why = bare.parse::<Interface>().expect_err(bare).to_string();
            assert!(why.contains("lacks the letter of its form"), "{why}");
        }
        let why = "HSK64"
            .parse::<Interface>()
            .expect_err("no size")
            .to_string();
        assert!(why.contains("no taper known here"), "{why}");
    }

    #[test]
    fn an_interface_reads_back_as_it_is_written() {
        for (written, clean) in [
            ("7/24 no. 40", "7/24-40"),
            ("7/24-50", "7/24-50"),
            ("7/24 #45", "7/24-45"),
            ("BT40", "7/24-40 BT"),
            ("bt-30", "7/24-30 BT"),
            ("SK 40", "7/24-40 SK"),
            ("CAT-40", "7/24-40 CAT"),
            ("cat 50", "7/24-50 CAT"),
            ("ISO40", "7/24-40 ISO"),
            ("nt no. 40", "7/24-40 NT"),
            ("NMTB 50", "7/24-50 NMTB"),
            ("40 taper", "7/24-40"),
            ("40-Taper", "7/24-40"),
            ("taper no. 50", "7/24-50"),
            ("Taper #30", "7/24-30"),
            ("7/24-40 BT", "7/24-40 BT"),
            ("7/24 BT 40", "7/24-40 BT"),
            ("hsk a63", "HSK-A63"),
            ("HSK63A", "HSK-A63"),
            ("hsk-63-a", "HSK-A63"),
            ("HSK-A 63", "HSK-A63"),
            ("HSK100A", "HSK-A100"),
            ("HSK-F63", "HSK-F63"),
        ] {
            let read: Interface = written.parse().unwrap();
            assert_eq!(read.to_string(), clean);
            assert_eq!(clean.parse(), Ok(read));
            let size = u16::try_from(read.size).unwrap();
            let shank = read.shank.map(Shank::name);
            assert_eq!(name_of_parts(&read.family_name(), Some(size), shank), clean);
        }
        for wrong in [
            "40", "HSK-G63", "HSK-A60", "7/24", "7/24-60", "7/24-35", "BT", "BT4", "MT4", "",
            "HSK-A", "HSK",
        ] {
            let error = wrong.parse::<Interface>().unwrap_err().to_string();
            assert!(
                error.contains("7/24-30") && error.contains("HSK-A63"),
                "{error}"
            );
        }
    }
}
