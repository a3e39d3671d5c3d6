//! In: a seed, a topic and an index. Out: a stream of random numbers that belongs to those three alone.
//! Nothing is shared between streams, so drawing more or fewer numbers in one never moves another: the
//! tenth clamp of a seed is the same clamp however often the host asked who the gauge is.

/// What a stream of random numbers is for. The numbers keep streams apart and are never reused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u64)]
pub enum Topic {
    /// Drawbar: springs, friction, release unit.
    Drawbar = 1,
    /// One closing of the gripper.
    Gripping = 2,
    /// Load cell and the gauge around it.
    LoadCell = 3,
    /// Electronic noise of one conversion.
    Conversion = 4,
    /// Vibration of the shop floor and the hand that holds the gauge.
    Handling = 5,
    /// What the operator does with one clamp.
    Clamping = 6,
    /// Taper, bearings and test bar.
    Spindle = 7,
    /// One seating of the test bar.
    Seating = 8,
    /// How the operator turns the spindle.
    Turning = 9,
    /// The converter's own oscillator and offset.
    Converter = 10,
    /// Non-repeating motion of the bearings in one plane's turns.
    Bearings = 11,
    /// Self-tests and idle readings: never touches the measured world.
    Idle = 12,
    /// How a person puts the gauge on a check standard.
    Standard = 13,
    /// One step of the operator from position to position.
    Stepping = 14,
    /// When one who steps in his own rhythm presses the button.
    Pressing = 15,
    /// How the button's contact bounces.
    Contact = 16,
    /// What a test has prescribed of a plane.
    Prescribed = 17,
    /// Where the drawbar pushes the shank to, and the hand that holds it there.
    PushOut = 18,
}

/// Counter-based generator: number `n` of a stream is a mix of its key and `n` (`SplitMix64`, public domain).
#[derive(Clone, Debug)]
pub struct Stream {
    key: u64,
    drawn: u64,
}

const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Stream {
    /// The stream of `topic`, number `index`, in the world of `seed`.
    pub fn new(seed: u64, topic: Topic, index: u64) -> Self {
        let world = mix(seed.wrapping_add(GOLDEN));
        let kind = mix(world ^ (topic as u64).wrapping_mul(GOLDEN));
        Self {
            key: mix(kind.wrapping_add(index.wrapping_mul(GOLDEN))),
            drawn: 0,
        }
    }

    /// Next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.drawn += 1;
        mix(self.key.wrapping_add(self.drawn.wrapping_mul(GOLDEN)))
    }

    /// Uniform in [0, 1).
    pub fn unit(&mut self) -> f64 {
        // 53 bits: every value is exact in an f64.
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in the range.
    pub fn within(&mut self, range: Range) -> f64 {
        range.low + (range.high - range.low) * self.unit()
    }

    /// Uniform in the logarithm of the range: small values as likely as large ones.
    pub fn within_decades(&mut self, range: Range) -> f64 {
        range.low * libm::exp(libm::log(range.high / range.low) * self.unit())
    }

    /// Near-normal number, mean 0, standard deviation 1, never beyond ±6: the sum of twelve uniform ones.
    /// Chosen over Box–Muller because sums are the same to the last bit on every machine.
    pub fn normal(&mut self) -> f64 {
        let mut sum = 0_u64;
        for _ in 0..3 {
            let bits = self.bits();
            sum += (0..4)
                .map(|part| (bits >> (16 * part)) & 0xffff)
                .sum::<u64>();
        }
        (sum as f64 + 6.0) / 65_536.0 - 6.0
    }

    /// `true` with the given probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }
}

/// A stated range a physical parameter is drawn from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A range, written short.
pub const fn range(low: f64, high: f64) -> Range {
    Range { low, high }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_are_repeatable_and_apart() {
        let mut one = Stream::new(7, Topic::Drawbar, 0);
        let mut again = Stream::new(7, Topic::Drawbar, 0);
        let mut other = Stream::new(7, Topic::Drawbar, 1);
        let first: Vec<u64> = (0..8).map(|_| one.bits()).collect();
        assert_eq!(first, (0..8).map(|_| again.bits()).collect::<Vec<_>>());
        assert!((0..8).all(|_| !first.contains(&other.bits())));
    }

    #[test]
    fn normal_numbers_have_mean_0_and_deviation_1() {
        let mut stream = Stream::new(1, Topic::Handling, 3);
        let drawn: Vec<f64> = (0..20_000).map(|_| stream.normal()).collect();
        let mean = drawn.iter().sum::<f64>() / 20_000.0;
        let variance = drawn.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / 19_999.0;
        // Four standard errors of mean and variance of 20 000 normal numbers.
        assert!(mean.abs() < 0.029, "{mean}");
        assert!((variance - 1.0).abs() < 0.04, "{variance}");
    }

    #[test]
    fn uniform_numbers_fill_their_range() {
        let mut stream = Stream::new(2, Topic::Handling, 0);
        let drawn: Vec<f64> = (0..1000).map(|_| stream.within(range(-2.0, 3.0))).collect();
        assert!(drawn.iter().all(|x| (-2.0..3.0).contains(x)));
        assert!(drawn.iter().any(|x| *x < -1.9) && drawn.iter().any(|x| *x > 2.9));
    }
}
