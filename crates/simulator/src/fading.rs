//! Links as they swing: SINR, the step in use, block errors.

use physics::levels;

use crate::random::{Purpose, Stream};
use crate::scene::{Adaptation, BlockErrors, RadioLink, Scene, Step};

/// One direction of a terminal's link, as it is now.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LinkState {
    /// Bits of a slot, all streams; 0 where not even the slowest step holds.
    pub(crate) slot_bits: u32,
    /// Share of protocol data units that are lost.
    pub(crate) error_frac: f64,
    /// Slots of a frame the terminal may fill.
    pub(crate) slots_max: u32,
    step: Option<usize>,
}

impl LinkState {
    /// Bytes of a frame of so many slots, had the terminal all that it can fill.
    pub(crate) fn alone_bytes(&self, frame_slots: u32) -> u32 {
        let bits = u64::from(self.slots_max.min(frame_slots)) * u64::from(self.slot_bits);
        u32::try_from(bits / 8).unwrap_or(u32::MAX)
    }

    /// A link that does not swing.
    #[cfg(test)]
    pub(crate) fn steady(slot_bits: u32, slots_max: u32) -> Self {
        Self {
            slot_bits,
            error_frac: 0.0,
            slots_max,
            step: Some(0),
        }
    }
}

/// A terminal's links.
#[derive(Debug)]
struct Channel {
    links: [RadioLink; 2],
    states: [LinkState; 2],
    fading_db: f64,
    deviation_db: f64,
    /// Correlation of two successive reports.
    correlation: f64,
    /// Length of the fresh part that keeps the deviation: `√(1 − ρ²)`.
    fresh: f64,
    random: Stream,
}

/// All links of a sector.
#[derive(Debug)]
pub(crate) struct Channels<'a> {
    channels: Vec<Channel>,
    ladders: &'a [Vec<Step>],
    adaptation: Adaptation,
}

impl<'a> Channels<'a> {
    pub(crate) fn new(scene: &'a Scene, seed: u64) -> Self {
        let adaptation = scene.policy.adaptation;
        let report_s = f64::from(adaptation.report_frames) * scene.frame.frame_ms() / 1e3;
        let mut channels = Self {
            channels: Vec::with_capacity(scene.terminals.len()),
            ladders: &scene.ladders,
            adaptation,
        };
        for (index, terminal) in scene.terminals.iter().enumerate() {
            let correlation = (-report_s / terminal.fading.correlation_s).exp();
            let mut random = Stream::new(seed, Purpose::Fading, index);
            let deviation_db = terminal.fading.deviation_db;
            let mut channel = Channel {
                links: [terminal.downlink, terminal.uplink],
                states: [terminal.downlink, terminal.uplink].map(|link| LinkState {
                    slot_bits: 0,
                    error_frac: 0.0,
                    slots_max: link.slots_max,
                    step: None,
                }),
                fading_db: deviation_db * random.normal(),
                deviation_db,
                correlation,
                fresh: (1.0 - correlation * correlation).max(0.0).sqrt(),
                random,
            };
            channel.report(channels.ladders, &adaptation);
            channels.channels.push(channel);
        }
        channels
    }

    pub(crate) fn link(&self, terminal: usize, side: usize) -> &LinkState {
        &self.channels[terminal].states[side]
    }

    /// Moves the terminals whose report falls into a frame: each in its turn, so that every frame has its share.
    pub(crate) fn advance(&mut self, frame: u64) {
        let every = u64::from(self.adaptation.report_frames);
        let first = (frame % every) as usize;
        let turn = self.channels.iter_mut().skip(first).step_by(every as usize);
        for channel in turn.filter(|c| c.deviation_db > 0.0) {
            channel.fade(self.ladders, &self.adaptation);
        }
    }
}

impl Channel {
    /// The base station has the last report by now; the channel has moved on since.
    fn fade(&mut self, ladders: &[Vec<Step>], adaptation: &Adaptation) {
        self.choose(ladders, adaptation);
        let fresh_db = self.deviation_db * self.fresh * self.random.normal();
        self.fading_db = self.correlation * self.fading_db + fresh_db;
        self.suffer(ladders, &adaptation.errors);
    }

    fn report(&mut self, ladders: &[Vec<Step>], adaptation: &Adaptation) {
        self.choose(ladders, adaptation);
        self.suffer(ladders, &adaptation.errors);
    }

    fn choose(&mut self, ladders: &[Vec<Step>], adaptation: &Adaptation) {
        for (link, state) in self.links.iter().zip(&mut self.states) {
            let ladder = &ladders[link.ladder];
            let kept_db = link.mean_sinr_db + self.fading_db - adaptation.margin_db;
            let present = state.step;
            let usable = |(index, step): (usize, &Step)| {
                let faster = present.is_some_and(|p| index > p);
                let needed_db = step.sinr_threshold_db
                    + if faster {
                        adaptation.hysteresis_db
                    } else {
                        0.0
                    };
                needed_db <= kept_db
            };
            state.step = ladder.iter().enumerate().rposition(usable);
            state.slot_bits = state.step.map_or(0, |step| ladder[step].slot_bits());
        }
    }

    fn suffer(&mut self, ladders: &[Vec<Step>], errors: &BlockErrors) {
        for (link, state) in self.links.iter().zip(&mut self.states) {
            let Some(step) = state.step else { continue };
            let threshold_db = ladders[link.ladder][step].sinr_threshold_db;
            let over_db = link.mean_sinr_db + self.fading_db - threshold_db;
            state.error_frac = error_frac(errors, over_db);
        }
    }
}

/// Share of protocol data units lost so far above a threshold.
fn error_frac(errors: &BlockErrors, over_db: f64) -> f64 {
    (errors.at_threshold_frac * levels::pow10(-over_db / errors.decade_db)).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::{Fading, Terminal};

    /// Deviation and correlation of a long record are those asked for.
    #[test]
    fn exact_fading_keeps_deviation_and_correlation() {
        let (deviation_db, correlation_s) = (4.0, 0.5);
        let mut scene = crate::scene::tests_scene::one_terminal(20.0);
        scene.terminals[0].fading = Fading {
            deviation_db,
            correlation_s,
        };
        let mut channels = Channels::new(&scene, 7);
        let every = u64::from(scene.policy.adaptation.report_frames);
        let n = 200_000;
        let record: Vec<f64> = (0..n)
            .map(|i| {
                channels.advance(i * every);
                channels.channels[0].fading_db
            })
            .collect();
        let mean = record.iter().sum::<f64>() / n as f64;
        let square = |lag: usize| {
            let pairs = record.iter().zip(&record[lag..]);
            pairs.map(|(a, b)| (a - mean) * (b - mean)).sum::<f64>() / (n as usize - lag) as f64
        };
        // Ten reports of 50 ms are one correlation time: 1/e.
        let at_correlation_time = square(10) / square(0);
        assert!((square(0).sqrt() - deviation_db).abs() < 0.1);
        assert!((at_correlation_time - (-1.0_f64).exp()).abs() < 0.02);
    }

    #[test]
    fn exact_errors_fall_by_ten_in_a_decade() {
        let errors = BlockErrors::default();
        assert!((error_frac(&errors, 0.0) - 0.01).abs() < 1e-12);
        assert!((error_frac(&errors, errors.decade_db) - 0.001).abs() < 1e-12);
        assert!((error_frac(&errors, -10.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn exact_too_weak_a_link_carries_nothing() {
        let mut scene = crate::scene::tests_scene::one_terminal(20.0);
        let weak = RadioLink {
            mean_sinr_db: -30.0,
            ..scene.terminals[0].downlink
        };
        scene.terminals[0] = Terminal {
            downlink: weak,
            ..scene.terminals[0]
        };
        let channels = Channels::new(&scene, 1);
        assert_eq!(channels.link(0, 0).slot_bits, 0);
        assert!(channels.link(0, 1).slot_bits > 0);
    }
}
