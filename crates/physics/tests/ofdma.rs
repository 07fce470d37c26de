//! The 802.16 OFDMA arithmetic against published tables and worked figures.
//!
//! Marks: [read] in a published source, [memory] recalled, [computed] from the formula.

use physics::noise::thermal_noise_dbm;
use physics::ofdma::frame::{
    FrameOverhead, FrameSplit, PacketOverhead, compressed_map_bits, downlink_slots, map_slots,
    map_symbols, mean_bits_per_slot, phy_rate_mbps, slots_in, slots_rate_mbps, uplink_slots,
};
use physics::ofdma::modulation::{MODULATIONS, Modulation, fastest_within};
use physics::ofdma::range::{base_to_base_range_km, echo_range_km, max_range_km};
use physics::ofdma::receiver::{
    ofdm256_sensitivity_dbm, sensitivity_dbm, subchannelisation_gain_db,
};
use physics::ofdma::{OfdmaNumerology, PROFILES, sampling_factor};

fn near(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{got}, expected {expected}"
    );
}

fn numerology(channel_mhz: f64) -> OfdmaNumerology {
    OfdmaNumerology::for_channel(channel_mhz).expect("a deployed width")
}

#[test]
fn ref_numerology_table() {
    // Fs, Δf, Tb, Tg, Ts, PS, TTG, RTG [computed]; 10.94 kHz, 1024, 1/8 and 5 ms, and
    // 7 MHz at 8 MHz sampling with 7.81 kHz [read].
    for (channel_mhz, row) in [
        (3.5, [4.0, 7.8125, 128.0, 16.0, 144.0, 1.0, 188.0, 60.0]),
        (
            5.0,
            [5.6, 10.9375, 91.429, 11.429, 102.857, 0.7143, 105.714, 60.0],
        ),
        (7.0, [8.0, 7.8125, 128.0, 16.0, 144.0, 0.5, 188.0, 60.0]),
        (8.75, [10.0, 9.765625, 102.4, 12.8, 115.2, 0.4, 87.2, 74.4]),
        (
            10.0,
            [
                11.2, 10.9375, 91.429, 11.429, 102.857, 0.35714, 105.714, 60.0,
            ],
        ),
    ] {
        let n = numerology(channel_mhz);
        let got = [
            n.sampling_mhz(),
            n.subcarrier_khz(),
            n.useful_time_us(),
            n.guard_time_us(),
            n.symbol_time_us(),
            n.physical_slot_us(),
            n.ttg_us(),
            n.rtg_us(),
        ];
        for (got, expected) in got.into_iter().zip(row) {
            near(got, expected, 5e-4);
        }
        assert_eq!(
            (n.sampling_num, n.sampling_den),
            sampling_factor(channel_mhz)
        );
    }
    assert_eq!(OfdmaNumerology::for_channel(6.0), None);
}

#[test]
fn exact_symbols_and_gaps_fill_the_frame() {
    for n in PROFILES {
        near(n.idle_us(), 0.0, 1e-9);
        for carriers in [n.downlink, n.uplink] {
            let used = carriers.data_subcarriers + carriers.pilot_subcarriers + 1;
            assert_eq!(used, carriers.used_subcarriers, "data, pilots and DC");
            // 48 data subcarrier-symbols per slot.
            let per_slot = carriers.data_subcarriers * carriers.slot_symbols;
            assert_eq!(per_slot, 48 * carriers.subchannels);
        }
    }
}

#[test]
fn ref_slot_counts() {
    let n = numerology(10.0);
    // [read] So-In, Jain, Al Tamimi 2010, Table 4: 28 symbols 420 slots, 18 less 3 175 slots.
    assert_eq!(slots_in(&n.downlink, 28), 420);
    assert_eq!(slots_in(&n.uplink, 15), 175);
    // [read] J. Comp. Netw. Comm. 2012, 369803, Table 4: 22 symbols 330 slots.
    assert_eq!(slots_in(&n.downlink, 22), 330);
    let split = FrameSplit {
        downlink_symbols: 29,
        uplink_symbols: 18,
    };
    let no_maps = FrameOverhead {
        map_symbols: 0,
        ..FrameOverhead::default()
    };
    assert_eq!(downlink_slots(&n, split, no_maps), 420);
    assert_eq!(uplink_slots(&n, split, no_maps), 175);
    let nothing = FrameSplit {
        downlink_symbols: 2,
        uplink_symbols: 1,
    };
    assert_eq!(downlink_slots(&n, nothing, FrameOverhead::default()), 0);
}

#[test]
fn ref_bits_per_slot() {
    // [computed] from the slot of 48 data subcarriers.
    let expected = [
        8.0, 12.0, 24.0, 48.0, 72.0, 96.0, 144.0, 144.0, 192.0, 216.0, 240.0,
    ];
    for (modulation, bits) in MODULATIONS.iter().zip(expected) {
        assert_eq!(modulation.bits_per_slot(), bits, "{}", modulation.name);
    }
}

#[test]
fn ref_phy_rate_table() {
    // Industry white paper, technical overview and performance evaluation, Aug 2006:
    // PHY rates, partial usage of sub-channels, 44 downlink and 42 uplink data
    // symbols of a 5 ms frame. Values [memory], reproduced to the last digit [computed].
    let rows = [
        ("QPSK 1/2 x6", [0.53, 0.38, 1.06, 0.78]),
        ("QPSK 1/2 x4", [0.79, 0.57, 1.58, 1.18]),
        ("QPSK 1/2 x2", [1.58, 1.14, 3.17, 2.35]),
        ("QPSK 1/2", [3.17, 2.28, 6.34, 4.70]),
        ("QPSK 3/4", [4.75, 3.43, 9.50, 7.06]),
        ("16QAM 1/2", [6.34, 4.57, 12.67, 9.41]),
        ("16QAM 3/4", [9.50, 6.85, 19.01, 14.11]),
        ("64QAM 1/2", [9.50, 6.85, 19.01, 14.11]),
        ("64QAM 2/3", [12.67, 9.14, 25.34, 18.82]),
        ("64QAM 3/4", [14.26, 10.28, 28.51, 21.17]),
        ("64QAM 5/6", [15.84, 11.42, 31.68, 23.52]),
    ];
    for (name, expected) in rows {
        let modulation = Modulation::named(name).expect("in the table");
        let [five, ten] = [numerology(5.0), numerology(10.0)];
        let got = [
            phy_rate_mbps(&five, &five.downlink, 44, &modulation),
            phy_rate_mbps(&five, &five.uplink, 42, &modulation),
            phy_rate_mbps(&ten, &ten.downlink, 44, &modulation),
            phy_rate_mbps(&ten, &ten.uplink, 42, &modulation),
        ];
        for (got, expected) in got.into_iter().zip(expected) {
            near(got, expected, 0.005 + 1e-9);
        }
    }
}

#[test]
fn ref_realistic_capacity_by_split() {
    // [computed] 10 MHz, 47 symbols, 4 for header and maps, 3 uplink control,
    // downlink 64QAM 5/6, uplink 16QAM 3/4.
    let n = numerology(10.0);
    let (down, up) = (
        MODULATIONS[10].bits_per_slot(),
        MODULATIONS[6].bits_per_slot(),
    );
    for (symbols, slots, rates) in [
        ((35, 12), (450, 105), (21.60, 43.20, 3.024)),
        ((32, 15), (390, 140), (18.72, 37.44, 4.032)),
        ((29, 18), (360, 175), (17.28, 34.56, 5.040)),
        ((26, 21), (300, 210), (14.40, 28.80, 6.048)),
    ] {
        let split = FrameSplit {
            downlink_symbols: symbols.0,
            uplink_symbols: symbols.1,
        };
        assert_eq!(symbols.0 + symbols.1, n.frame_symbols);
        let overhead = FrameOverhead::default();
        assert_eq!(downlink_slots(&n, split, overhead), slots.0);
        assert_eq!(uplink_slots(&n, split, overhead), slots.1);
        near(slots_rate_mbps(&n, slots.0, down), rates.0, 1e-9);
        near(slots_rate_mbps(&n, slots.0, 2.0 * down), rates.1, 1e-9);
        near(slots_rate_mbps(&n, slots.1, up), rates.2, 1e-9);
    }
}

#[test]
fn ref_mixed_users_share_time_not_rate() {
    // [computed] equal traffic per user: harmonic mean 159.41 bits/slot, 14.35 Mb/s
    // of 450 slots; the arithmetic 278.4 would promise 25.06.
    let shares = [
        (40.0, 480.0),
        (20.0, 216.0),
        (20.0, 144.0),
        (10.0, 96.0),
        (10.0, 48.0),
    ];
    let mean = mean_bits_per_slot(&shares);
    near(mean, 159.41, 0.005);
    near(slots_rate_mbps(&numerology(10.0), 450, mean), 14.35, 0.005);
    assert_eq!(mean_bits_per_slot(&[]), 0.0);
    assert_eq!(mean_bits_per_slot(&[(1.0, 240.0), (1.0, 0.0)]), 0.0);
    assert_eq!(mean_bits_per_slot(&[(1.0, 240.0), (0.0, 0.0)]), 240.0);
}

#[test]
fn ref_map_overhead() {
    // [computed] compressed maps, n users with a burst each way, 30 sub-channels.
    let n = numerology(10.0);
    for (users, bits, bytes, rep4, rep1, symbols) in [
        (1, 312, 39, 28, 7, 4),
        (10, 1140, 143, 96, 24, 8),
        (20, 2060, 258, 172, 43, 12),
        (40, 3900, 488, 328, 82, 24),
    ] {
        let got_bits = compressed_map_bits(users, users);
        assert_eq!((got_bits, got_bits.div_ceil(8)), (bits, bytes));
        assert_eq!((map_slots(bits, 4), map_slots(bits, 1)), (rep4, rep1));
        assert_eq!(map_symbols(&n, rep4), symbols);
    }
    // [read] header 6, check sum 4, sub-header 2 bytes: 1500 of 1512.
    near(
        PacketOverhead::default().efficiency_frac(1500.0),
        1500.0 / 1512.0,
        1e-12,
    );
}

#[test]
fn ref_ofdm256_sensitivity_table() {
    // [read] the published IEEE 802.16-2004 receiver sensitivity table, all 35 cells;
    // the table prints one decimal.
    let snrs_db = [6.4, 9.4, 11.2, 16.4, 18.2, 22.7, 24.4];
    let mut worst_db = 0.0_f64;
    for (sampling_mhz, row) in [
        (2.0, [-93.7, -90.7, -88.9, -83.7, -81.9, -77.4, -75.7]),
        (4.0, [-90.7, -87.7, -85.9, -80.7, -78.9, -74.4, -72.7]),
        (8.0, [-87.6, -84.6, -82.8, -77.6, -75.8, -71.3, -69.6]),
        (11.52, [-86.1, -83.1, -81.3, -76.1, -74.3, -69.8, -68.1]),
        (23.04, [-83.0, -80.0, -78.2, -73.0, -71.2, -66.7, -65.0]),
    ] {
        for (snr_db, expected_dbm) in snrs_db.into_iter().zip(row) {
            let got_dbm = ofdm256_sensitivity_dbm(sampling_mhz, snr_db, 16);
            worst_db = worst_db.max((got_dbm - expected_dbm).abs());
        }
    }
    println!("worst of 35 cells: {worst_db:.3} dB");
    assert!(worst_db < 0.1, "{worst_db}");
}

#[test]
fn ref_ofdma_sensitivity_table() {
    // [computed] from IEEE 802.16-2009 8.4.14.1 [memory], turbo-code thresholds, 840/420 carriers.
    let [ten, five, seven] = [numerology(10.0), numerology(5.0), numerology(7.0)];
    for (name, row) in [
        ("QPSK 1/2", [-88.47, -94.47, -91.48, -89.93]),
        ("QPSK 3/4", [-85.07, -91.07, -88.08, -86.53]),
        ("16QAM 1/2", [-82.77, -88.77, -85.78, -84.23]),
        ("16QAM 3/4", [-78.67, -84.67, -81.68, -80.13]),
        ("64QAM 2/3", [-74.47, -80.47, -77.48, -75.93]),
        ("64QAM 5/6", [-71.47, -77.47, -74.48, -72.93]),
    ] {
        let snr_db = Modulation::named(name).expect("in the table").turbo_snr_db;
        let at =
            |n: &OfdmaNumerology, losses_db| sensitivity_dbm(n, &n.downlink, snr_db, losses_db);
        let got = [
            at(&ten, 13.0),
            at(&ten, 7.0),
            at(&five, 13.0),
            at(&seven, 13.0),
        ];
        for (got, expected) in got.into_iter().zip(row) {
            near(got, expected, 0.0051);
        }
    }
    let weakest = sensitivity_dbm(&ten, &ten.downlink, MODULATIONS[0].turbo_snr_db, 13.0);
    near(weakest, -96.25, 0.0051);
    near(ten.occupied_mhz(&ten.downlink), 9.1875, 1e-12);
    // The standard's −114 dBm/MHz rounds kT by 0.025 dB.
    near(thermal_noise_dbm(9.1875), -114.0 + 9.632, 0.03);
}

#[test]
fn ref_subchannelisation() {
    // [computed] 5 of 35: 8.45 dB; 1 of 35: 15.44 dB.
    near(subchannelisation_gain_db(35, 5), 8.45, 0.005);
    near(subchannelisation_gain_db(35, 1), 15.44, 0.005);
    assert_eq!(subchannelisation_gain_db(35, 35), 0.0);
}

#[test]
fn ref_range_from_gaps() {
    // [computed] with the terminal's turn of 50 µs [memory].
    for (channel_mhz, range_km, more_km) in [
        (5.0, 8.351, 15.418),
        (10.0, 8.351, 15.418),
        (7.0, 20.686, 21.585),
        (3.5, 20.686, 21.585),
        (8.75, 5.576, 17.268),
    ] {
        let n = numerology(channel_mhz);
        near(max_range_km(&n, 0), range_km, 6e-4);
        near(max_range_km(&n, 1) - max_range_km(&n, 0), more_km, 6e-4);
    }
    near(max_range_km(&numerology(10.0), 1), 23.77, 0.005);
    near(echo_range_km(&numerology(10.0)), 3.43, 0.005);
    near(echo_range_km(&numerology(7.0)), 4.80, 0.005);
    near(base_to_base_range_km(&numerology(10.0)), 31.7, 0.05);
}

#[test]
fn exact_rate_follows_snr() {
    assert_eq!(fastest_within(-10.0, 0.0), None);
    assert_eq!(fastest_within(14.0, 0.0).map(|m| m.name), Some("16QAM 3/4"));
    assert_eq!(fastest_within(19.9, 0.0).map(|m| m.name), Some("64QAM 5/6"));
    assert_eq!(fastest_within(19.9, 3.0).map(|m| m.name), Some("64QAM 2/3"));
    let rates: Vec<f64> = (-80..320)
        .filter_map(|tenth| fastest_within(f64::from(tenth) / 10.0, 0.0))
        .map(|m| m.bits_per_slot())
        .collect();
    assert!(rates.windows(2).all(|pair| pair[0] <= pair[1]));
    for pair in MODULATIONS.windows(2) {
        assert!(pair[0].turbo_snr_db < pair[1].turbo_snr_db);
    }
}
