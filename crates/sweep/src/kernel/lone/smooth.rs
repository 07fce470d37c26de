//! The smooth profile of the delta-Bullington method over equal steps.

use physics::diffraction::SphericalEarth;

use crate::kernel::fold::{edge_nu, nu_of_key, single_edge_db};
use crate::radial::OWN_SAMPLES;

/// The samples of a path over the smooth Earth.
pub(crate) struct SmoothSteps {
    pub(crate) step_km: f64,
    /// Last sample at these steps.
    pub(crate) last: usize,
    /// Step of the [`OWN_SAMPLES`] that follow, if they do.
    pub(crate) own_step_km: Option<f64>,
    pub(crate) lambda_m: f64,
}

impl SmoothSteps {
    /// Bullington loss of the smooth profile: height 0 at every sample. \[dB\]
    pub(crate) fn bullington_db(&self, sphere: &SphericalEarth) -> f64 {
        let dt = sphere.d_km;
        let (h1, h2, c) = (sphere.hte_m, sphere.hre_m, 500.0 / sphere.radius_km);
        let lambda_m = self.lambda_m;
        let at = (h1.max(0.0) / c).sqrt();
        let stim = self.beside(at, dt, &|x| c * (dt - x) - h1 / x); // (13)
        let nu = if stim < (h2 - h1) / dt {
            // Over no point does the ray come nearer than this.
            let most = 0.5 * c * dt - 2.0 * (h1 * h2).max(0.0).sqrt() / dt;
            if most * (0.002 * dt / lambda_m).sqrt() < -0.79 {
                return 0.0;
            }
            nu_of_key(self.greatest_key([h1, h2], c, dt), dt, lambda_m) // (15)
        } else {
            let at = dt - (h2.max(0.0) / c).sqrt();
            let srim = self.beside(at, dt, &|x| c * x - h2 / (dt - x)); // (17)
            edge_nu([h1, h2], [stim, srim], dt, lambda_m)
        };
        single_edge_db(nu, dt)
    }

    fn d_km(&self, sample: usize, dt: f64) -> f64 {
        match self.own_step_km {
            Some(step_km) if sample > self.last => {
                dt - (self.last + 1 + OWN_SAMPLES - sample) as f64 * step_km
            }
            _ => sample as f64 * self.step_km,
        }
    }

    /// Greatest value at a sample of a function that rises up to `at` and falls after it.
    fn beside(&self, at: f64, dt: f64, value: &dyn Fn(f64) -> f64) -> f64 {
        let after = ((at / self.step_km).ceil().max(0.0) as usize).clamp(1, self.last);
        // The division may be off by one.
        let near = after.saturating_sub(2).max(1)..=(after + 1).min(self.last);
        let shared = near.map(|i| value(self.d_km(i, dt)));
        // Beside it in its own end too, from the receiver backwards.
        let own = self.own_step_km.map(|step_km| {
            let after = (((dt - at) / step_km).ceil().max(0.0) as usize).clamp(1, OWN_SAMPLES);
            let near = after.saturating_sub(2).max(1)..=(after + 1).min(OWN_SAMPLES);
            let values = near.map(|back| value(dt - back as f64 * step_km));
            values.fold(f64::NEG_INFINITY, f64::max)
        });
        shared.chain(own).fold(f64::NEG_INFINITY, f64::max)
    }

    /// As the scalar model's walk over the smooth profile in sight; the key
    /// rises and then falls along the path (see the crate's documentation).
    fn greatest_key(&self, [h1, h2]: [f64; 2], c: f64, dt: f64) -> f64 {
        let key = |i: usize| {
            let d = self.d_km(i, dt);
            let dd = d * (dt - d);
            let y = c * dd - (h1 / dt * (dt - d) + h2 / dt * d);
            y * y.abs() / dd
        };
        let own = self.own_step_km.map_or(0, |_| OWN_SAMPLES);
        let (mut low, mut high) = (1, self.last + own);
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
