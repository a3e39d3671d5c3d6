//! What the shell is told. In: how a command ended. Out: one number, and which of two ends outranks the other.

use holdtrue_terms::vocabulary::Outcome;

/// How the program ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Exit {
    /// Done, accepted, or nothing to judge.
    Done,
    /// Rejected, or a check of the program itself is out.
    Rejected,
    /// The command line cannot be carried out as written.
    Usage,
    /// Undecided, or clamps found but none counted while a limit is set.
    Undecided,
    /// Unreadable input.
    BadInput,
    /// Gauge or link.
    Gauge,
    /// Book, output file, full disk, digest mismatch, or a file from a newer program.
    Book,
    /// Ctrl-C, after a clean end.
    Interrupted,
}

impl Exit {
    /// The process exit code.
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::Rejected => 1,
            Self::Usage => 2,
            Self::Undecided => 3,
            Self::BadInput => 4,
            Self::Gauge => 5,
            Self::Book => 6,
            Self::Interrupted => 130,
        }
    }

    /// Of two ends of one command, the one to report: failures outrank verdicts (6, 5, 4, then 1, 3, 0).
    #[must_use]
    pub fn or_worse(self, other: Self) -> Self {
        if other.rank() > self.rank() {
            other
        } else {
            self
        }
    }

    fn rank(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::Undecided => 1,
            Self::Rejected => 2,
            Self::BadInput => 3,
            Self::Gauge => 4,
            Self::Book => 5,
            Self::Interrupted => 6,
            Self::Usage => 7,
        }
    }
}

impl From<Outcome> for Exit {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Accept => Self::Done,
            Outcome::Reject => Self::Rejected,
            Outcome::Undecided => Self::Undecided,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn failures_outrank_verdicts_and_a_reject_outranks_an_undecided() {
        let order = [
            Exit::Book,
            Exit::Gauge,
            Exit::BadInput,
            Exit::Rejected,
            Exit::Undecided,
            Exit::Done,
        ];
        for (place, &worse) in order.iter().enumerate() {
            for &better in &order[place..] {
                assert_eq!(worse.or_worse(better), worse);
                assert_eq!(better.or_worse(worse), worse);
            }
        }
    }
}
