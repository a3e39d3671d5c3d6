//! `gauge_port SEED CONDITION grip`, or `gauge_port SEED CONDITION round|bar|marked COUNT probe|indicator [light] …`: the
//! simulated gauge as a serial device of this computer, at the pace of its reader; the words are told in
//! `holdtrue_tests::planes`. Its path is the first line on standard output. Ends when its input ends.
//!
//! For the emulated bench: what the program finds with it is what it must find with the image, given the same signals.

use std::error::Error;
use std::io::{self, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use holdtrue_simulated_gauge::port::{Pace, Port};

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let mut port = Port::offer(holdtrue_tests::planes::setup(&words)?, Pace::Max)?;
    println!("{}", port.path().display());
    let stop = Arc::new(AtomicBool::new(false));
    let told = Arc::clone(&stop);
    thread::spawn(move || {
        let _ = io::stdin().read_to_end(&mut Vec::new()); // its end, however it comes
        told.store(true, Ordering::Relaxed);
    });
    port.run(&stop)?;
    Ok(())
}
