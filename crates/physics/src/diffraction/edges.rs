//! Single obstacles: one edge, a rounded crest, two edges in a row.

use std::f64::consts::{FRAC_PI_2, PI};

use crate::free_space::wavelength_m;
use crate::fresnel::diffraction_parameter;

/// Diffraction loss of a single knife edge, approximation. \[dB\]
///
/// `J(ν) = 6.9 + 20·log10(√((ν−0.1)²+1) + ν − 0.1)` for ν > −0.78, else 0.
///
/// * `nu`: diffraction parameter ([`diffraction_parameter`]).
/// * Within 0.12 dB of [`knife_edge_exact_db`] for −0.7 < ν < 10.
///
/// Source: ITU-R P.526-15, equation (31); P.1812-8, equation (12).
#[must_use]
pub fn knife_edge_loss_db(nu: f64) -> f64 {
    if nu > -0.78 {
        let v = nu - 0.1;
        6.9 + 20.0 * ((v * v + 1.0).sqrt() + v).log10()
    } else {
        0.0
    }
}

/// Diffraction loss of a single knife edge from the Fresnel integrals. \[dB\]
///
/// Negative where the edge reinforces the direct ray (ν below about −0.8).
///
/// Source: ITU-R P.526-15, equation (30).
#[must_use]
pub fn knife_edge_exact_db(nu: f64) -> f64 {
    let (c, s) = fresnel_integrals(nu);
    -20.0 * (0.5 * (1.0 - c - s).hypot(c - s)).log10()
}

/// Fresnel integrals C and S with the kernel cos, sin(π·t²/2).
///
/// A power series near zero, an asymptotic one from 3.5 on; either is good to
/// about 1e-8 where they meet.
fn fresnel_integrals(x: f64) -> (f64, f64) {
    let z = x.abs();
    let (c, s) = if z < 3.5 {
        fresnel_series(z)
    } else {
        fresnel_asymptotic(z)
    };
    (c.copysign(x), s.copysign(x))
}

fn fresnel_series(x: f64) -> (f64, f64) {
    // The integral of exp(iπt²/2), term by term: xⁿ-terms alternate between C and S.
    let u = FRAC_PI_2 * x * x;
    let (mut c, mut s, mut term) = (0.0, 0.0, x);
    for n in 0..120 {
        let part = term / f64::from(2 * n + 1);
        match n % 4 {
            0 => c += part,
            1 => s += part,
            2 => c -= part,
            _ => s -= part,
        }
        term *= u / f64::from(n + 1);
        if term < 1e-18 {
            break;
        }
    }
    (c, s)
}

fn fresnel_asymptotic(x: f64) -> (f64, f64) {
    let p = PI * x * x;
    let (mut f, mut g, mut term) = (0.0, 0.0, 1.0);
    for n in 0..16 {
        match n % 4 {
            0 => f += term,
            1 => g += term,
            2 => f -= term,
            _ => g -= term,
        }
        let factor = f64::from(2 * n + 1) / p;
        if factor >= 1.0 || term < 1e-18 {
            break;
        }
        term *= factor;
    }
    let (f, g) = (f / (PI * x), g / (PI * x));
    // The argument is reduced first; its period in x² is 4.
    let (sin, cos) = (FRAC_PI_2 * (x * x).rem_euclid(4.0)).sin_cos();
    (0.5 + f * sin - g * cos, 0.5 - f * cos - g * sin)
}

/// One obstacle on a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Obstacle {
    /// Top above the straight line between the antennas, bulge included. \[m\]
    pub h_m: f64,
    /// Distance to the transmitter, > 0. \[km\]
    pub d1_km: f64,
    /// Distance to the receiver, > 0. \[km\]
    pub d2_km: f64,
}

/// Diffraction loss of a single rounded obstacle. \[dB\]
///
/// * `crest_radius_m`: radius of curvature at the top, >= 0; 0 is a knife edge.
/// * Valid for an obstacle that reaches the ray (`h_m` >= 0).
///
/// Source: ITU-R P.526-15, section 4.2 (from memory of the text; no published case at hand).
#[must_use]
pub fn rounded_obstacle_loss_db(obstacle: &Obstacle, crest_radius_m: f64, f_ghz: f64) -> f64 {
    let Obstacle { h_m, d1_km, d2_km } = *obstacle;
    let edge_db = knife_edge_loss_db(diffraction_parameter(h_m, f_ghz, d1_km, d2_km));
    if crest_radius_m <= 0.0 {
        return edge_db;
    }
    let bend = (PI * crest_radius_m / wavelength_m(f_ghz)).cbrt();
    let m = crest_radius_m * (d1_km + d2_km) / (d1_km * d2_km * 1e3) / bend;
    let n = h_m * bend * bend / crest_radius_m;
    let root = m.sqrt();
    let rest = 3.6 * m * root - 0.8 * m * m;
    let round_db = if m * n <= 4.0 {
        7.2 * root - (2.0 - 12.5 * n) * m + rest
    } else {
        -6.0 - 20.0 * (m * n).log10() + 7.2 * root - (2.0 - 17.0 * n) * m + rest
    };
    edge_db + round_db
}

/// Two isolated edges on a path of three spans.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwoEdges {
    /// Transmitter to first edge, > 0. \[km\]
    pub a_km: f64,
    /// First to second edge, > 0. \[km\]
    pub b_km: f64,
    /// Second edge to receiver, > 0. \[km\]
    pub c_km: f64,
    /// First edge above the straight line between the antennas. \[m\]
    pub h1_m: f64,
    /// Second edge above the straight line between the antennas. \[m\]
    pub h2_m: f64,
}

/// Diffraction loss of two isolated edges of similar height. \[dB\]
///
/// Each edge is seen between its neighbours. The spacing term Lc counts only
/// where both single losses exceed 15 dB.
///
/// Source: ITU-R P.526-15, section 4.3, first method (from memory of the text;
/// no published case at hand).
#[must_use]
pub fn two_edges_loss_db(edges: &TwoEdges, f_ghz: f64) -> f64 {
    let TwoEdges {
        a_km: a,
        b_km: b,
        c_km: c,
        h1_m,
        h2_m,
    } = *edges;
    let first_m = h1_m - h2_m * a / (a + b);
    let second_m = h2_m - h1_m * c / (b + c);
    let l1_db = knife_edge_loss_db(diffraction_parameter(first_m, f_ghz, a, b));
    let l2_db = knife_edge_loss_db(diffraction_parameter(second_m, f_ghz, b, c));
    let spacing_db = if l1_db > 15.0 && l2_db > 15.0 {
        10.0 * ((a + b) * (b + c) / (b * (a + b + c))).log10()
    } else {
        0.0
    };
    l1_db + l2_db + spacing_db
}
