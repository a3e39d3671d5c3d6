//! In: what is about to be done at the machine. Out: the cautions that belong to it, in a fixed wording that can be stored.

/// Stands above everything this program says or prints about a machine.
pub const FIRST_LINE: &str = "Local codes and site rules, the machine maker's instructions, and licensed or qualified \
practice come before anything this program says.";

/// What is energised while somebody works at the spindle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MachineState {
    /// Live, only to clamp and unclamp.
    Live,
    /// Isolated and locked out, for everything else.
    Isolated,
}

impl MachineState {
    /// Name in the book.
    pub fn name(self) -> &'static str {
        match self {
            Self::Live => "machine-live",
            Self::Isolated => "machine-isolated",
        }
    }

    /// Heading on screen.
    pub fn heading(self) -> &'static str {
        match self {
            Self::Live => "MACHINE LIVE, only to clamp and unclamp",
            Self::Isolated => {
                "MACHINE ISOLATED AND LOCKED OUT, for looking, wiping, hand turning, indicators"
            }
        }
    }

    /// Its name in one line.
    pub fn short(self) -> &'static str {
        match self {
            Self::Live => "live",
            Self::Isolated => "isolated and locked out",
        }
    }

    /// The cautions, most dangerous first.
    pub fn cautions(self) -> &'static [&'static str] {
        match self {
            Self::Live => LIVE,
            Self::Isolated => ISOLATED,
        }
    }
}

const LIVE: &[&str] = &[
    "Spindle stopped, start inhibited. No tool-change and no orientation command until the visit is over: the changer would drive into an occupied nose.",
    "Live only to unclamp and clamp. For wiping, looking, turning by hand and setting an indicator: isolated and locked out again first.",
    "Never put fingers inside the taper while it is unclamped: if air or pressure fails, the gripper closes with full force. Wipe with a stick.",
    "Unclamping pushes the shank out hard. Soft cradle below force gauge or bar with 5 to 10 mm of air; never let it stand on the table or a block.",
    "Unclamping with no tool in can damage some spindles: ask first.",
    "Whoever holds force gauge or bar also presses unclamp, nobody else; the operator stands away from the panel. Hold the body from below, never between flange and nose.",
    "Heavier than about 5 kg, or a horizontal spindle: cradle, not hand. Eye protection against air blast and coolant.",
    "Shank, retention knob (pull stud) and rated load must fit this spindle before the first clamp: a spring drawbar cannot be stopped part-way.",
];

/// Where something reads the gauge's end face while it is clamped.
pub const END_FACE: &str = "A tip on the gauge's end face: on unclamping the gauge may drop 5 to 10 mm into its cradle. The tip has \
that travel, or stands clear; set it while isolated and locked out, and no hand goes near it while the machine is live.";

const ISOLATED: &[&str] = &[
    "Isolated and locked out by authorised persons under the site's procedure. Stored spring, air and accumulator energy remains.",
    "Heads and suspended axes propped by the maker's method with rated supports; otherwise stay out.",
    "Turn by hand at the nose or the drive keys, never by the bar. Never run the spindle with force gauge or test bar in the nose.",
    "The bar is not unclamped or clamped in this state: before each seating you are asked to make the machine live, and after it to isolate it again.",
];

/// Heading of the cautions for putting a known load on the gauge.
pub const STANDARD_HEADING: &str = "A KNOWN LOAD ON THE GAUGE, away from the spindle";

/// Cautions for putting a known load on the gauge, most dangerous first.
pub const STANDARD: &[&str] = &[
    "Know what loads it: a frame, stand or press made for it, checked by a qualified person, with its guard closed. A stack of springs or a hanging weight that lets go flies or falls.",
    "Hands and face out of the line of pull and from under the load; eye protection.",
    "The load is well below the rated load of gauge and stand, and goes through the gauge's own knob and shank, in line.",
    "Load slowly, let it stand, take it off slowly. Nobody touches gauge or cable while it is read.",
];

/// Heading of the cautions for the press.
pub const PRESS_HEADING: &str = "THE GAUGE IN A PRESS, up to its rated load";

/// Cautions for calibrating in a press, most dangerous first.
pub const PRESS: &[&str] = &[
    "A press made and guarded for this, its guard closed while it pulls, run by somebody instructed on it. What breaks under load flies.",
    "A fixture somebody built is checked by a qualified person before its first load, and proof-loaded by their rule.",
    "Hands and face out of the line of pull; eye protection. Nobody reaches in to turn the gauge before the load is off and the press cannot start.",
    "Gauge, retention knob, reference cell and press are each rated for the highest load; in line, through the gauge's own knob and shank.",
    "Load slowly and never beyond what is asked for: the gauge keeps every overload.",
];

/// Stands below every verdict on screen.
pub const LAST_LINE: &str =
    "This supports a decision by a qualified person; it is not an approval to run.";
