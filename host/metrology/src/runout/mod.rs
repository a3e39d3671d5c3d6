//! Taper runout. In: indicator readings round the turn, on wall, bar, face or end. Out: TIR, eccentricity, what is the
//! spindle's, the bar's and the seat's, and a verdict.
//!
//! θ is how far the spindle was turned, growing in the direction turned, from position 0 (stepped) or from the mark's
//! rising edge (marked). Readings grow as the surface moves towards the indicator:
//!
//! reading(θ) = c + drift·t + Σ A_k·cos(kθ − φ_k) + noise
//!
//! k = 1 is the eccentricity, its direction the θ at which the high spot faces the indicator; k = 2 is ovality, k ≥ 3
//! lobing. With the bar turned by o in the spindle the eccentricity vector is S + B·e^{io}: S stays with the spindle,
//! B with the bar. Heights are mm from the nose face outward, inside the taper negative.

pub mod harmonics;
pub mod taper;
pub mod vector;
