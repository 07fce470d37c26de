//! What a plan sends: the plan's words turned into rates and packets.

use model::SchedulingClass;
use model::plan::{CircuitStructure, Circuits, LeasedLine, ServicePlan, VoiceCodec, VoiceLines};
use traffic::circuit::{self, CircuitHeaders, Line};
use traffic::demand;
use traffic::stream::{IpVersion, Layer, Stream};
use traffic::voice::{self, Codec};

use crate::frame::Direction;

/// The layer at which everything is counted: Ethernet frames at the terminal's port.
pub const LAYER: Layer = Layer::Ethernet;

/// Everything that a plan's customer asks for in one direction of the busy hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanLoad {
    /// Scheduling class of the data.
    pub class: SchedulingClass,
    /// Rate of the data that is reserved.
    pub guaranteed_mbps: f64,
    /// Mean of the data in the busy hour.
    pub mean_mbps: f64,
    /// Peak rate sold.
    pub peak_mbps: f64,
    /// Mean length of the data's packets.
    pub packet_bytes: f64,
    /// Weight among best-effort customers.
    pub weight: f64,
    /// Calls, if the plan has lines.
    pub calls: Option<Calls>,
    /// Circuits, if the plan has any.
    pub circuits: Option<(Stream, u32)>,
}

/// Calls of a plan, one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calls {
    /// Lines.
    pub lines: u32,
    /// Traffic of all of them.
    pub offered_erlang: f64,
    /// Packets while somebody speaks.
    pub stream: Stream,
    /// Share of a call in which packets are sent.
    pub activity_frac: f64,
    /// UGS, or ertPS where silence is suppressed.
    pub class: SchedulingClass,
}

impl PlanLoad {
    /// What a plan asks for today.
    pub fn new(plan: &ServicePlan, direction: Direction) -> Self {
        Self::after_years(plan, direction, 0.0)
    }

    /// What a plan asks for after some years of growth; what is guaranteed stays.
    pub fn after_years(plan: &ServicePlan, direction: Direction, years: f64) -> Self {
        let (guaranteed_mbps, mean_mbps, peak_mbps) = match direction {
            Direction::Downlink => (
                plan.guaranteed_downlink_mbps,
                plan.busy_hour_downlink_mbps,
                plan.downlink_mbps,
            ),
            Direction::Uplink => (
                plan.guaranteed_uplink_mbps,
                plan.busy_hour_uplink_mbps,
                plan.uplink_mbps,
            ),
        };
        Self {
            class: plan.scheduling_class,
            guaranteed_mbps,
            mean_mbps: demand::grown(mean_mbps, plan.growth_pct_per_year, years),
            peak_mbps,
            packet_bytes: plan.mean_packet_bytes,
            weight: plan.weight,
            calls: plan.voice.as_ref().and_then(calls),
            circuits: plan.circuits.as_ref().map(|c| (circuit_stream(c), c.count)),
        }
    }

    /// Part of the data that shares what is left: beyond what is guaranteed.
    pub fn elastic_mbps(&self) -> f64 {
        (self.mean_mbps - self.guaranteed_mbps).max(0.0)
    }

    /// Part of what is guaranteed that is used on average.
    pub fn guaranteed_used_mbps(&self) -> f64 {
        self.mean_mbps.min(self.guaranteed_mbps)
    }

    /// Mean rate of calls and circuits.
    pub fn constant_mbps(&self) -> f64 {
        let calls = self.calls.map_or(0.0, |c| {
            c.offered_erlang * c.activity_frac * c.stream.rate_mbps(LAYER)
        });
        calls + self.circuits_mbps()
    }

    fn circuits_mbps(&self) -> f64 {
        self.circuits.map_or(0.0, |(stream, count)| {
            stream.rate_mbps(LAYER) * f64::from(count)
        })
    }

    /// Everything on average, what is guaranteed counted whole: what the sector has to have room for.
    pub fn demand_mbps(&self) -> f64 {
        self.mean_mbps.max(self.guaranteed_mbps) + self.constant_mbps()
    }

    /// Everything at once: the peak rate sold while every line and circuit is up.
    pub fn sold_mbps(&self) -> f64 {
        self.peak_mbps + self.all_lines_mbps() + self.circuits_mbps()
    }

    /// What the link has to carry in a busy sector: the demand with every line up.
    pub fn needed_mbps(&self) -> f64 {
        self.mean_mbps.max(self.guaranteed_mbps) + self.all_lines_mbps() + self.circuits_mbps()
    }

    fn all_lines_mbps(&self) -> f64 {
        self.calls
            .map_or(0.0, |c| f64::from(c.lines) * c.stream.rate_mbps(LAYER))
    }

    /// Packets a second on average.
    pub fn packets_per_s(&self) -> f64 {
        let data_mbps = self.mean_mbps.max(self.guaranteed_mbps);
        let data = traffic::packets::packets_per_s(data_mbps, self.packet_bytes.max(1.0));
        let calls = self.calls.map_or(0.0, |c| {
            c.offered_erlang * c.activity_frac * c.stream.packets_per_s
        });
        let circuits = self.circuits.map_or(0.0, |(stream, count)| {
            stream.packets_per_s * f64::from(count)
        });
        data + calls + circuits
    }
}

/// Everything at once that a plan sells in a direction: peak rate, every line and circuit.
pub fn sold_mbps(plan: &ServicePlan, direction: Direction) -> f64 {
    PlanLoad::new(plan, direction).sold_mbps()
}

/// What a link has to carry for a plan in a busy sector.
pub fn needed_mbps(plan: &ServicePlan, direction: Direction) -> f64 {
    PlanLoad::new(plan, direction).needed_mbps()
}

/// `None` where the codec fills no such packet, which reading a design does not let happen.
fn calls(lines: &VoiceLines) -> Option<Calls> {
    let stream = voice::stream(codec(lines.codec), lines.packet_ms, IpVersion::V4)?;
    Some(Calls {
        lines: lines.lines,
        offered_erlang: f64::from(lines.lines) * lines.erlang_per_line,
        stream,
        activity_frac: if lines.silence_suppression {
            lines.activity_frac
        } else {
            1.0
        },
        class: if lines.silence_suppression {
            SchedulingClass::ExtendedRealTimePolling
        } else {
            SchedulingClass::UnsolicitedGrant
        },
    })
}

/// The codec as `traffic` knows it.
pub fn codec(codec: VoiceCodec) -> Codec {
    match codec {
        VoiceCodec::G711 => Codec::G711,
        VoiceCodec::G722 => Codec::G722,
        VoiceCodec::G723At5 => Codec::G723At5,
        VoiceCodec::G723At6 => Codec::G723At6,
        VoiceCodec::G726At32 => Codec::G726At32,
        VoiceCodec::G729 => Codec::G729,
    }
}

/// One direction of one circuit.
pub fn circuit_stream(circuits: &Circuits) -> Stream {
    let headers = CircuitHeaders {
        ip: Some(IpVersion::V4),
        rtp: circuits.time_stamp,
    };
    let line = match circuits.line {
        LeasedLine::T1 => Line::T1,
        LeasedLine::E1 => Line::E1,
    };
    match circuits.structure {
        CircuitStructure::Whole { payload_bytes } => {
            circuit::whole_line(line, payload_bytes, headers)
        }
        CircuitStructure::TimeSlots {
            time_slots,
            packet_ms,
        } => circuit::time_slots(time_slots, packet_ms, headers),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use traffic::marking::Service;

    /// The model names codecs and markings without knowing `traffic`.
    #[test]
    fn exact_the_model_and_the_formulas_agree() {
        for code in [
            VoiceCodec::G711,
            VoiceCodec::G722,
            VoiceCodec::G723At5,
            VoiceCodec::G723At6,
            VoiceCodec::G726At32,
            VoiceCodec::G729,
        ] {
            assert_eq!(code.frame_ms(), codec(code).frame_ms_bytes().0);
        }
        for (class, service) in [
            (SchedulingClass::UnsolicitedGrant, Service::Telephony),
            (SchedulingClass::ExtendedRealTimePolling, Service::Telephony),
            (SchedulingClass::RealTimePolling, Service::Conferencing),
            (
                SchedulingClass::NonRealTimePolling,
                Service::HighThroughputData,
            ),
            (SchedulingClass::BestEffort, Service::Standard),
        ] {
            assert_eq!(class.usual_dscp(), service.dscp());
            assert_eq!(class.usual_priority(), service.priority());
        }
        for (line, other) in [(LeasedLine::T1, Line::T1), (LeasedLine::E1, Line::E1)] {
            assert_eq!(line.usual_payload_bytes(), other.default_payload_bytes());
        }
        for slots in 1..=31 {
            let usual_ms = match slots {
                1 => 8,
                2..=4 => 4,
                _ => 1,
            };
            assert_eq!(circuit::default_packet_ms(slots), usual_ms);
        }
    }
}
