//! The messages: what the gauge says ([`FromGauge`]) and what the host says ([`ToGauge`]).
//!
//! A released message never changes. New variants are added at the end of an enum; a reader that meets
//! a discriminant it does not know skips that frame and says so. `tests/golden.rs` pins every byte.

use heapless::{String, Vec};
use serde::{Deserialize, Serialize};

/// Wire version this crate speaks. A newer *major* is refused by the host; a newer *minor* is read.
pub const WIRE_MAJOR: u8 = 1;
/// Minor wire version: raised when a variant is added.
pub const WIRE_MINOR: u8 = 4;

/// Everything a gauge can send. [`FromGauge::Hello`] keeps discriminant 0 and its first two fields for ever,
/// so that any host can tell which version it is talking to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum FromGauge<'a> {
    /// Who I am; once a second while idle, and as the answer to [`Command::Identify`].
    Hello(Hello),
    /// A run of samples of one kind, evenly clocked by the converter.
    #[serde(borrow)]
    Block(Block<'a>),
    /// The once-per-turn mark changed level (debounced).
    Mark(MarkEdge),
    /// A reading clocked out of a digital indicator.
    Indicator(IndicatorReading),
    /// A fault began or ended.
    Fault(FaultChange),
    /// The answer to one request.
    Answer(Answer),
    /// The push button at the gauge was pressed (debounced). Since 1.1.
    Pressed(Press),
}

/// Everything a host can send.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum ToGauge {
    /// A numbered request; answered or refused exactly once.
    Request(Request),
}

/// One request of the host.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Request {
    /// Chosen by the host; comes back in the [`Answer`].
    pub id: u16,
    /// What is asked.
    pub command: Command,
}

/// What a host can ask of a gauge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Command {
    /// Say who you are: answered with [`Reply::Identity`].
    Identify,
    /// Start streaming.
    Start {
        /// Samples per second asked for; the converter's nearest setting must equal it or the request is refused.
        rate_hz: u16,
        /// Channels to stream; must be fitted.
        channels: Channels,
    },
    /// Stop streaming.
    Stop,
    /// Read the newest valid calibration record of a channel.
    ReadCalibration(Channel),
    /// Store a calibration record. Refused while streaming.
    WriteCalibration(CalibrationRecord),
    /// Run one self-test. Refused while streaming.
    SelfTest(SelfTest),
    /// Nothing to do, but answer: shows that both ends live. Streaming stops when none comes for [`KEEP_ALIVE_LIMIT_US`].
    KeepAlive,
    /// Show a signal on the gauge's light.
    Show(Signal),
    /// Read the stored overload history.
    ReadOverloads,
    /// Say what you are built from: answered with [`Reply::Hardware`]. Since 1.2.
    ReadHardware,
    /// What was the stored calibration of a channel made on? Answered with [`Reply::Binding`]. Since 1.2.
    ReadBinding(Channel),
    /// Store a calibration record with what it was made on. Refused while streaming, and for other hardware than the
    /// gauge's own. Since 1.2.
    WriteBound(BoundRecord),
    /// Read the stops of the program that the gauge remembers. Since 1.3.
    ReadStops,
    /// Leave for the chip's own boot mode, which takes another image: answered with [`Reply::BootMode`]. Refused while
    /// streaming. Since 1.3.
    EnterBootMode,
}

/// A streaming gauge that hears nothing from its host for this long stops by itself.
pub const KEEP_ALIVE_LIMIT_US: u64 = 10_000_000;

/// The answer to the request with the same `id`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Answer {
    /// The request's number.
    pub id: u16,
    /// Done, or refused with the reason.
    pub outcome: Result<Reply, Refusal>,
}

/// What was done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Reply {
    /// Who the gauge is.
    Identity(Hello),
    /// Streaming has begun; sample 0 is the first after this answer.
    Started {
        /// Boot number all blocks of this stream carry.
        boot: u32,
        /// Nominal rate; the true rate follows from the block stamps.
        rate_hz: u16,
        /// Channels in the stream.
        channels: Channels,
    },
    /// Streaming has ended.
    Stopped {
        /// Samples taken since the start, sent or not.
        samples: u64,
        /// Blocks dropped since the start because the link could not keep up.
        blocks_dropped: u32,
    },
    /// The stored calibration.
    Calibration(CalibrationRecord),
    /// The record is stored and read back equal.
    Stored,
    /// What a self-test found.
    SelfTest(SelfTestResult),
    /// Alive, with the gauge's clock.
    Alive {
        /// Microseconds since boot.
        at_us: u64,
    },
    /// The light shows the signal.
    Shown,
    /// Overload history, oldest first.
    Overloads(Vec<Overload, 8>),
    /// What the gauge is built from. Since 1.2.
    Hardware(Hardware),
    /// What the stored record was made on; none of a record that was stored without. Since 1.2.
    Binding(Option<Binding>),
    /// Stops of the program, oldest first. Since 1.3.
    Stops(Vec<Stop, 4>),
    /// The gauge leaves for its boot mode once this is on its way. Since 1.3.
    BootMode,
}

/// Why a request was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Refusal {
    /// The frame was whole but its command is not known to this firmware.
    UnknownCommand,
    /// Not while streaming: stop first.
    Streaming,
    /// Nothing to stop.
    NotStreaming,
    /// This gauge has no such channel.
    NotFitted,
    /// The converter has no such rate.
    NoSuchRate {
        /// The nearest rate it has.
        nearest_hz: u16,
    },
    /// The calibration record contradicts itself or is too long.
    BadRecord,
    /// Nothing stored for this channel.
    NoRecord,
    /// The store failed to take the record.
    StoreFailed,
    /// The converter did not answer in time.
    AdcSilent,
    /// A self-test is still running.
    Busy,
    /// The record was made on other hardware than this gauge's. Since 1.2.
    OtherHardware,
    /// The board has no boot mode that a program could enter. Since 1.3.
    NoBootMode,
    /// The supply is too low to write the flash: nothing was written by this step. Since 1.4.
    SupplyLow {
        /// What the supply is at least, millivolts.
        millivolts: u16,
    },
}

/// Who a gauge is, and since when.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hello {
    /// [`WIRE_MAJOR`] of the firmware.
    pub wire_major: u8,
    /// [`WIRE_MINOR`] of the firmware.
    pub wire_minor: u8,
    /// Counts power-ups and resets: samples of two boots are never joined.
    pub boot: u32,
    /// Serial number, as printed on the gauge.
    pub serial: String<16>,
    /// Firmware version.
    pub firmware: String<16>,
    /// Why the gauge last started.
    pub reset: ResetCause,
    /// Channels this gauge has.
    pub fitted: Channels,
    /// Displacement per count of the incremental probe, nanometres; 0 when none is fitted.
    pub probe_nm_per_count: u32,
    /// Microseconds since boot.
    pub at_us: u64,
    /// Whether it is streaming now.
    pub streaming: bool,
}

/// What a gauge is built from, as far as its counts depend on it. Since 1.2.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hardware {
    /// Which image runs: CRC-32 of the program as it lies in the gauge's memory.
    pub build: u32,
    /// The load cell's converter; none in a gauge without a load cell.
    pub converter: Option<Converter>,
}

/// What turns the load cell's signal into counts. Since 1.2.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Converter {
    /// Its type.
    pub kind: String<12>,
    /// Number of the board it belongs to, as the board's maker gave it: the converter itself has none.
    pub board: [u8; 8],
    /// Gain the load cell is read with: full scale is the reference divided by it.
    pub gain: u16,
    /// What the counts are a share of.
    pub reference: Reference,
}

/// What a converter compares the load cell's signal with. Since 1.2.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Reference {
    /// The bridge's own supply, which cancels.
    Bridge,
    /// A voltage of the converter's own.
    Internal,
    /// A voltage brought to it.
    External,
    /// The converter's supply.
    Supply,
}

/// Why a gauge last started.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ResetCause {
    /// Power came.
    PowerOn,
    /// The watchdog bit: the firmware had stopped.
    Watchdog,
    /// Reset on request or by a debugger.
    Requested,
    /// Not known.
    Unknown,
}

/// The program of the gauge stopped by itself, and the watchdog restarted it. Since 1.3.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stop {
    /// Boot number of the run that stopped.
    pub boot: u32,
    /// When it was last known to run, microseconds since that boot; 0 where that is not known.
    pub at_us: u64,
    /// Image that stopped, as in [`Hardware::build`].
    pub build: u32,
    /// How it stopped.
    pub cause: StopCause,
    /// Where in that image, as addresses, the innermost first; empty where that is not known.
    pub trail: Vec<u32, 4>,
}

/// How a program stopped. Since 1.3.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum StopCause {
    /// It found something that cannot be, and gave up.
    Panic,
    /// The processor could not go on.
    Fault,
    /// Its main loop no longer came round.
    MainLoop,
    /// The part that reads the converter no longer ran.
    Converter,
}

/// A measuring channel that can carry a calibration.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Channel {
    /// Load cell through the bridge converter.
    Force,
    /// Incremental displacement probe.
    Displacement,
    /// Digital indicator.
    Indicator,
}

/// A set of channels.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Channels {
    /// Load cell counts in every sample.
    pub force: bool,
    /// Incremental probe counts in every sample.
    pub displacement: bool,
    /// Edges of the once-per-turn mark, as [`FromGauge::Mark`].
    pub mark: bool,
    /// Digital indicator readings, as [`FromGauge::Indicator`].
    pub indicator: bool,
}

/// A run of consecutive samples with one set of channels and one fault state.
///
/// The samples are numbered `first_sample ..`, taken at times that run evenly from `first_us` to `last_us`.
/// `data` holds them delta-coded, see [`crate::block`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Block<'a> {
    /// Boot number.
    pub boot: u32,
    /// Number of the first sample since the start command.
    pub first_sample: u64,
    /// When the first sample was ready, microseconds since boot.
    pub first_us: u64,
    /// When the last sample was ready.
    pub last_us: u64,
    /// How many samples.
    pub count: u8,
    /// Whether each sample carries force counts.
    pub force: bool,
    /// Whether each sample carries displacement counts.
    pub displacement: bool,
    /// Faults in force during the whole block; a block is closed where this changes.
    pub faults: Faults,
    /// Delta-coded samples.
    pub data: &'a [u8],
}

/// Set of faults, one bit for each [`Fault`] at `1 << discriminant`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Faults(pub u16);

impl Faults {
    /// Whether this fault is in the set.
    #[must_use]
    pub const fn contains(self, fault: Fault) -> bool {
        self.0 & (1 << fault as u16) != 0
    }
}

/// What can be wrong with a gauge while it measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Fault {
    /// The converter stopped giving data.
    AdcSilent,
    /// A bridge wire is open.
    OpenBridge,
    /// The converter is at the end of its range.
    Saturated,
    /// The force is beyond the calibrated overload limit.
    Overload,
    /// The probe stepped in a way an A/B encoder cannot: counts were lost.
    ProbeStep,
    /// The indicator sends nothing.
    IndicatorSilent,
    /// The indicator sent something that is not a reading.
    IndicatorGarbled,
}

/// A fault began or ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FaultChange {
    /// Boot number.
    pub boot: u32,
    /// First sample affected, or first free of it again.
    pub at_sample: u64,
    /// Microseconds since boot.
    pub at_us: u64,
    /// Which.
    pub fault: Fault,
    /// `true` when it begins.
    pub active: bool,
}

/// An edge of the once-per-turn mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MarkEdge {
    /// Boot number.
    pub boot: u32,
    /// Counts edges since the start command, so that a lost one is seen.
    pub number: u32,
    /// When, microseconds since boot.
    pub at_us: u64,
    /// `true` for the rising edge.
    pub rising: bool,
}

/// A reading clocked out of a digital indicator, as its display would show it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct IndicatorReading {
    /// Boot number.
    pub boot: u32,
    /// Counts readings since the start command.
    pub number: u32,
    /// When the frame began, microseconds since boot.
    pub at_us: u64,
    /// The six digits with their sign.
    pub digits: i32,
    /// Digits after the decimal point.
    pub decimals: u8,
    /// `true`: inch; `false`: millimetre.
    pub inch: bool,
}

/// The push button at the gauge was pressed; sent whether the gauge streams or not. It may wait for the link like
/// anything else, so what counts is its time, not when it arrives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Press {
    /// Boot number.
    pub boot: u32,
    /// Counts presses since boot, from 1, so that a lost one is seen.
    pub number: u32,
    /// When the contact was first found closed, microseconds since boot: not when it had settled.
    pub at_us: u64,
}

/// Calibration of one channel. Encoded it has at most [`CalibrationRecord::MAX_ENCODED`] bytes.
///
/// Quantity = `coefficients[0] + coefficients[1]·c + coefficients[2]·c² + coefficients[3]·c³` with `c` the counts less
/// the counts at zero load; newton for force, micrometre for displacement.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CalibrationRecord {
    /// Names this calibration for ever.
    pub id: [u8; 16],
    /// Which channel.
    pub channel: Channel,
    /// Polynomial, constant term first.
    pub coefficients: [f64; 4],
    /// Counts at zero load at the time of calibration.
    pub zero_counts: i32,
    /// Expanded uncertainty (k = 2), part in proportion to the reading, in parts of one.
    pub expanded_relative: f64,
    /// Expanded uncertainty (k = 2), fixed part, in the quantity's unit.
    pub expanded_fixed: f64,
    /// Calibrated span, lower and upper end, in the quantity's unit.
    pub span: [f64; 2],
    /// Rated load or travel: beyond it the reading is an overload.
    pub rated: f64,
    /// Temperature at calibration, degrees Celsius.
    pub temperature_c: f32,
    /// Date of calibration, days since 1970-01-01.
    pub date_days: i32,
    /// Date the next one is due, days since 1970-01-01.
    pub due_days: i32,
    /// Number of the certificate.
    pub certificate: String<32>,
    /// Who calibrated.
    pub laboratory: String<32>,
}

impl CalibrationRecord {
    /// Room a store must give a record.
    pub const MAX_ENCODED: usize = 240;

    /// The record as a store keeps it, the same bytes as on the wire; `None` if `buffer` is too small.
    /// [`Self::MAX_ENCODED`] bytes always suffice.
    pub fn encode<'b>(&self, buffer: &'b mut [u8]) -> Option<&'b [u8]> {
        postcard::to_slice(self, buffer).ok().map(|bytes| &*bytes)
    }

    /// The record in stored bytes; `None` if they are something else, or more than a record.
    pub fn decode(bytes: &[u8]) -> Option<Self> {
        let (record, rest) = postcard::take_from_bytes(bytes).ok()?;
        rest.is_empty().then_some(record)
    }
}

/// What a calibration was made on: with anything else its figures mean nothing. Since 1.2.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Binding {
    /// The converter.
    pub converter: Converter,
    /// How far the shunt moved the reading then, counts with sign; none in a gauge without one.
    pub shunt_step: Option<i32>,
}

/// A calibration record with what it was made on. Since 1.2.
///
/// Its bytes are those of the record, then those of the binding: who knows records alone reads the record in them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BoundRecord {
    /// The record.
    pub record: CalibrationRecord,
    /// What it was made on.
    pub made_on: Binding,
}

/// A self-test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SelfTest {
    /// Converter input shorted inside the chip: offset and noise of the electronics.
    ShortedInput,
    /// Shunt resistor across one bridge arm.
    Shunt,
    /// Analogue supply.
    Supply,
    /// Burn-out currents: is a bridge wire open?
    OpenBridge,
    /// Bridge connected, gauge free: noise at rest.
    Noise,
    /// The converter's own temperature sensor.
    Temperature,
}

/// What a self-test found. Only the field that belongs to the test is meaningful; counts are the median of the readings taken.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SelfTestResult {
    /// Which test.
    pub test: SelfTest,
    /// Readings taken.
    pub readings: u16,
    /// Their median, converter counts (for [`SelfTest::Supply`] millivolts, for [`SelfTest::Temperature`] thousandths of a degree Celsius).
    pub median: i32,
    /// Their standard deviation, same unit.
    pub deviation: f32,
    /// For [`SelfTest::OpenBridge`]: whether a wire is open.
    pub open: bool,
}

/// What the gauge's light says. Told apart by the number of blinks and their length, not by colour.
///
/// A gauge that declares wire version 1.0 refuses [`Turn`](Self::Turn) and [`Taken`](Self::Taken) with
/// [`Refusal::UnknownCommand`]; show it [`Wait`](Self::Wait) instead of either.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Signal {
    /// Wait: one blink.
    Wait,
    /// Hold the clamp: two blinks.
    Hold,
    /// Unclamp now: three blinks.
    Unclamp,
    /// Something is wrong, look at the screen: five blinks.
    Fault,
    /// Off.
    Off,
    /// Turn the spindle to the next position: four blinks. Since 1.1.
    Turn,
    /// The reading is taken, rest: one long light. Since 1.1.
    Taken,
}

/// One overload, as stored by the gauge.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Overload {
    /// Boot number.
    pub boot: u32,
    /// Microseconds since that boot.
    pub at_us: u64,
    /// Largest counts reached, with sign.
    pub peak_counts: i32,
}
