//! Telephone and leased lines of a plan.

use model::{
    CircuitStructure, Circuits, Finding, LeasedLine, Severity, Subject, VoiceCodec, VoiceLines,
};

use crate::resolve::given;
use crate::schema::{CircuitsText, VoiceText};
use crate::written::At;

pub(super) fn voice(
    text: &VoiceText,
    subject: &Subject,
    findings: &mut Vec<Finding>,
) -> Option<VoiceLines> {
    if !text.is_sound {
        return None;
    }
    let codec: VoiceCodec = given(&text.codec);
    let frame_ms = codec.frame_ms();
    let usual = At::by_default(if frame_ms > 20 { frame_ms } else { 20 });
    let packet = text.packet_ms.as_ref().unwrap_or(&usual);
    if !packet.value.is_multiple_of(frame_ms) {
        let message = format!(
            "`packet_ms` is `{}`, which is no whole number of the codec's frames of `{frame_ms}` ms",
            packet.value
        );
        findings.push(fault(packet, message, subject).hint(format!(
            "write a multiple of {frame_ms}, or choose another codec"
        )));
        return None;
    }
    Some(VoiceLines {
        lines: given(&text.lines),
        codec,
        packet_ms: packet.value,
        silence_suppression: given(&text.silence_suppression),
        activity_frac: given(&text.activity_frac),
        erlang_per_line: given(&text.erlang_per_line),
    })
}

pub(super) fn circuits(
    text: &CircuitsText,
    subject: &Subject,
    findings: &mut Vec<Finding>,
) -> Option<Circuits> {
    let line = text.line.as_ref().filter(|_| text.is_sound)?.value;
    Some(Circuits {
        line,
        count: given(&text.count),
        structure: structure(text, line, (subject, findings))?,
        time_stamp: given(&text.time_stamp),
    })
}

fn structure(
    text: &CircuitsText,
    line: LeasedLine,
    (subject, findings): (&Subject, &mut Vec<Finding>),
) -> Option<CircuitStructure> {
    let whole_only = text.payload_bytes.as_ref();
    let slots_only = text.packet_ms.as_ref();
    match (&text.time_slots, whole_only, slots_only) {
        (Some(slots), None, packet) if slots.value <= line.time_slots() => {
            let usual_ms = match slots.value {
                1 => 8,
                2..=4 => 4,
                _ => 1,
            };
            Some(CircuitStructure::TimeSlots {
                time_slots: slots.value,
                packet_ms: packet.map_or(usual_ms, |at| at.value),
            })
        }
        (Some(slots), None, _) => {
            let most = line.time_slots();
            let message = format!(
                "`time_slots` is `{}`; the line has `{most}` for its users",
                slots.value
            );
            findings.push(fault(slots, message, subject).hint(format!(
                "write at most {most}, or leave the key out to carry the whole line"
            )));
            None
        }
        (Some(_), Some(payload), _) => {
            let message = "`payload_bytes` belongs to a whole line, `time_slots` to a part of one";
            findings.push(
                fault(payload, message.to_owned(), subject)
                    .hint("write `packet_ms` for time slots, and remove `payload_bytes`"),
            );
            None
        }
        (None, _, Some(packet)) => {
            let message = "`packet_ms` belongs to time slots, and the whole line is carried";
            findings.push(
                fault(packet, message.to_owned(), subject)
                    .hint("write `payload_bytes`, or name the `time_slots`"),
            );
            None
        }
        (None, payload, None) => Some(CircuitStructure::Whole {
            payload_bytes: payload.map_or(line.usual_payload_bytes(), |at| at.value),
        }),
    }
}

fn fault<T>(at: &At<T>, message: String, subject: &Subject) -> Finding {
    at.pin(Finding::new(Severity::Error, "out-of-range", message))
        .about(subject.clone())
}
