//! What a frame has room for, in slots.
//!
//! Preamble, frame control header, maps and the uplink's control symbols are
//! taken off, and so is what does not fill a whole slot. The maps name every
//! burst, so the room for data falls with the bursts of the frame. A radio that its
//! card describes by shares has one slot a frame and direction: the whole of it.

use model::air_interface::{AirInterface, FrameSplit, FrameStructure, Mcs};
use physics::ofdma::SLOT_DATA_SUBCARRIERS;
use physics::ofdma::frame::PacketOverhead;

use crate::adaptation::Step;
use crate::frame::{self, Direction, DirectionFrame};

/// Bursts of a frame, on average.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bursts {
    /// In the downlink.
    pub downlink: f64,
    /// In the uplink.
    pub uplink: f64,
}

/// A frame of one sector.
#[derive(Debug, Clone, Copy)]
pub struct FrameBudget<'a> {
    card: &'a AirInterface,
    split: FrameSplit,
}

impl<'a> FrameBudget<'a> {
    /// The frame of a card and a split.
    pub fn new(card: &'a AirInterface, split: FrameSplit) -> Self {
        Self { card, split }
    }

    /// Length of a frame.
    pub fn frame_s(&self) -> f64 {
        self.card.frame_ms / 1e3
    }

    /// Whether the card counts slots rather than shares.
    pub fn has_slots(&self) -> bool {
        matches!(self.card.frame, FrameStructure::OfdmaPusc { .. })
    }

    /// Share of blocks that are sent again; shares have it in their efficiency.
    pub fn block_error_frac(&self) -> f64 {
        if self.has_slots() {
            self.card.block_error_frac
        } else {
            0.0
        }
    }

    /// Bytes that the medium access layer adds to a packet of its own: header and check sum.
    pub fn packet_overhead_bytes(&self) -> f64 {
        if self.has_slots() {
            let added = PacketOverhead::default();
            f64::from(added.header_bytes + added.crc_bytes)
        } else {
            0.0
        }
    }

    /// Bytes that one burst of elastic data adds, because it ends in the middle
    /// of a packet: the second part's header and check sum, and a subheader on each part.
    pub fn fragment_overhead_bytes(&self) -> f64 {
        if self.has_slots() {
            let added = PacketOverhead::default();
            f64::from(added.header_bytes + added.crc_bytes + 2 * added.subheader_bytes)
        } else {
            0.0
        }
    }

    /// Slots that a request for bandwidth takes in the uplink.
    pub fn request_slots(&self) -> f64 {
        if self.has_slots() { 1.0 } else { 0.0 }
    }

    /// Bits that one slot carries at a step.
    pub fn bits_per_slot(&self, step: &Step, direction: Direction) -> f64 {
        let mcs = &self.card.mcs[step.mcs];
        self.bits_of(mcs, step.mode.streams(), direction)
    }

    /// Bits that one slot carries at a modulation and coding.
    pub fn bits_of(&self, mcs: &Mcs, streams: u32, direction: Direction) -> f64 {
        if self.has_slots() {
            f64::from(SLOT_DATA_SUBCARRIERS) * mcs.efficiency_bit_per_symbol() * f64::from(streams)
        } else {
            let frame = DirectionFrame::new(self.card, self.split, direction);
            frame.phy_rate_mbps(mcs, streams) * 1e6 * self.frame_s()
        }
    }

    /// Slots for data in a direction; between whole numbers of bursts frames alternate.
    pub fn data_slots(&self, direction: Direction, bursts: Bursts) -> f64 {
        if !self.has_slots() {
            return 1.0;
        }
        let (down, down_part) = whole_and_part(bursts.downlink);
        let (up, up_part) = whole_and_part(bursts.uplink);
        let slots = |down, up| f64::from(self.whole_slots(direction, (down, up)));
        let across = |up| slots(down, up) * (1.0 - down_part) + slots(down + 1, up) * down_part;
        across(up) * (1.0 - up_part) + across(up + 1) * up_part
    }

    fn whole_slots(&self, direction: Direction, bursts: (u32, u32)) -> u32 {
        DirectionFrame::with_bursts(self.card, self.split, (direction, bursts))
            .data_slots()
            .unwrap_or(0)
    }

    /// Slots that all symbols of a direction would hold, nothing taken off.
    pub fn all_slots(&self, direction: Direction) -> f64 {
        frame::all_slots(self.card, self.split, direction)
    }
}

/// More bursts than these fill no frame of any card.
const MOST_BURSTS: f64 = 10_000.0;

fn whole_and_part(bursts: f64) -> (u32, f64) {
    let bursts = bursts.clamp(0.0, MOST_BURSTS);
    (bursts.floor() as u32, bursts.fract())
}
