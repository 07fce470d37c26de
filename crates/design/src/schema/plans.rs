//! `plans.toml`.

use model::{LeasedLine, SchedulingClass, VoiceCodec};

use crate::written::{At, written_choice, written_table};

written_table! {
    /// Service plans.
    pub struct PlansText {
        /// Plans, one table each.
        plan: optional Vec<At<PlanText>>;
    }
}

written_table! {
    /// What a customer buys and what it costs the sector at the busy hour.
    pub struct PlanText {
        /// Id by which premises refer to it.
        id: required String;
        /// What the customer calls it. Default: the id.
        name: optional String;
        /// Scheduling class of IEEE 802.16. Default: best effort.
        scheduling_class: optional SchedulingClass = SchedulingClass::BestEffort;
        /// Peak rate sold, towards the customer.
        downlink_mbps: required f64 [0.0, 100000.0];
        /// Peak rate sold, from the customer.
        uplink_mbps: required f64 [0.0, 100000.0];
        /// Rate guaranteed at any hour, towards the customer.
        guaranteed_downlink_mbps: optional f64 [0.0, 100000.0] = 0.0;
        /// Rate guaranteed at any hour, from the customer.
        guaranteed_uplink_mbps: optional f64 [0.0, 100000.0] = 0.0;
        /// Mean demand of one customer in the busy hour, towards the customer.
        busy_hour_downlink_mbps: required f64 [0.0, 100000.0];
        /// Mean demand of one customer in the busy hour, from the customer.
        busy_hour_uplink_mbps: required f64 [0.0, 100000.0];
        /// Growth of the busy-hour means.
        growth_pct_per_year: optional f64 [-50.0, 200.0] = 0.0;
        /// Mean length of a packet of the data, as an Ethernet frame. The default is a mix of 7 : 4 : 1 frames of 64, 594 and 1518 bytes.
        mean_packet_bytes: optional f64 [64.0, 9000.0] = 362.0;
        /// Longest one-way delay over the air that the service bears. Default: any.
        delay_bound_ms: optional f64 [1.0, 10000.0];
        /// Largest share of packets that the service can lose. Default: any.
        loss_bound_pct: optional f64 [0.0, 100.0];
        /// Telephone lines besides the data.
        voice: optional VoiceText;
        /// Leased lines besides the data.
        circuits: optional CircuitsText;
        /// Code point of differentiated services of the data. Default: 46 for UGS and ertPS, 34 for rtPS, 10 for nrtPS, 0 for BE.
        dscp: optional u32 [0.0, 63.0];
        /// Priority bits of IEEE 802.1Q of the data. Default: 5 for UGS and ertPS, 4 for rtPS, 2 for nrtPS, 0 for BE.
        priority: optional u32 [0.0, 7.0];
        /// Weight among best-effort customers, where the study shares by weight.
        weight: optional f64 [0.01, 100.0] = 1.0;
        /// Probability with which an installation must meet the plan before it is promised.
        target_probability_frac: optional f64 [0.01, 0.9999] = 0.9;
        /// Price a month in the project's currency; 0 where unknown.
        price_per_month: optional f64 [0.0, 1000000.0] = 0.0;
    }
}

written_table! {
    /// Telephone lines of a plan.
    pub struct VoiceText {
        /// How many calls the customer can hold at once.
        lines: optional u32 [1.0, 1000.0] = 1u32;
        /// How speech is coded.
        codec: optional VoiceCodec = VoiceCodec::G711;
        /// Speech in one packet: a whole number of the codec's frames (10 ms for G.729, 30 ms for G.723.1). Default: 20, for G.723.1 30.
        packet_ms: optional u32 [1.0, 200.0];
        /// Whether nothing is sent while nobody speaks: ertPS instead of UGS.
        silence_suppression: optional bool = false;
        /// Share of a call in which one party speaks, for lines with silence suppression.
        activity_frac: optional f64 [0.1, 1.0] = 0.39;
        /// Traffic of one line in the busy hour.
        erlang_per_line: optional f64 [0.0, 1.0] = 0.1;
    }
}

written_table! {
    /// Leased lines that a plan replaces: circuit emulation over packets, UGS.
    pub struct CircuitsText {
        /// What each line is.
        line: required LeasedLine;
        /// How many.
        count: optional u32 [1.0, 100.0] = 1u32;
        /// Payload of a packet of a whole line. Default: 192 for T1, 256 for E1.
        payload_bytes: optional u32 [24.0, 1500.0];
        /// Time slots of 64 kb/s carried, where it is not the whole line.
        time_slots: optional u32 [1.0, 31.0];
        /// Time that a packet of time slots holds. Default: 8 for one slot, 4 for two to four, else 1.
        packet_ms: optional u32 [1.0, 50.0];
        /// Whether the packets carry a time stamp (RTP).
        time_stamp: optional bool = false;
    }
}

written_choice!(VoiceCodec {
    "G.711" => VoiceCodec::G711,
    "G.722" => VoiceCodec::G722,
    "G.723.1-5.3" => VoiceCodec::G723At5,
    "G.723.1-6.3" => VoiceCodec::G723At6,
    "G.726-32" => VoiceCodec::G726At32,
    "G.729" => VoiceCodec::G729,
});

written_choice!(LeasedLine {
    "T1" => LeasedLine::T1,
    "E1" => LeasedLine::E1,
});

written_choice!(SchedulingClass {
    "UGS" => SchedulingClass::UnsolicitedGrant,
    "ertPS" => SchedulingClass::ExtendedRealTimePolling,
    "rtPS" => SchedulingClass::RealTimePolling,
    "nrtPS" => SchedulingClass::NonRealTimePolling,
    "BE" => SchedulingClass::BestEffort,
});
