//! Packets that wait for one server.

/// Mean wait before service, packets of equal length arriving at random. \[s\]
///
/// `W = ρ·s / (2·(1 − ρ))`; infinite at a load of 1 and above.
///
/// * `load_frac`: 0 to below 1. `service_s`: time to serve one packet.
///
/// Source: A. K. Erlang's M/D/1 queue; any textbook on queues.
pub fn mean_wait_equal_s(load_frac: f64, service_s: f64) -> f64 {
    mean_wait_s(load_frac, service_s, 0.0)
}

/// Mean wait before service, packets of any length arriving at random. \[s\]
///
/// `W = ρ·s·(1 + c²) / (2·(1 − ρ))`; infinite at a load of 1 and above.
///
/// * `load_frac`: 0 to below 1. `service_s`: mean time of service.
///   `variation`: standard deviation of the time of service over its mean (0 equal, 1 exponential).
///
/// Source: the formula of F. Pollaczek and A. Y. Khinchine; any textbook on queues.
pub fn mean_wait_s(load_frac: f64, service_s: f64, variation: f64) -> f64 {
    if load_frac >= 1.0 {
        return f64::INFINITY;
    }
    load_frac * service_s * (1.0 + variation * variation) / (2.0 * (1.0 - load_frac))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Textbook values of the queue with equal service: waits of 0.5, 2 and
    /// 4.5 service times at loads of 0.5, 0.8 and 0.9; twice that with
    /// exponential service.
    #[test]
    fn ref_waits_in_service_times() {
        for (load, waits) in [(0.5, 0.5), (0.8, 2.0), (0.9, 4.5)] {
            assert!((mean_wait_equal_s(load, 1.0) - waits).abs() < 1e-12);
            assert!((mean_wait_s(load, 1.0, 1.0) - 2.0 * waits).abs() < 1e-12);
        }
        assert_eq!(mean_wait_equal_s(1.0, 1.0), f64::INFINITY);
        assert_eq!(mean_wait_equal_s(0.0, 1.0), 0.0);
    }
}
