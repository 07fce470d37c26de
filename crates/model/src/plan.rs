//! Service plans: what a customer buys and what it costs the sector at the busy hour.

use serde::Serialize;

use crate::ids::PlanId;

/// The five scheduling classes of IEEE 802.16.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum SchedulingClass {
    /// Unsolicited grant service: constant rate, voice and circuits.
    #[serde(rename = "UGS")]
    UnsolicitedGrant,
    /// Extended real-time polling: voice with silence suppression.
    #[serde(rename = "ertPS")]
    ExtendedRealTimePolling,
    /// Real-time polling: video.
    #[serde(rename = "rtPS")]
    RealTimePolling,
    /// Non-real-time polling: guaranteed data.
    #[serde(rename = "nrtPS")]
    NonRealTimePolling,
    /// Best effort.
    #[serde(rename = "BE")]
    BestEffort,
}

impl SchedulingClass {
    /// Every class, the most urgent first.
    pub const ALL: [Self; 5] = [
        SchedulingClass::UnsolicitedGrant,
        SchedulingClass::ExtendedRealTimePolling,
        SchedulingClass::RealTimePolling,
        SchedulingClass::NonRealTimePolling,
        SchedulingClass::BestEffort,
    ];

    /// The standard's abbreviation.
    pub fn name(self) -> &'static str {
        match self {
            SchedulingClass::UnsolicitedGrant => "UGS",
            SchedulingClass::ExtendedRealTimePolling => "ertPS",
            SchedulingClass::RealTimePolling => "rtPS",
            SchedulingClass::NonRealTimePolling => "nrtPS",
            SchedulingClass::BestEffort => "BE",
        }
    }

    /// Code point of differentiated services that stands for the class where a
    /// plan names none: EF for the first two, AF41, AF11, DF (RFC 4594).
    pub fn usual_dscp(self) -> u8 {
        match self {
            SchedulingClass::UnsolicitedGrant | SchedulingClass::ExtendedRealTimePolling => 46,
            SchedulingClass::RealTimePolling => 34,
            SchedulingClass::NonRealTimePolling => 10,
            SchedulingClass::BestEffort => 0,
        }
    }

    /// Priority bits of IEEE 802.1Q where a plan names none. Common practice, no source.
    pub fn usual_priority(self) -> u8 {
        match self {
            SchedulingClass::UnsolicitedGrant | SchedulingClass::ExtendedRealTimePolling => 5,
            SchedulingClass::RealTimePolling => 4,
            SchedulingClass::NonRealTimePolling => 2,
            SchedulingClass::BestEffort => 0,
        }
    }
}

/// How speech is coded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum VoiceCodec {
    /// ITU-T G.711, 64 kb/s.
    #[serde(rename = "G.711")]
    G711,
    /// ITU-T G.722, 64 kb/s, wide band.
    #[serde(rename = "G.722")]
    G722,
    /// ITU-T G.723.1, 5.3 kb/s.
    #[serde(rename = "G.723.1-5.3")]
    G723At5,
    /// ITU-T G.723.1, 6.3 kb/s.
    #[serde(rename = "G.723.1-6.3")]
    G723At6,
    /// ITU-T G.726, 32 kb/s.
    #[serde(rename = "G.726-32")]
    G726At32,
    /// ITU-T G.729 and its annex A, 8 kb/s.
    #[serde(rename = "G.729")]
    G729,
}

impl VoiceCodec {
    /// Length of the codec's own frame, of which a packet holds whole ones; the
    /// codecs that work sample by sample are counted by the millisecond.
    pub fn frame_ms(self) -> u32 {
        match self {
            VoiceCodec::G711 | VoiceCodec::G722 | VoiceCodec::G726At32 => 1,
            VoiceCodec::G729 => 10,
            VoiceCodec::G723At5 | VoiceCodec::G723At6 => 30,
        }
    }
}

/// Telephone lines of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct VoiceLines {
    /// How many calls the customer can hold at once.
    pub lines: u32,
    /// How speech is coded.
    pub codec: VoiceCodec,
    /// Speech in one packet: a whole number of the codec's frames.
    pub packet_ms: u32,
    /// Whether nothing is sent while nobody speaks: ertPS rather than UGS.
    pub silence_suppression: bool,
    /// Share of a call in which one party speaks.
    pub activity_frac: f64,
    /// Traffic of one line in the busy hour.
    pub erlang_per_line: f64,
}

/// What a leased line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum LeasedLine {
    /// 1.544 Mb/s.
    T1,
    /// 2.048 Mb/s.
    E1,
}

impl LeasedLine {
    /// Payload of a packet where nothing else is agreed (RFC 4553, 5.1).
    pub fn usual_payload_bytes(self) -> u32 {
        match self {
            LeasedLine::T1 => 192,
            LeasedLine::E1 => 256,
        }
    }

    /// Time slots of 64 kb/s that the line has for its users.
    pub fn time_slots(self) -> u32 {
        match self {
            LeasedLine::T1 => 24,
            LeasedLine::E1 => 31,
        }
    }
}

/// What of a leased line is carried.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "structure")]
pub enum CircuitStructure {
    /// All its bits, whatever they mean (RFC 4553).
    Whole {
        /// Payload of a packet.
        payload_bytes: u32,
    },
    /// Some of its time slots (RFC 5086).
    TimeSlots {
        /// How many.
        time_slots: u32,
        /// Time that a packet holds.
        packet_ms: u32,
    },
}

/// Leased lines that a plan replaces.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Circuits {
    /// What each is.
    pub line: LeasedLine,
    /// How many.
    pub count: u32,
    /// What of each is carried.
    pub structure: CircuitStructure,
    /// Whether the packets carry a time stamp (RTP).
    pub time_stamp: bool,
}

/// A service plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ServicePlan {
    /// Plan id.
    pub id: PlanId,
    /// What the customer calls it.
    pub name: String,
    /// Scheduling class.
    pub scheduling_class: SchedulingClass,
    /// Peak rate sold, towards the customer: the link must reach it when the sector is otherwise idle.
    pub downlink_mbps: f64,
    /// Peak rate sold, from the customer.
    pub uplink_mbps: f64,
    /// Rate guaranteed at any hour, towards the customer.
    pub guaranteed_downlink_mbps: f64,
    /// Rate guaranteed at any hour, from the customer.
    pub guaranteed_uplink_mbps: f64,
    /// Mean demand of one customer in the busy hour, towards the customer.
    pub busy_hour_downlink_mbps: f64,
    /// Mean demand of one customer in the busy hour, from the customer.
    pub busy_hour_uplink_mbps: f64,
    /// Growth of the busy-hour means.
    pub growth_pct_per_year: f64,
    /// Mean length of a packet of the data, as an Ethernet frame.
    pub mean_packet_bytes: f64,
    /// Longest one-way delay that the service bears over the air; `None` where any will do.
    pub delay_bound_ms: Option<f64>,
    /// Largest share of packets that the service can lose; `None` where any will do.
    pub loss_bound_pct: Option<f64>,
    /// Telephone lines besides the data.
    pub voice: Option<VoiceLines>,
    /// Leased lines besides the data.
    pub circuits: Option<Circuits>,
    /// Code point of differentiated services of the data, 0 to 63.
    pub dscp: u8,
    /// Priority bits of IEEE 802.1Q of the data, 0 to 7.
    pub priority: u8,
    /// Weight among best-effort customers, where the design shares by weight.
    pub weight: f64,
    /// Probability with which the installation must meet the plan for a sale to be promised.
    pub target_probability_frac: f64,
    /// Price a month in the design's currency; 0 where unknown.
    pub price_per_month: f64,
}
