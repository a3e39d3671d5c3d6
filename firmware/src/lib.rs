//! Gauge firmware library: drivers, sampler, outbox and the gauge that ties them.
#![no_std]
