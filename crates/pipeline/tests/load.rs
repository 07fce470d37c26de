//! The load of a sector: its arithmetic against published figures, and what
//! must hold whatever the customers are.

mod formula_world;

use formula_world::{FormulaGround, TextWorld, design, sector};
use physics::ofdma::frame::mean_bits_per_slot;
use pipeline::design::catalogue;
use pipeline::engine::RunControl;
use pipeline::engine::adaptation::{MimoMode, Step};
use pipeline::engine::frame::Direction;
use pipeline::engine::load::account::{self, Sums};
use pipeline::engine::load::cost::{self, DirectionSteps, LinkSteps};
use pipeline::engine::load::flow;
use pipeline::engine::load::frame_budget::{Bursts, FrameBudget};
use pipeline::engine::load::rates::{self, Customer};
use pipeline::model::{
    AirInterface, BestEffortSharing, CircuitStructure, Circuits, FrameSplit, LeasedLine, PlanId,
    SchedulingClass, ServicePlan, VoiceCodec, VoiceLines,
};
use pipeline::{Completeness, evaluate};
use proptest::prelude::*;
use traffic::stream::{IpVersion, Layer};
use traffic::voice::{self, Codec};

fn card() -> &'static AirInterface {
    let cards = &catalogue::built_in().air_interfaces;
    cards.get("ofdma-10").expect("ships with the program")
}

fn budget(downlink_symbols: u32, uplink_symbols: u32) -> FrameBudget<'static> {
    FrameBudget::new(
        card(),
        FrameSplit::Symbols {
            downlink_symbols,
            uplink_symbols,
        },
    )
}

fn one_step(name: &str, mode: MimoMode) -> Step {
    let mcs = card().mcs.iter().position(|m| m.name == name);
    Step {
        mode,
        mcs: mcs.expect("a step of the card"),
        bandwidth_frac: 1.0,
        required_sinr_db: 0.0,
        phy_rate_mbps: 0.0,
        ethernet_rate_mbps: 0.0,
    }
}

/// The same step for everything; the uplink has one stream.
fn steps(downlink: (&str, MimoMode), uplink: &str) -> LinkSteps {
    let both = |step| DirectionSteps {
        guaranteed: step,
        elastic: step,
    };
    [
        both(one_step(downlink.0, downlink.1)),
        both(one_step(uplink, MimoMode::SingleStream)),
    ]
}

fn plan(class: SchedulingClass, guaranteed_mbps: f64, mean_mbps: f64) -> ServicePlan {
    ServicePlan {
        id: PlanId::new("p"),
        name: "p".into(),
        scheduling_class: class,
        downlink_mbps: 10.0,
        uplink_mbps: 2.0,
        guaranteed_downlink_mbps: guaranteed_mbps,
        guaranteed_uplink_mbps: guaranteed_mbps / 5.0,
        busy_hour_downlink_mbps: mean_mbps,
        busy_hour_uplink_mbps: mean_mbps / 8.0,
        growth_pct_per_year: 0.0,
        mean_packet_bytes: 700.0,
        delay_bound_ms: None,
        loss_bound_pct: None,
        voice: None,
        circuits: None,
        dscp: 0,
        priority: 0,
        weight: 1.0,
        target_probability_frac: 0.9,
        price_per_month: 0.0,
    }
}

/// Shares of the traffic and the downlink's steps of the worked sector.
const MIX: [(f64, &str, MimoMode, f64); 5] = [
    (0.4, "64QAM 5/6", MimoMode::SpatialMultiplexing, 480.0),
    (0.2, "64QAM 3/4", MimoMode::SpaceTimeCoding, 216.0),
    (0.2, "16QAM 3/4", MimoMode::SpaceTimeCoding, 144.0),
    (0.1, "16QAM 1/2", MimoMode::SpaceTimeCoding, 96.0),
    (0.1, "QPSK 1/2", MimoMode::SpaceTimeCoding, 48.0),
];

fn slots(budget: &FrameBudget<'_>, direction: Direction, each: f64) -> f64 {
    let bursts = Bursts {
        downlink: each,
        uplink: each,
    };
    budget.data_slots(direction, bursts)
}

/// Rate of slots of 5 ms frames.
fn rate_mbps(slots: f64, bits_per_slot: f64) -> f64 {
    slots * bits_per_slot / 5e3
}

/// Customers of the mix: ten, with the same busy-hour mean each, as the shares say.
fn mixed_customers(plan: &ServicePlan) -> Vec<Customer<'_>> {
    MIX.into_iter()
        .flat_map(|(share, mcs, mode, _)| {
            let count = (10.0 * share).round() as usize;
            let steps = steps((mcs, mode), "16QAM 3/4");
            std::iter::repeat_n(Customer { plan, steps }, count)
        })
        .collect()
}

fn summed(budget: &FrameBudget<'_>, customers: &[Customer<'_>]) -> Sums {
    customers.iter().fold(Sums::default(), |sums, c| {
        sums.plus(&cost::ask(budget, c.plan, (&c.steps, 0.0)), 1.0)
    })
}

/// What the mixed sector carries when its downlink is full.
fn full_mbps(budget: &FrameBudget<'_>, sums: &Sums) -> f64 {
    let (mut low, mut high) = (0.0, 1e4);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        let all = Sums::default().plus(sums, middle);
        if account::airtime(budget, &all, 0.01)[0].airtime_frac() < 1.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low * sums.sides[0].demand_mbps
}

/// The rows of the table in docs/SECTOR.md.
#[expect(clippy::too_many_lines, reason = "a flat list of rows")]
fn worked_rows() -> Vec<(String, String)> {
    let budget = budget(35, 12);
    let down = |each| slots(&budget, Direction::Downlink, each);
    let bits: Vec<(f64, f64)> = MIX.iter().map(|m| (m.0, m.3)).collect();
    let harmonic = mean_bits_per_slot(&bits);
    let arithmetic: f64 = bits.iter().map(|(share, bits)| share * bits).sum();
    let elastic = plan(SchedulingClass::BestEffort, 0.0, 0.5);
    let customers = mixed_customers(&elastic);
    let sums = summed(&budget, &customers);
    let carried = full_mbps(&budget, &sums);
    let line = plan_with_t1();
    let t1 = Customer {
        plan: &line,
        steps: steps(("16QAM 3/4", MimoMode::SpaceTimeCoding), "16QAM 3/4"),
    };
    let t1_sums = summed(&budget, &[t1]);
    let t1_airtime = account::airtime(&budget, &t1_sums, 0.01);
    // Four times the ten customers: 40 of 10 Mb/s, 0.25 Mb/s each on average.
    let quarter = plan(SchedulingClass::BestEffort, 0.0, 0.25);
    let forty: Vec<Customer<'_>> = mixed_customers(&quarter)
        .into_iter()
        .flat_map(|c| std::iter::repeat_n(c, 4))
        .collect();
    let forty_sums = summed(&budget, &forty);
    let airtime = account::airtime(&budget, &forty_sums, 0.01);
    let sharing = BestEffortSharing::EqualAirtime;
    let expected = rates::expected(&budget, &airtime, (&forty, sharing, 0.0));
    let row = |what: &str, value: String| (what.to_owned(), value);
    vec![
        row(
            "downlink slots of a frame, one customer in the maps",
            format!("{}", down(1.0)),
        ),
        row(
            "downlink, everybody at 64QAM 5/6 with two streams",
            format!("{:.2} Mb/s", rate_mbps(down(1.0), 480.0)),
        ),
        row(
            "uplink, everybody at 16QAM 3/4",
            format!(
                "{:.3} Mb/s",
                rate_mbps(slots(&budget, Direction::Uplink, 1.0), 144.0)
            ),
        ),
        row(
            "bits of a slot over equal slots",
            format!("{arithmetic:.1}"),
        ),
        row(
            "bits of a slot over equal traffic (harmonic)",
            format!("{harmonic:.2}"),
        ),
        row(
            "downlink of the mix, equal traffic",
            format!("{:.2} Mb/s", rate_mbps(down(1.0), harmonic)),
        ),
        row(
            "downlink slots, eight customers in the maps",
            format!("{}", down(8.0)),
        ),
        row(
            "downlink of the mix, eight customers in the maps",
            format!("{:.2} Mb/s", rate_mbps(down(8.0), harmonic)),
        ),
        row(
            "the same with headers, fragments and repeats",
            format!("{carried:.2} Mb/s"),
        ),
        row(
            "40 customers of 10 Mb/s, 0.25 Mb/s each: downlink airtime",
            format!("{:.1} %", 100.0 * airtime[0].airtime_frac()),
        ),
        row("contention", format!("{:.1} : 1", 400.0 / carried)),
        row(
            "expected rate at 64QAM 5/6 with two streams",
            format!("{:.2} Mb/s", expected[0][0].expected_mbps),
        ),
        row(
            "expected rate at 16QAM 3/4",
            format!("{:.2} Mb/s", expected[24][0].expected_mbps),
        ),
        row(
            "expected rate at QPSK 1/2",
            format!("{:.2} Mb/s", expected[39][0].expected_mbps),
        ),
        row(
            "uplink slots of a frame for a T1 at 16QAM 3/4",
            format!(
                "{:.1} of {}",
                t1_airtime[1].reserved_slots(),
                t1_airtime[1].data_slots
            ),
        ),
    ]
}

fn plan_with_t1() -> ServicePlan {
    ServicePlan {
        circuits: Some(Circuits {
            line: LeasedLine::T1,
            count: 1,
            structure: CircuitStructure::Whole { payload_bytes: 192 },
            time_stamp: false,
        }),
        ..plan(SchedulingClass::BestEffort, 0.0, 0.0)
    }
}

/// The slot arithmetic of IEEE 802.16-2009, clause 8.4, with 47 symbols, four of them
/// maps at one customer, three of uplink control: 43.2 and 3.024 Mb/s, 159.41
/// bits a slot and 14.35 Mb/s for the mix, computed in another program.
#[test]
fn ref_from_the_peak_to_the_mix() {
    let budget = budget(35, 12);
    let down = slots(&budget, Direction::Downlink, 1.0);
    assert_eq!(down, 450.0);
    assert!((rate_mbps(down, 480.0) - 43.20).abs() < 1e-9);
    let up = slots(&budget, Direction::Uplink, 1.0);
    assert!((rate_mbps(up, 144.0) - 3.024).abs() < 1e-9);
    for (_, mcs, mode, bits) in MIX {
        let step = one_step(mcs, mode);
        assert!((budget.bits_per_slot(&step, Direction::Downlink) - bits).abs() < 1e-9);
    }
    let shares: Vec<(f64, f64)> = MIX.iter().map(|m| (m.0, m.3)).collect();
    let harmonic = mean_bits_per_slot(&shares);
    assert!((harmonic - 159.41).abs() < 0.005);
    assert!((rate_mbps(down, harmonic) - 14.35).abs() < 0.005);
    // What is carried in the end is less: maps, headers, repeats.
    let elastic = plan(SchedulingClass::BestEffort, 0.0, 0.5);
    let sums = summed(&budget, &mixed_customers(&elastic));
    let carried = full_mbps(&budget, &sums);
    assert!((12.0..14.35).contains(&carried), "{carried}");
}

/// Compressed maps at repetition 4: 4, 8, 12 and 24 symbols for 1, 10, 20 and
/// 40 customers, computed in another program from the sizes of the elements.
#[test]
fn ref_maps_grow_with_the_customers_they_name() {
    let budget = budget(35, 12);
    for (customers, symbols) in [(1.0, 4.0), (10.0, 8.0), (20.0, 12.0), (40.0, 24.0)] {
        let room = slots(&budget, Direction::Downlink, customers);
        assert_eq!(room, ((34.0_f64 - symbols) / 2.0).floor() * 30.0);
    }
    // Between whole numbers frames alternate.
    let (one, two) = (
        slots(&budget, Direction::Downlink, 4.0),
        slots(&budget, Direction::Downlink, 5.0),
    );
    let between = slots(&budget, Direction::Downlink, 4.5);
    assert!(one >= between && between >= two);
}

/// Voice and T1 in slots: 210 B (228 B with Ethernet) in 35, 18 (19) and 7
/// slots, T1 in 65.3 slots of the uplink, from the standards' header sizes,
/// computed in another program. The network here carries Ethernet.
#[test]
fn ref_grants_of_voice_and_circuits() {
    let budget = budget(29, 18);
    let call = voice::stream(Codec::G711, 20, IpVersion::V4).expect("whole frames");
    let pdu_bits = |layer| 8.0 * (f64::from(call.bytes_at(layer)) + budget.packet_overhead_bytes());
    for (bits, slots) in [(48.0, 35.0), (96.0, 18.0), (240.0, 7.0)] {
        assert_eq!((pdu_bits(Layer::Ip) / bits).ceil(), slots);
    }
    assert_eq!((pdu_bits(Layer::Ethernet) / 96.0).ceil(), 19.0);
    let (slots, bursts) = cost::stream_cost(&budget, &call, 96.0);
    assert!((slots - 19.0 / 4.0).abs() < 1e-12 && (bursts - 0.25).abs() < 1e-12);

    let circuits = plan_with_t1().circuits.expect("a T1");
    let t1 = flow::circuit_stream(&circuits);
    let per_frame = t1.packets_per_s * 0.005;
    let at_ip = 8.0 * (f64::from(t1.ip_bytes()) + 10.0) * per_frame / 144.0;
    assert!((at_ip - 65.3).abs() < 0.05, "{at_ip}");
    // Ethernet's 18 B and half a slot of rounding on top.
    let (slots, _) = cost::stream_cost(&budget, &t1, 144.0);
    assert!((slots - (at_ip + 18.0 * 8.0 * per_frame / 144.0 + 0.5)).abs() < 1e-9);
}

/// A hundred lines of 0.07 E offer 7 E, and share the grants that the loss formula of Erlang asks for.
#[test]
fn ref_calls_share_their_grants() {
    let voice = VoiceLines {
        lines: 1,
        codec: VoiceCodec::G711,
        packet_ms: 20,
        silence_suppression: false,
        activity_frac: 1.0,
        erlang_per_line: 0.07,
    };
    let plan = ServicePlan {
        voice: Some(voice),
        ..plan(SchedulingClass::BestEffort, 0.0, 0.0)
    };
    let budget = budget(29, 18);
    let steps = steps(("16QAM 1/2", MimoMode::SpaceTimeCoding), "16QAM 1/2");
    let ask = cost::ask(&budget, &plan, (&steps, 0.0));
    let sums = Sums::default().plus(&ask, 100.0);
    let calls = sums.calls[0].calls(0.01);
    assert!(traffic::erlang::blocking_frac(calls as u32, 7.0) <= 0.01);
    assert!(traffic::erlang::blocking_frac(calls as u32 - 1, 7.0) > 0.01);
    let airtime = account::airtime(&budget, &sums, 0.01);
    assert!((airtime[1].reserved_slots() - calls * 19.0 / 4.0).abs() < 1e-9);
}

/// The page's table is what the program computes.
#[test]
#[expect(clippy::disallowed_methods, reason = "the page is read, and blessed")]
fn gold_the_worked_sector_stands_in_its_page() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/SECTOR.md");
    let page = std::fs::read_to_string(path).expect("the page");
    let (begin, end) = ("<!-- computed -->\n", "<!-- end -->\n");
    let (head, rest) = page.split_once(begin).expect("the mark");
    let (_, tail) = rest.split_once(end).expect("the second mark");
    let rows: String = worked_rows()
        .into_iter()
        .map(|(what, value)| format!("| {what} | {value} |\n"))
        .collect();
    let fresh = format!("{head}{begin}| what | value |\n|---|---|\n{rows}{end}{tail}");
    if std::env::var("MASTWRIGHT_BLESS").is_ok() {
        std::fs::write(path, &fresh).expect("the page can be written");
        return;
    }
    assert!(
        page == fresh,
        "docs/SECTOR.md is stale; MASTWRIGHT_BLESS=1 writes it:\n{rows}"
    );
}

fn any_class() -> impl Strategy<Value = SchedulingClass> {
    prop::sample::select(SchedulingClass::ALL.to_vec())
}

fn any_steps() -> impl Strategy<Value = LinkSteps> {
    let names = [
        "QPSK 1/2",
        "16QAM 1/2",
        "16QAM 3/4",
        "64QAM 2/3",
        "64QAM 5/6",
    ];
    (0..names.len(), 0..names.len(), any::<bool>()).prop_map(move |(down, up, two)| {
        let mode = if two {
            MimoMode::SpatialMultiplexing
        } else {
            MimoMode::SpaceTimeCoding
        };
        steps((names[down], mode), names[up])
    })
}

fn any_plan() -> impl Strategy<Value = ServicePlan> {
    let numbers = (0.0..1.0_f64, 0.0..0.6_f64, 64.0..1500.0_f64, 0.0..0.3_f64);
    (any_class(), numbers, 0_u32..3, any::<bool>()).prop_map(
        |(class, (guaranteed, mean, bytes, erlang), lines, quiet)| ServicePlan {
            mean_packet_bytes: bytes,
            voice: (lines > 0).then_some(VoiceLines {
                lines,
                codec: VoiceCodec::G729,
                packet_ms: 20,
                silence_suppression: quiet,
                activity_frac: 0.4,
                erlang_per_line: erlang,
            }),
            ..plan(
                class,
                if class == SchedulingClass::BestEffort {
                    0.0
                } else {
                    guaranteed
                },
                mean,
            )
        },
    )
}

fn any_customers() -> impl Strategy<Value = Vec<(ServicePlan, LinkSteps)>> {
    prop::collection::vec((any_plan(), any_steps()), 1..25)
}

fn borrowed(owned: &[(ServicePlan, LinkSteps)]) -> Vec<Customer<'_>> {
    owned
        .iter()
        .map(|(plan, steps)| Customer {
            plan,
            steps: *steps,
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn exact_airtime_is_conserved(owned in any_customers()) {
        let budget = budget(29, 18);
        let sums = summed(&budget, &borrowed(&owned));
        for airtime in account::airtime(&budget, &sums, 0.01) {
            let overhead = airtime.all_slots - airtime.data_slots;
            let taken = airtime.reserved_slots() + airtime.elastic_slots() + airtime.handling;
            let free = airtime.data_slots * (1.0 - airtime.airtime_frac());
            prop_assert!(overhead >= 0.0);
            prop_assert!((overhead + taken + free - airtime.all_slots).abs() < 1e-6);
        }
    }

    #[test]
    fn exact_no_class_uses_more_than_its_grant(owned in any_customers()) {
        let budget = budget(29, 18);
        let sums = summed(&budget, &borrowed(&owned));
        for airtime in account::airtime(&budget, &sums, 0.01) {
            for (used, reserved) in airtime.used.iter().zip(airtime.reserved) {
                prop_assert!(*used <= reserved + 1e-9, "{used} of {reserved}");
            }
        }
    }

    #[test]
    fn exact_another_guarantee_never_raises_a_best_effort_rate(
        owned in any_customers(), more in any_plan(), at in any_steps(),
        sharing in prop::sample::select(vec![
            BestEffortSharing::EqualAirtime, BestEffortSharing::EqualRate, BestEffortSharing::Weighted,
        ]),
    ) {
        let budget = budget(29, 18);
        let customers = borrowed(&owned);
        let sums = summed(&budget, &customers);
        // All of the newcomer's data is guaranteed.
        let guaranteed = ServicePlan {
            scheduling_class: SchedulingClass::UnsolicitedGrant,
            guaranteed_downlink_mbps: 0.5,
            guaranteed_uplink_mbps: 0.1,
            busy_hour_downlink_mbps: 0.0,
            busy_hour_uplink_mbps: 0.0,
            ..more
        };
        let after = sums.plus(&cost::ask(&budget, &guaranteed, (&at, 0.0)), 1.0);
        let rates = |sums: &Sums| {
            let airtime = account::airtime(&budget, sums, 0.01);
            rates::expected(&budget, &airtime, (&customers, sharing, 0.0))
        };
        for (before, after) in rates(&sums).iter().zip(rates(&after)) {
            for d in 0..2 {
                prop_assert!(after[d].expected_mbps <= before[d].expected_mbps + 1e-9);
            }
        }
    }
}

#[test]
fn exact_the_load_does_not_depend_on_the_threads() {
    let mut premises = String::from("id,lon,lat,plan\n");
    for i in 0..40 {
        let (row, column) = (f64::from(i / 8), f64::from(i % 8));
        let plan = if i % 3 == 0 { "large" } else { "small" };
        let (lon, lat) = (9.43 + 0.005 * column, 47.16 + 0.005 * row);
        premises.push_str(&format!("p{i},{lon},{lat},{plan}\n"));
    }
    let world = TextWorld::new(
        &design(&sector("s", "m1", 0.0, 3620.0)),
        &premises,
        FormulaGround::flat(400.0),
    );
    let study = |threads| {
        let run = RunControl {
            threads,
            ..RunControl::unwatched()
        };
        evaluate(&world, Completeness::Whole, &run)
            .expect("sound")
            .study
    };
    let (one, four) = (study(1), study(4));
    assert_eq!(one.capacity, four.capacity);
    assert_eq!(one.timing, four.timing);
    let c = &one.capacity[0];
    // One accounting: the sector's load is the detail's.
    assert_eq!(c.load, one.sectors[0].load);
    assert_eq!(c.customers.len(), one.sectors[0].load.terminals as usize);
    assert!(c.room.iter().all(|r| r.more > 0), "{:?}", c.room);
}
