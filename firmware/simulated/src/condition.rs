//! In: the name of a condition, or a mix of faults. Out: how strongly each physical fault is present.
//! Only the world reads this; nothing of it ever reaches the wire.

use std::fmt;
use std::str::FromStr;

/// A named state of a spindle, as chosen on the command line of a rehearsal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Condition {
    /// Nothing wrong.
    Sound,
    /// Broken or tired disc springs.
    WeakSprings,
    /// Drawbar or gripper sticking, freeing itself with use.
    Sticky,
    /// Hydraulically held drawbar that loses pressure while it holds.
    Leaking,
    /// Gripper fingers worn unevenly.
    WornGripper,
    /// Drawbar set too far forward: low force, pushed out too far.
    DrawbarSetting,
    /// Unclamp cylinder neither fully forward nor fully back: low force, pushed out too little.
    UnclampCylinder,
    /// Loose dirt in the taper: another position at every seating.
    DirtyTaper,
    /// The test bar is bent, the spindle is not.
    BentTestBar,
    /// The taper's axis is tilted against the axis of rotation.
    TiltedTaper,
}

impl Condition {
    /// All of them, in the order they are listed to a person.
    pub const ALL: [Self; 10] = [
        Self::Sound,
        Self::WeakSprings,
        Self::Sticky,
        Self::Leaking,
        Self::WornGripper,
        Self::DrawbarSetting,
        Self::UnclampCylinder,
        Self::DirtyTaper,
        Self::BentTestBar,
        Self::TiltedTaper,
    ];

    /// Name on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sound => "sound",
            Self::WeakSprings => "weak-springs",
            Self::Sticky => "sticky",
            Self::Leaking => "leaking",
            Self::WornGripper => "worn-gripper",
            Self::DrawbarSetting => "drawbar-setting",
            Self::UnclampCylinder => "unclamp-cylinder",
            Self::DirtyTaper => "dirty-taper",
            Self::BentTestBar => "bent-test-bar",
            Self::TiltedTaper => "tilted-taper",
        }
    }

    /// The faults that make this condition, each at the strength asked for.
    pub fn faults(self, severity: Severity) -> Faults {
        let none = Faults::default();
        match self {
            Self::Sound => none,
            Self::WeakSprings => Faults {
                weak_springs: severity,
                ..none
            },
            Self::Sticky => Faults {
                sticking: severity,
                ..none
            },
            Self::Leaking => Faults {
                leaking: severity,
                hold: Hold::Hydraulic,
                ..none
            },
            Self::WornGripper => Faults {
                worn_gripper: severity,
                ..none
            },
            Self::DrawbarSetting => Faults {
                setting: severity,
                ..none
            },
            Self::UnclampCylinder => Faults {
                unclamp_cylinder: severity,
                ..none
            },
            Self::DirtyTaper => Faults {
                loose_dirt: severity,
                ..none
            },
            Self::BentTestBar => Faults {
                bent_bar: severity,
                ..none
            },
            Self::TiltedTaper => Faults {
                tilted_taper: severity,
                ..none
            },
        }
    }
}

impl fmt::Display for Condition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A condition's name that is none of ours.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownCondition(pub String);

impl fmt::Display for UnknownCondition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known: Vec<&str> = Condition::ALL
            .iter()
            .map(|condition| condition.name())
            .collect();
        write!(
            f,
            "condition \"{}\" is not known; choose one of {}",
            self.0,
            known.join(", ")
        )
    }
}

impl std::error::Error for UnknownCondition {}

impl FromStr for Condition {
    type Err = UnknownCondition;

    fn from_str(name: &str) -> Result<Self, UnknownCondition> {
        Self::ALL
            .into_iter()
            .find(|condition| condition.name() == name)
            .ok_or_else(|| UnknownCondition(name.to_owned()))
    }
}

/// How strongly a fault is present: 0 is a machine in order, 1 a fault nobody would argue about.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Severity(f64);

impl Severity {
    /// Not there.
    pub const NONE: Self = Self(0.0);
    /// There, but a technician could miss it: a third of a clear fault.
    pub const MILD: Self = Self(0.33);
    /// Beyond argument.
    pub const CLEAR: Self = Self(1.0);

    /// A severity between [`Severity::NONE`] and [`Severity::CLEAR`]; what lies outside is brought to the nearer end.
    pub fn new(share: f64) -> Self {
        Self(if share.is_finite() {
            share.clamp(0.0, 1.0)
        } else {
            0.0
        })
    }

    /// Share of a clear fault, 0 to 1.
    pub const fn share(self) -> f64 {
        self.0
    }
}

/// What holds the tool.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Hold {
    /// A stack of disc springs, the usual build.
    #[default]
    DiscSprings,
    /// A gas spring: flat, without the friction of a stack.
    GasSpring,
    /// Oil under pressure behind a check valve.
    Hydraulic,
}

/// A machine's faults: any mix, each with its own strength.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Faults {
    /// What holds the tool.
    pub hold: Hold,
    /// Broken or set springs; lost gas; low pressure.
    pub weak_springs: Severity,
    /// Friction of drawbar and gripper that eases clamp by clamp.
    pub sticking: Severity,
    /// Grease squeezed out by weeks of standing: gone after the first clamp.
    pub standing: Severity,
    /// Pressure lost while holding. Only an oil-held drawbar can have it.
    pub leaking: Severity,
    /// Release unit of a spring drawbar creeping forward while it holds.
    pub release_creep: Severity,
    /// Fingers worn unevenly.
    pub worn_gripper: Severity,
    /// Knob or gripper not square: the pull is off the axis.
    pub off_axis: Severity,
    /// Drawbar set too far back: more preload than the maker wants.
    pub set_too_far: Severity,
    /// Drawbar set too far forward.
    pub setting: Severity,
    /// Unclamp cylinder that comes neither fully forward nor fully back.
    pub unclamp_cylinder: Severity,
    /// Cold gauge in a warm spindle.
    pub gauge_warming: Severity,
    /// Loose dirt in the taper.
    pub loose_dirt: Severity,
    /// A raised spot or dirt baked onto the taper.
    pub stuck_dirt: Severity,
    /// Test bar bent.
    pub bent_bar: Severity,
    /// Taper's axis tilted.
    pub tilted_taper: Severity,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_reads_back() {
        for condition in Condition::ALL {
            assert_eq!(condition.name().parse(), Ok(condition));
        }
        let refused = "rusty".parse::<Condition>().unwrap_err().to_string();
        assert!(
            refused.contains("rusty") && refused.contains("worn-gripper"),
            "{refused}"
        );
    }

    #[test]
    fn severity_stays_between_none_and_clear() {
        assert_eq!(Severity::new(7.0), Severity::CLEAR);
        assert_eq!(Severity::new(-1.0), Severity::NONE);
        assert_eq!(Severity::new(f64::NAN), Severity::NONE);
    }
}
