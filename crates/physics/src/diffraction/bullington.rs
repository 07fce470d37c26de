//! A profile replaced by one edge, and the delta-Bullington method.

use super::edges::knife_edge_loss_db;
use super::spherical_earth::SphericalEarth;
use crate::lanes::{Lane, NONE, each, for_blocks, greatest, raise};
use crate::path_loss::Polarization;

/// A profile and the two antennas over it.
///
/// The slices have one length, at least 3 points; `d_km` starts at 0 and
/// increases strictly. The heights of the first and last point are not used:
/// the antennas stand there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DiffractionPath<'a> {
    /// Distance from the transmitter. \[km\]
    pub d_km: &'a [f64],
    /// Bare ground above mean sea level. \[m\]
    pub h_m: &'a [f64],
    /// Clutter above the ground. \[m\]
    pub clutter_m: &'a [f64],
    /// Clutter nearer than this to either end is left out, >= 0. \[km\]
    pub bare_ends_km: f64,
    /// Transmitting antenna above mean sea level. \[m\]
    pub tx_amsl_m: f64,
    /// Receiving antenna above mean sea level. \[m\]
    pub rx_amsl_m: f64,
    /// Frequency. \[GHz\]
    pub f_ghz: f64,
    /// Wavelength, with the constant of the calling model. \[m\]
    pub lambda_m: f64,
}

impl DiffractionPath<'_> {
    fn length_km(&self) -> f64 {
        self.d_km.last().copied().unwrap_or(0.0)
    }
}

/// The smooth surface of a path as the diffraction model uses it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SmoothSurface {
    /// Height of the surface at the transmitter, above mean sea level. \[m\]
    pub hstd_m: f64,
    /// Height of the surface at the receiver, above mean sea level. \[m\]
    pub hsrd_m: f64,
    /// Fraction of the path over sea, 0 to 1.
    pub omega: f64,
    /// Polarization, for the spherical-Earth part.
    pub polarization: Polarization,
}

/// Parts of the delta-Bullington loss for one effective Earth radius.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DeltaBullington {
    /// Bullington loss of the actual profile. \[dB\]
    pub lbulla_db: f64,
    /// Bullington loss of the smooth profile. \[dB\]
    pub lbulls_db: f64,
    /// Spherical-Earth loss over the smooth surface. \[dB\]
    pub ldsph_db: f64,
    /// Diffraction loss. \[dB\]
    pub ld_db: f64,
}

/// Delta-Bullington diffraction loss for each of several effective Earth radii.
///
/// Source: ITU-R P.526-15, section 4.5.2; P.1812-8, equations (37) to (39).
#[must_use]
pub fn delta_bullington<const N: usize>(
    path: &DiffractionPath<'_>,
    smooth: &SmoothSurface,
    radii_km: [f64; N],
) -> [DeltaBullington; N] {
    let lbulla_db = bullington_db(path, radii_km);
    let sphere = SphericalEarth {
        d_km: path.length_km(),
        hte_m: path.tx_amsl_m - smooth.hstd_m, // (37)
        hre_m: path.rx_amsl_m - smooth.hsrd_m, // (38)
        f_ghz: path.f_ghz,
        radius_km: 0.0,
    };
    std::array::from_fn(|n| {
        let sphere = SphericalEarth {
            radius_km: radii_km[n],
            ..sphere
        };
        let lbulls_db = smooth_bullington_db(path, &sphere);
        let ldsph_db = sphere.loss_db(smooth.omega, smooth.polarization, path.lambda_m);
        let ld_db = lbulla_db[n] + (ldsph_db - lbulls_db).max(0.0); // (39)
        DeltaBullington {
            lbulla_db: lbulla_db[n],
            lbulls_db,
            ldsph_db,
            ld_db,
        }
    })
}

/// Bullington loss of the profile with its clutter, for each of several radii. \[dB\]
///
/// Source: ITU-R P.526-15, section 4.5.1; P.1812-8, equations (13) to (21).
#[must_use]
pub fn bullington_db<const N: usize>(path: &DiffractionPath<'_>, radii_km: [f64; N]) -> [f64; N] {
    // Two loops, so that the one without bare ends compares no distances.
    if path.bare_ends_km > 0.0 {
        let (from, to) = (path.bare_ends_km, path.length_km() - path.bare_ends_km);
        let counted = |d: f64, r: f64| if (d < from) | (d > to) { 0.0 } else { r };
        over(path, radii_km, |d, h, r| {
            each(|l| h[l] + counted(d[l], r[l]))
        })
    } else {
        over(path, radii_km, |_, h, r| each(|l| h[l] + r[l]))
    }
}

/// The construction over a surface: `top(distance, ground, clutter)` is its height.
#[inline(always)]
fn over<const N: usize>(
    path: &DiffractionPath<'_>,
    radii_km: [f64; N],
    top: impl Fn(Lane, Lane, Lane) -> Lane,
) -> [f64; N] {
    let dt = path.length_km();
    let (h1, h2) = (path.tx_amsl_m, path.rx_amsl_m);
    let bulge = radii_km.map(|a| 500.0 / a);
    let stim = steepest_from_tx(path, &top, bulge); // (13)
    let str_ = (h2 - h1) / dt; // (14)
    let los = stim.map(|s| s < str_);
    let key = if los.contains(&true) {
        greatest_nu_key(path, &top, bulge)
    } else {
        [0.0; N]
    };
    let srim = if los.contains(&false) {
        steepest_from_rx(path, &top, bulge)
    } else {
        [0.0; N]
    };
    std::array::from_fn(|n| {
        let nu = if los[n] {
            nu_of_key(key[n], dt, path.lambda_m) // (15)
        } else {
            Edge {
                h1,
                h2,
                stim: stim[n],
                srim: srim[n],
            }
            .nu(dt, path.lambda_m)
        };
        with_empirical_part_db(knife_edge_loss_db(nu), dt)
    })
}

/// Equation (21).
fn with_empirical_part_db(luc_db: f64, dt_km: f64) -> f64 {
    if luc_db > 0.0 {
        luc_db + (1.0 - (-luc_db / 6.0).exp()) * (10.0 + 0.02 * dt_km)
    } else {
        0.0
    }
}

/// Interior points of the three slices.
fn interior<'a>(path: &DiffractionPath<'a>) -> [&'a [f64]; 3] {
    [path.d_km, path.h_m, path.clutter_m]
        .map(|s| s.get(1..s.len().saturating_sub(1)).unwrap_or(&[]))
}

/// Greatest slope from the transmitter to the clutter, per radius. \[m/km\]
///
/// `(g + c·d·(dt−d) − h1)/d` is written `(g − h1)/d + c·(dt−d)`: one division
/// serves every radius.
#[inline]
fn steepest_from_tx<const N: usize>(
    path: &DiffractionPath<'_>,
    top: &impl Fn(Lane, Lane, Lane) -> Lane,
    bulge: [f64; N],
) -> [f64; N] {
    let (dt, h1) = (path.length_km(), path.tx_amsl_m);
    let mut best = [NONE; N];
    for_blocks(interior(path), |_, [d, h, r]| {
        let g = top(d, h, r);
        let slope = each(|l| (g[l] - h1) / d[l]);
        for n in 0..N {
            raise(&mut best[n], each(|l| slope[l] + bulge[n] * (dt - d[l])));
        }
    });
    best.map(|b| greatest(&b))
}

/// Greatest slope from the receiver, per radius. \[m/km\] Equation (17).
#[inline]
fn steepest_from_rx<const N: usize>(
    path: &DiffractionPath<'_>,
    top: &impl Fn(Lane, Lane, Lane) -> Lane,
    bulge: [f64; N],
) -> [f64; N] {
    let (dt, h2) = (path.length_km(), path.rx_amsl_m);
    let mut best = [NONE; N];
    for_blocks(interior(path), |_, [d, h, r]| {
        let g = top(d, h, r);
        let slope = each(|l| (g[l] - h2) / (dt - d[l]));
        for n in 0..N {
            raise(&mut best[n], each(|l| slope[l] + bulge[n] * d[l]));
        }
    });
    best.map(|b| greatest(&b))
}

/// Greatest ν of the profile as its signed square without the constant
/// factor, so that no root is drawn per point.
#[inline]
fn greatest_nu_key<const N: usize>(
    path: &DiffractionPath<'_>,
    top: &impl Fn(Lane, Lane, Lane) -> Lane,
    bulge: [f64; N],
) -> [f64; N] {
    let (dt, h1, h2) = (path.length_km(), path.tx_amsl_m, path.rx_amsl_m);
    let (w1, w2) = (h1 / dt, h2 / dt);
    let mut best = [NONE; N];
    for_blocks(interior(path), |_, [d, h, r]| {
        let g = top(d, h, r);
        let dd = each(|l| d[l] * (dt - d[l]));
        let per_dd = each(|l| 1.0 / dd[l]);
        let above = each(|l| g[l] - (w1 * (dt - d[l]) + w2 * d[l]));
        for n in 0..N {
            let y = each(|l| above[l] + bulge[n] * dd[l]);
            raise(&mut best[n], each(|l| y[l] * y[l].abs() * per_dd[l]));
        }
    });
    best.map(|b| greatest(&b))
}

/// ν of a signed square `y·|y|/(d·(dt−d))`.
pub(crate) fn nu_of_key(key: f64, dt_km: f64, lambda_m: f64) -> f64 {
    (key.abs() * 0.002 * dt_km / lambda_m).sqrt().copysign(key)
}

/// The one edge where the two steepest rays meet.
struct Edge {
    h1: f64,
    h2: f64,
    stim: f64,
    srim: f64,
}

impl Edge {
    /// Equations (18) and (19). Where the profile only touches the straight
    /// ray the two rays coincide and ν is 0.
    fn nu(&self, dt: f64, lambda_m: f64) -> f64 {
        let Self { h1, h2, stim, srim } = *self;
        let db = (h2 - h1 + srim * dt) / (stim + srim); // (18)
        let above = h1 + stim * db - (h1 * (dt - db) + h2 * db) / dt;
        let nu = above * (0.002 * dt / (lambda_m * db * (dt - db))).sqrt(); // (19)
        if nu.is_finite() { nu } else { 0.0 }
    }
}

/// Bullington loss of the smooth profile: height 0 at every point. \[dB\]
///
/// The slopes are concave in distance, so the greatest one stands beside the
/// tangent point and no walk along the profile is needed.
fn smooth_bullington_db(path: &DiffractionPath<'_>, sphere: &SphericalEarth) -> f64 {
    let dt = sphere.d_km;
    let (h1, h2, c) = (sphere.hte_m, sphere.hre_m, 500.0 / sphere.radius_km);
    let d = path
        .d_km
        .get(1..path.d_km.len().saturating_sub(1))
        .unwrap_or(&[]);
    let stim = beside(d, (h1.max(0.0) / c).sqrt(), |x| c * (dt - x) - h1 / x); // (13)
    let nu = if stim < (h2 - h1) / dt {
        if cannot_obstruct(path, sphere) {
            return 0.0;
        }
        nu_of_key(smooth_nu_key(d, sphere), dt, path.lambda_m) // (15)
    } else {
        let srim = beside(d, dt - (h2.max(0.0) / c).sqrt(), |x| c * x - h2 / (dt - x)); // (17)
        Edge { h1, h2, stim, srim }.nu(dt, path.lambda_m)
    };
    with_empirical_part_db(knife_edge_loss_db(nu), dt)
}

/// Greatest value of a function that rises up to `at` and falls after it.
fn beside(d: &[f64], at: f64, f: impl Fn(f64) -> f64) -> f64 {
    let after = d.partition_point(|x| *x < at);
    let value = |i: Option<usize>| {
        i.and_then(|i| d.get(i))
            .map_or(f64::NEG_INFINITY, |x| f(*x))
    };
    value(Some(after)).max(value(after.checked_sub(1)))
}

/// True when no point of the smooth profile can come near enough for a loss.
///
/// With s² = d/(dt−d), height over the ray divided by √(d·(dt−d)) is
/// `c·dt·s/(1+s²) − (h1/s + h2·s)/dt`, at most `c·dt/2 − 2·√(h1·h2)/dt`.
fn cannot_obstruct(path: &DiffractionPath<'_>, sphere: &SphericalEarth) -> bool {
    let dt = sphere.d_km;
    let most =
        250.0 * dt / sphere.radius_km - 2.0 * (sphere.hte_m * sphere.hre_m).max(0.0).sqrt() / dt;
    most * (0.002 * dt / path.lambda_m).sqrt() < -0.79
}

/// As [`greatest_nu_key`] for the smooth profile.
fn smooth_nu_key(d_km: &[f64], sphere: &SphericalEarth) -> f64 {
    let (dt, c) = (sphere.d_km, 500.0 / sphere.radius_km);
    let (w1, w2) = (sphere.hte_m / dt, sphere.hre_m / dt);
    let mut best = NONE;
    for_blocks([d_km], |_, [d]| {
        raise(
            &mut best,
            each(|l| {
                let dd = d[l] * (dt - d[l]);
                let y = c * dd - (w1 * (dt - d[l]) + w2 * d[l]);
                y * y.abs() / dd
            }),
        );
    });
    greatest(&best)
}

/// Least-squares smooth surface of bare ground and the obstruction of the ray
/// by it, as the diffraction model needs them.
///
/// Returns the surface heights at the two ends, `(hstd_m, hsrd_m)`.
///
/// Source: ITU-R P.526-15, section 4.5.2; P.1812-8, equations (85) to (91).
#[must_use]
pub fn smooth_surface(path: &DiffractionPath<'_>) -> (f64, f64) {
    let fit = crate::terrain::LeastSquares::of(path.d_km, path.h_m);
    let scan = crate::terrain::Obstruction::of(path.d_km, path.h_m, path.tx_amsl_m, path.rx_amsl_m);
    fit.for_diffraction(&scan, path.h_m)
}
