//! Levels of an incremental probe's A and B lines go in, a count comes out: four counts a line period.
//!
//! Positive where A leads B. A step in which both lines changed cannot come from an encoder: it is counted as a
//! bad step, for counts were lost.

/// Decodes A/B levels, one call an edge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Quadrature {
    before: Option<u8>,
    count: i32,
    bad_steps: u16,
}

/// Counts for a step, by `before << 2 | now`, each `A << 1 | B`; 2 marks the impossible ones.
const STEP: [i8; 16] = [0, -1, 1, 2, 1, 0, 2, -1, -1, 2, 0, 1, 2, 1, -1, 0];
const IMPOSSIBLE: i32 = 2;
/// The same in one word, two bits a step, each one higher: it stands in the code, and no table is read from the flash.
const STEPS: u32 = {
    let (mut word, mut place) = (0, 0);
    while place < STEP.len() {
        word |= ((STEP[place] + 1).cast_unsigned() as u32) << (2 * place);
        place += 1;
    }
    word
};

impl Quadrature {
    /// A decoder that takes the first levels it is shown as its start.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            before: None,
            count: 0,
            bad_steps: 0,
        }
    }

    /// Takes the levels after an edge.
    #[inline(always)]
    pub fn feed(&mut self, a: bool, b: bool) {
        let now = u8::from(a) << 1 | u8::from(b);
        let before = self.before.replace(now).unwrap_or(now);
        let place = u32::from(before << 2 | now) & 0x0f;
        match (STEPS >> (2 * place) & 3).cast_signed() - 1 {
            IMPOSSIBLE => self.bad_steps = self.bad_steps.wrapping_add(1),
            step => self.count = self.count.wrapping_add(step),
        }
    }

    /// The count, wrapping at 32 bits.
    #[must_use]
    pub const fn count(&self) -> i32 {
        self.count
    }

    /// Impossible steps so far, wrapping at 16 bits.
    #[must_use]
    pub const fn bad_steps(&self) -> u16 {
        self.bad_steps
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The lines of an encoder standing at a position: A leads B going up.
    fn lines(position: i32) -> (bool, bool) {
        match position.rem_euclid(4) {
            0 => (false, false),
            1 => (true, false),
            2 => (true, true),
            _ => (false, true),
        }
    }

    fn show(decoder: &mut Quadrature, position: i32) {
        let (a, b) = lines(position);
        decoder.feed(a, b);
    }

    #[test]
    fn one_line_period_is_four_counts_up_and_down() {
        let mut decoder = Quadrature::new();
        for position in 0..=4 {
            show(&mut decoder, position);
        }
        assert_eq!((decoder.count(), decoder.bad_steps()), (4, 0));
        for position in (-5..4).rev() {
            show(&mut decoder, position);
        }
        assert_eq!((decoder.count(), decoder.bad_steps()), (-5, 0));
    }

    #[test]
    fn the_first_levels_are_the_start_whatever_they_are() {
        let mut decoder = Quadrature::new();
        show(&mut decoder, 2);
        assert_eq!((decoder.count(), decoder.bad_steps()), (0, 0));
        show(&mut decoder, 3);
        assert_eq!(decoder.count(), 1);
    }

    #[test]
    fn both_lines_at_once_is_a_bad_step_and_no_count() {
        for start in 0..4 {
            let mut decoder = Quadrature::new();
            show(&mut decoder, start);
            show(&mut decoder, start + 2);
            assert_eq!((decoder.count(), decoder.bad_steps()), (0, 1));
        }
    }

    #[test]
    fn the_same_levels_twice_count_nothing() {
        let mut decoder = Quadrature::new();
        for _ in 0..3 {
            show(&mut decoder, 1);
        }
        assert_eq!((decoder.count(), decoder.bad_steps()), (0, 0));
    }

    proptest! {
        #[test]
        fn any_walk_in_single_steps_is_counted_exactly(steps in proptest::collection::vec(-1..=1_i32, 0..500)) {
            let mut decoder = Quadrature::new();
            let mut position = 7;
            show(&mut decoder, position);
            for step in steps {
                position += step;
                show(&mut decoder, position);
            }
            prop_assert_eq!(decoder.count(), position - 7);
            prop_assert_eq!(decoder.bad_steps(), 0);
        }

        #[test]
        fn a_jump_of_two_is_never_overlooked(walk in proptest::collection::vec(-1..=1_i32, 0..50), up in any::<bool>()) {
            let mut decoder = Quadrature::new();
            let mut position = 0;
            show(&mut decoder, position);
            for step in walk {
                position += step;
                show(&mut decoder, position);
            }
            show(&mut decoder, position + if up { 2 } else { -2 });
            prop_assert_eq!(decoder.bad_steps(), 1);
        }
    }
}
