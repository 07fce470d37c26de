//! Backhaul in `mastwright.toml`, and the cards of its radios.

use model::backhaul::HopPolarization;

use crate::schema::SourceNote;
use crate::written::{At, Names, written_choice, written_table};

written_choice!(HopPolarization {
    "vertical" => HopPolarization::Vertical,
    "horizontal" => HopPolarization::Horizontal,
});

written_table! {
    /// Where the hops meet the core, and what a hop takes where it names nothing itself.
    pub struct BackhaulText {
        /// Mast at which the network meets its core, or a list of several.
        core: optional Names;
        /// Radio of a hop: id of a hop radio card.
        radio: optional String;
        /// Antenna at both ends of a hop: id of an antenna card.
        antenna: optional String;
        /// Rule set of the hops. Default: that of `[spectrum]`.
        rule_set: optional String;
        /// Width of a hop's channel.
        channel_width_mhz: optional f64 [0.1, 2000.0];
        /// Loss between radio and antenna, at each end.
        feeder_loss_db: optional f64 [0.0, 30.0] = 0.5;
        /// Angle by which each antenna may be off after it was peaked on the received level.
        pointing_error_deg: optional f64 [0.0, 10.0] = 0.2;
        /// Share of an average year for which a hop must carry its lowest step.
        availability_target_pct: optional f64 [50.0, 99.9999] = 99.99;
        /// Rain rate exceeded for 0.01 % of an average year. Default: that of `[climate]` at the middle of each hop.
        rain_001_mm_per_h: optional f64 [1.0, 250.0];
        /// Refractivity gradient over the lowest 65 m that is not exceeded for 1 % of an average year. Default: that of `[climate]`.
        gradient_1pct_n_per_km: optional f64 [-1000.0, 0.0];
        /// Decimal logarithm of the geoclimatic factor, from the map of ITU-R P.530; with `gradient_75_n_per_km`. Default: that of `[climate]`.
        log_k: optional f64 [-10.0, 0.0];
        /// Statistic of the refractivity gradient, from the map of ITU-R P.530; with `log_k`. Default: that of `[climate]`.
        gradient_75_n_per_km: optional f64 [0.0, 1000.0];
    }
}

written_table! {
    /// A fixed link between two masts.
    pub struct HopText {
        /// Id of the hop.
        id: required String;
        /// Id of the mast at one end.
        from: required String;
        /// Id of the mast at the other end.
        to: required String;
        /// Middle of the channel; the upper one of a pair.
        channel_mhz: required f64 [300.0, 100000.0];
        /// Width of the channel.
        channel_width_mhz: optional f64 [0.1, 2000.0];
        /// Id of a hop radio card.
        radio: optional String;
        /// Antenna at both ends: id of an antenna card.
        antenna: optional String;
        /// Antenna at the `from` end, where the two differ.
        from_antenna: optional String;
        /// Antenna at the `to` end, where the two differ.
        to_antenna: optional String;
        /// Middle of the antenna at the `from` end above ground. Default: the top of the mast.
        from_height_agl_m: optional f64 [1.0, 700.0];
        /// Middle of the antenna at the `to` end above ground. Default: the top of the mast.
        to_height_agl_m: optional f64 [1.0, 700.0];
        /// Power that is asked for, before the rules. Default: the radio's highest.
        tx_power_dbm: optional f64 [-60.0, 60.0];
        /// Polarization.
        polarization: optional HopPolarization = HopPolarization::Vertical;
        /// Loss between radio and antenna, at each end.
        feeder_loss_db: optional f64 [0.0, 30.0];
        /// Angle by which each antenna may be off after it was peaked on the received level.
        pointing_error_deg: optional f64 [0.0, 10.0];
        /// Name of the one step that the radio keeps to. Default: it adapts, if it can.
        fixed_modulation: optional String;
        /// Rule set of this hop.
        rule_set: optional String;
        /// Share of an average year for which the hop must carry its lowest step.
        availability_target_pct: optional f64 [50.0, 99.9999];
        /// Rain rate exceeded for 0.01 % of an average year.
        rain_001_mm_per_h: optional f64 [1.0, 250.0];
    }
}

written_table! {
    /// The radio of a hop.
    pub struct HopRadioText {
        /// Id by which hops refer to it.
        id: required String;
        /// What a person calls it. Default: the id.
        name: optional String;
        /// Lowest frequency it tunes to.
        lower_mhz: required f64 [300.0, 100000.0];
        /// Highest frequency it tunes to.
        upper_mhz: required f64 [300.0, 100000.0];
        /// Receiver noise figure.
        noise_figure_db: required f64 [0.0, 30.0];
        /// Whether it can change its step from moment to moment.
        adaptive: optional bool = true;
        /// Channel width for which its steps' `threshold_dbm` were given.
        threshold_width_mhz: optional f64 [0.1, 2000.0];
        /// Modulation steps.
        step: required Vec<At<HopStepText>>;
        /// Where the figures come from.
        source: required SourceNote;
    }
}

written_table! {
    /// One modulation step of a hop's radio; it gives either `required_snr_db` or `threshold_dbm`.
    pub struct HopStepText {
        /// Name, such as `64QAM`.
        name: required String;
        /// Signal over noise that it needs at a bit error ratio of 1e-6.
        required_snr_db: optional f64 [-10.0, 60.0];
        /// Received level that it needs at a bit error ratio of 1e-6, in the card's `threshold_width_mhz`.
        threshold_dbm: optional f64 [-120.0, 0.0];
        /// Rate at the Ethernet port, each direction, per megahertz of channel.
        rate_mbps_per_mhz: required f64 [0.01, 20.0];
        /// Highest power at this step.
        max_tx_power_dbm: required f64 [-60.0, 60.0];
    }
}
