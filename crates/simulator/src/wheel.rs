//! When things wake up: one bucket per frame, and what lies beyond comes round again.

/// A timer wheel. Every agent waits for one frame at a time, so waiting takes no memory of its own.
#[derive(Debug)]
pub(crate) struct Wheel {
    first: Vec<u32>,
    next: Vec<u32>,
    due_frame: Vec<u64>,
}

const NOBODY: u32 = u32::MAX;

/// Frames of one turn: a power of two, five seconds of 5 ms frames.
const TURN: usize = 1024;

/// Due frame of an agent that does not wait.
const IDLE: u64 = u64::MAX;

impl Wheel {
    pub(crate) fn new(agents: usize) -> Self {
        Self {
            first: vec![NOBODY; TURN],
            next: vec![NOBODY; agents],
            due_frame: vec![IDLE; agents],
        }
    }

    /// Whether an agent waits for a frame.
    pub(crate) fn is_waiting(&self, agent: usize) -> bool {
        self.due_frame[agent] != IDLE
    }

    /// Makes an agent wait. One that waits already keeps its frame.
    pub(crate) fn wait(&mut self, agent: usize, due_frame: u64) {
        if !self.is_waiting(agent) {
            self.due_frame[agent] = due_frame;
            self.link(agent, due_frame);
        }
    }

    fn link(&mut self, agent: usize, due_frame: u64) {
        let bucket = due_frame as usize % TURN;
        self.next[agent] = self.first[bucket];
        self.first[bucket] = agent as u32;
    }

    /// Appends the agents whose frame it is; they no longer wait.
    pub(crate) fn take(&mut self, frame: u64, awake: &mut Vec<u32>) {
        let bucket = frame as usize % TURN;
        let mut agent = std::mem::replace(&mut self.first[bucket], NOBODY);
        while agent != NOBODY {
            let index = agent as usize;
            let following = self.next[index];
            if self.due_frame[index] <= frame {
                self.due_frame[index] = IDLE;
                awake.push(agent);
            } else {
                self.link(index, self.due_frame[index]);
            }
            agent = following;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_each_agent_wakes_at_its_frame() {
        let due = [3, 1024, 1027, 5000, 3];
        let mut wheel = Wheel::new(due.len());
        for (agent, frame) in due.into_iter().enumerate() {
            wheel.wait(agent, frame);
            wheel.wait(agent, frame + 1);
        }
        let mut woken = Vec::new();
        for frame in 0..6000 {
            let mut awake = Vec::new();
            wheel.take(frame, &mut awake);
            awake.sort_unstable();
            woken.extend(awake.into_iter().map(|agent| (agent as usize, frame)));
        }
        let expected = vec![(0, 3), (4, 3), (1, 1024), (2, 1027), (3, 5000)];
        assert_eq!(woken, expected);
        assert!(!wheel.is_waiting(0));
    }
}
