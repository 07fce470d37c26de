//! A rate as an account: it fills with every frame and pays for what is sent.

/// Account of bytes. What is sent whole may overdraw it; the debt is paid first.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Bucket {
    bytes: f64,
    per_frame_bytes: f64,
    most_bytes: f64,
    /// How many sources the account is for.
    sources: u32,
    frame: u64,
}

impl Bucket {
    /// * `rate_mbps` over frames of `frame_ms`; keeps up to what `burst_ms` brings, and two packets at least.
    pub(crate) fn new(rate_mbps: f64, frame_ms: f64, (burst_ms, packet_bytes): (f64, u32)) -> Self {
        // Mb/s times milliseconds are kilobits.
        let bytes_in = |ms: f64| rate_mbps * ms * 125.0;
        let most_bytes = if rate_mbps > 0.0 {
            bytes_in(burst_ms)
                .max(bytes_in(2.0 * frame_ms))
                .max(2.0 * f64::from(packet_bytes))
        } else {
            0.0
        };
        Self {
            bytes: most_bytes,
            per_frame_bytes: bytes_in(frame_ms),
            most_bytes,
            sources: 1,
            frame: 0,
        }
    }

    /// Makes the account one for so many sources of its rate, with what is in it kept.
    pub(crate) fn set_sources(&mut self, sources: u32, frame: u64) {
        self.at(frame);
        self.sources = sources;
        self.bytes = self.bytes.min(self.most());
    }

    /// Bytes at which the account is full.
    pub(crate) fn most(&self) -> f64 {
        self.most_bytes * f64::from(self.sources)
    }

    /// Bytes in the account at a frame, negative in debt.
    pub(crate) fn at(&mut self, frame: u64) -> f64 {
        let frames = frame.saturating_sub(self.frame) as f64;
        self.frame = frame;
        let added = frames * self.per_frame_bytes * f64::from(self.sources);
        self.bytes = (self.bytes + added).min(self.most());
        self.bytes
    }

    pub(crate) fn pay(&mut self, bytes: f64) {
        self.bytes -= bytes;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_a_rate_is_kept_over_time() {
        // 1.2 Mb/s in 5 ms frames: 750 bytes a frame, two packets of 1500 kept.
        let mut bucket = Bucket::new(1.2, 5.0, (10.0, 1500));
        let mut sent = 0.0;
        for frame in 0..1000 {
            if bucket.at(frame) > 0.0 {
                bucket.pay(1500.0);
                sent += 1500.0;
            }
        }
        assert!(
            (sent - (999.0 * 750.0 + 3000.0_f64)).abs() <= 1500.0,
            "{sent}"
        );
    }
}
