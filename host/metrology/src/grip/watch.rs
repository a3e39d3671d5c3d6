//! A grip check while it is taken.
//!
//! In come samples as they arrive; out go the step the technician is in, each clamp once it is complete, and the end of
//! the check. A stored record run through it gives the same digits: every moment of evaluation follows from the times of
//! the samples alone.

use super::clamps::{self, Rules};
use super::edges::Hold;
use super::excluded::{Discard, Excluded};
use super::found::FoundClamp;
use super::left_out::{Behind, LeftOut};
use super::levels::NoClamp;
use super::record::{ForceRecord, RecordError, Sample, Span, Travel};
use super::remarks::GripNote;
use super::result::{Clamp, GripResult};
use super::setup::GripSetup;
use super::step::{FREE_AFTER_S, Follower, HOLD_S, LONG_HOLD_S, REST_SHARE, Step};
use super::window;
use super::{GripError, analyse_with};

/// Who counts the seconds of a long hold himself may be a little short.
const HELD_LONG_SHARE: f64 = 0.8;

/// The part of a record that a stored result was read from, for its picture: up to 1.5 s after the release of the last clamp asked
/// for, where the watch ended to a few samples, without running it again. A check that was broken off has all of it.
pub fn part_read(record: ForceRecord, clamps: &[Clamp], wanted: Option<u32>) -> ForceRecord {
    // Those listed, not those that count: what the whole record shows of one can take it out of the count it was asked for.
    let done = wanted.is_some_and(|wanted| clamps.len() >= wanted as usize);
    // One that began before the end was reached stands behind it, unreleased.
    let released_s = clamps.iter().rev().find_map(|clamp| clamp.released_s);
    let Some(released_s) = released_s.filter(|_| done) else {
        return record;
    };
    let free = free_after(&record, released_s);
    if free + 1 < record.len() {
        record.cut_to(free + 1)
    } else {
        record
    }
}

/// The first sample at which the gauge has hung free for as long as its zero takes.
fn free_after(record: &ForceRecord, released_s: f64) -> usize {
    let times = record.time_s();
    times.partition_point(|&time| time < released_s + FREE_AFTER_S)
}

/// A check under way.
///
/// The record handed to the analysis ends at the first sample 1.5 s after the release of the last clamp asked for, and
/// a clamp once reported is never unlisted by later samples.
///
/// The clamp with which the check would be done is to be held for 30 s, because only then it shows a slow drop. Should it
/// turn out not to count, the next one is the last and held as long; one that was held nearly so long and counts is
/// enough. Whoever lets go earlier has a clamp all the same.
#[derive(Clone, Debug)]
pub struct Watch {
    record: ForceRecord,
    setup: GripSetup,
    wanted: Option<u32>,
    /// Clamps reported so far, as they were found.
    listed: Vec<Hold>,
    /// Stretches in which something pulled at the gauge and nobody had been asked to clamp.
    rests: Vec<Hold>,
    /// When the last of either ended, s.
    let_go_s: Option<f64>,
    counted: u32,
    /// A clamp that counts was held long.
    held_long: bool,
    follower: Follower,
    /// When the next clamp will be complete, s.
    due_s: Option<f64>,
    /// The gauge was overloaded, as far as the last look shows.
    overloaded: bool,
    done: bool,
}

impl Watch {
    /// A check that is done when `wanted` clamps count; without it, it goes on until it is finished.
    pub fn new(wanted: Option<u32>, setup: GripSetup) -> Self {
        Self {
            record: ForceRecord::default(),
            setup,
            wanted,
            listed: Vec::new(),
            rests: Vec::new(),
            let_go_s: None,
            counted: 0,
            held_long: false,
            follower: Follower::default(),
            due_s: None,
            overloaded: false,
            done: wanted == Some(0),
        }
    }

    /// Runs a whole record through a watch, for a file or a stored capture: what is analysed ends where it would have
    /// ended live.
    ///
    /// # Errors
    /// The record is not sound.
    pub fn replay(
        record: &ForceRecord,
        wanted: Option<u32>,
        setup: GripSetup,
    ) -> Result<Self, RecordError> {
        let mut watch = Self::new(wanted, setup);
        for note in record.source_notes() {
            watch.record.note(note.clone());
        }
        for span in record.marked_spans() {
            watch.record.mark(span.clone());
        }
        for &travel in record.travel() {
            watch.record.push_travel(travel);
        }
        for sample in record.samples() {
            if watch.done {
                break;
            }
            watch.push(sample)?;
        }
        watch.record = watch.record.cut_to(watch.record.len());
        Ok(watch)
    }

    /// Takes the next sample; returns the clamps that are complete with it. Once the check is done, samples are ignored.
    ///
    /// # Errors
    /// A number that is not finite, or a time not after the last one.
    pub fn push(&mut self, sample: Sample) -> Result<Vec<Clamp>, RecordError> {
        if self.done {
            return Ok(Vec::new());
        }
        self.record.push(sample)?;
        self.follower.follow(sample);
        let due = self.due_s.is_some_and(|due_s| sample.time_s >= due_s);
        Ok(if due || self.follower.wants_a_look() {
            self.look(sample.time_s)
        } else {
            Vec::new()
        })
    }

    /// Takes the next reading of the gauge's end face.
    pub fn push_travel(&mut self, travel: Travel) {
        if !self.done {
            self.record.push_travel(travel);
        }
    }

    /// Marks a stretch of the record as missing, faulty or overloaded.
    pub fn mark(&mut self, span: Span) {
        if !self.done
            || self
                .record
                .time_s()
                .last()
                .is_some_and(|&end_s| span.from_s <= end_s)
        {
            self.record.mark(span);
        }
    }

    /// Finds the clamps of the record so far and lists those released long enough ago.
    fn look(&mut self, now_s: f64) -> Vec<Clamp> {
        self.due_s = None;
        let Ok(found) = self.find() else {
            self.follower.looked(None);
            return Vec::new();
        };
        self.follower.looked(Some((&found.levels, found.noise_n)));
        // A wire that breaks reads beyond everything, too; that is a fault, and the gauge was not loaded.
        let beyond = |clamp: &FoundClamp| clamp.excluded == Some(Excluded::Overload);
        self.overloaded |= found.clamps.iter().any(beyond);
        let mut complete = Vec::new();
        for clamp in found.clamps.iter().skip(self.listed.len()) {
            let Some(released_s) = clamp.edges.released_s else {
                break;
            };
            if now_s < released_s + FREE_AFTER_S {
                self.due_s = Some(released_s + FREE_AFTER_S);
                break;
            }
            let rests = self.rests_on(clamp, found.levels.reference_n);
            self.let_go_s = Some(released_s);
            if rests {
                // Numbers and zeros of what comes after it are those of a record without it.
                self.rests.push(clamp.edges.hold);
                complete.extend(self.look(now_s));
                break;
            }
            self.listed.push(clamp.edges.hold);
            complete.push(self.shown(clamp));
            self.count(&found.clamps[..self.listed.len()]);
            if self.done {
                self.end_after(released_s, clamp.edges.hold.last);
                break;
            }
        }
        complete
    }

    fn find(&self) -> Result<clamps::Found, NoClamp> {
        clamps::find_with(&self.record, &self.rules(), &self.listed, &self.rests)
    }

    /// A weak pull that sets in before the gauge has hung free long enough for anybody to be asked to clamp: something
    /// pulls at the gauge, and that was asked about. A weak clamp comes when it is asked for.
    fn rests_on(&self, clamp: &FoundClamp, reference_n: f64) -> bool {
        let unasked = self
            .let_go_s
            .zip(clamp.edges.clamped_s)
            .is_some_and(|(let_go_s, clamped_s)| clamped_s < let_go_s + FREE_AFTER_S);
        unasked && clamp.edges.own_level_n < REST_SHARE * reference_n
    }

    fn shown(&self, clamp: &FoundClamp) -> Clamp {
        let mut shown = Clamp::from_found(clamp);
        let mut turned = self.setup.turned.iter();
        if let Some(turned) = turned.find(|turned| turned.number == shown.number) {
            shown.orientation_deg = Some(turned.orientation_deg);
        }
        shown
    }

    fn count(&mut self, clamps: &[FoundClamp]) {
        let counted: Vec<_> = clamps.iter().filter(|clamp| clamp.counted()).collect();
        self.counted = u32::try_from(counted.len()).unwrap_or(u32::MAX);
        self.held_long = counted.iter().any(|clamp| {
            window::hold_s(&clamp.edges)
                .is_some_and(|held_s| held_s > HELD_LONG_SHARE * LONG_HOLD_S)
        });
        self.done = self.wanted.is_some_and(|wanted| self.counted >= wanted);
    }

    /// Ends the record at the first sample 1.5 s after the last release, should the look have come later; never before
    /// the clamp itself has ended, or a clamp that was shown as counted would end unreleased. (A gauge that hangs on for
    /// longer, well below half its force, is such a case.)
    fn end_after(&mut self, released_s: f64, last: usize) {
        let end = free_after(&self.record, released_s).max(last + 1);
        if end + 1 < self.record.len() {
            self.record = self.record.cut_to(end + 1);
        }
    }

    fn rules(&self) -> Rules {
        Rules {
            discards: self.setup.discards.clone(),
            rated_load_n: self.setup.gauge.rated_load_n,
            as_read: self.setup.as_read,
            least_n: self.setup.least_n(),
        }
    }

    /// Puts a listed clamp aside. A check that was done goes on if one more is needed now.
    pub fn discard(&mut self, discard: Discard) {
        self.setup.discards.push(discard);
        if let Ok(found) = self.find() {
            let listed = self.listed.len().min(found.clamps.len());
            self.count(&found.clamps[..listed]);
        }
    }

    /// The step the technician is in.
    pub fn step(&self) -> Step {
        if self.done {
            Step::Done
        } else {
            self.follower.step(self.hold_s())
        }
    }

    /// Whether the clamp of now, or the next one, is the one to be held long.
    pub fn is_long_hold(&self) -> bool {
        let last = self.wanted.is_some_and(|wanted| self.counted + 1 >= wanted);
        last && !self.held_long
    }

    /// How long the clamp of now, or the next one, is to be held, s.
    pub fn hold_s(&self) -> f64 {
        if self.is_long_hold() {
            LONG_HOLD_S
        } else {
            HOLD_S
        }
    }

    /// Smoothed force above the reading of the free gauge, N, for the screen; no figure is taken from it.
    pub fn load_n(&self) -> f64 {
        self.follower.load_n()
    }

    /// How many of the listed clamps count.
    pub fn counted(&self) -> u32 {
        self.counted
    }

    /// Whether the gauge was overloaded: no clamp more is to be taken with it.
    pub fn is_overloaded(&self) -> bool {
        self.overloaded
    }

    /// Whether all clamps asked for are in.
    pub fn is_done(&self) -> bool {
        self.done
    }

    /// The record as it would be analysed now.
    pub fn record(&self) -> &ForceRecord {
        &self.record
    }

    /// Analyses what was taken: at the end of the check, or where it broke off.
    ///
    /// # Errors
    /// There is no clamp, or a discarded clamp does not exist.
    pub fn finish(&self) -> Result<GripResult, GripError> {
        self.analysed(Behind::default())
    }

    /// The same of a record that somebody made elsewhere: what it holds behind the clamps asked for is in no figure, and a weak
    /// one among it is the news.
    ///
    /// # Errors
    /// As [`Self::finish`].
    pub fn finish_of(&self, whole: &ForceRecord) -> Result<GripResult, GripError> {
        self.analysed(self.behind(whole).unwrap_or_default())
    }

    fn analysed(&self, behind: Behind) -> Result<GripResult, GripError> {
        analyse_with(
            &self.record,
            &self.setup,
            (&self.listed, &self.rests),
            behind,
        )
    }

    fn behind(&self, whole: &ForceRecord) -> Option<Behind> {
        let from_s = *self.record.time_s().last().filter(|_| self.done)?;
        let found = clamps::find_with(whole, &self.rules(), &self.listed, &self.rests).ok()?;
        let behind = found.clamps.get(self.listed.len()..)?;
        let read = |clamp: &FoundClamp| {
            Some(LeftOut {
                number: clamp.number,
                excluded: Excluded::NotAskedFor,
                reads_n: clamp.settled_n.or(clamp.reads_n)?,
            })
        };
        (!behind.is_empty()).then(|| Behind {
            left_out: behind.iter().filter_map(read).collect(),
            note: Some(GripNote::FileGoesOn {
                from_s,
                clamps: behind.len(),
            }),
        })
    }
}
