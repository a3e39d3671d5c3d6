//! The push button on a whole gauge, in virtual time: one message a press, whatever the contact, the stream and the
//! link do.

mod bench;

use bench::memory::Memory;
use bench::rig::{ALL, FORCE, Pin, Rig};
use holdtrue_firmware::button::LOOK_US;
use holdtrue_protocol::message::Command;

const HELD_US: u64 = 120_000;
/// Bounces of the bench's contact last this long.
const BOUNCE_US: u64 = 5_300;

/// Numbers and times of what was heard.
fn heard(rig: &Rig) -> Vec<(u32, u64)> {
    let boot = rig.gauge.boot();
    assert!(rig.heard.presses.iter().all(|press| press.boot == boot));
    rig.heard
        .presses
        .iter()
        .map(|press| (press.number, press.at_us))
        .collect()
}

/// The presses heard are these, in order, each stamped while its contact bounces or at the look after.
#[track_caller]
fn are(rig: &Rig, expected: &[(u32, u64)]) {
    let heard = heard(rig);
    let numbers = |presses: &[(u32, u64)]| presses.iter().map(|press| press.0).collect::<Vec<_>>();
    assert_eq!(numbers(&heard), numbers(expected), "{heard:?}");
    for ((_, at_us), (_, pressed_us)) in heard.iter().zip(expected) {
        let late_us = at_us.wrapping_sub(*pressed_us);
        assert!(
            late_us <= BOUNCE_US + u64::from(LOOK_US),
            "{at_us} for a press at {pressed_us}"
        );
    }
}

#[test]
fn a_press_is_one_message_with_its_own_time_idle_and_streaming() {
    let mut rig = Rig::new();
    rig.press(500_300, HELD_US);
    rig.run_us(1_000_000);
    are(&rig, &[(1, 500_300)]);
    rig.start(1_000, ALL);
    let second_us = rig.now_us + 300_700;
    rig.press(second_us, HELD_US);
    rig.run_us(1_000_000);
    rig.ask(Command::Stop).unwrap();
    let third_us = rig.now_us + 200_000;
    rig.press(third_us, 5_000_000);
    rig.run_us(6_000_000);
    are(&rig, &[(1, 500_300), (2, second_us), (3, third_us)]);
    assert_eq!(rig.bad_frames(), 0);
}

#[test]
fn a_chattering_contact_costs_no_sample_and_is_no_press() {
    let mut rig = Rig::new();
    rig.start(1_000, ALL);
    for edge in 0..4_000 {
        rig.pin(rig.now_us + 300 * edge, Pin::Contact(edge % 2 == 0));
    }
    rig.run_us(1_500_000);
    rig.ask(Command::Stop).unwrap();
    assert_eq!(rig.heard.missing(), 0);
    // Looked at once a millisecond, chatter of 0.3 ms may seem to rest, never for as long as a finger does.
    are(&rig, &[]);
}

#[test]
fn presses_wait_for_a_host_that_does_not_read_and_what_has_no_room_is_missed_by_number() {
    let mut rig = Rig::new();
    rig.start(1_000, FORCE);
    rig.stalled = true;
    let from_us = rig.now_us + 6_000_000; // the blocks have filled their room by then
    for press in 0..40 {
        rig.press(from_us + 200_000 * press, 100_000);
    }
    for _ in 0..4 {
        rig.run_us(3_500_000);
        rig.send(Command::KeepAlive);
    }
    rig.stalled = false;
    let last_us = rig.now_us + 1_000_000;
    rig.press(last_us, HELD_US);
    rig.run_us(2_000_000);
    let numbers: Vec<u32> = heard(&rig).iter().map(|press| press.0).collect();
    assert!(
        numbers.len() > 5,
        "events have room of their own: {numbers:?}"
    );
    assert!(
        numbers.len() < 41,
        "the case is built to lose some: {numbers:?}"
    );
    let first: Vec<u32> = (1..).take(numbers.len() - 1).collect();
    assert_eq!(numbers[..numbers.len() - 1], first, "the oldest are kept");
    assert_eq!(
        numbers.last(),
        Some(&41),
        "the step tells how many are lost"
    );
    assert_eq!(rig.bad_frames(), 0);
}

#[test]
fn presses_count_from_1_again_under_the_next_boot_number() {
    let mut rig = Rig::new();
    rig.press(300_000, HELD_US);
    rig.run_us(1_000_000);
    are(&rig, &[(1, 300_000)]);
    let boot = rig.gauge.boot();
    let mut rig = rig.restarted();
    rig.press(rig.now_us + 400_000, HELD_US);
    rig.run_us(1_000_000);
    assert_eq!(rig.gauge.boot(), boot + 1);
    are(&rig, &[(1, 400_000)]);
}

#[test]
fn the_timer_may_wrap_inside_a_press() {
    let mut rig = Rig::with(Memory::blank(), FORCE, u32::MAX - 504_000);
    let pressed_us = u64::from(u32::MAX) - 4_000;
    rig.press(pressed_us, HELD_US);
    rig.run_us(2_000_000);
    are(&rig, &[(1, pressed_us)]);
}

#[test]
fn a_gauge_without_a_button_sends_none() {
    let mut rig = Rig::new();
    rig.start(1_000, ALL);
    rig.stream_s(5);
    are(&rig, &[]);
}
