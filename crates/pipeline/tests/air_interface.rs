//! The shipped air interface cards give the published figures through the
//! same frame code that the study uses.

use pipeline::design::catalogue;
use pipeline::engine::frame::Direction;
use pipeline::engine::frame::{DirectionFrame, guard_range_m, occupied_mhz};
use pipeline::model::{AirInterface, FrameSplit};

fn card(id: &str) -> &'static AirInterface {
    catalogue::built_in()
        .air_interfaces
        .get(id)
        .expect("ships with the program")
}

fn rate_mbps(
    card: &AirInterface,
    (downlink_symbols, uplink_symbols): (u32, u32),
    direction: Direction,
    mcs: &str,
    streams: u32,
) -> f64 {
    let split = FrameSplit::Symbols {
        downlink_symbols,
        uplink_symbols,
    };
    let mcs = card
        .mcs
        .iter()
        .find(|m| m.name == mcs)
        .expect("a step of the card");
    DirectionFrame::new(card, split, direction).phy_rate_mbps(mcs, streams)
}

#[test]
fn ref_realistic_capacity_by_split_10_mhz() {
    // 47 symbols, four downlink symbols for header and maps, three uplink
    // control symbols; downlink 64QAM 5/6, uplink 16QAM 3/4. Computed from
    // the slot arithmetic of IEEE 802.16-2009 clause 8.4.
    let card = card("ofdma-10");
    for (split, matrix_a, matrix_b, uplink) in [
        ((35, 12), 21.60, 43.20, 3.024),
        ((32, 15), 18.72, 37.44, 4.032),
        ((29, 18), 17.28, 34.56, 5.040),
        ((26, 21), 14.40, 28.80, 6.048),
    ] {
        let down = |streams| rate_mbps(card, split, Direction::Downlink, "64QAM 5/6", streams);
        assert!((down(1) - matrix_a).abs() < 1e-9, "{split:?}");
        assert!((down(2) - matrix_b).abs() < 1e-9, "{split:?}");
        let up = rate_mbps(card, split, Direction::Uplink, "16QAM 3/4", 1);
        assert!((up - uplink).abs() < 1e-9, "{split:?}");
    }
}

#[test]
fn ref_guard_range_of_the_profiles() {
    // c·(TTG − 50 µs)/2, computed from the system profile's gaps (from memory).
    for (id, split, range_km) in [
        ("ofdma-5", (35, 12), 8.351),
        ("ofdma-10", (35, 12), 8.351),
        ("ofdma-10", (34, 12), 8.351 + 15.418),
        ("ofdma-7", (21, 12), 20.686),
    ] {
        let split = FrameSplit::Symbols {
            downlink_symbols: split.0,
            uplink_symbols: split.1,
        };
        let reached_km = guard_range_m(card(id), split) / 1e3;
        assert!((reached_km - range_km).abs() < 2e-3, "{id}: {reached_km}");
    }
}

#[test]
fn ref_noise_width_of_10_mhz() {
    // 840 subcarriers of 10.9375 kHz (IEEE 802.16-2009 clause 8.4): 9.1875 MHz.
    assert!((occupied_mhz(card("ofdma-10")) - 9.1875).abs() < 1e-9);
}

#[test]
fn exact_every_card_has_rates_that_rise_with_their_thresholds() {
    for card in catalogue::built_in().air_interfaces.values() {
        for direction in [Direction::Downlink, Direction::Uplink] {
            let frame = DirectionFrame::new(card, card.default_split, direction);
            let mut steps: Vec<(f64, f64)> = card
                .mcs
                .iter()
                .map(|m| (m.sinr_threshold_db, frame.phy_rate_mbps(m, 1)))
                .collect();
            steps.sort_by(|a, b| a.0.total_cmp(&b.0));
            assert!(steps.windows(2).all(|w| w[0].1 <= w[1].1), "{}", card.id);
            assert!(steps[0].1 > 0.0, "{}", card.id);
        }
    }
}
