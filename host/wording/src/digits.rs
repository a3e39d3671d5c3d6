//! Figures as a person reads them: always with a unit, never with more digits than mean something.
//!
//! In: figures in N, N/s, µm, % and degrees, and the units chosen. Out: text.

use holdtrue_terms::units::{ForceUnit, LengthUnit};

/// The units chosen, and for whom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Units {
    /// Of force.
    pub force: ForceUnit,
    /// Of runout; a tenth is told in inches as well.
    pub length: LengthUnit,
    /// Who reads what is said in them.
    pub reader: Reader,
}

/// Who reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Reader {
    /// Whoever sits at the program, who can give an option of it.
    #[default]
    AtTheProgram,
    /// Whoever is handed the paper, to whom an option says nothing.
    OfThePaper,
}

impl Default for Units {
    fn default() -> Self {
        Self {
            force: ForceUnit::Kn,
            length: LengthUnit::Um,
            reader: Reader::AtTheProgram,
        }
    }
}

impl Units {
    /// The same for the paper.
    #[must_use]
    pub fn on_paper(self) -> Self {
        Self {
            reader: Reader::OfThePaper,
            ..self
        }
    }

    /// What names an option of the program: nothing on paper.
    pub(crate) fn option(&self, said: &'static str) -> &'static str {
        match self.reader {
            Reader::AtTheProgram => said,
            Reader::OfThePaper => "",
        }
    }

    /// A force with its unit.
    pub fn force(&self, newton: f64) -> String {
        with_unit(&self.force_digits(newton), self.force_symbol())
    }

    /// A force without its unit, where the unit stands above the column.
    pub fn force_digits(&self, newton: f64) -> String {
        fixed(self.force_value(newton), self.force_decimals(newton))
    }

    fn force_decimals(&self, newton: f64) -> usize {
        let value = self.force_value(newton).abs();
        match self.force {
            ForceUnit::Kn if value < 1.0 => 3,
            ForceUnit::Kn => 2,
            ForceUnit::N => 0,
            ForceUnit::Lbf | ForceUnit::Kgf | ForceUnit::DaN => usize::from(value < 100.0),
        }
    }

    /// An uncertainty, guard or difference of a force, with the digits of the force itself, or with its own where
    /// those would leave nothing.
    pub fn force_spread(&self, newton: f64, of_newton: f64) -> String {
        let digits = self.force_decimals(of_newton);
        let text = fixed(self.force_value(newton), digits);
        if newton != 0.0 && is_nought(&text) {
            return self.force(newton);
        }
        with_unit(&text, self.force_symbol())
    }

    /// What a gauge reads where it should read nothing, or two readings differ by: a few newtons, which in kN would be all
    /// noughts.
    pub fn small_force(&self, newton: f64) -> String {
        match self.force {
            ForceUnit::N | ForceUnit::Kn | ForceUnit::Kgf | ForceUnit::DaN => {
                with_unit(&fixed(newton, 1), ForceUnit::N.symbol())
            }
            ForceUnit::Lbf => with_unit(&fixed(self.force_value(newton), 2), self.force_symbol()),
        }
    }

    /// A force as sentences have it: whole newtons, or the unit chosen.
    pub fn newtons(&self, newton: f64) -> String {
        match self.force {
            ForceUnit::Kn => format!("{newton:.0} N"),
            _ => self.force(newton),
        }
    }

    /// A force as sentences have it: kilonewtons written so, or the unit chosen.
    pub fn kilonewtons(&self, newton: f64, written: impl Fn(f64) -> String) -> String {
        match self.force {
            ForceUnit::Kn => format!("{} kN", written(newton / 1e3)),
            _ => self.force(newton),
        }
    }

    /// The same without the unit.
    pub fn kilonewtons_digits(&self, newton: f64, written: impl Fn(f64) -> String) -> String {
        match self.force {
            ForceUnit::Kn => written(newton / 1e3),
            _ => self.force_digits(newton),
        }
    }

    /// A rate of force with its unit. In kN a drop would be all noughts, so it is told in N.
    pub fn force_rate(&self, newton_per_second: f64) -> String {
        match self.force {
            ForceUnit::Kn | ForceUnit::N => with_unit(&fixed(newton_per_second, 1), "N/s"),
            unit => with_unit(
                &fixed(unit.from_newtons(newton_per_second), 1),
                &format!("{}/s", unit.symbol()),
            ),
        }
    }

    /// What the force does while held: drops or rises, never by less than nothing; neither where it shows none.
    pub fn drop_while_held(&self, newton_per_second: f64) -> String {
        let rate = self.force_rate(newton_per_second.abs());
        match newton_per_second {
            _ if is_nought(&rate) => rate,
            rising if rising < 0.0 => format!("rises {rate}"),
            _ => format!("drops {rate}"),
        }
    }

    /// A force in the chosen unit.
    pub fn force_value(&self, newton: f64) -> f64 {
        self.force.from_newtons(newton)
    }

    /// The unit of force.
    pub fn force_symbol(&self) -> &'static str {
        self.force.symbol()
    }

    /// A runout with its unit; in inches as it is spoken, too: in ten-thousandths.
    pub fn length(&self, micrometre: f64) -> String {
        let written = with_unit(&self.length_digits(micrometre), self.length_symbol());
        match self.length {
            LengthUnit::Um | LengthUnit::Mm | LengthUnit::In => written,
            LengthUnit::Tenth => format!("{} ({written})", self.length_short(micrometre)),
        }
    }

    /// A runout as sentences have it: tenths of a micrometre, or the unit chosen.
    pub fn micrometres(&self, micrometre: f64) -> String {
        match self.length {
            LengthUnit::Um => format!("{micrometre:.1} µm"),
            _ => self.length(micrometre),
        }
    }

    /// The same as somebody wrote it, to the nanometre: what doubling a figure or a change of unit leaves behind its last
    /// digit was never written.
    pub fn exact_micrometres(&self, micrometre: f64) -> String {
        match self.length {
            LengthUnit::Um => {
                let written = fixed(micrometre, 3);
                let written = written.trim_end_matches('0').trim_end_matches('.');
                format!("{written} µm")
            }
            _ => self.length(micrometre),
        }
    }

    /// A runout with the unit it is spoken in, for a table.
    pub fn length_short(&self, micrometre: f64) -> String {
        match self.length {
            LengthUnit::Um | LengthUnit::Mm | LengthUnit::In => self.length(micrometre),
            unit @ LengthUnit::Tenth => {
                with_unit(&fixed(unit.from_micrometres(micrometre), 1), unit.symbol())
            }
        }
    }

    /// A runout without its unit.
    pub fn length_digits(&self, micrometre: f64) -> String {
        let unit = self.length_unit();
        let digits = match unit {
            LengthUnit::Um => 1,
            LengthUnit::Mm => 4,
            LengthUnit::In | LengthUnit::Tenth => 5,
        };
        fixed(unit.from_micrometres(micrometre), digits)
    }

    /// The unit of runout.
    pub fn length_symbol(&self) -> &'static str {
        self.length_unit().symbol()
    }

    /// Tenths are spoken, and written in inches.
    fn length_unit(&self) -> LengthUnit {
        match self.length {
            LengthUnit::Tenth => LengthUnit::In,
            unit => unit,
        }
    }

    /// What one of the unit of runout is in µm.
    pub fn length_unit_um(&self) -> f64 {
        self.length_unit().micrometres()
    }

    /// A tilt, given in µm per metre.
    pub fn tilt(&self, micrometre_per_metre: f64) -> String {
        match self.length {
            LengthUnit::Um | LengthUnit::Mm => with_unit(&fixed(micrometre_per_metre, 1), "µm/m"),
            // 1 µm/m is 12 µin in a foot; shops say "per foot".
            LengthUnit::In | LengthUnit::Tenth => {
                let inch_per_foot = micrometre_per_metre * 12e-6;
                with_unit(&fixed(inch_per_foot, 5), "in/ft")
            }
        }
    }

    /// How far something moves, from millimetre.
    pub fn travel(&self, mm: f64) -> String {
        match self.length_unit() {
            LengthUnit::Um | LengthUnit::Mm => with_unit(&fixed(mm, 2), "mm"),
            LengthUnit::In | LengthUnit::Tenth => with_unit(&fixed(mm / 25.4, 4), "in"),
        }
    }

    /// A figure that carries its unit with it, as limits do: N, N/s, um, mm, %.
    pub fn in_unit(&self, value: f64, unit: &str) -> String {
        match unit {
            "N" => self.force(value),
            "N/s" => self.force_rate(value),
            "um" => self.length(value),
            "mm" => self.travel(value),
            "%" => percent(value),
            other => with_unit(&value.to_string(), other),
        }
    }
}

/// Figure and unit, never parted by the end of a line.
pub fn with_unit(figure: &str, unit: &str) -> String {
    format!("{figure}\u{a0}{unit}")
}

impl Units {
    /// A guard with the digits of the figure it guards.
    pub fn spread_in_unit(&self, spread: f64, of: f64, unit: &str) -> String {
        if unit == "N" {
            self.force_spread(spread, of)
        } else {
            self.in_unit(spread, unit)
        }
    }
}

/// Percent.
pub fn percent(percent: f64) -> String {
    with_unit(&fixed(percent, 1), "%")
}

/// Seconds.
pub fn seconds(seconds: f64) -> String {
    with_unit(&fixed(seconds, 1), "s")
}

/// Degrees of turn.
pub fn degrees(degrees: f64) -> String {
    // What rounds to a full turn is the mark itself.
    let turned = degrees.round().rem_euclid(360.0);
    format!("{}°", fixed(turned, 0))
}

/// A height from the nose face; below it the depth inside the mouth.
pub fn height(mm: f64) -> String {
    let decimals = usize::from((mm - mm.round()).abs() >= 0.05);
    let from_face = with_unit(&fixed(mm.abs(), decimals), "mm");
    if mm < 0.0 {
        format!("{from_face} inside the mouth")
    } else {
        from_face
    }
}

/// Degrees of freedom; none: infinite.
pub fn dof(dof: Option<f64>) -> String {
    match dof {
        None => "∞".to_owned(),
        Some(dof) if dof >= 100.0 => format!("{dof:.0}"),
        Some(dof) => fixed(dof, 1),
    }
}

/// Whether a figure shows nothing but noughts.
fn is_nought(figure: &str) -> bool {
    figure.bytes().all(|byte| !(b'1'..=b'9').contains(&byte))
}

/// Fixed digits, a true minus sign, and never "−0".
pub fn fixed(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|byte| matches!(byte, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 lbf = 4.4482216152605 N and 1 in = 25.4 mm, exact by definition.
    #[test]
    fn every_figure_has_a_unit_and_few_digits() {
        let metric = Units::default();
        assert_eq!(metric.force(9_834.6), "9.83\u{a0}kN");
        assert_eq!(metric.force(112.4), "0.112\u{a0}kN");
        assert_eq!(metric.length(7.04), "7.0\u{a0}µm");
        assert_eq!(metric.in_unit(2.345, "%"), "2.3\u{a0}%");
        let inch = Units {
            force: ForceUnit::Lbf,
            length: LengthUnit::Tenth,
            ..metric
        };
        assert_eq!(inch.force(4_448.221_615_260_5), "1000\u{a0}lbf");
        assert_eq!(inch.length(2.54), "1.0\u{a0}tenths (0.00010\u{a0}in)");
        assert_eq!(inch.length(2.0), "0.8\u{a0}tenths (0.00008\u{a0}in)");
        assert_eq!(inch.length_short(2.0), "0.8\u{a0}tenths");
        assert_eq!(inch.tilt(1000.0), "0.01200\u{a0}in/ft");
    }

    #[test]
    fn an_uncertainty_has_the_digits_of_its_figure() {
        let metric = Units::default();
        assert_eq!(metric.force_spread(148.0, 9_763.0), "0.15\u{a0}kN");
        assert_eq!(metric.force_spread(3.0, 9_763.0), "0.003\u{a0}kN");
        assert_eq!(metric.force_rate(4.13), "4.1\u{a0}N/s");
        assert_eq!(metric.drop_while_held(12.3), "drops 12.3\u{a0}N/s");
        assert_eq!(metric.drop_while_held(-14.7), "rises 14.7\u{a0}N/s");
    }

    #[test]
    fn minus_is_a_minus_and_nothing_is_not_minus_nothing() {
        assert_eq!(fixed(-1.25, 1), "−1.2");
        assert_eq!(fixed(-0.04, 1), "0.0");
        assert_eq!(degrees(359.7), "0°");
        assert_eq!(dof(None), "∞");
        assert_eq!(height(-40.0), "40\u{a0}mm inside the mouth");
        assert_eq!(height(20.0), "20\u{a0}mm");
    }
}
