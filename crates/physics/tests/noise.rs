//! Noise, interference and two-antenna arithmetic against computed values.

use physics::mimo::{
    Channels, MimoMode, combined_branches_snr_db, combining_gain_db, per_chain_power_dbm,
    space_time_coding_snr_db, spatial_multiplexing_snr_db, total_power_dbm, zero_forcing_snr_db,
};
use physics::noise::{
    combined_snr_db, interference_over_noise_db, noise_floor_dbm, noise_rise_db,
    noise_temperature_k, sensitivity_dbm, sinr_db, thermal_noise_dbm,
};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

fn near(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{got}, expected {expected}"
    );
}

#[test]
fn ref_thermal_noise() {
    // k·T at 290 K: −173.975 dBm/Hz (k of the 2019 SI).
    near(thermal_noise_dbm(1e-6), -173.975, 5e-4);
    // Computed: 9.1875 MHz used at 10 MHz: −104.37 dBm, with NF 5 −99.37 dBm.
    // The printed values round kT to −174.0 dBm/Hz, hence 0.03 dB.
    near(thermal_noise_dbm(9.1875), -104.37, 0.03);
    near(noise_floor_dbm(9.1875, 5.0), -99.37, 0.03);
    near(noise_temperature_k(3.0), 288.6, 0.1);
    near(sensitivity_dbm(-99.37, 20.0), -79.37, 1e-9);
}

#[test]
fn ref_noise_rise() {
    // Computed from 10·log10(1 + I/N): −10 → 0.41, −6 → 0.97, 0 → 3.01 dB.
    for (ratio_db, rise_db) in [(-10.0, 0.41), (-6.0, 0.97), (0.0, 3.01)] {
        near(noise_rise_db(ratio_db), rise_db, 0.005);
    }
    // Computed: −78 dBm onto −99.37 dBm: 21.4 dB; −33 less 20 dB isolation: 46.4 dB.
    near(noise_rise_db(-78.0 + 99.37), 21.4, 0.05);
    near(noise_rise_db(-53.0 + 99.37), 46.4, 0.05);
    near(noise_rise_db(-98.0 + 99.37), 3.7, 0.06);
    near(noise_rise_db(f64::NEG_INFINITY), 0.0, 0.0);
}

#[test]
fn exact_sinr_without_interferers_is_snr() {
    near(sinr_db(-70.0, -99.0, []), 29.0, 1e-9);
    near(sinr_db(-70.0, -99.0, [-99.0]), 29.0 - 3.0103, 1e-4);
    near(combined_snr_db(20.0, 20.0), 20.0 - 3.0103, 1e-4);
}

#[test]
fn exact_two_chains() {
    near(total_power_dbm(24.0, 2), 27.0103, 1e-4);
    near(
        per_chain_power_dbm(total_power_dbm(24.0, 2), 2),
        24.0,
        1e-12,
    );
    near(combining_gain_db(2), 3.0103, 1e-4);
    near(combined_branches_snr_db([10.0, 10.0]), 13.0103, 1e-4);
    let perfect = Channels::CrossPolar { isolation_db: 60.0 };
    // Perfect isolation: A sums two equal paths, B keeps each stream whole.
    near(space_time_coding_snr_db(15.0, perfect), 18.0103, 1e-4);
    near(spatial_multiplexing_snr_db(15.0, perfect), 15.0, 2e-4);
    near(
        space_time_coding_snr_db(15.0, Channels::CoPolar),
        21.0206,
        1e-4,
    );
    assert_eq!(
        spatial_multiplexing_snr_db(15.0, Channels::CoPolar),
        f64::NEG_INFINITY
    );
    // Poor isolation caps each stream whatever the level.
    let poor = Channels::CrossPolar { isolation_db: 11.4 };
    near(spatial_multiplexing_snr_db(60.0, poor), 11.4, 1e-3);
    assert_eq!(MimoMode::SpatialMultiplexing.streams(), 2);
    assert_eq!(zero_forcing_snr_db(20.0, 0.0), f64::NEG_INFINITY);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, rng_seed: RngSeed::Fixed(7), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn exact_rise_and_its_inverse(ratio_db in -30.0..40.0_f64) {
        prop_assert!((interference_over_noise_db(noise_rise_db(ratio_db)) - ratio_db).abs() < 1e-6);
    }

    #[test]
    fn exact_interference_never_helps(signal in -100.0..-40.0_f64, one in -140.0..-40.0_f64, other in -140.0..-40.0_f64) {
        let alone = sinr_db(signal, -99.0, [one]);
        prop_assert!(sinr_db(signal, -99.0, [one, other]) <= alone);
        prop_assert!(alone <= signal + 99.0 + 1e-9);
    }

    #[test]
    fn exact_cancelling_receiver_is_not_worse_at_high_isolation(snr in 0.0..40.0_f64, isolation_db in 15.0..60.0_f64) {
        let plain = spatial_multiplexing_snr_db(snr, Channels::CrossPolar { isolation_db });
        // Cancelling costs noise, not signal: at low SNR both are noise-limited.
        prop_assert!(zero_forcing_snr_db(snr, isolation_db) >= plain - 0.5);
        prop_assert!(plain <= snr && plain <= isolation_db);
    }
}
