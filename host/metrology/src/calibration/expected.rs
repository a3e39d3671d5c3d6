//! A reading beside what it should be. In: a load or height, the reading, what was read before. Out: nothing, or why it is
//! asked for again, or why there is no going on.
//!
//! Common practice, no source: it catches a load that was not put on, a figure in the wrong unit and wires that are swapped,
//! while the load still stands there. It decides nothing: that is done from the whole table.

/// A reading is where it should be within this share of the highest load.
const NEAR: f64 = 0.1;
/// And a zero within this share.
const NEAR_ZERO: f64 = 0.05;

/// What is known of the readings so far.
#[derive(Clone, Copy, Debug, Default)]
pub struct Follows {
    /// Load or height and reading of the zero.
    pub zero: Option<(f64, f64)>,
    /// Load or height and reading of another one.
    pub other: Option<(f64, f64)>,
    /// Rise of the reading for one of the load or height by an earlier calibration or by the sensor's build.
    pub rise: Option<f64>,
    /// Reading with nothing on by an earlier calibration.
    pub earlier_zero: Option<f64>,
    /// Highest load or height of the plan.
    pub highest: f64,
}

/// Why a reading is not taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Doubt {
    /// Less under load than without.
    WrongWay,
    /// It says about this much.
    ReadsAs(f64),
    /// It says about this much by an earlier calibration alone, which may be that of another cell.
    ReadsUnlike(f64),
}

impl Follows {
    /// Looks at a reading.
    ///
    /// # Errors
    /// The doubt about it.
    pub fn look(&self, value: f64, reading: f64) -> Result<(), Doubt> {
        let Some((zero_value, zero_reading)) = self.zero else {
            return self.look_at_first(value, reading);
        };
        let (asked, moved) = (value - zero_value, reading - zero_reading);
        let own = self.own_rise();
        let Some(rise) = self.best_rise() else {
            return Ok(());
        };
        let reads_as = moved / rise.abs();
        if asked > 0.0 && (rise < 0.0 || reads_as < -0.5 * asked) {
            return Err(Doubt::WrongWay);
        }
        let off = (reads_as - asked).abs();
        let near = if asked > 0.0 { NEAR } else { NEAR_ZERO } * self.highest;
        let found = zero_value + reads_as;
        match own {
            // Whatever cell it is: a load that is not there is told.
            None if asked > 0.0 && reads_as < NEAR * asked => Err(Doubt::ReadsAs(found)),
            None if off > near => Err(Doubt::ReadsUnlike(found)),
            Some(_) if off > near => Err(Doubt::ReadsAs(found)),
            _ => Ok(()),
        }
    }

    /// Rise by the readings so far.
    fn own_rise(&self) -> Option<f64> {
        let (zero_value, zero_reading) = self.zero?;
        let (other, read) = self.other?;
        Some((read - zero_reading) / (other - zero_value))
    }

    fn best_rise(&self) -> Option<f64> {
        let rise = self.own_rise().or(self.rise);
        rise.filter(|rise| rise.is_normal())
    }

    /// The load or height a reading says, as far as that is known before it is taken.
    pub fn reads_as(&self, reading: f64) -> Option<f64> {
        let rise = self.best_rise()?;
        let earlier = || Some((0.0, self.earlier_zero?));
        let (zero_value, zero_reading) = self.zero.or_else(earlier)?;
        Some(zero_value + (reading - zero_reading) / rise.abs())
    }

    /// The first zero has but an earlier calibration beside it.
    fn look_at_first(&self, value: f64, reading: f64) -> Result<(), Doubt> {
        let rise = self.rise.filter(|rise| rise.is_normal());
        let (Some(earlier_zero), Some(rise)) = (self.earlier_zero, rise) else {
            return Ok(());
        };
        let found = (reading - earlier_zero) / rise;
        if value <= 0.0 && found.abs() > NEAR_ZERO * self.highest {
            return Err(Doubt::ReadsUnlike(found));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BY_EARLIER: Follows = Follows {
        zero: Some((0.0, 1_000.0)),
        other: None,
        rise: Some(80.0),
        earlier_zero: Some(900.0),
        highest: 20_000.0,
    };

    #[test]
    fn by_an_earlier_calibration_a_missing_load_is_told_and_an_unlike_one_is_asked_about() {
        assert_eq!(BY_EARLIER.look(20_000.0, 1_550_000.0), Ok(()));
        // Half the load, or another cell.
        match BY_EARLIER.look(20_000.0, 801_000.0) {
            Err(Doubt::ReadsUnlike(found)) => assert!((found - 10_000.0).abs() < 1e-6),
            other => panic!("{other:?}"),
        }
        assert!(matches!(
            BY_EARLIER.look(20_000.0, 1_400.0),
            Err(Doubt::ReadsAs(_))
        ));
        assert_eq!(
            BY_EARLIER.look(20_000.0, -1_500_000.0),
            Err(Doubt::WrongWay)
        );
        assert_eq!(BY_EARLIER.look(0.0, 1_300.0), Ok(()));
    }

    #[test]
    fn a_first_zero_with_a_load_on_is_asked_about() {
        let first = Follows {
            zero: None,
            ..BY_EARLIER
        };
        assert_eq!(first.look(0.0, 60_900.0), Ok(()));
        assert_eq!(first.look(0.0, 160_900.0), Err(Doubt::ReadsUnlike(2_000.0)));
    }

    #[test]
    fn by_its_own_readings_a_wrong_load_is_told() {
        let follows = Follows {
            other: Some((20_000.0, 1_601_000.0)),
            ..BY_EARLIER
        };
        assert_eq!(follows.look(10_000.0, 805_000.0), Ok(()));
        match follows.look(10_000.0, 401_000.0) {
            Err(Doubt::ReadsAs(found)) => assert!((found - 5_000.0).abs() < 1e-6),
            other => panic!("{other:?}"),
        }
        // Still loaded at the zero.
        assert!(follows.look(0.0, 401_000.0).is_err());
        assert!(follows.look(0.0, 101_000.0).is_err());
        assert_eq!(follows.look(0.0, 61_000.0), Ok(()));
    }

    #[test]
    fn without_a_zero_nothing_is_told_of_a_load() {
        let follows = Follows {
            zero: None,
            ..BY_EARLIER
        };
        assert_eq!(follows.look(20_000.0, -9e9), Ok(()));
    }
}
