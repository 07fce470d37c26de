//! 3GPP tables and generic duplex arithmetic against published values.
//!
//! Marks: [read] in a published source, [memory] recalled, [computed] from the formula.

use physics::tdd::{
    CQI_TABLE_1, CQI_TABLE_2, LTE_SWITCH_US, NR_OFFSET_US, NrCarrier, ShannonCurve, TddScheme,
    cqi_for_sinr, guard_range_km, holdover_s, light_path_km, lte_guard_us, nr_guard_us,
    symbol_share_frac,
};

fn near(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{got}, expected {expected}"
    );
}

#[test]
fn ref_cqi_efficiencies() {
    // [read] TS 38.214 Tables 5.2.2.1-2 and 5.2.2.1-3, efficiency column (four decimals).
    let table_1 = [
        0.1523, 0.2344, 0.3770, 0.6016, 0.8770, 1.1758, 1.4766, 1.9141, 2.4063, 2.7305, 3.3223,
        3.9023, 4.5234, 5.1152, 5.5547,
    ];
    let table_2 = [
        0.1523, 0.3770, 0.8770, 1.4766, 1.9141, 2.4063, 2.7305, 3.3223, 3.9023, 4.5234, 5.1152,
        5.5547, 6.2266, 6.9141, 7.4063,
    ];
    for (rows, expected) in [(CQI_TABLE_1, table_1), (CQI_TABLE_2, table_2)] {
        for ((row, expected), index) in rows.iter().zip(expected).zip(1..) {
            assert_eq!(row.cqi, index);
            near(row.efficiency_bits_per_hz(), expected, 5.1e-5);
        }
    }
    assert_eq!(cqi_for_sinr(-2.0), None);
    assert_eq!(cqi_for_sinr(-1.89).map(|row| row.cqi), Some(1));
    assert_eq!(cqi_for_sinr(14.0).map(|row| row.cqi), Some(9));
    assert_eq!(cqi_for_sinr(99.0).map(|row| row.cqi), Some(15));
}

#[test]
fn ref_shannon_curve() {
    // [computed] 0.6·log2(1 + 10^2.2) = 4.39 at 22 dB; parameters [memory] TR 36.942.
    near(
        ShannonCurve::DOWNLINK.efficiency_bits_per_hz(22.0),
        4.39,
        0.005,
    );
    assert_eq!(ShannonCurve::DOWNLINK.efficiency_bits_per_hz(40.0), 4.4);
    assert_eq!(ShannonCurve::UPLINK.efficiency_bits_per_hz(40.0), 2.0);
    assert_eq!(ShannonCurve::UPLINK.efficiency_bits_per_hz(-10.1), 0.0);
}

#[test]
fn ref_nr_peak_rates() {
    // [computed] from TS 38.306 4.1.2 [read]; 2337 Mb/s is the familiar 2.34 Gb/s.
    let down = NrCarrier::OVERHEAD_FR1_DOWNLINK;
    let up = NrCarrier::OVERHEAD_FR1_UPLINK;
    for (resource_blocks, layers, bits_per_point, mu, overhead_frac, expected_mbps) in [
        (273, 4, 8, 1, down, 2337.0),
        (51, 2, 8, 1, down, 218.29),
        (51, 2, 6, 1, down, 163.72),
        (51, 1, 6, 1, up, 87.57),
        (106, 2, 8, 1, down, 453.70),
        (52, 2, 8, 0, down, 111.29),
    ] {
        let carrier = NrCarrier {
            layers,
            bits_per_point,
            scaling: 1.0,
            resource_blocks,
            mu,
            overhead_frac,
        };
        let tolerance = if expected_mbps > 1000.0 { 0.05 } else { 0.0051 };
        near(carrier.peak_rate_mbps(), expected_mbps, tolerance);
    }
    // [computed] DDDSU with S = 10:2:2: 52/70 and 16/70; 162.16 and 20.02 Mb/s.
    near(symbol_share_frac(3, 10, 5), 52.0 / 70.0, 1e-12);
    near(symbol_share_frac(1, 2, 5), 16.0 / 70.0, 1e-12);
    near(218.29 * symbol_share_frac(3, 10, 5), 162.16, 0.006);
    near(87.57 * symbol_share_frac(1, 2, 5), 20.02, 0.006);
}

#[test]
fn ref_lte_guard_table() {
    // Downlink parts [read] TS 36.211 Table 4.2-1, uplink parts [memory]; ranges [computed].
    for (configurations, guard_us, light_km, range_km) in [
        (&[0][..], 714.06, 107.04, 103.99),
        (&[1], 285.42, 42.78, 39.74),
        (&[2, 6], 214.06, 32.09, 29.04),
        (&[3, 7], 142.71, 21.39, 18.35),
        (&[4, 8], 71.35, 10.70, 7.65),
        (&[5], 642.71, 96.34, 93.29),
        (&[9], 428.65, 64.25, 61.21),
    ] {
        for &configuration in configurations {
            let got_us = lte_guard_us(configuration).expect("0 to 9");
            near(got_us, guard_us, 0.0051);
            near(guard_range_km(got_us, 0.0), light_km, 0.0051);
            near(guard_range_km(got_us, LTE_SWITCH_US), range_km, 0.0051);
        }
    }
    assert_eq!(lte_guard_us(10), None);
    // [computed] random access guards [memory]: format 0 2976 units, format 1 21904 units.
    near(guard_range_km(2976.0 / 30.72, 0.0), 14.52, 0.005);
    near(guard_range_km(21_904.0 / 30.72, 0.0), 106.9, 0.05);
}

#[test]
fn ref_nr_guard_ranges() {
    // [computed]; timing offset [memory].
    for (mu, rows) in [
        (1, &[(1, 3.40), (2, 8.74), (4, 19.44), (6, 30.14)][..]),
        (0, &[(1, 8.74), (2, 19.44), (4, 40.83)]),
    ] {
        for &(symbols, range_km) in rows {
            near(
                guard_range_km(nr_guard_us(symbols, mu), NR_OFFSET_US),
                range_km,
                0.0055,
            );
        }
    }
}

#[test]
fn ref_generic_scheme() {
    // [computed] occupied share of 802.16 at 10 MHz: 9.1875/10.
    let scheme = TddScheme {
        channel_mhz: 10.0,
        occupied_frac: 0.91875,
        downlink_frac: 0.7,
        guard_frac: 0.05,
        control_frac: 0.2,
        access_frac: 0.95,
    };
    near(
        scheme.downlink_mbps(5.0, 2),
        9.1875 * 0.7 * 0.8 * 10.0 * 0.95,
        1e-9,
    );
    near(
        scheme.uplink_mbps(2.0, 1),
        9.1875 * 0.25 * 0.8 * 2.0 * 0.95,
        1e-9,
    );
}

#[test]
fn ref_phase_error() {
    // [computed] 3 µs 899 m, 1.5 µs 450 m; holdover of 1.5 µs: 1e-9 1500 s, 1e-10 4.2 h.
    near(light_path_km(3.0), 0.899, 5e-4);
    near(light_path_km(1.5), 0.450, 5e-4);
    near(holdover_s(1.5, 1e-9), 1500.0, 1e-6);
    near(holdover_s(1.5, 1e-10) / 3600.0, 4.2, 0.05);
}
