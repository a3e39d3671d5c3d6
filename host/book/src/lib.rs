#![doc = include_str!("../FORMAT.md")]

mod at_rest;
mod attached;
mod backup;
mod began;
mod book;
mod capture;
mod checks;
mod covers;
mod digest;
mod error;
mod event;
mod finish;
mod gauge;
mod header;
mod inspect;
mod json;
mod later;
mod merge;
mod past;
mod remark;
mod revision;
mod said;
mod schema;
mod visit;
mod words;

pub use attached::{Attachment, MAX_FILE_BYTES};
pub use book::{Book, LOCK_WAIT_MS, Result, Stamp};
pub use capture::{Capture, Chunk, Frames, MAX_ORIGINAL_BYTES, Original, Source};
pub use checks::{
    CONTINUE_WITHIN_S, Calibration, CheckKind, CheckResult, CheckStart, Recorded, RecordedKind,
};
pub use digest::{DIGEST_FORM, Digest, NotADigest, sha256_hex};
pub use error::Error;
pub use event::Event;
pub use finish::{Amended, Finish};
pub use gauge::{GaugeCheck, KnobChange};
pub use header::{
    ComparedFigure, GaugeHeader, GaugeOverload, GaugeStop, Header, SpindleHeader, VisitHeader,
};
pub use inspect::{CableDamage, Inspection, Trouble};
pub use json::Json;
pub use later::Later;
pub use merge::Merged;
pub use past::{
    AmendedSet, LaterResult, Past, PastCheck, PastHeader, PastResult, PastVisit, Strikes, Struck,
    Whose, as_amended,
};
pub use remark::{Change, Remark, Said};
pub use revision::{Alias, Entity, Kind, Revision, Tombstone};
pub use said::{Acknowledgement, Amendment, Finding, FindingKind, How, Note};
pub use schema::{APPLICATION_ID, SCHEMA};
pub use visit::{Check, Visit};
