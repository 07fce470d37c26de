//! A sector while the simulation runs.

use crate::fading::Channels;
use crate::flow::{Acknowledgement, FlowState};
use crate::frame::SlotTable;
use crate::queue::Queue;
use crate::random::{Purpose, Stream};
use crate::scene::{Class, Direction, Flow, Scene};
use crate::scheduler::region::Region;
use crate::scheduler::requests::RequestState;
use crate::scheduler::ring::Ring;
use crate::scheduler::{Side, SlotCounts, Tier};
use crate::sources::Traffic;
use crate::sources::voice::{CallCounts, Calls};
use crate::wheel::Wheel;

/// What sleeps until a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Agent {
    /// The next packet or transfer of a flow.
    Traffic(u32),
    /// A flow's next poll.
    Poll(u32),
    /// A flow's request for uplink.
    Request(u32),
    /// The next call on a terminal's lines.
    Arrival(u32),
    /// One side of a call.
    Talker { call: u32, side: u32 },
    /// The end of a call.
    HangUp(u32),
}

/// Words of delivery by the frame in which they reach their sender.
#[derive(Debug)]
pub(crate) struct AcknowledgementCalendar {
    by_frame: Vec<Vec<Acknowledgement>>,
    present: usize,
}

impl AcknowledgementCalendar {
    fn new(longest_frames: u64) -> Self {
        Self {
            by_frame: (0..=longest_frames).map(|_| Vec::new()).collect(),
            present: 0,
        }
    }

    /// Words that arrive after so many frames, up to the longest.
    pub(crate) fn due_after(&mut self, frames: u64) -> &mut Vec<Acknowledgement> {
        let at = (self.present + frames as usize) % self.by_frame.len();
        &mut self.by_frame[at]
    }

    pub(crate) fn take(&mut self) -> Vec<Acknowledgement> {
        std::mem::take(&mut self.by_frame[self.present])
    }

    /// Returns the emptied list of the present frame, for the sake of its memory.
    pub(crate) fn give_back(&mut self, emptied: Vec<Acknowledgement>) {
        self.by_frame[self.present] = emptied;
    }

    fn advance(&mut self) {
        self.present = (self.present + 1) % self.by_frame.len();
    }
}

/// A sector.
#[derive(Debug)]
pub(crate) struct Sector<'a> {
    pub(crate) scene: &'a Scene,
    pub(crate) slots: SlotTable,
    pub(crate) uplink_limits: Vec<u32>,
    pub(crate) channels: Channels<'a>,
    pub(crate) flows: Vec<FlowState>,
    pub(crate) sides: [Side; 2],
    pub(crate) requests: RequestState,
    pub(crate) acknowledgements: AcknowledgementCalendar,
    pub(crate) calls: Calls,
    /// Slots of a turn under equal airtime.
    pub(crate) round_slots: [f64; 2],
    pub(crate) received_after_us: [f64; 2],
    pub(crate) frame: u64,
    pub(crate) now_us: f64,
    frame_us: f64,
    traffic: Vec<Traffic>,
    wheel: Wheel,
    agents: Vec<Agent>,
    awake: Vec<u32>,
    /// Tier and ring of each flow.
    places: Vec<(Option<usize>, Option<usize>)>,
}

impl<'a> Sector<'a> {
    pub(crate) fn new(scene: &'a Scene, seed: u64) -> Self {
        let bursts_max = scene.policy.terminals_per_frame_max;
        let slots = SlotTable::new(&scene.frame, bursts_max);
        let flows: Vec<FlowState> = (0..scene.flows.len())
            .map(|index| FlowState::new(scene, seed, index))
            .collect();
        let agents = agents(scene);
        let frame_us = scene.frame.frame_ms() * 1e3;
        let longest = flows.iter().map(|f| f.round_trip_frames).max().unwrap_or(0);
        let [downlink, uplink] = Direction::BOTH.map(|direction| side(scene, direction));
        let places = scene.flows.iter().map(|flow| {
            let of = if flow.direction == Direction::Downlink {
                &downlink
            } else {
                &uplink
            };
            place(of, flow)
        });
        let places = places.collect();
        let mut sector = Self {
            uplink_limits: vec![slots.uplink; bursts_max as usize + 1],
            round_slots: round_slots(scene, &slots),
            slots,
            channels: Channels::new(scene, seed),
            sides: [downlink, uplink],
            requests: RequestState::default(),
            acknowledgements: AcknowledgementCalendar::new(longest),
            calls: Calls::new(scene, seed),
            received_after_us: [scene.frame.downlink_end_ms() * 1e3, frame_us],
            frame: 0,
            now_us: 0.0,
            frame_us,
            traffic: (0..flows.len())
                .map(|index| Traffic::new(scene, seed, index))
                .collect(),
            wheel: Wheel::new(agents.len()),
            agents,
            awake: Vec::new(),
            places,
            flows,
            scene,
        };
        sector.begin(seed);
        sector
    }

    fn begin(&mut self, seed: u64) {
        for index in 0..self.scene.flows.len() {
            self.wait_until(Agent::Traffic(index as u32), self.traffic[index].next_us());
            let flow = &self.scene.flows[index];
            if is_polled(flow) {
                let mut random = Stream::new(seed, Purpose::BackOff, self.flows.len() + index);
                let first_us = random.uniform() * flow.poll_interval_ms * 1e3;
                self.wait_until(Agent::Poll(index as u32), first_us);
            }
            self.arrived(index);
        }
        for line in 0..self.scene.voice_lines.len() {
            self.wait_until(Agent::Arrival(line as u32), self.calls.next_us(line));
        }
    }

    /// One frame: what has come is scheduled, what is scheduled is sent.
    pub(crate) fn step(&mut self) {
        self.now_us = self.frame as f64 * self.frame_us;
        self.acknowledge();
        self.wake();
        self.channels.advance(self.frame);
        self.schedule();
        self.calls.count_frame();
        self.acknowledgements.advance();
        self.frame += 1;
    }

    /// Counting starts anew; the sector goes on.
    pub(crate) fn restart_counts(&mut self) {
        for flow in &mut self.flows {
            let held_bytes = flow.queue.held_bytes();
            flow.tally.restart(held_bytes);
        }
        for side in &mut self.sides {
            side.counts = SlotCounts::default();
        }
        self.requests.counts = crate::scheduler::requests::RequestCounts::default();
        self.calls.counts = CallCounts::default();
    }

    fn wake(&mut self) {
        let mut awake = std::mem::take(&mut self.awake);
        self.wheel.take(self.frame, &mut awake);
        for agent in awake.drain(..) {
            self.act(self.agents[agent as usize]);
        }
        self.awake = awake;
    }

    fn act(&mut self, agent: Agent) {
        match agent {
            Agent::Traffic(flow) => {
                let index = flow as usize;
                self.traffic[index].bring(self.now_us, &mut self.flows[index]);
                self.wait_until(agent, self.traffic[index].next_us());
                self.arrived(index);
            }
            Agent::Poll(flow) => {
                self.wake_poll(flow as usize);
                let interval_us = self.scene.flows[flow as usize].poll_interval_ms * 1e3;
                self.wait_until(agent, self.now_us + interval_us - 0.5 * self.frame_us);
            }
            Agent::Request(flow) => self.wake_request(flow as usize),
            Agent::Arrival(line) => self.receive_calls(line),
            Agent::Talker { call, side } => self.talk(call as usize, side as usize),
            Agent::HangUp(call) => {
                // Its last packets come before the line is free for another.
                (0..2).for_each(|side| self.talk(call as usize, side));
                let line = self.calls.call(call as usize).line;
                self.calls.hang_up(call as usize);
                self.change_calls(line, |calls| calls - 1);
            }
        }
    }

    fn receive_calls(&mut self, line: u32) {
        let index = line as usize;
        let scene = self.scene;
        let voice = &scene.voice_lines[index];
        while self.calls.next_us(index) < self.now_us {
            let Some(call) = self.calls.arrive(index, voice) else {
                continue;
            };
            self.change_calls(index, |calls| calls + 1);
            self.wait_until(Agent::HangUp(call as u32), self.calls.call(call).end_us);
            for side in 0..2 {
                self.talk(call, side);
            }
        }
        self.wait_until(Agent::Arrival(line), self.calls.next_us(index));
    }

    fn talk(&mut self, call: usize, side: usize) {
        let scene = self.scene;
        let voice = &scene.voice_lines[self.calls.call(call).line];
        let flow = [voice.downlink_flow, voice.uplink_flow][side];
        let until_us = self.now_us;
        let next_us = self
            .calls
            .bring((call, side), until_us, voice, &mut self.flows[flow]);
        if let Some(next_us) = next_us {
            let agent = Agent::Talker {
                call: call as u32,
                side: side as u32,
            };
            self.wait_until(agent, next_us);
        }
        self.arrived(flow);
    }

    /// Grants keep step with the number of calls.
    fn change_calls(&mut self, line: usize, change: impl Fn(u32) -> u32) {
        let voice = &self.scene.voice_lines[line];
        for flow in [voice.downlink_flow, voice.uplink_flow] {
            let state = &mut self.flows[flow];
            let before = state.calls;
            state.calls = change(before);
            state
                .grants
                .account
                .set_sources(state.calls.max(1), self.frame);
            if state.calls > before {
                // The base station lays a grant where the codec's packets fall.
                state.grants.account.pay(-f64::from(voice.packet_bytes));
            }
            self.list(flow);
        }
    }

    /// Something new waits in a flow's queue, perhaps.
    pub(crate) fn arrived(&mut self, flow: usize) {
        let state = &self.flows[flow];
        if state.side == 1 && !state.class.is_granted() {
            self.ask(flow);
        } else if state.side == 1 {
            self.ask(flow);
            self.list(flow);
        } else if state.has_work() {
            self.list(flow);
        }
    }

    /// Lists a flow among those that have work.
    pub(crate) fn list(&mut self, flow: usize) {
        let (tier, ring) = self.places[flow];
        let state = &mut self.flows[flow];
        let side = &mut self.sides[state.side];
        if let Some(tier) = tier.filter(|_| !state.listed.in_class) {
            state.listed.in_class = true;
            side.tiers[tier].members.push(flow as u32);
        }
        if let Some(ring) = ring.filter(|_| !state.listed.in_ring) {
            state.listed.in_ring = true;
            side.rings[ring].members.push_back(flow as u32);
        }
    }

    pub(crate) fn wake_later(&mut self, agent: Agent, frame: u64) {
        let number = self.number(agent);
        self.wheel.wait(number, frame);
    }

    /// Wakes an agent in the frame that begins after a moment; never, for a moment without end.
    fn wait_until(&mut self, agent: Agent, moment_us: f64) {
        if moment_us.is_finite() {
            let frame = (moment_us / self.frame_us) as u64 + 1;
            self.wake_later(agent, frame.max(self.frame + 1));
        }
    }

    /// Agents stand in the order of [`agents`].
    fn number(&self, agent: Agent) -> usize {
        let flows = self.flows.len();
        let lines = self.scene.voice_lines.len();
        match agent {
            Agent::Traffic(flow) => 3 * flow as usize,
            Agent::Poll(flow) => 3 * flow as usize + 1,
            Agent::Request(flow) => 3 * flow as usize + 2,
            Agent::Arrival(line) => 3 * flows + line as usize,
            Agent::Talker { call, side } => 3 * flows + lines + 3 * call as usize + side as usize,
            Agent::HangUp(call) => 3 * flows + lines + 3 * call as usize + 2,
        }
    }
}

fn agents(scene: &Scene) -> Vec<Agent> {
    let flows = 0..scene.flows.len() as u32;
    let lines = 0..scene.voice_lines.len() as u32;
    let calls = 0..Calls::at_once(scene);
    let of_flow = |flow| {
        [
            Agent::Traffic(flow),
            Agent::Poll(flow),
            Agent::Request(flow),
        ]
    };
    let of_call = |call| {
        [
            Agent::Talker { call, side: 0 },
            Agent::Talker { call, side: 1 },
            Agent::HangUp(call),
        ]
    };
    flows
        .flat_map(of_flow)
        .chain(lines.map(Agent::Arrival))
        .chain(calls.flat_map(of_call))
        .collect()
}

fn is_polled(flow: &Flow) -> bool {
    let polled = [Class::RealTimePolling, Class::NonRealTimePolling];
    flow.direction == Direction::Uplink && polled.contains(&flow.class)
}

/// Whether a flow is served within its class, before what is left is shared.
fn has_tier(flow: &Flow) -> bool {
    match flow.class {
        Class::BestEffort => false,
        Class::NonRealTimePolling => flow.min_mbps > 0.0,
        _ => true,
    }
}

fn has_ring(flow: &Flow) -> bool {
    matches!(flow.class, Class::BestEffort | Class::NonRealTimePolling)
}

fn side(scene: &Scene, direction: Direction) -> Side {
    let flows = || scene.flows.iter().filter(|f| f.direction == direction);
    let mut tiers: Vec<(Class, u8)> = flows()
        .filter(|f| has_tier(f))
        .map(|f| (f.class, f.priority))
        .collect();
    tiers.sort_unstable_by_key(|&(class, priority)| (class, u8::MAX - priority));
    tiers.dedup();
    let mut rings: Vec<u8> = flows()
        .filter(|f| has_ring(f))
        .map(|f| f.priority)
        .collect();
    rings.sort_unstable_by_key(|&priority| u8::MAX - priority);
    rings.dedup();
    let tier = |(class, priority)| Tier {
        class,
        priority,
        members: Vec::new(),
    };
    let ring = |priority| Ring {
        priority,
        ..Ring::default()
    };
    Side {
        region: Region::new(scene.terminals.len()),
        tiers: tiers.into_iter().map(tier).collect(),
        rings: rings.into_iter().map(ring).collect(),
        counts: SlotCounts::default(),
    }
}

/// Tier and ring in which a flow is listed.
fn place(side: &Side, flow: &Flow) -> (Option<usize>, Option<usize>) {
    let is_tier = |t: &Tier| t.class == flow.class && t.priority == flow.priority;
    let tier = has_tier(flow).then(|| side.tiers.iter().position(is_tier));
    let is_ring = |r: &Ring| r.priority == flow.priority;
    let ring = has_ring(flow).then(|| side.rings.iter().position(is_ring));
    (tier.flatten(), ring.flatten())
}

/// A turn of equal airtime: the slots in which the fastest step carries a round's bytes.
fn round_slots(scene: &Scene, slots: &SlotTable) -> [f64; 2] {
    let fastest = scene.ladders.iter().flatten().map(|s| s.slot_bits()).max();
    let bits = f64::from(scene.policy.round_bytes) * 8.0;
    let round = (bits / f64::from(fastest.unwrap_or(1).max(1))).max(1.0);
    [slots.downlink_and_maps, slots.uplink].map(|most| round.min(f64::from(most).max(1.0)))
}

/// Whether a flow's queue is one of transfers.
pub(crate) fn is_elastic(flow: &FlowState) -> bool {
    matches!(flow.queue, Queue::Transfers(_))
}
