//! What the tests of the whole gauge stand on: a flash memory that can lose power.
#![allow(dead_code, reason = "each test file uses its part of the bench")]

pub mod memory;
