//! Inverse complementary cumulative normal distribution, as the
//! Recommendations approximate it.

/// I(x): the number of standard deviations exceeded with probability `x`.
///
/// * `x`: probability 0 to 1, limited to 1e-6 … 1 − 1e-6.
/// * Error of the approximation: 4.5e-4.
///
/// Source: ITU-R P.1812-8, equations (96) and (97).
#[must_use]
pub fn inverse_normal(x: f64) -> f64 {
    let x = x.clamp(1e-6, 1.0 - 1e-6);
    if x <= 0.5 {
        upper_tail(x)
    } else {
        -upper_tail(1.0 - x)
    }
}

fn upper_tail(x: f64) -> f64 {
    let t = (-2.0 * x.ln()).sqrt();
    let c = ((0.010328 * t + 0.802853) * t + 2.515516698)
        / (((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0);
    t - c
}
