//! The part of a frame that carries data in one direction: bursts, whole slots, no more than there are.

use crate::fading::LinkState;

/// What one terminal has of the frame.
#[derive(Debug, Clone, Copy, Default)]
struct Burst {
    /// Frame it belongs to; another frame's does not count.
    frame: u64,
    bits: u64,
    slots: u32,
}

/// Room for a terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Room {
    /// So many bytes.
    Bytes(u32),
    /// The frame has none left for this terminal, though there may be for others already named in it.
    Full,
    /// The terminal itself can take no more: out of reach, or at its own limit.
    TerminalAtLimit,
}

/// One direction of the frame that is being built.
#[derive(Debug)]
pub(crate) struct Region {
    frame: u64,
    /// Slots there are, by number of bursts.
    limits: Vec<u32>,
    bursts: u32,
    used_slots: u32,
    by_terminal: Vec<Burst>,
}

impl Region {
    pub(crate) fn new(terminals: usize) -> Self {
        Self {
            frame: 0,
            limits: Vec::new(),
            bursts: 0,
            used_slots: 0,
            by_terminal: vec![Burst::default(); terminals],
        }
    }

    /// Starts a frame. Frames are numbered from 1 here, since 0 marks a burst of no frame.
    pub(crate) fn open(&mut self, frame: u64, limits: &[u32]) {
        self.frame = frame + 1;
        self.limits.clear();
        self.limits.extend_from_slice(limits);
        self.bursts = 0;
        self.used_slots = 0;
    }

    pub(crate) fn bursts(&self) -> u32 {
        self.bursts
    }

    pub(crate) fn used_slots(&self) -> u32 {
        self.used_slots
    }

    /// Slots that the present number of bursts leaves to data.
    pub(crate) fn limit(&self) -> u32 {
        self.limits.get(self.bursts as usize).copied().unwrap_or(0)
    }

    /// Whether a terminal has a burst in this frame.
    pub(crate) fn names(&self, terminal: usize) -> bool {
        self.by_terminal[terminal].frame == self.frame
    }

    /// Whether no slot is left for terminals that the frame names.
    pub(crate) fn is_full(&self) -> bool {
        self.used_slots >= self.limit()
    }

    /// Bytes that a terminal's burst can still take.
    pub(crate) fn room(&self, terminal: usize, link: &LinkState) -> Room {
        let named = self.names(terminal);
        let burst = if named {
            self.by_terminal[terminal]
        } else {
            Burst::default()
        };
        let own_free = link.slots_max.saturating_sub(burst.slots);
        if link.slot_bits == 0 {
            return Room::TerminalAtLimit;
        }
        let bursts = self.bursts + u32::from(!named);
        let limit = self.limits.get(bursts as usize).copied().unwrap_or(0);
        let free = limit.saturating_sub(self.used_slots);
        let slots = u64::from(burst.slots + free.min(own_free));
        let bytes = (slots * u64::from(link.slot_bits) - burst.bits) / 8;
        match u32::try_from(bytes).unwrap_or(u32::MAX) {
            0 if own_free <= free => Room::TerminalAtLimit,
            0 => Room::Full,
            bytes => Room::Bytes(bytes),
        }
    }

    /// Takes bytes that there was room for; the slots they cost.
    pub(crate) fn take(&mut self, terminal: usize, link: &LinkState, bytes: u32) -> u32 {
        let burst = &mut self.by_terminal[terminal];
        if burst.frame != self.frame {
            *burst = Burst {
                frame: self.frame,
                ..Burst::default()
            };
            self.bursts += 1;
        }
        burst.bits += u64::from(bytes) * 8;
        let slots = burst.bits.div_ceil(u64::from(link.slot_bits)) as u32;
        let more = slots - burst.slots;
        burst.slots = slots;
        self.used_slots += more;
        more
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn link(slot_bits: u32, slots_max: u32) -> LinkState {
        LinkState::steady(slot_bits, slots_max)
    }

    #[test]
    fn exact_flows_of_a_terminal_share_its_last_slot() {
        let mut region = Region::new(1);
        region.open(0, &[20, 10]);
        let link = link(48, 100);
        assert_eq!(region.room(0, &link), Room::Bytes(60));
        assert_eq!(region.take(0, &link, 7), 2);
        assert_eq!(region.take(0, &link, 5), 0);
        assert_eq!(region.room(0, &link), Room::Bytes(48));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]
        #[test]
        fn exact_no_more_slots_than_the_frame_has(
            asked in prop::collection::vec((0_usize..6, 1_u32..3000), 1..60),
            shrink in 0_u32..40,
        ) {
            let limits: Vec<u32> = (0..5).map(|n| 200 - n * shrink).collect();
            let mut region = Region::new(6);
            region.open(3, &limits);
            for (terminal, bytes) in asked {
                let link = link(48 * (1 + terminal as u32), 60);
                if let Room::Bytes(room) = region.room(terminal, &link) {
                    region.take(terminal, &link, bytes.min(room));
                }
                prop_assert!(region.used_slots() <= region.limit());
                prop_assert!(region.by_terminal[terminal].slots <= 60);
            }
        }
    }
}
