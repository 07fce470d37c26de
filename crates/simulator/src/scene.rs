//! What is simulated: one sector's frame, its terminals and their flows.

use serde::Serialize;

use crate::frame::FrameModel;

/// The five scheduling classes of IEEE 802.16, in the order in which they are served.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum Class {
    /// Unsolicited grant service: constant rate, voice and circuits.
    #[serde(rename = "UGS")]
    UnsolicitedGrant,
    /// Extended real-time polling: voice with silence suppression.
    #[serde(rename = "ertPS")]
    ExtendedRealTimePolling,
    /// Real-time polling: video.
    #[serde(rename = "rtPS")]
    RealTimePolling,
    /// Non-real-time polling: data with a floor.
    #[serde(rename = "nrtPS")]
    NonRealTimePolling,
    /// Best effort.
    #[serde(rename = "BE")]
    BestEffort,
}

impl Class {
    /// Every class, in the order in which they are served.
    pub const ALL: [Self; 5] = [
        Self::UnsolicitedGrant,
        Self::ExtendedRealTimePolling,
        Self::RealTimePolling,
        Self::NonRealTimePolling,
        Self::BestEffort,
    ];

    /// Whether the class lives on grants that nobody asks for.
    pub(crate) fn is_granted(self) -> bool {
        matches!(self, Self::UnsolicitedGrant | Self::ExtendedRealTimePolling)
    }
}

/// Which way data goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// From the base station to the terminal.
    Downlink,
    /// From the terminal to the base station.
    Uplink,
}

impl Direction {
    /// Both, downlink first.
    pub const BOTH: [Self; 2] = [Self::Downlink, Self::Uplink];
}

/// One step of a ladder of modulations.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Bits of one slot of one stream.
    pub bits_per_slot: u32,
    /// Streams sent side by side, 1 or 2.
    pub streams: u32,
    /// Lowest SINR at which the step's block error rate holds, margins of the receiver included.
    pub sinr_threshold_db: f64,
}

impl Step {
    /// Bits of one slot, all streams.
    pub fn slot_bits(&self) -> u32 {
        self.bits_per_slot * self.streams
    }
}

/// One direction of a terminal's radio link.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RadioLink {
    /// Which of [`Scene::ladders`].
    pub ladder: usize,
    /// SINR the fading swings around.
    pub mean_sinr_db: f64,
    /// Slots of a frame the terminal may fill: a terminal that gathers its power
    /// in a few subchannels cannot use them all.
    pub slots_max: u32,
}

/// Slow fading: a first-order Gauss–Markov process in decibels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fading {
    /// Standard deviation; 0 for none.
    pub deviation_db: f64,
    /// Time after which the correlation has fallen to 1/e.
    pub correlation_s: f64,
}

impl Fading {
    /// A link that does not fade.
    pub const NONE: Self = Self {
        deviation_db: 0.0,
        correlation_s: 1.0,
    };
}

/// A terminal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terminal {
    /// Towards the terminal.
    pub downlink: RadioLink,
    /// From the terminal.
    pub uplink: RadioLink,
    /// Common to both directions, which share a channel.
    pub fading: Fading,
}

/// What a flow's packets are like and when they come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Source {
    /// Packets of one size at even intervals, the first at a random moment.
    Constant {
        /// Packet as the medium access layer gets it.
        packet_bytes: u32,
        /// From one packet to the next.
        interval_ms: f64,
    },
    /// A leased line carried in packets, with a play-out buffer at the far end.
    Circuit {
        /// Packet as the medium access layer gets it.
        packet_bytes: u32,
        /// From one packet to the next.
        interval_ms: f64,
        /// Delay that play-out adds to the first packet's, to take up later packets' jitter.
        playout_ms: f64,
    },
    /// Packets of one size at random moments (a Poisson stream).
    Random {
        /// Packet as the medium access layer gets it.
        packet_bytes: u32,
        /// Mean from one packet to the next.
        mean_interval_ms: f64,
    },
    /// One direction of the calls of [`Scene::voice_lines`]; packets come from there.
    Voice,
    /// Pictures at even intervals with random sizes, cut into packets.
    Video {
        /// Mean rate.
        mean_mbps: f64,
        /// From one picture to the next.
        picture_ms: f64,
        /// Every so many pictures one is coded alone, and is larger.
        group_pictures: u32,
        /// Size of that picture over the others' (common practice 3 to 6).
        intra_ratio: f64,
        /// Standard deviation of the size over its mean; sizes are lognormal.
        size_variation: f64,
    },
    /// Transfers at random moments (a Poisson stream) that take what rate they get.
    Web {
        /// Mean from the start of one transfer to the start of the next, whether or not it is done.
        mean_interval_s: f64,
        /// Sizes.
        size: TransferSize,
        /// How much may be on its way, as a transport protocol limits it.
        window: Window,
    },
    /// One transfer without end.
    Saturating,
}

/// Sizes of transfers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TransferSize {
    /// All equal.
    Fixed {
        /// Bytes.
        bytes: f64,
    },
    /// Exponential.
    Exponential {
        /// Mean.
        mean_bytes: f64,
    },
    /// Pareto between two bounds: heavy tailed, with a mean that a run can reach.
    BoundedPareto {
        /// Exponent, above 0; 1.1 to 1.5 for web pages (common practice).
        shape: f64,
        /// Smallest.
        least_bytes: f64,
        /// Largest.
        most_bytes: f64,
    },
}

/// How a transfer paces itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Window {
    /// All of it waits at the radio at once: transfers share the air alone.
    Open,
    /// A transport window that starts small and doubles every round trip
    /// until it has its full size. Losses do not shrink it, since
    /// retransmission over the air hides them.
    Closed {
        /// First window.
        first_bytes: u32,
        /// Full window.
        full_bytes: u32,
        /// Round trip outside the radio.
        round_trip_ms: f64,
    },
}

/// A flow: one direction of one service of one terminal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    /// Which of [`Scene::terminals`].
    pub terminal: usize,
    /// Direction.
    pub direction: Direction,
    /// Scheduling class.
    pub class: Class,
    /// Traffic priority within the class, 0 to 7, the highest served first.
    pub priority: u8,
    /// Rate above which nothing is served; `None` without limit. A granted class takes the rate of its source instead.
    pub max_mbps: Option<f64>,
    /// Rate served before any best effort.
    pub min_mbps: f64,
    /// Packets older than this are thrown away; `None` keeps them.
    pub latency_bound_ms: Option<f64>,
    /// Share against other flows of best effort under [`BestEffortShare::Weighted`].
    pub weight: f64,
    /// Whether what is lost over the air is sent again.
    pub arq: bool,
    /// Between two requests the base station invites (real-time and non-real-time polling, uplink).
    pub poll_interval_ms: f64,
    /// Traffic.
    pub source: Source,
}

/// Silence suppression: how long people talk and pause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TalkSpurts {
    /// Mean of talking.
    pub talk_s: f64,
    /// Mean of pausing.
    pub pause_s: f64,
}

impl TalkSpurts {
    /// ITU-T P.59's artificial conversation (memory), one side of it: spurts and
    /// pauses are drawn as exponential, and the two sides on their own.
    pub const P59: Self = Self {
        talk_s: traffic::voice::TALK_SPURT_S,
        pause_s: traffic::voice::PAUSE_S,
    };
}

/// Telephone lines of one terminal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VoiceLines {
    /// The flow that carries the voice towards the terminal, with [`Source::Voice`].
    pub downlink_flow: usize,
    /// The flow that carries it back.
    pub uplink_flow: usize,
    /// Calls the terminal can hold at once; further ones find the lines engaged.
    pub lines: u32,
    /// Offered traffic, both ways together: calls come as a Poisson stream.
    pub offered_erlang: f64,
    /// Mean length of a call; lengths are exponential.
    pub mean_hold_s: f64,
    /// Packet as the medium access layer gets it.
    pub packet_bytes: u32,
    /// Packetisation interval.
    pub packet_ms: f64,
    /// Silence suppression; `None` sends throughout.
    pub talk_spurts: Option<TalkSpurts>,
    /// What the listener suffers from the codec; `None` where nothing is known of it, and the voice is not rated.
    pub impairment: Option<traffic::quality::Impairment>,
    /// Delay outside the radio, mouth to ear: codec, far network, far end.
    pub outside_ms: f64,
}

/// How flows of best effort share what the guaranteed leave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum BestEffortShare {
    /// The same rate for all who have something to send.
    EqualRate,
    /// The same airtime.
    EqualAirtime,
    /// Rates as the flows' weights.
    Weighted,
}

/// What medium access adds to packets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Framing {
    /// Generic header of a protocol data unit.
    pub header_bytes: u32,
    /// Check sum of a protocol data unit, 0 where switched off.
    pub crc_bytes: u32,
    /// Sub-header of a fragment or packed packet.
    pub subheader_bytes: u32,
    /// Longest piece of a transfer that is one packet.
    pub segment_bytes: u32,
    /// Packets share one header until the protocol data unit is so large; 0 packs none.
    pub pack_bytes: u32,
}

impl Default for Framing {
    /// 6 bytes header, 4 check sum, 2 sub-header (IEEE 802.16, read), packets of
    /// 1500 bytes, no packing.
    fn default() -> Self {
        let packet = physics::ofdma::frame::PacketOverhead::default();
        Self {
            header_bytes: packet.header_bytes,
            crc_bytes: packet.crc_bytes,
            subheader_bytes: packet.subheader_bytes,
            segment_bytes: 1500,
            pack_bytes: 0,
        }
    }
}

/// Block errors around a step's threshold: so many at the threshold, ten times
/// fewer for every so many decibels above it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlockErrors {
    /// Share of protocol data units lost at the threshold; 0 for an ideal channel.
    pub at_threshold_frac: f64,
    /// Decibels per factor ten.
    pub decade_db: f64,
}

impl Default for BlockErrors {
    /// One in a hundred, and a decade in 0.9 dB: the slope of a block error
    /// table of short blocks (read) between 10 % and 0.1 %.
    fn default() -> Self {
        Self {
            at_threshold_frac: 0.01,
            decade_db: 0.9,
        }
    }
}

/// How links are adapted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adaptation {
    /// Frames between two channel reports; the step in use is that of the last but one report.
    pub report_frames: u32,
    /// SINR kept in hand over a step's threshold when it is chosen.
    pub margin_db: f64,
    /// Further SINR that a faster step than the present one needs.
    pub hysteresis_db: f64,
    /// Errors.
    pub errors: BlockErrors,
}

impl Default for Adaptation {
    /// A report every 10 frames, 1 dB in hand, 1 dB hysteresis (common practice, no source).
    fn default() -> Self {
        Self {
            report_frames: 10,
            margin_db: 1.0,
            hysteresis_db: 1.0,
            errors: BlockErrors::default(),
        }
    }
}

/// Retransmission.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arq {
    /// Frames until what was lost may be sent again: a report back and a new schedule.
    pub delay_frames: u32,
    /// Transmissions of a piece, the first among them, before it is given up.
    pub transmissions_max: u32,
}

impl Default for Arq {
    /// Two frames, eight transmissions (common practice, no source).
    fn default() -> Self {
        Self {
            delay_frames: 2,
            transmissions_max: 8,
        }
    }
}

/// Requests for uplink.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Requests {
    /// Opportunities of a frame that terminals contend for (codes times places).
    pub opportunities_per_frame: u32,
    /// First window of the back-off, in opportunities.
    pub first_window: u32,
    /// Largest window; it doubles after each collision until then.
    pub largest_window: u32,
    /// Frames from a heard request to the first grant, and from an unheard one to its next try.
    pub answer_frames: u32,
    /// Bytes of a request, alone or in answer to a poll.
    pub request_bytes: u32,
}

impl Default for Requests {
    /// Eight opportunities, windows of 8 to 256, two frames, 6 bytes (size read,
    /// others common practice, no source).
    fn default() -> Self {
        Self {
            opportunities_per_frame: 8,
            first_window: 8,
            largest_window: 256,
            answer_frames: 2,
            request_bytes: 6,
        }
    }
}

/// Rules of the scheduler.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Policy {
    /// How best effort is shared.
    pub best_effort: BestEffortShare,
    /// Terminals a frame may name in one direction: each makes the maps longer.
    pub terminals_per_frame_max: u32,
    /// What one flow of best effort gets before the next one's turn.
    pub round_bytes: u32,
    /// Bytes a flow may fall behind its limit or floor and catch up, as time at that rate.
    pub burst_ms: f64,
    /// Bytes a flow's queue holds before packets are thrown away; transfers do not count.
    pub queue_bytes_max: u64,
    /// Calls the sector admits at once; `None` for all.
    pub calls_max: Option<u32>,
    /// What medium access adds.
    pub framing: Framing,
    /// Links.
    pub adaptation: Adaptation,
    /// Retransmission.
    pub arq: Arq,
    /// Uplink requests.
    pub requests: Requests,
}

impl Default for Policy {
    /// Equal rate, eight terminals a frame, rounds of two packets, 100 ms, 1 MB
    /// (common practice, no source).
    fn default() -> Self {
        Self {
            best_effort: BestEffortShare::EqualRate,
            terminals_per_frame_max: 8,
            round_bytes: 3000,
            burst_ms: 100.0,
            queue_bytes_max: 1_000_000,
            calls_max: None,
            framing: Framing::default(),
            adaptation: Adaptation::default(),
            arq: Arq::default(),
            requests: Requests::default(),
        }
    }
}

/// What is simulated.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// Frame.
    pub frame: FrameModel,
    /// Ladders of modulations, each from slow to fast.
    pub ladders: Vec<Vec<Step>>,
    /// Terminals.
    pub terminals: Vec<Terminal>,
    /// Flows.
    pub flows: Vec<Flow>,
    /// Telephone lines.
    pub voice_lines: Vec<VoiceLines>,
    /// Scheduler.
    pub policy: Policy,
}

#[cfg(test)]
pub(crate) mod tests_scene {
    use super::*;

    /// One terminal on one step of 48 bits a slot, no flow.
    pub(crate) fn one_terminal(mean_sinr_db: f64) -> Scene {
        let link = RadioLink {
            ladder: 0,
            mean_sinr_db,
            slots_max: u32::MAX,
        };
        Scene {
            frame: FrameModel::Fixed {
                frame_ms: 5.0,
                downlink_slots: 100,
                uplink_slots: 50,
                downlink_frac: 0.6,
            },
            ladders: vec![vec![Step {
                bits_per_slot: 48,
                streams: 1,
                sinr_threshold_db: 3.0,
            }]],
            terminals: vec![Terminal {
                downlink: link,
                uplink: link,
                fading: Fading::NONE,
            }],
            flows: Vec::new(),
            voice_lines: Vec::new(),
            policy: Policy::default(),
        }
    }
}
