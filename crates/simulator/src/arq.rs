//! What was lost on the air and waits to be sent again.

use std::collections::VecDeque;

use crate::queue::Piece;

/// Pieces in the order in which they may be sent again.
#[derive(Debug, Default)]
pub(crate) struct Retries {
    waiting: VecDeque<(u64, Piece)>,
}

impl Retries {
    /// Keeps a piece until a frame; frames given never fall.
    pub(crate) fn keep(&mut self, piece: Piece, due_frame: u64) {
        self.waiting.push_back((due_frame, piece));
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }

    /// Bytes of the next piece that may be sent in a frame, 0 for none.
    pub(crate) fn next_bytes(&self, frame: u64) -> u32 {
        let due = self.waiting.front().filter(|(due, _)| *due <= frame);
        due.map_or(0, |(_, piece)| piece.bytes)
    }

    /// The next piece that may be sent, cut where it is longer than there is room for.
    pub(crate) fn next(&mut self, frame: u64, bytes_max: u32) -> Option<Piece> {
        let (due, piece) = self.waiting.front_mut()?;
        if *due > frame || bytes_max == 0 {
            return None;
        }
        let bytes = piece.bytes.min(bytes_max);
        let part = Piece { bytes, ..*piece };
        piece.bytes -= bytes;
        if piece.bytes == 0 {
            self.waiting.pop_front();
        }
        Some(part)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_pieces_wait_and_are_cut_to_the_room() {
        let mut retries = Retries::default();
        let piece = Piece {
            serial: 4,
            bytes: 100,
            transmissions: 1,
        };
        retries.keep(piece, 10);
        assert!(retries.next_bytes(9) == 0 && retries.next(9, 50).is_none());
        assert_eq!(retries.next(10, 60).map(|p| p.bytes), Some(60));
        assert_eq!(retries.next(10, 60).map(|p| p.bytes), Some(40));
        assert!(retries.is_empty());
    }
}
