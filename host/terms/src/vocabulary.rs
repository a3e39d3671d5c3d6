//! Closed vocabularies. In: a word as a book, a file or a person has it. Out: what it stands for, or an error with the word
//! and those that would do.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer, Serialize};

/// A word that is not in its vocabulary.
#[derive(Clone, Debug, thiserror::Error, PartialEq, Eq)]
#[error("found \"{found}\" for the {what}, expected {}", or(.expected))]
pub struct UnknownWord {
    /// What the vocabulary is of.
    pub what: &'static str,
    /// The word that was found.
    pub found: String,
    /// The words there are.
    pub expected: &'static [&'static str],
}

/// `light, standard or heavy`.
pub fn or(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

/// A closed set of words, each standing for one value.
pub trait Vocabulary: Copy + Eq + Serialize + DeserializeOwned + Send + Sync + 'static {
    /// What it is of, as a message names it.
    const WHAT: &'static str;
    /// Every value.
    const ALL: &'static [Self];
    /// Every word, in the same order.
    const WORDS: &'static [&'static str];

    /// As stored, and as machine-readable documents spell it.
    fn word(self) -> &'static str;

    /// As a person types it.
    fn typed(self) -> &'static str {
        self.word()
    }

    /// What it means, in a line.
    fn about(self) -> &'static str;

    /// The value a word stands for, spelled exactly so.
    ///
    /// # Errors
    /// A word that is not one of [`Self::WORDS`].
    fn from_word(word: &str) -> Result<Self, UnknownWord> {
        let found = Self::ALL.iter().find(|value| value.word() == word);
        found.copied().ok_or_else(|| UnknownWord {
            what: Self::WHAT,
            found: word.to_owned(),
            expected: Self::WORDS,
        })
    }
}

/// Reads a word of a document.
///
/// # Errors
/// No text, or a word that is not in the vocabulary.
pub fn deserialize<'de, V: Vocabulary, D: Deserializer<'de>>(from: D) -> Result<V, D::Error> {
    let word = String::deserialize(from)?;
    V::from_word(&word).map_err(|_| serde::de::Error::unknown_variant(&word, V::WORDS))
}

/// Makes an enum of words: its values, their words, what each means (its documentation), and serde by the word.
#[macro_export]
macro_rules! words {
    (
        $(#[$about:meta])*
        $name:ident is $what:literal $(, $default:ident unless said)? {
            $($(#[doc = $variant_about:literal])+ $variant:ident = $word:literal $(typed $typed:literal)?,)+
        }
    ) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum $name { $($(#[doc = $variant_about])+ $variant,)+ }

        impl $name {
            /// Every value.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// As stored, and as machine-readable documents spell it.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }
        }

        impl $crate::vocabulary::Vocabulary for $name {
            const WHAT: &'static str = $what;
            const ALL: &'static [Self] = Self::ALL;
            const WORDS: &'static [&'static str] = &[$($word),+];

            fn word(self) -> &'static str {
                self.word()
            }

            fn typed(self) -> &'static str {
                match self {
                    $($(Self::$variant => $typed,)?)+
                    #[allow(unreachable_patterns)]
                    other => other.word(),
                }
            }

            fn about(self) -> &'static str {
                match self { $(Self::$variant => concat!($($variant_about),+),)+ }.trim().trim_end_matches('.')
            }
        }

        $(impl Default for $name {
            fn default() -> Self {
                Self::$default
            }
        })?

        impl ::serde::Serialize for $name {
            fn serialize<S: ::serde::Serializer>(&self, to: S) -> ::std::result::Result<S::Ok, S::Error> {
                to.serialize_str(self.word())
            }
        }

        impl<'de> ::serde::Deserialize<'de> for $name {
            fn deserialize<D: ::serde::Deserializer<'de>>(from: D) -> ::std::result::Result<Self, D::Error> {
                $crate::vocabulary::deserialize(from)
            }
        }
    };
}

/// [`words!`], and read from text and written by exactly those words.
#[macro_export]
macro_rules! vocabulary {
    ($(#[$about:meta])* $name:ident is $($rest:tt)+) => {
        $crate::words! { $(#[$about])* $name is $($rest)+ }

        impl ::std::fmt::Display for $name {
            fn fmt(&self, f: &mut ::std::fmt::Formatter<'_>) -> ::std::fmt::Result {
                f.pad(self.word())
            }
        }

        impl ::std::str::FromStr for $name {
            type Err = $crate::vocabulary::UnknownWord;

            fn from_str(word: &str) -> ::std::result::Result<Self, Self::Err> {
                <Self as $crate::vocabulary::Vocabulary>::from_word(word)
            }
        }
    };
}

vocabulary! {
    /// In which state the spindle was measured. The two are never mixed: cleaning and greasing can lift the force by a
    /// third.
    State is "state of the spindle" {
        /// Wiped dry, nothing greased or adjusted yet.
        AsFound = "as_found" typed "as-found",
        /// After cleaning, greasing or repair.
        AsLeft = "as_left" typed "as-left",
    }
}

impl State {
    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::AsFound => "as found",
            Self::AsLeft => "as left",
        }
    }
}

vocabulary! {
    /// What was decided. *Undecided* is never spelt as a pass or a fail.
    Outcome is "outcome" {
        /// Within limit, at most 5 % risk that it is not.
        Accept = "accept",
        /// Outside limit, at most 5 % risk that it is within.
        Reject = "reject",
        /// Too close to the limit for this uncertainty, or a requirement for a decision is missing.
        Undecided = "undecided",
    }
}

vocabulary! {
    /// Where a figure comes from: the five words of limits files, documents, page and tests alike.
    Provenance is "provenance" {
        /// The machine or spindle maker's figure.
        Maker = "maker",
        /// Read from a named document.
        Published = "published",
        /// A document is named, its figure was not read.
        FromMemory = "from-memory",
        /// What technicians do.
        CommonPractice = "common-practice",
        /// Derived.
        Computed = "computed",
    }
}

impl Provenance {
    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::Maker => "maker",
            Self::Published => "published",
            Self::FromMemory => "from memory",
            Self::CommonPractice => "common practice, no source",
            Self::Computed => "computed",
        }
    }
}

vocabulary! {
    /// How urgent a finding is, the most urgent first.
    Severity is "urgency of a finding" {
        /// To be mended before the next run.
        BeforeUse = "before-use",
        /// Within weeks.
        Soon = "soon",
        /// At the next service.
        Later = "later",
        /// To know.
        Note = "note",
    }
}

impl Severity {
    /// The words a person reads.
    pub fn words(self) -> &'static str {
        match self {
            Self::BeforeUse => "before next run",
            Self::Soon => "within weeks",
            Self::Later => "next service",
            Self::Note => "note",
        }
    }
}

vocabulary! {
    /// What pulls the drawbar.
    Drawbar is "drawbar", Unknown unless said {
        /// Nobody knows: nothing is said about springs or leaks.
        Unknown = "unknown",
        /// A stack of disc springs.
        DiscSprings = "disc-springs",
        /// A gas spring.
        GasSpring = "gas-spring",
        /// Oil pressure.
        Hydraulic = "hydraulic",
    }
}

impl Drawbar {
    /// Those a person can name.
    pub const NAMED: &'static [Self] = &[Self::DiscSprings, Self::GasSpring, Self::Hydraulic];
}

vocabulary! {
    /// How strongly a spindle of an interface is sprung.
    Class is "class of the drawbar", Standard unless said {
        /// Lightly sprung.
        Light = "light",
        /// The usual one.
        Standard = "standard",
        /// Heavily sprung.
        Heavy = "heavy",
    }
}

vocabulary! {
    /// The surface the indicator stood on.
    At is "surface" {
        /// The wall of the taper.
        Wall = "wall",
        /// A test bar in the taper.
        Bar = "bar",
        /// The spindle's face or flange.
        Face = "face",
        /// The end of bar or spindle, along the axis.
        Axial = "axial",
    }
}

impl At {
    /// Whether readings there are across the axis.
    pub fn is_radial(self) -> bool {
        matches!(self, Self::Wall | Self::Bar)
    }
}

vocabulary! {
    /// What drives the spindle.
    Drive is "drive of the spindle" {
        /// Gears.
        Gearbox = "gearbox",
        /// A belt.
        Belt = "belt",
        /// The motor itself.
        Direct = "direct",
    }
}

vocabulary! {
    /// Which way the spindle points.
    Axis is "axis of the spindle" {
        /// Nose down.
        Vertical = "vertical",
        /// Nose to the side.
        Horizontal = "horizontal",
    }
}

vocabulary! {
    /// What a visit is for.
    Purpose is "purpose of the visit" {
        /// Pre-purchase inspection: somebody wants to buy the machine.
        BeforePurchase = "before-purchase",
        /// The machine is taken over.
        Acceptance = "acceptance",
        /// The machine is looked after.
        Service = "service",
        /// The spindle was repaired.
        AfterRepair = "after-repair",
        /// No machine at all.
        Rehearsal = "rehearsal",
    }
}

vocabulary! {
    /// What happened to a spindle beside the visits.
    Happened is "event" {
        /// The disc springs or the gas spring were changed.
        SpringsChanged = "springs-changed",
        /// The gripper was changed.
        GripperChanged = "gripper-changed",
        /// The whole spindle was changed.
        SpindleChanged = "spindle-changed",
        /// The drawbar was set anew.
        DrawbarAdjusted = "drawbar-adjusted",
        /// Taper and gripper were cleaned.
        Cleaned = "cleaned",
        /// Gripper and drawbar were greased.
        Greased = "greased",
        /// The gauge got another retention knob.
        KnobChanged = "knob-changed",
        /// Another gauge is used.
        GaugeChanged = "gauge-changed",
        /// The control, or its memory, was replaced: its counters began anew.
        ControlReplaced = "control-replaced",
        /// Anything else; the text says what.
        Other = "other",
    }
}

impl Happened {
    /// Whether the spindle is another one for its figures from here on: figures of both sides are not one series.
    pub fn breaks_series(self) -> bool {
        matches!(
            self,
            Self::SpringsChanged
                | Self::GripperChanged
                | Self::SpindleChanged
                | Self::DrawbarAdjusted
        )
    }

    /// As a person reads it.
    pub fn words(self) -> &'static str {
        match self {
            Self::SpringsChanged => "springs changed",
            Self::GripperChanged => "gripper changed",
            Self::SpindleChanged => "spindle changed",
            Self::DrawbarAdjusted => "drawbar adjusted",
            Self::Cleaned => "cleaned",
            Self::Greased => "greased",
            Self::KnobChanged => "retention knob of the gauge changed",
            Self::GaugeChanged => "force gauge changed",
            Self::ControlReplaced => "control replaced",
            Self::Other => "other",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn holds_together<V: Vocabulary + std::fmt::Debug>() {
        assert_eq!(V::ALL.len(), V::WORDS.len());
        for (&value, &word) in V::ALL.iter().zip(V::WORDS) {
            assert_eq!(value.word(), word);
            assert_eq!(V::from_word(word), Ok(value));
            let json = serde_json::to_string(&value).unwrap();
            assert_eq!(json, format!("\"{word}\""));
            assert_eq!(serde_json::from_str::<V>(&json).unwrap(), value);
            assert!(!value.about().is_empty() && !value.about().ends_with('.'));
        }
        let unknown = V::from_word("no such word").unwrap_err().to_string();
        let json = serde_json::from_str::<V>("\"no such word\"").unwrap_err();
        for message in [unknown, json.to_string()] {
            assert!(message.contains("no such word"), "{message}");
            for word in V::WORDS {
                assert!(message.contains(word), "{message}");
            }
        }
    }

    #[test]
    fn every_word_reads_back_and_an_unknown_one_is_named() {
        holds_together::<State>();
        holds_together::<Outcome>();
        holds_together::<Provenance>();
        holds_together::<Severity>();
        holds_together::<Drawbar>();
        holds_together::<Class>();
        holds_together::<At>();
        holds_together::<Drive>();
        holds_together::<Axis>();
        holds_together::<Purpose>();
        holds_together::<Happened>();
        holds_together::<crate::units::ForceUnit>();
        holds_together::<crate::units::LengthUnit>();
    }

    #[test]
    fn the_words_there_are_stand_in_the_error() {
        assert_eq!(
            "hard".parse::<Class>().unwrap_err().to_string(),
            "found \"hard\" for the class of the drawbar, expected light, standard or heavy"
        );
    }
}
