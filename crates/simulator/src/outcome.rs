//! What a simulation found, by flow, by class and for the sector.

use serde::Serialize;

use crate::flow::FlowState;
use crate::histogram::Histogram;
use crate::scene::{Class, Direction, Scene, VoiceLines};
use crate::sector::{Sector, is_elastic};
use crate::tally::Tally;

/// Percentiles of a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Percentiles {
    /// Values counted.
    pub count: u64,
    /// Mean.
    pub mean: f64,
    /// Exceeded by 95 % of the values.
    pub p5: f64,
    /// Median.
    pub p50: f64,
    /// Exceeded by 5 %.
    pub p95: f64,
    /// Exceeded by 1 %.
    pub p99: f64,
    /// Exceeded by 0.1 %.
    pub p999: f64,
    /// Largest.
    pub max: f64,
}

impl Percentiles {
    fn of(histogram: &Histogram) -> Option<Self> {
        Some(Self {
            count: histogram.count(),
            mean: histogram.mean()?,
            p5: histogram.quantile(0.05)?,
            p50: histogram.quantile(0.50)?,
            p95: histogram.quantile(0.95)?,
            p99: histogram.quantile(0.99)?,
            p999: histogram.quantile(0.999)?,
            max: histogram.most()?,
        })
    }
}

/// Packets of a flow or class.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PacketOutcome {
    /// From the packet's birth to its reception.
    pub delay_ms: Percentiles,
    /// Mean difference between the delays of successive packets.
    pub jitter_ms: f64,
    /// Delay exceeded by 0.1 % less the shortest (ITU-T Y.1541's delay variation).
    pub delay_variation_ms: f64,
}

/// Transfers of a flow or class.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TransferOutcome {
    /// From start to end.
    pub duration_ms: Percentiles,
    /// Rate of each transfer, its size over its duration.
    pub rate_mbps: Percentiles,
    /// All sizes over all durations.
    pub mean_rate_mbps: f64,
}

/// Quality of the voice a flow carries.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct VoiceOutcome {
    /// Play-out delay of the listener's buffer over the radio's shortest, chosen for the best rating.
    pub playout_ms: f64,
    /// Mouth to ear.
    pub mouth_to_ear_ms: f64,
    /// Lost on the air or too late for play-out.
    pub lost_pct: f64,
    /// Rating by the simplified E-model of ITU-T G.107.
    pub rating: f64,
    /// Mean opinion score of the rating.
    pub mean_opinion: f64,
}

/// A leased line at its far end.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CircuitOutcome {
    /// Times that play-out had to start over because a packet missed its moment.
    pub slips: u64,
    /// Packets that never came, each heard as an error burst.
    pub lost_packets: u64,
}

/// A flow.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FlowOutcome {
    /// Its place in the scene.
    pub flow: usize,
    /// Its terminal's place in the scene.
    pub terminal: usize,
    /// Scheduling class.
    pub class: Class,
    /// Direction.
    pub direction: Direction,
    /// What waited when counting began.
    pub queued_at_start_bytes: u64,
    /// What came.
    pub offered_bytes: u64,
    /// What arrived.
    pub delivered_bytes: u64,
    /// What was thrown away or given up.
    pub lost_bytes: u64,
    /// What still waits.
    pub queued_bytes: u64,
    /// Offered rate.
    pub offered_mbps: f64,
    /// Rate of what arrived.
    pub delivered_mbps: f64,
    /// Share of the packets that were lost.
    pub lost_frac: f64,
    /// Share of its direction's slots, grants that were not used among them.
    pub airtime_frac: f64,
    /// Uplink grants nobody asked for, without headers.
    pub granted_bytes: u64,
    /// What was sent in them for the first time.
    pub granted_sent_bytes: u64,
    /// Packets, where the flow has any.
    pub packets: Option<PacketOutcome>,
    /// Transfers that ended, where the flow has any.
    pub transfers: Option<TransferOutcome>,
    /// Voice, where the flow carries it.
    pub voice: Option<VoiceOutcome>,
    /// A leased line, where the flow is one.
    pub circuit: Option<CircuitOutcome>,
}

/// A share of the packets or transfers within a time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CdfPoint {
    /// Time.
    pub delay_ms: f64,
    /// Share that took no longer.
    pub share_frac: f64,
}

/// How a quantity spreads over the flows of a class.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spread {
    /// Smallest.
    pub min: f64,
    /// Exceeded by 95 % of the flows.
    pub p5: f64,
    /// Median.
    pub p50: f64,
    /// Exceeded by 5 % of the flows.
    pub p95: f64,
    /// Largest.
    pub max: f64,
}

/// A class in one direction.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassOutcome {
    /// Scheduling class.
    pub class: Class,
    /// Direction.
    pub direction: Direction,
    /// Flows.
    pub flows: usize,
    /// Offered rate of all.
    pub offered_mbps: f64,
    /// Rate of what arrived, all.
    pub delivered_mbps: f64,
    /// Share of the direction's slots.
    pub airtime_frac: f64,
    /// Rates over the flows.
    pub rate_mbps: Spread,
    /// Losses over the flows.
    pub lost_frac: Spread,
    /// Delays of all packets.
    pub packets: Option<PacketOutcome>,
    /// All transfers that ended.
    pub transfers: Option<TransferOutcome>,
    /// Ratings over the flows that carried voice.
    pub rating: Option<Spread>,
    /// Slips of all circuits.
    pub slips: u64,
    /// How delays (durations, for transfers) are distributed.
    pub delay_cdf: Vec<CdfPoint>,
}

/// Where the slots of one direction went. All shares add to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DirectionAirtime {
    /// Direction.
    pub direction: Direction,
    /// Data by class, in the order of [`Class::ALL`], headers, padding and unused grants among it.
    pub by_class_frac: [f64; 5],
    /// Requests for uplink.
    pub requests_frac: f64,
    /// Frame control header and maps.
    pub maps_frac: f64,
    /// Nobody's.
    pub idle_frac: f64,
    /// Terminals named in a frame, mean.
    pub terminals_per_frame: f64,
}

/// Telephone calls.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CallOutcome {
    /// Calls that came.
    pub offered: u64,
    /// Of these, found all lines of their terminal in use.
    pub engaged: u64,
    /// Of these, refused by the sector.
    pub blocked: u64,
    /// Refused over those that found a line.
    pub blocked_frac: f64,
    /// Calls in progress, mean.
    pub carried_erlang: f64,
}

/// Requests for uplink.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RequestOutcome {
    /// Sent in contention.
    pub sent: u64,
    /// Of these, disturbed by another.
    pub collided: u64,
    /// Polls.
    pub polls: u64,
}

/// What a simulation found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outcome {
    /// Seed of the run.
    pub seed: u64,
    /// Frames counted.
    pub frames: u64,
    /// Time counted.
    pub measured_s: f64,
    /// Flows, in the scene's order.
    pub flows: Vec<FlowOutcome>,
    /// Classes that have flows: downlink first, then in order of service.
    pub classes: Vec<ClassOutcome>,
    /// Downlink and uplink.
    pub airtime: [DirectionAirtime; 2],
    /// Calls, where there are lines.
    pub calls: Option<CallOutcome>,
    /// Requests for uplink.
    pub requests: RequestOutcome,
}

/// Shares of packets that play-out may wait for.
const PLAYED_FRACS: [f64; 6] = [0.95, 0.98, 0.99, 0.995, 0.999, 1.0];

pub(crate) fn outcome(sector: &Sector<'_>, seed: u64, frames: u64) -> Outcome {
    let scene = sector.scene;
    let measured_s = frames as f64 * scene.frame.frame_ms() / 1e3;
    let totals = [sector.slots.downlink_and_maps, sector.slots.uplink]
        .map(|slots| f64::from(slots) * frames as f64);
    let count = Counted {
        scene,
        measured_s,
        totals,
    };
    let flows: Vec<FlowOutcome> = sector.flows.iter().map(|f| count.flow(f)).collect();
    let classes = Direction::BOTH
        .into_iter()
        .flat_map(|direction| Class::ALL.into_iter().map(move |class| (direction, class)));
    let classes = classes
        .filter_map(|of| count.class(of, &flows, &sector.flows))
        .collect();
    let requests = sector.requests.counts;
    Outcome {
        seed,
        frames,
        measured_s,
        classes,
        airtime: [0, 1].map(|side| airtime(sector, side, (totals[side], frames))),
        calls: calls(sector, frames),
        requests: RequestOutcome {
            sent: requests.sent,
            collided: requests.collided,
            polls: requests.polls,
        },
        flows,
    }
}

fn airtime(sector: &Sector<'_>, side: usize, (slots, frames): (f64, u64)) -> DirectionAirtime {
    let counts = &sector.sides[side].counts;
    let share = |part: u64| part as f64 / slots.max(1.0);
    DirectionAirtime {
        direction: Direction::BOTH[side],
        by_class_frac: counts.by_class.map(share),
        requests_frac: share(counts.requests),
        maps_frac: share(counts.maps),
        idle_frac: share(counts.idle),
        terminals_per_frame: counts.bursts as f64 / (frames as f64).max(1.0),
    }
}

fn calls(sector: &Sector<'_>, frames: u64) -> Option<CallOutcome> {
    let counts = sector.calls.counts;
    let tried = counts.offered - counts.engaged;
    (!sector.scene.voice_lines.is_empty()).then(|| CallOutcome {
        offered: counts.offered,
        engaged: counts.engaged,
        blocked: counts.blocked,
        blocked_frac: counts.blocked as f64 / (tried as f64).max(1.0),
        carried_erlang: counts.call_frames as f64 / (frames as f64).max(1.0),
    })
}

/// What counts are divided by.
struct Counted<'a> {
    scene: &'a Scene,
    measured_s: f64,
    totals: [f64; 2],
}

impl Counted<'_> {
    fn mbps(&self, bytes: u64) -> f64 {
        if self.measured_s > 0.0 {
            bytes as f64 * 8e-6 / self.measured_s
        } else {
            0.0
        }
    }

    fn flow(&self, state: &FlowState) -> FlowOutcome {
        let tally = &state.tally;
        let index = state.index as usize;
        let elastic = is_elastic(state);
        let ended = tally.delay_ms.count() + tally.lost_packets;
        let lines = |l: &&VoiceLines| [l.downlink_flow, l.uplink_flow].contains(&index);
        let lines = self.scene.voice_lines.iter().find(lines);
        FlowOutcome {
            flow: index,
            terminal: state.terminal,
            class: state.class,
            direction: Direction::BOTH[state.side],
            queued_at_start_bytes: tally.queued_at_start_bytes,
            offered_bytes: tally.offered_bytes,
            delivered_bytes: tally.delivered_bytes,
            lost_bytes: tally.lost_bytes,
            queued_bytes: state.queue.held_bytes(),
            offered_mbps: self.mbps(tally.offered_bytes),
            delivered_mbps: self.mbps(tally.delivered_bytes),
            lost_frac: tally.lost_packets as f64 / (ended as f64).max(1.0),
            airtime_frac: tally.slots as f64 / self.totals[state.side].max(1.0),
            granted_bytes: tally.granted_bytes,
            granted_sent_bytes: tally.granted_sent_bytes,
            packets: if elastic {
                None
            } else {
                packets(&tally.delay_ms, tally.jitter_ms())
            },
            transfers: tally
                .rate_mbps
                .as_ref()
                .and_then(|rates| transfers(&tally.delay_ms, rates, tally.transfer_bytes)),
            voice: lines.and_then(|lines| voice(lines, tally)),
            circuit: tally.playout.map(|playout| CircuitOutcome {
                slips: playout.slips,
                lost_packets: tally.lost_packets,
            }),
        }
    }

    fn class(
        &self,
        (direction, class): (Direction, Class),
        flows: &[FlowOutcome],
        states: &[FlowState],
    ) -> Option<ClassOutcome> {
        let of_class = |f: &&FlowOutcome| f.class == class && f.direction == direction;
        let members: Vec<&FlowOutcome> = flows.iter().filter(of_class).collect();
        let rate_mbps = spread(members.iter().map(|f| f.delivered_mbps))?;
        let mut merged = Merged::default();
        members.iter().for_each(|f| merged.add(&states[f.flow]));
        let sum = |part: fn(&FlowOutcome) -> f64| members.iter().map(|f| part(f)).sum();
        Some(ClassOutcome {
            class,
            direction,
            flows: members.len(),
            offered_mbps: sum(|f| f.offered_mbps),
            delivered_mbps: sum(|f| f.delivered_mbps),
            airtime_frac: sum(|f| f.airtime_frac),
            rate_mbps,
            lost_frac: spread(members.iter().map(|f| f.lost_frac))?,
            packets: packets(&merged.delay_ms, merged.jitter_ms()),
            transfers: transfers(
                &merged.duration_ms,
                &merged.rate_mbps,
                merged.transfer_bytes,
            ),
            rating: spread(members.iter().filter_map(|f| Some(f.voice?.rating))),
            slips: members
                .iter()
                .filter_map(|f| f.circuit)
                .map(|c| c.slips)
                .sum(),
            delay_cdf: cdf(if merged.delay_ms.count() > 0 {
                &merged.delay_ms
            } else {
                &merged.duration_ms
            }),
        })
    }
}

/// Counts of several flows.
#[derive(Default)]
struct Merged {
    delay_ms: Histogram,
    duration_ms: Histogram,
    rate_mbps: Histogram,
    transfer_bytes: u64,
    jitter_ms: Vec<f64>,
}

impl Merged {
    fn add(&mut self, state: &FlowState) {
        let tally = &state.tally;
        if let Some(rates) = &tally.rate_mbps {
            self.duration_ms.merge(&tally.delay_ms);
            self.rate_mbps.merge(rates);
            self.transfer_bytes += tally.transfer_bytes;
        } else {
            self.delay_ms.merge(&tally.delay_ms);
            self.jitter_ms.extend(tally.jitter_ms());
        }
    }

    /// Mean over the flows.
    fn jitter_ms(&self) -> Option<f64> {
        let flows = self.jitter_ms.len();
        (flows > 0).then(|| self.jitter_ms.iter().sum::<f64>() / flows as f64)
    }
}

fn packets(delay_ms: &Histogram, jitter_ms: Option<f64>) -> Option<PacketOutcome> {
    let percentiles = Percentiles::of(delay_ms)?;
    Some(PacketOutcome {
        delay_ms: percentiles,
        jitter_ms: jitter_ms.unwrap_or(0.0),
        delay_variation_ms: percentiles.p999 - delay_ms.least()?,
    })
}

fn transfers(duration_ms: &Histogram, rates: &Histogram, bytes: u64) -> Option<TransferOutcome> {
    let duration = Percentiles::of(duration_ms)?;
    let total_ms = duration.mean * duration.count as f64;
    Some(TransferOutcome {
        duration_ms: duration,
        rate_mbps: Percentiles::of(rates)?,
        mean_rate_mbps: bytes as f64 * 8e-3 / total_ms,
    })
}

/// The listener's buffer waits as long as serves him best: what it does not wait for is lost to him.
fn voice(lines: &VoiceLines, tally: &Tally) -> Option<VoiceOutcome> {
    let impairment = lines.impairment?;
    let received = tally.delay_ms.count() as f64;
    let lost = tally.lost_packets as f64;
    let waiting_for = |played_frac: f64| {
        let playout_delay_ms = tally.delay_ms.quantile(played_frac)?;
        let late = (1.0 - played_frac) * received;
        let lost_pct = 100.0 * (lost + late) / (received + lost);
        let mouth_to_ear_ms = playout_delay_ms + lines.outside_ms;
        let rating = traffic::quality::rating(impairment, mouth_to_ear_ms, lost_pct);
        Some(VoiceOutcome {
            playout_ms: playout_delay_ms - tally.delay_ms.least()?,
            mouth_to_ear_ms,
            lost_pct,
            rating,
            mean_opinion: traffic::quality::mean_opinion(rating),
        })
    };
    let choices = PLAYED_FRACS.into_iter().filter_map(waiting_for);
    choices.max_by(|a, b| a.rating.total_cmp(&b.rating))
}

fn cdf(delay_ms: &Histogram) -> Vec<CdfPoint> {
    let points = delay_ms.cumulative();
    points
        .map(|(delay_ms, share_frac)| CdfPoint {
            delay_ms,
            share_frac,
        })
        .collect()
}

/// Percentiles over few values: the value at the rounded rank.
fn spread(values: impl Iterator<Item = f64>) -> Option<Spread> {
    let mut values: Vec<f64> = values.collect();
    values.sort_unstable_by(f64::total_cmp);
    let at = |share_frac: f64| {
        let rank = share_frac * (values.len() as f64 - 1.0);
        values.get(rank.round() as usize).copied()
    };
    Some(Spread {
        min: at(0.0)?,
        p5: at(0.05)?,
        p50: at(0.5)?,
        p95: at(0.95)?,
        max: at(1.0)?,
    })
}
