//! The smooth profile of the delta-Bullington method over equal steps.

use physics::diffraction::SphericalEarth;

use crate::kernel::fold::{edge_nu, nu_of_key, single_edge_db};

/// The samples of a path over the smooth Earth.
pub(crate) struct SmoothSteps {
    pub(crate) step_km: f64,
    /// Last sample inside the path.
    pub(crate) last: usize,
    pub(crate) lambda_m: f64,
}

impl SmoothSteps {
    /// Bullington loss of the smooth profile: height 0 at every sample. \[dB\]
    pub(crate) fn bullington_db(&self, sphere: &SphericalEarth) -> f64 {
        let dt = sphere.d_km;
        let (h1, h2, c) = (sphere.hte_m, sphere.hre_m, 500.0 / sphere.radius_km);
        let lambda_m = self.lambda_m;
        let stim = self.beside((h1.max(0.0) / c).sqrt(), &|x| c * (dt - x) - h1 / x); // (13)
        let nu = if stim < (h2 - h1) / dt {
            // Over no point does the ray come nearer than this.
            let most = 0.5 * c * dt - 2.0 * (h1 * h2).max(0.0).sqrt() / dt;
            if most * (0.002 * dt / lambda_m).sqrt() < -0.79 {
                return 0.0;
            }
            nu_of_key(self.greatest_key([h1, h2], c, dt), dt, lambda_m) // (15)
        } else {
            let at = dt - (h2.max(0.0) / c).sqrt();
            let srim = self.beside(at, &|x| c * x - h2 / (dt - x)); // (17)
            edge_nu([h1, h2], [stim, srim], dt, lambda_m)
        };
        single_edge_db(nu, dt)
    }

    fn d_km(&self, sample: usize) -> f64 {
        sample as f64 * self.step_km
    }

    /// Greatest value at a sample of a function that rises up to `at` and falls after it.
    fn beside(&self, at: f64, value: &dyn Fn(f64) -> f64) -> f64 {
        let after = ((at / self.step_km).ceil().max(0.0) as usize).clamp(1, self.last);
        // The division may be off by one.
        let near = after.saturating_sub(2).max(1)..=(after + 1).min(self.last);
        near.map(|i| value(self.d_km(i)))
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// As the scalar model's walk over the smooth profile in sight; the key
    /// rises and then falls along the path (see the crate's documentation).
    fn greatest_key(&self, [h1, h2]: [f64; 2], c: f64, dt: f64) -> f64 {
        let key = |i: usize| {
            let d = self.d_km(i);
            let dd = d * (dt - d);
            let y = c * dd - (h1 / dt * (dt - d) + h2 / dt * d);
            y * y.abs() / dd
        };
        let (mut low, mut high) = (1, self.last);
        while high - low > 4 {
            let mid = low + (high - low) / 2;
            if key(mid) < key(mid + 1) {
                low = mid + 1;
            } else {
                high = mid;
            }
        }
        (low..=high).map(key).fold(f64::NEG_INFINITY, f64::max)
    }
}
