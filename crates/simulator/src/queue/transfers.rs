//! Transfers side by side: each sends a packet in its turn.

use super::{Completed, Piece};

/// How much of a transfer may be on its way.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pace {
    pub(crate) first_bytes: u64,
    pub(crate) full_bytes: u64,
}

impl Pace {
    pub(crate) const OPEN: Self = Self {
        first_bytes: u64::MAX,
        full_bytes: u64::MAX,
    };
}

#[derive(Debug, Clone, Copy)]
struct Transfer {
    serial: u64,
    born_us: f64,
    bytes: u64,
    unsent: u64,
    undelivered: u64,
    window: u64,
    in_flight: u64,
    /// Of the packet that was begun.
    segment_left: u32,
}

impl Transfer {
    fn ready(&self) -> u64 {
        self.unsent
            .min(self.window - self.in_flight.min(self.window))
    }
}

/// Transfers of one flow.
#[derive(Debug)]
pub(crate) struct TransferQueue {
    /// By serial number.
    transfers: Vec<Transfer>,
    /// Whose turn it is.
    turn: usize,
    next_serial: u64,
    pace: Pace,
    segment_bytes: u32,
    ready_bytes: u64,
    held_bytes: u64,
}

impl TransferQueue {
    pub(crate) fn new(pace: Pace, segment_bytes: u32) -> Self {
        Self {
            transfers: Vec::new(),
            turn: 0,
            next_serial: 0,
            pace,
            segment_bytes,
            ready_bytes: 0,
            held_bytes: 0,
        }
    }

    pub(crate) fn push(&mut self, born_us: f64, bytes: u64) {
        let transfer = Transfer {
            serial: self.next_serial,
            born_us,
            bytes,
            unsent: bytes,
            undelivered: bytes,
            window: self.pace.first_bytes,
            in_flight: 0,
            segment_left: self.segment_bytes,
        };
        self.next_serial += 1;
        self.ready_bytes += transfer.ready();
        self.held_bytes += bytes;
        self.transfers.push(transfer);
    }

    /// Lengthens the one transfer of a source without end, so that it never runs dry.
    pub(crate) fn lengthen(&mut self, bytes: u64) {
        if self.transfers.is_empty() {
            self.push(0.0, bytes);
        } else if let Some(transfer) = self.transfers.first_mut() {
            transfer.bytes += bytes;
            transfer.unsent += bytes;
            transfer.undelivered += bytes;
            self.ready_bytes += bytes;
            self.held_bytes += bytes;
        }
    }

    pub(crate) fn ready_bytes(&self) -> u64 {
        self.ready_bytes
    }

    pub(crate) fn held_bytes(&self) -> u64 {
        self.held_bytes
    }

    pub(crate) fn next_bytes(&self) -> u32 {
        self.whose_turn().map_or(0, |at| {
            let transfer = &self.transfers[at];
            transfer.ready().min(u64::from(transfer.segment_left)) as u32
        })
    }

    /// The first transfer from the turn on that may send.
    fn whose_turn(&self) -> Option<usize> {
        let count = self.transfers.len();
        let places = (0..count).map(|i| {
            let at = self.turn + i;
            if at < count { at } else { at - count }
        });
        places
            .into_iter()
            .find(|&at| self.transfers[at].ready() > 0)
    }

    pub(crate) fn take(&mut self, bytes_max: u32) -> Option<Piece> {
        let at = self.whose_turn()?;
        let transfer = &mut self.transfers[at];
        let ready = transfer.ready();
        let bytes = ready.min(u64::from(transfer.segment_left.min(bytes_max)));
        if bytes == 0 {
            return None;
        }
        transfer.unsent -= bytes;
        transfer.in_flight += bytes;
        transfer.segment_left -= bytes as u32;
        let serial = transfer.serial;
        let left = transfer.ready();
        let is_whole = transfer.segment_left == 0 || transfer.unsent == 0;
        if is_whole {
            transfer.segment_left = self.segment_bytes;
        }
        self.turn = if is_whole { at + 1 } else { at };
        if self.turn >= self.transfers.len() {
            self.turn = 0;
        }
        self.ready_bytes -= ready - left;
        Some(Piece {
            serial,
            bytes: bytes as u32,
            transmissions: 0,
        })
    }

    pub(crate) fn deliver(&mut self, piece: Piece) -> Option<Completed> {
        let at = self.place(piece.serial)?;
        let transfer = &mut self.transfers[at];
        transfer.undelivered -= u64::from(piece.bytes);
        self.held_bytes -= u64::from(piece.bytes);
        if transfer.undelivered > 0 {
            return None;
        }
        let completed = Completed {
            born_us: transfer.born_us,
            bytes: transfer.bytes,
        };
        self.transfers.remove(at);
        if self.turn > at {
            self.turn -= 1;
        }
        if self.turn >= self.transfers.len() {
            self.turn = 0;
        }
        Some(completed)
    }

    /// Word of delivery has reached the sender: the window moves and grows.
    pub(crate) fn acknowledge(&mut self, serial: u64, bytes: u64) {
        let full_bytes = self.pace.full_bytes;
        self.change(serial, |transfer| {
            transfer.in_flight -= bytes;
            transfer.window = transfer.window.saturating_add(bytes).min(full_bytes);
        });
    }

    /// A piece was given up on the air: the transport sends it anew.
    pub(crate) fn send_anew(&mut self, piece: Piece) {
        let bytes = u64::from(piece.bytes);
        self.change(piece.serial, |transfer| {
            transfer.in_flight -= bytes;
            transfer.unsent += bytes;
        });
    }

    fn change(&mut self, serial: u64, change: impl FnOnce(&mut Transfer)) {
        // A transfer that has arrived whole is no longer here.
        let Some(at) = self.place(serial) else { return };
        let transfer = &mut self.transfers[at];
        let before = transfer.ready();
        change(transfer);
        self.ready_bytes = self.ready_bytes - before + transfer.ready();
    }

    fn place(&self, serial: u64) -> Option<usize> {
        self.transfers
            .binary_search_by_key(&serial, |t| t.serial)
            .ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_transfers_take_turns_packet_by_packet() {
        let mut queue = TransferQueue::new(Pace::OPEN, 1000);
        queue.push(0.0, 2500);
        queue.push(1.0, 1000);
        let pieces: Vec<(u64, u32)> = std::iter::from_fn(|| queue.take(600))
            .map(|p| (p.serial, p.bytes))
            .collect();
        // A packet begun is ended before the other transfer's turn.
        let expected = [
            (0, 600),
            (0, 400),
            (1, 600),
            (1, 400),
            (0, 600),
            (0, 400),
            (0, 500),
        ];
        assert_eq!(pieces, expected);
    }

    #[test]
    fn exact_a_window_doubles_with_each_round_trip() {
        let pace = Pace {
            first_bytes: 1000,
            full_bytes: 3000,
        };
        let mut queue = TransferQueue::new(pace, 1000);
        queue.push(0.0, 100_000);
        let mut windows = Vec::new();
        for _ in 0..4 {
            let sent: Vec<Piece> = std::iter::from_fn(|| queue.take(u32::MAX)).collect();
            windows.push(sent.len());
            for piece in sent {
                queue.deliver(piece);
                queue.acknowledge(piece.serial, u64::from(piece.bytes));
            }
        }
        assert_eq!(windows, [1, 2, 3, 3]);
    }
}
