#![doc = include_str!("../WIRE.md")]
#![no_std]

pub mod block;
pub mod frame;
pub mod message;
pub mod stream;
pub mod usb;
pub mod version;
