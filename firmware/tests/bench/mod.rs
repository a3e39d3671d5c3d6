//! What the tests of the whole gauge stand on: a flash memory that can lose power, a converter that can fail, and a
//! host that can stall, all in virtual time.
#![allow(dead_code, reason = "each test file uses its part of the bench")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the bench runs for minutes, not years, and only forwards"
)]

pub mod cell;
pub mod memory;
pub mod rig;
