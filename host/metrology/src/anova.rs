//! One-way analysis of variance: groups of readings in, between- and within-group scatter out.

use crate::statistics::{mean, sum, sum_of_squares};

/// The table of a one-way analysis of variance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneWay {
    /// Degrees of freedom between groups.
    pub between_dof: usize,
    /// Sum of squares between groups.
    pub between: f64,
    /// Degrees of freedom within groups.
    pub within_dof: usize,
    /// Sum of squares within groups.
    pub within: f64,
}

impl OneWay {
    /// Mean square between groups.
    pub fn between_mean_square(&self) -> f64 {
        self.between / self.between_dof as f64
    }

    /// Mean square within groups.
    pub fn within_mean_square(&self) -> f64 {
        self.within / self.within_dof as f64
    }

    /// Ratio of the mean squares; infinite without scatter within groups.
    pub fn f_ratio(&self) -> f64 {
        self.between_mean_square() / self.within_mean_square()
    }

    /// Standard deviation within groups.
    pub fn residual_stdev(&self) -> f64 {
        self.within_mean_square().sqrt()
    }
}

/// Splits the scatter of grouped readings. Sums are taken about the means, never of raw squares.
///
/// `None` below two groups or without a repeated reading.
/// Source: NIST/SEMATECH e-Handbook, section 7.4.3.3.
pub fn one_way(groups: &[Vec<f64>]) -> Option<OneWay> {
    let count: usize = groups.iter().map(Vec::len).sum();
    if groups.len() < 2 || groups.iter().any(Vec::is_empty) || count <= groups.len() {
        return None;
    }
    let all: Vec<f64> = groups.iter().flatten().copied().collect();
    let centre = mean(&all);
    // distances of the group means from the centre, from readings less the centre: nothing large cancels
    let offset = |g: &Vec<f64>| mean(&g.iter().map(|v| v - centre).collect::<Vec<f64>>());
    Some(OneWay {
        between_dof: groups.len() - 1,
        between: groups
            .iter()
            .map(|g| g.len() as f64 * offset(g).powi(2))
            .sum(),
        within_dof: count - groups.len(),
        within: sum(groups.iter().map(|g| sum_of_squares(g))),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_alike_have_nothing_between() {
        let table = one_way(&[vec![1.0, 2.0, 3.0], vec![3.0, 1.0, 2.0]]).unwrap();
        assert!(table.between < 1e-12 && (table.within - 4.0).abs() < 1e-12);
        assert!(table.f_ratio() < 1e-12);
    }

    #[test]
    fn too_little_to_split_gives_nothing() {
        assert!(one_way(&[vec![1.0, 2.0]]).is_none());
        assert!(one_way(&[vec![1.0], vec![2.0]]).is_none());
    }
}
