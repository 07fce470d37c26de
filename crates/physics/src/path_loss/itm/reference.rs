//! The reference attenuation: loss beyond free space for median conditions,
//! as straight lines between points computed deep in three regions.

use crate::diffraction::Ground;
use crate::path_loss::Polarization;

/// Where in the model the path lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PropagationMode {
    /// Shorter than the smooth-Earth horizons together.
    LineOfSight,
    /// Beyond the horizon, diffraction is the stronger.
    Diffraction,
    /// Beyond the horizon, scatter from the troposphere is the stronger.
    Troposcatter,
}

impl PropagationMode {
    /// The word in result tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::LineOfSight => "los",
            Self::Diffraction => "diffraction",
            Self::Troposcatter => "troposcatter",
        }
    }
}

/// Mean curvature of the Earth the model was made with, 1/6370 km. \[1/m\]
const EARTH_CURVATURE_PER_M: f64 = 157e-9;

/// Surface refractivity at which the ground would be flat to the ray; beyond
/// the model's range (400) by far, it only keeps the curvature positive.
const MOST_REFRACTIVITY: f64 = 500.0;

/// Distance beyond which scatter is computed from. \[m\]
const SCATTER_STEP_M: f64 = 200e3;

/// Surface refractivity at a height above sea level. \[N-units\]
pub(super) fn surface_refractivity(n0: f64, height_m: f64) -> f64 {
    n0 * (-height_m / 9460.0).exp()
}

/// Effective Earth radius at a surface refractivity. \[m\]
pub(super) fn effective_radius_m(ns: f64) -> f64 {
    let bent = 1.0 - 0.04665 * (ns.min(MOST_REFRACTIVITY) / 179.3).exp();
    1.0 / (EARTH_CURVATURE_PER_M * bent)
}

/// A complex number, real part first.
pub(super) type Complex = (f64, f64);

/// Transfer impedance of the ground.
pub(super) fn ground_impedance(ground: Ground, polarization: Polarization, f_mhz: f64) -> Complex {
    let (re, im) = (
        ground.permittivity,
        18_000.0 * ground.conductivity_s_per_m / f_mhz,
    );
    // √(ε − 1), with ε > 1.
    let root = (0.5 * ((re - 1.0).hypot(im) + re - 1.0)).sqrt().max(1e-9);
    let horizontal = (root, 0.5 * im / root);
    match polarization {
        Polarization::Horizontal => horizontal,
        Polarization::Vertical => divided(horizontal, (re, im)),
    }
}

fn divided(a: Complex, b: Complex) -> Complex {
    let norm = b.0 * b.0 + b.1 * b.1;
    (
        (a.0 * b.0 + a.1 * b.1) / norm,
        (a.1 * b.0 - a.0 * b.1) / norm,
    )
}

/// Range of heights within a distance, of a path without end.
pub(super) fn irregularity_within_m(delta_h_m: f64, x_m: f64) -> f64 {
    delta_h_m * (1.0 - 0.8 * (-x_m / 50e3).exp())
}

/// Spread of heights of a range of heights.
fn height_spread_m(range_m: f64) -> f64 {
    0.78 * range_m * (-0.5 * range_m.sqrt().sqrt()).exp()
}

/// Everything the attenuation depends on. Pairs are transmitter and receiver.
#[derive(Clone, Copy)]
pub(super) struct Case {
    pub(super) f_mhz: f64,
    /// Surface refractivity.
    pub(super) ns: f64,
    /// Effective Earth radius. \[m\]
    pub(super) ae: f64,
    pub(super) zg: Complex,
    /// Antennas above ground, and above what reflects. \[m\]
    pub(super) h: [f64; 2],
    pub(super) he: [f64; 2],
    /// Horizons: elevation \[rad\] and distance \[m\].
    pub(super) theta: [f64; 2],
    pub(super) dh: [f64; 2],
    pub(super) delta_h: f64,
    /// Added to the product of the antenna heights over a known profile, 10 m²,
    /// 0 in the area mode.
    pub(super) known_path_m2: f64,
}

/// Result of the reference attenuation.
#[derive(Clone, Copy)]
pub(super) struct Attenuation {
    pub(super) a_ref_db: f64,
    pub(super) mode: PropagationMode,
}

impl Case {
    /// Distances to the horizon of a smooth Earth. \[m\]
    pub(super) fn smooth_horizons_m(&self) -> [f64; 2] {
        self.he.map(|he| (2.0 * he * self.ae).sqrt())
    }

    /// Reference attenuation at distance `d`.
    pub(super) fn attenuation(&self, d: f64) -> Attenuation {
        let line = DiffractionLine::of(self);
        let (a_ref_db, mode) = if d < line.ds_ml {
            (
                self.short_of_horizon(&line, d),
                PropagationMode::LineOfSight,
            )
        } else {
            let scatter = ScatterLine::of(self, &line);
            if d > scatter.from {
                let a = scatter.slope * d + scatter.offset;
                (a, PropagationMode::Troposcatter)
            } else {
                (line.at(d), PropagationMode::Diffraction)
            }
        };
        Attenuation {
            a_ref_db: a_ref_db.max(0.0),
            mode,
        }
    }

    /// The curve through three points short of the horizon, at `d`.
    fn short_of_horizon(&self, line: &DiffractionLine, d: f64) -> f64 {
        let ds_ml = line.ds_ml;
        let far = line.at(ds_ml);
        let mut d0 = 0.04 * self.f_mhz * self.he[0] * self.he[1];
        let d1 = if line.offset >= 0.0 {
            d0 = d0.min(0.5 * line.d_ml);
            d0 + 0.25 * (line.d_ml - d0)
        } else {
            (-line.offset / line.slope).max(0.25 * line.d_ml)
        };
        let a1 = self.two_rays_db(line, d1);
        let (mut k1, mut k2, mut found) = (0.0, 0.0, false);
        if d0 < d1 {
            let a0 = self.two_rays_db(line, d0);
            let q = (ds_ml / d0).ln();
            k2 = (((ds_ml - d0) * (a1 - a0) - (d1 - d0) * (far - a0))
                / ((ds_ml - d0) * (d1 / d0).ln() - (d1 - d0) * q))
                .max(0.0);
            found = line.offset > 0.0 || k2 > 0.0;
            if found {
                k1 = (far - a0 - k2 * q) / (ds_ml - d0);
                if k1 < 0.0 {
                    k1 = 0.0;
                    k2 = (far - a0).max(0.0) / q;
                    if k2 == 0.0 {
                        k1 = line.slope;
                    }
                }
            }
        }
        if !found {
            k2 = 0.0;
            k1 = (far - a1).max(0.0) / (ds_ml - d1);
            if k1 == 0.0 {
                k1 = line.slope;
            }
        }
        far + k1 * (d - ds_ml) + k2 * (d / ds_ml).ln()
    }

    /// Attenuation of the direct and the reflected ray, joined with diffraction.
    fn two_rays_db(&self, line: &DiffractionLine, x: f64) -> f64 {
        let k = self.f_mhz / 47.7;
        let spread = height_spread_m(irregularity_within_m(self.delta_h, x));
        let heights = self.he[0] + self.he[1];
        let sine = heights / x.hypot(heights);
        let rough = (-(k * spread * sine).min(10.0)).exp();
        let (re, im) = divided(
            (sine - self.zg.0, -self.zg.1),
            (sine + self.zg.0, self.zg.1),
        );
        let (mut re, mut im) = (re * rough, im * rough);
        let q = re * re + im * im;
        if q < 0.25 || q < sine {
            let raised = (sine / q).sqrt();
            (re, im) = (re * raised, im * raised);
        }
        let mut phase = 2.0 * k * self.he[0] * self.he[1] / x;
        if phase > std::f64::consts::FRAC_PI_2 {
            phase = std::f64::consts::PI - std::f64::consts::FRAC_PI_2.powi(2) / phase;
        }
        let (sin, cos) = phase.sin_cos();
        let power = (cos + re).powi(2) + (im - sin).powi(2);
        let rays = -10.0 * power.log10();
        let weight = 1.0 / (1.0 + self.f_mhz * self.delta_h / line.ds_ml.max(10e3));
        weight * rays + (1.0 - weight) * line.at(x)
    }
}

/// Diffraction beyond the horizon as a straight line in distance.
pub(super) struct DiffractionLine {
    /// Smooth-Earth horizons together. \[m\]
    ds_ml: f64,
    /// Horizons together. \[m\]
    d_ml: f64,
    /// Angle by which the horizons miss each other. \[rad\]
    theta_los: f64,
    /// Length over which diffraction sets in. \[m\]
    x_ae: f64,
    slope: f64,
    offset: f64,
}

impl DiffractionLine {
    fn of(case: &Case) -> Self {
        let [ds1, ds2] = case.smooth_horizons_m();
        let (ds_ml, d_ml) = (ds1 + ds2, case.dh[0] + case.dh[1]);
        let theta_los = -(case.theta[0] + case.theta[1]).max(-d_ml / case.ae);
        let x_ae = (case.ae * case.ae / case.f_mhz).cbrt();
        let d3 = ds_ml.max(d_ml + 5.0 * x_ae);
        let d4 = d3 + 10.0 * x_ae;
        let parts = Diffraction::of(case, ds_ml, d_ml, theta_los);
        let (a3, a4) = (parts.loss_db(case, d3), parts.loss_db(case, d4));
        let slope = (a4 - a3) / (d4 - d3);
        Self {
            ds_ml,
            d_ml,
            theta_los,
            x_ae,
            slope,
            offset: a3 - slope * d3,
        }
    }

    fn at(&self, x: f64) -> f64 {
        self.slope * x + self.offset
    }
}

/// The parts of the diffraction loss that do not depend on distance.
struct Diffraction {
    d_ml: f64,
    theta_los: f64,
    /// Loss by the clutter at the ends. \[dB\]
    clutter_db: f64,
    /// Height gains of the two ends over the smooth Earth. \[dB\]
    gains_db: f64,
    /// Normalized distances of the two ends together.
    x12: f64,
    /// Cube root of the frequency.
    f_root: f64,
    /// |Zg|
    impedance: f64,
    /// Square root in the weight of the smooth Earth.
    heights_root: f64,
}

impl Diffraction {
    fn of(case: &Case, ds_ml: f64, d_ml: f64, theta_los: f64) -> Self {
        let spread = height_spread_m(irregularity_within_m(case.delta_h, ds_ml));
        let product = case.h[0] * case.h[1];
        let clutter = 5.0 * (1.0 + 1e-5 * product * case.f_mhz * spread).log10();
        let q = product + case.known_path_m2;
        let mut parts = Self {
            d_ml,
            theta_los,
            clutter_db: clutter.min(15.0),
            gains_db: 0.0,
            x12: 0.0,
            f_root: case.f_mhz.cbrt(),
            impedance: case.zg.0.hypot(case.zg.1),
            heights_root: (1.0 + (case.he[0] * case.he[1] - product) / q).sqrt(),
        };
        for (he, dh) in case.he.into_iter().zip(case.dh) {
            let (x, k) = parts.normalized(0.5 * dh * dh / he, dh);
            parts.gains_db += height_gain_db(x, k);
            parts.x12 += x;
        }
        parts
    }

    /// Normalized distance and the ground's share of a stretch `length` of a
    /// sphere of that radius.
    fn normalized(&self, radius: f64, length: f64) -> (f64, f64) {
        let c = (4.0 / 3.0 * 6370e3 / radius).cbrt();
        let k = 0.017778 * c / (self.f_root * self.impedance);
        let b = 1.607 - k;
        (b * c * c * self.f_root * length / 1e3, k)
    }

    /// Loss at distance `x` beyond the horizons.
    fn loss_db(&self, case: &Case, x: f64) -> f64 {
        let theta = x / case.ae - self.theta_los;
        let between = x - self.d_ml;
        let k = case.f_mhz / 47.7;
        let edge = |dh: f64| {
            let v2 = 0.079_577_5 * k * theta * theta * dh * between / (between + dh);
            knife_edge_db(v2)
        };
        let edges = edge(case.dh[0]) + edge(case.dh[1]);
        let (x0, _) = self.normalized(between / theta, between);
        let total = x0 + self.x12;
        let smooth = 0.05751 * total - 10.0 * total.log10() - self.gains_db - 20.0;
        let range = irregularity_within_m(case.delta_h, x);
        let q = (self.heights_root + (self.d_ml - self.theta_los * case.ae) / x)
            * (range * k).min(6283.2);
        let weight = 25.1 / (25.1 + q.sqrt());
        weight * smooth + (1.0 - weight) * edges + self.clutter_db
    }
}

/// Knife-edge loss of the squared parameter.
fn knife_edge_db(v2: f64) -> f64 {
    if v2 < 5.76 {
        6.02 + 9.11 * v2.sqrt() - 1.27 * v2
    } else {
        12.953 + 10.0 * v2.log10()
    }
}

/// Height gain over a smooth sphere at a normalized distance.
fn height_gain_db(x: f64, k: f64) -> f64 {
    if x < 200.0 {
        let w = -k.ln();
        if k < 1e-5 || x * w * w * w > 5495.0 {
            let long = if x > 1.0 { 17.372 * x.ln() } else { 0.0 };
            long - 117.0
        } else {
            2.5e-5 * x * x / k - 8.686 * w - 15.0
        }
    } else {
        let y = 0.05751 * x - 4.343 * x.ln();
        if x < 2000.0 {
            let w = 0.0134 * x * (-0.005 * x).exp();
            (1.0 - w) * y + w * (17.372 * x.ln() - 117.0)
        } else {
            y
        }
    }
}

/// Troposcatter as a straight line in distance.
struct ScatterLine {
    slope: f64,
    offset: f64,
    /// Distance beyond which it is the stronger. \[m\]
    from: f64,
}

impl ScatterLine {
    fn of(case: &Case, line: &DiffractionLine) -> Self {
        let d5 = line.d_ml + SCATTER_STEP_M;
        let d6 = d5 + SCATTER_STEP_M;
        let mut h0 = -1.0;
        let a6 = case.scatter_db(line.theta_los, d6, &mut h0);
        let a5 = case.scatter_db(line.theta_los, d5, &mut h0);
        if a5 < 1000.0 {
            let slope = (a6 - a5) / SCATTER_STEP_M;
            let steeper = line.slope - slope;
            let from = line
                .ds_ml
                .max(line.d_ml + 1.088 * line.x_ae * case.f_mhz.ln())
                .max((a5 - line.offset - slope * d5) / steeper);
            Self {
                slope,
                offset: steeper * from + line.offset,
                from,
            }
        } else {
            Self {
                slope: line.slope,
                offset: line.offset,
                from: 10e6,
            }
        }
    }
}

impl Case {
    /// Troposcatter attenuation at distance `x`; above 1000 where it cannot be
    /// computed. `h0_before` is the frequency gain carried from the call before.
    fn scatter_db(&self, theta_los: f64, x: f64, h0_before: &mut f64) -> f64 {
        let k = self.f_mhz / 47.7;
        let h0 = if *h0_before > 15.0 {
            *h0_before
        } else {
            match self.frequency_gain_db(k, x) {
                None => return 1001.0,
                Some(h0) if h0 > 15.0 && *h0_before >= 0.0 => *h0_before,
                Some(h0) => h0,
            }
        };
        *h0_before = h0;
        let t = x / self.ae - theta_los;
        attenuation_function_db(t * x) + 10.0 * (k * 47.7 * t * t * t * t).log10()
            - 0.1 * (self.ns - 301.0) * (-t * x / 40e3).exp()
            + h0
    }

    /// Frequency gain H0; `None` where both antennas are too low for it.
    fn frequency_gain_db(&self, k: f64, x: f64) -> Option<f64> {
        let mut ad = self.dh[0] - self.dh[1];
        let mut ratio = self.he[1] / self.he[0];
        if ad < 0.0 {
            (ad, ratio) = (-ad, 1.0 / ratio);
        }
        let theta = self.theta[0] + self.theta[1] + x / self.ae;
        let [r1, r2] = self.he.map(|he| 2.0 * k * theta * he);
        if r1 < 0.2 && r2 < 0.2 {
            return None;
        }
        let s = (x - ad) / (x + ad);
        let q = (ratio / s).clamp(0.1, 10.0);
        let s = s.max(0.1);
        let crossing = (x - ad) * (x + ad) * theta * 0.25 / x;
        let low = (crossing / 8e3).min(1.7).powi(6);
        let et = crossing / 1755.6
            * (1.0 + (0.031 - 2.32e-3 * self.ns + 5.67e-6 * self.ns * self.ns) * (-low).exp());
        let mean = mean_height_function_db([r1, r2], et);
        let correction = 6.0 * (0.6 - et.max(1.0).log10()) * s.log10() * q.log10();
        let mut h0 = (mean + mean.min(correction)).max(0.0);
        if et < 1.0 {
            let root2 = std::f64::consts::SQRT_2;
            let product = (1.0 + root2 / r1) * (1.0 + root2 / r2);
            let low = product * product * (r1 + r2) / (r1 + r2 + 2.0 * root2);
            h0 = et * h0 + (1.0 - et) * 10.0 * low.log10();
        }
        Some(h0)
    }
}

/// F(θd). \[dB\]
fn attenuation_function_db(y: f64) -> f64 {
    if y <= 10e3 {
        133.4 + 0.332e-3 * y - 10.0 * y.log10()
    } else if y <= 70e3 {
        104.6 + 0.212e-3 * y - 2.5 * y.log10()
    } else {
        71.8 + 0.157e-3 * y + 5.0 * y.log10()
    }
}

/// Mean of H0 of the two ends for the scatter efficiency `et`. \[dB\]
fn mean_height_function_db(r: [f64; 2], et: f64) -> f64 {
    const A: [f64; 5] = [25.0, 80.0, 177.0, 395.0, 705.0];
    const B: [f64; 5] = [24.0, 45.0, 68.0, 80.0, 105.0];
    let et = et.clamp(1.0, 5.0);
    let below = (1..5).rev().find(|i| et >= f64::from(*i)).unwrap_or(1);
    let share = et - f64::from(below);
    let below = usize::try_from(below).unwrap_or(1);
    let r2 = r.map(|r| 1.0 / (r * r));
    // Half the sum of two logarithms is the logarithm of the product, halved.
    let curve = |j: usize| {
        let [one, other] = r2.map(|r2| 1.0 + (A[j] * r2 + B[j]) * r2);
        5.0 * (one * other).log10()
    };
    if share > 0.0 {
        (1.0 - share) * curve(below - 1) + share * curve(below)
    } else {
        curve(below - 1)
    }
}
