//! What waits to be sent: packets that came by themselves, or transfers that take what rate they get.

mod packets;
mod transfers;

pub(crate) use packets::PacketQueue;
pub(crate) use transfers::{Pace, TransferQueue};

/// Part of a packet or transfer, sent in one protocol data unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Piece {
    /// Packet or transfer.
    pub(crate) serial: u64,
    pub(crate) bytes: u32,
    /// How often it has been sent.
    pub(crate) transmissions: u32,
}

/// A packet or transfer that has arrived whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Completed {
    pub(crate) born_us: f64,
    pub(crate) bytes: u64,
}

/// A flow's queue.
#[derive(Debug)]
pub(crate) enum Queue {
    Packets(PacketQueue),
    Transfers(TransferQueue),
}

impl Queue {
    /// Bytes that may be sent now.
    pub(crate) fn ready_bytes(&self) -> u64 {
        match self {
            Self::Packets(packets) => packets.ready_bytes(),
            Self::Transfers(transfers) => transfers.ready_bytes(),
        }
    }

    /// Bytes offered that have neither arrived nor been lost.
    pub(crate) fn held_bytes(&self) -> u64 {
        match self {
            Self::Packets(packets) => packets.held_bytes(),
            Self::Transfers(transfers) => transfers.held_bytes(),
        }
    }

    /// Bytes of the next piece, if there were room for all of it.
    pub(crate) fn next_bytes(&self) -> u32 {
        match self {
            Self::Packets(packets) => packets.next_bytes(),
            Self::Transfers(transfers) => transfers.next_bytes(),
        }
    }

    /// Takes up to so many bytes of the next piece.
    pub(crate) fn take(&mut self, bytes_max: u32) -> Option<Piece> {
        match self {
            Self::Packets(packets) => packets.take(bytes_max),
            Self::Transfers(transfers) => transfers.take(bytes_max),
        }
    }

    /// A piece has arrived.
    pub(crate) fn deliver(&mut self, piece: Piece) -> Option<Completed> {
        match self {
            Self::Packets(packets) => packets.deliver(piece),
            Self::Transfers(transfers) => transfers.deliver(piece),
        }
    }
}
