//! What happened to a flow, as it is counted while the simulation runs.

use crate::histogram::Histogram;
use crate::queue::Completed;

/// Play-out of a circuit at its far end.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Playout {
    depth_ms: f64,
    /// Delay from a packet's birth to its play-out, once the first has come.
    offset_ms: Option<f64>,
    pub(crate) slips: u64,
}

impl Playout {
    pub(crate) fn new(depth_ms: f64) -> Self {
        Self {
            depth_ms,
            offset_ms: None,
            slips: 0,
        }
    }

    /// A packet that comes after its moment, or so early that the buffer
    /// overflows, makes play-out start over from it.
    fn receive(&mut self, delay_ms: f64) {
        let fits = |offset_ms: f64| {
            (offset_ms - 2.0 * self.depth_ms - 1e-9..=offset_ms + 1e-9).contains(&delay_ms)
        };
        match self.offset_ms {
            Some(offset_ms) if fits(offset_ms) => {}
            started => {
                self.slips += u64::from(started.is_some());
                self.offset_ms = Some(delay_ms + self.depth_ms);
            }
        }
    }

    fn restarted(self) -> Self {
        Self { slips: 0, ..self }
    }
}

/// Counts of a flow.
#[derive(Debug, Default)]
pub(crate) struct Tally {
    pub(crate) queued_at_start_bytes: u64,
    pub(crate) offered_bytes: u64,
    pub(crate) delivered_bytes: u64,
    pub(crate) lost_bytes: u64,
    pub(crate) lost_packets: u64,
    /// Delay of packets, or duration of transfers. \[ms\]
    pub(crate) delay_ms: Histogram,
    jitter_ms: f64,
    differences: u64,
    last_delay_ms: Option<f64>,
    /// Rates that transfers got. \[Mb/s\]
    pub(crate) rate_mbps: Option<Histogram>,
    pub(crate) transfer_bytes: u64,
    pub(crate) playout: Option<Playout>,
    pub(crate) slots: u64,
    pub(crate) granted_bytes: u64,
    pub(crate) granted_sent_bytes: u64,
}

impl Tally {
    pub(crate) fn for_packets(playout: Option<Playout>) -> Self {
        Self {
            playout,
            ..Self::default()
        }
    }

    pub(crate) fn for_transfers() -> Self {
        Self {
            rate_mbps: Some(Histogram::default()),
            ..Self::default()
        }
    }

    /// Counting starts anew; what is queued now is carried over.
    pub(crate) fn restart(&mut self, held_bytes: u64) {
        *self = Self {
            queued_at_start_bytes: held_bytes,
            rate_mbps: self.rate_mbps.as_ref().map(|_| Histogram::default()),
            playout: self.playout.map(Playout::restarted),
            ..Self::default()
        };
    }

    pub(crate) fn complete(&mut self, completed: Completed, received_us: f64) {
        let delay_ms = (received_us - completed.born_us) / 1e3;
        self.delay_ms.add(delay_ms);
        if let Some(rates) = &mut self.rate_mbps {
            // Bytes over milliseconds are kilobytes a second.
            rates.add(completed.bytes as f64 / delay_ms * 8e-3);
            self.transfer_bytes += completed.bytes;
            return;
        }
        self.delivered_bytes += completed.bytes;
        if let Some(last_ms) = self.last_delay_ms.replace(delay_ms) {
            self.jitter_ms += (delay_ms - last_ms).abs();
            self.differences += 1;
        }
        if let Some(playout) = &mut self.playout {
            playout.receive(delay_ms);
        }
    }

    pub(crate) fn lose(&mut self, bytes: u64) {
        self.lost_bytes += bytes;
        self.lost_packets += 1;
    }

    /// Mean difference between the delays of successive packets.
    pub(crate) fn jitter_ms(&self) -> Option<f64> {
        (self.differences > 0).then(|| self.jitter_ms / self.differences as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_a_circuit_slips_when_a_packet_misses_its_moment() {
        let mut playout = Playout::new(10.0);
        for delay_ms in [5.0, 14.9, 5.0, 2.0, 15.0] {
            playout.receive(delay_ms);
        }
        assert_eq!(playout.slips, 0);
        playout.receive(15.1);
        assert_eq!(playout.slips, 1);
        // Play-out now waits for 25.1 ms; what came before a full buffer ago is too early.
        playout.receive(25.0);
        assert_eq!(playout.slips, 1);
        playout.receive(5.0);
        assert_eq!(playout.slips, 2);
    }
}
