//! Packets in the order in which they came.

use std::collections::VecDeque;

use super::{Completed, Piece};

#[derive(Debug, Clone, Copy)]
struct Packet {
    born_us: f64,
    bytes: u32,
    unsent: u32,
    undelivered: u32,
}

/// Packets; the ones at the front may be under way already.
#[derive(Debug, Default)]
pub(crate) struct PacketQueue {
    packets: VecDeque<Packet>,
    /// Serial number of the packet at the front.
    front: u64,
    /// Place of the first packet that is not all sent.
    sending: usize,
    ready_bytes: u64,
    held_bytes: u64,
}

impl PacketQueue {
    pub(crate) fn push(&mut self, born_us: f64, bytes: u32) {
        self.packets.push_back(Packet {
            born_us,
            bytes,
            unsent: bytes,
            undelivered: bytes,
        });
        self.ready_bytes += u64::from(bytes);
        self.held_bytes += u64::from(bytes);
    }

    pub(crate) fn ready_bytes(&self) -> u64 {
        self.ready_bytes
    }

    pub(crate) fn held_bytes(&self) -> u64 {
        self.held_bytes
    }

    pub(crate) fn next_bytes(&self) -> u32 {
        self.packets.get(self.sending).map_or(0, |p| p.unsent)
    }

    pub(crate) fn take(&mut self, bytes_max: u32) -> Option<Piece> {
        let packet = self.packets.get_mut(self.sending)?;
        let bytes = packet.unsent.min(bytes_max);
        if bytes == 0 {
            return None;
        }
        packet.unsent -= bytes;
        self.ready_bytes -= u64::from(bytes);
        let serial = self.front + self.sending as u64;
        if packet.unsent == 0 {
            self.sending += 1;
        }
        Some(Piece {
            serial,
            bytes,
            transmissions: 0,
        })
    }

    pub(crate) fn deliver(&mut self, piece: Piece) -> Option<Completed> {
        let packet = self.packet(piece.serial)?;
        // A packet given up has nothing left to deliver.
        if packet.undelivered == 0 {
            return None;
        }
        packet.undelivered -= piece.bytes;
        let done = (packet.undelivered == 0).then_some(Completed {
            born_us: packet.born_us,
            bytes: u64::from(packet.bytes),
        });
        if let Some(completed) = done {
            self.held_bytes -= completed.bytes;
            self.clear_front();
        }
        done
    }

    /// Gives a packet up; its bytes, 0 where that was done before.
    pub(crate) fn lose(&mut self, serial: u64) -> u64 {
        let Some(packet) = self.packet(serial) else {
            return 0;
        };
        if packet.undelivered == 0 {
            return 0;
        }
        let (bytes, unsent) = (u64::from(packet.bytes), u64::from(packet.unsent));
        packet.undelivered = 0;
        packet.unsent = 0;
        self.ready_bytes -= unsent;
        self.held_bytes -= bytes;
        if unsent > 0 {
            // What is partly sent stands at the place of sending.
            self.sending += 1;
        }
        self.clear_front();
        bytes
    }

    /// Gives up the next packet if it was born before a moment and none of it is sent; its bytes.
    pub(crate) fn expire(&mut self, before_us: f64) -> Option<u64> {
        let packet = self.packets.get(self.sending)?;
        let is_late = packet.born_us < before_us && packet.unsent == packet.bytes;
        is_late.then(|| self.lose(self.front + self.sending as u64))
    }

    fn packet(&mut self, serial: u64) -> Option<&mut Packet> {
        let place = serial.checked_sub(self.front)?;
        self.packets.get_mut(place as usize)
    }

    fn clear_front(&mut self) {
        while self.packets.front().is_some_and(|p| p.undelivered == 0) {
            self.packets.pop_front();
            self.front += 1;
            self.sending = self.sending.saturating_sub(1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_a_packet_arrives_with_its_last_piece() {
        let mut queue = PacketQueue::default();
        queue.push(5.0, 100);
        queue.push(6.0, 50);
        let first = queue.take(60).expect("a piece");
        let second = queue.take(60).expect("a piece");
        let third = queue.take(60).expect("a piece");
        assert_eq!((first.bytes, second.bytes, third.bytes), (60, 40, 50));
        assert!(queue.deliver(second).is_none());
        // The later packet may arrive first.
        assert_eq!(queue.deliver(third).map(|c| c.bytes), Some(50));
        assert_eq!(queue.held_bytes(), 100);
        assert_eq!(queue.deliver(first).map(|c| c.born_us), Some(5.0));
        assert_eq!((queue.held_bytes(), queue.ready_bytes()), (0, 0));
    }

    #[test]
    fn exact_a_packet_given_up_takes_its_pieces_along() {
        let mut queue = PacketQueue::default();
        queue.push(0.0, 100);
        queue.push(1.0, 50);
        let first = queue.take(60).expect("a piece");
        assert_eq!(queue.lose(first.serial), 100);
        assert_eq!(queue.lose(first.serial), 0);
        assert!(queue.deliver(first).is_none());
        assert_eq!(queue.take(60).map(|p| p.bytes), Some(50));
        assert!(queue.expire(10.0).is_none(), "all of it is sent");
    }
}
