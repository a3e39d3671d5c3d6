//! In: a wish not to sleep. Out: a system that stays awake as long as the wish is held, where it can be asked; and how long
//! it slept all the same.
//!
//! The system's own program holds the wish. It ends with this one, however this one ends: its input closes, or it watches
//! for this process. On Windows nobody is asked: that takes a call into the system this workspace forbids itself.

use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A wish that the system stays awake.
#[derive(Debug)]
pub struct Awake(Child);

impl Awake {
    /// Asks; `None` where there is nothing to ask.
    pub fn ask() -> Option<Self> {
        let mut command = if cfg!(target_os = "linux") {
            let mut command = Command::new("systemd-inhibit");
            command.args([
                "--what=idle:sleep:handle-lid-switch",
                "--mode=block",
                "--who=holdtrue",
                "--why=a check is running",
                // Ends when its input does.
                "cat",
            ]);
            command
        } else if cfg!(target_os = "macos") {
            let mut command = Command::new("caffeinate");
            command.args(["-i", "-s", "-w", &std::process::id().to_string()]);
            command
        } else {
            return None;
        };
        command
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .ok()
            .map(Self)
    }
}

impl Drop for Awake {
    fn drop(&mut self) {
        drop(self.0.stdin.take());
        // It may have ended by itself.
        let _gone = self.0.kill();
        let _ended = self.0.wait();
    }
}

/// Two clocks, one of which stands still while the system sleeps.
#[derive(Clone, Copy, Debug)]
pub struct SleepClock {
    awake: Instant,
    /// On the clock that goes on; none where the system has none to compare with.
    always: Option<Duration>,
}

impl SleepClock {
    /// Starts both.
    pub fn start() -> Self {
        Self {
            awake: Instant::now(),
            always: always(),
        }
    }

    /// How long the system has slept since.
    pub fn slept(&self) -> Duration {
        let awake = self.awake.elapsed();
        let both = self.always.zip(always());
        both.map_or(Duration::ZERO, |(from, to)| {
            to.saturating_sub(from).saturating_sub(awake)
        })
    }
}

/// The clock that counts sleep, too.
#[cfg(any(target_os = "linux", target_os = "macos"))]
fn always() -> Option<Duration> {
    use rustix::time::{ClockId, clock_gettime};
    // The standard library's clock stands still in a sleep on both; of the others this one does not.
    #[cfg(target_os = "linux")]
    let clock = ClockId::Boottime;
    #[cfg(target_os = "macos")]
    let clock = ClockId::Monotonic;
    let now = clock_gettime(clock);
    let seconds = u64::try_from(now.tv_sec).ok()?;
    Some(Duration::new(seconds, u32::try_from(now.tv_nsec).ok()?))
}

/// The standard library's clock counts sleep here, so there is nothing to compare it with.
#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn always() -> Option<Duration> {
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_computer_that_was_awake_has_not_slept() {
        let clock = SleepClock::start();
        std::thread::sleep(Duration::from_millis(20));
        assert!(
            clock.slept() < Duration::from_millis(10),
            "{:?}",
            clock.slept()
        );
    }
}
