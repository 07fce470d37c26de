//! `mastwright.toml`.

use std::collections::BTreeMap;

use super::backhaul::{BackhaulText, HopText};
use super::climate::ClimateText;
use crate::written::{At, Pair, written_choice, written_table};
use model::settings::{BestEffortSharing, ModelChoice};

written_table! {
    /// The design: territory, rules, ground, masts and sectors.
    pub struct DesignText {
        /// What the project is called.
        project: optional ProjectText;
        /// The part of the Earth that the design covers. Without it: the box around all masts and premises with a margin of 5 km.
        territory: optional TerritoryText;
        /// Spectrum rules and air interface.
        spectrum: required SpectrumText;
        /// Elevation and land cover.
        ground: optional GroundText;
        /// Footprints of buildings.
        buildings: optional BuildingsText;
        /// Path-loss settings.
        propagation: optional PropagationText;
        /// Climate of the whole network.
        climate: optional ClimateText;
        /// Study settings.
        study: optional StudyText;
        /// What a sector or premises takes where it names nothing itself.
        defaults: optional DefaultsText;
        /// Masts, one table each.
        mast: optional Vec<At<MastText>>;
        /// Sectors, one table each.
        sector: optional Vec<At<SectorText>>;
        /// Where the hops meet the core, and what they have in common.
        backhaul: optional BackhaulText;
        /// Hops between masts, one table each.
        hop: optional Vec<At<HopText>>;
    }
}

written_table! {
    /// What the project is called.
    pub struct ProjectText {
        /// Name that stands on every document.
        name: optional String = "unnamed project";
    }
}

written_table! {
    /// The part of the Earth that the design covers.
    pub struct TerritoryText {
        /// South-west corner: longitude, latitude, WGS 84 degrees.
        south_west: required Pair;
        /// North-east corner: longitude, latitude, WGS 84 degrees.
        north_east: required Pair;
        /// EPSG code of the UTM zone in which grids are made (32601 to 32660 north, 32701 to 32760 south). Default: the zone of the middle of the territory.
        working_plane_epsg: optional u32 [32601.0, 32760.0];
    }
}

written_table! {
    /// Spectrum rules and air interface.
    pub struct SpectrumText {
        /// Id of a rule set.
        rule_set: required String;
        /// Id of the air interface of every sector that names none.
        air_interface: optional String;
    }
}

written_table! {
    /// Elevation and land cover; paths are relative to the project folder.
    pub struct GroundText {
        /// Elevation rasters, paths or patterns such as `terrain/*.tif`, in order of preference.
        terrain: optional Vec<At<String>>;
        /// Land cover rasters, paths or patterns, in order of preference.
        land_cover: optional Vec<At<String>>;
        /// Canopy height rasters, paths or patterns, in order of preference.
        canopy: optional Vec<At<String>>;
        /// Metres that one unit of the canopy rasters stands for: 0.1 where they hold decimetres.
        canopy_unit_m: optional f64 [0.001, 10.0] = 1.0;
        /// Id of the legend that says what the land cover's codes stand for.
        legend: optional String;
        /// Clutter height above ground by land cover code, in metres, 0 to 100; replaces the legend's.
        clutter_height_m: optional BTreeMap<String, At<f64>>;
        /// What a raster's own tags leave open, one table each.
        raster: optional Vec<At<RasterText>>;
    }
}

written_table! {
    /// Footprints of buildings; paths are relative to the project folder. Paths of links and hops count them, the cells of a coverage do not.
    pub struct BuildingsText {
        /// GeoJSON or GeoPackage files of areas, paths or patterns.
        files: required Vec<At<String>>;
        /// Name of the property that holds the height above ground in metres.
        height_field: optional String = "height_m";
        /// Height above ground of a footprint that tells none, in metres. Without it such a footprint is left out.
        default_height_m: optional f64 [0.5, 1000.0];
    }
}

written_table! {
    /// What a raster's own tags leave open.
    pub struct RasterText {
        /// Path or pattern, as under `terrain` or `land_cover`.
        file: required String;
        /// Band to read, counted from 1.
        band: optional u32 [1.0, 1000.0] = 1u32;
        /// Reference system of a file that declares none, such as `EPSG:32611`.
        assumed_crs: optional String;
    }
}

written_choice!(ModelChoice {
    "by-frequency" => ModelChoice::ByFrequency,
    "p1812" => ModelChoice::P1812,
    "p452" => ModelChoice::P452,
    "itm" => ModelChoice::Itm,
});

written_table! {
    /// Path-loss settings.
    pub struct PropagationText {
        /// Path-loss model of wanted signals; `by-frequency` takes P.1812 up to 6 GHz and P.452 above.
        service_model: optional ModelChoice = ModelChoice::ByFrequency;
        /// Path-loss model of unwanted signals.
        interference_model: optional ModelChoice = ModelChoice::ByFrequency;
        /// Share of an average year for which the wanted path's loss is not exceeded.
        time_pct: optional f64 [1.0, 50.0] = 50.0;
        /// Share of an average year for which an interfering path's loss is not exceeded.
        interference_time_pct: optional f64 [0.001, 50.0] = 10.0;
        /// Side of the square over which location variability is asked.
        location_area_m: optional f64 [1.0, 5000.0] = 100.0;
        /// Standard deviation of the model's own error, before measurements have calibrated it.
        model_error_db: optional f64 [0.0, 20.0] = 3.4;
        /// Spacing of the points of a cross-section. Default: the terrain's own.
        profile_step_m: optional f64 [1.0, 1000.0];
        /// Distance beyond which a sector is not considered for a premises.
        reach_km: optional f64 [0.1, 200.0] = 20.0;
        /// Distance beyond which a signal is not counted as interference; never less than `reach_km`.
        interference_reach_km: optional f64 [0.1, 500.0] = 60.0;
    }
}

written_table! {
    /// Study settings.
    pub struct StudyText {
        /// Highest airtime that a sector may carry at the busy hour.
        max_airtime_frac: optional f64 [0.05, 1.0] = 0.8;
        /// Margin kept above every threshold before a modulation is relied on.
        fade_margin_db: optional f64 [0.0, 60.0] = 5.0;
        /// Share of the time an interfering sector is taken to transmit.
        interferer_activity_frac: optional f64 [0.0, 1.0] = 1.0;
        /// How best-effort customers share what the guaranteed services leave.
        best_effort_sharing: optional BestEffortSharing = BestEffortSharing::EqualAirtime;
        /// Share of calls that may find no grant in the busy hour.
        call_blocking_frac: optional f64 [0.0001, 0.5] = 0.01;
        /// Years for which the load is looked ahead.
        growth_years: optional u32 [0.0, 30.0] = 10u32;
        /// Largest error of a frame's beginning against the common time, for one base station.
        phase_limit_us: optional f64 [0.1, 100.0] = 1.5;
    }
}

written_choice!(BestEffortSharing {
    "equal-airtime" => BestEffortSharing::EqualAirtime,
    "equal-rate" => BestEffortSharing::EqualRate,
    "weighted" => BestEffortSharing::Weighted,
});

written_table! {
    /// What a sector or premises takes where it names nothing itself.
    pub struct DefaultsText {
        /// Antenna of a sector: id of an antenna card.
        antenna: optional String;
        /// Radio of a sector: id of a base station card.
        base_station: optional String;
        /// Radio and antenna of a premises: id of a terminal card.
        terminal: optional String;
        /// Plan of a premises. Without it, the only plan where there is just one.
        plan: optional String;
        /// Height of a terminal's antenna above ground.
        mount_height_agl_m: optional f64 [0.5, 100.0] = 6.0;
        /// Power of one transmit chain of a sector. Default: the base station's highest.
        tx_power_per_chain_dbm: optional f64 [-60.0, 60.0];
        /// Loss between a sector's radio and its antenna.
        feeder_loss_db: optional f64 [0.0, 30.0] = 0.5;
        /// Mechanical downtilt of a sector, positive below the horizon.
        mechanical_downtilt_deg: optional f64 [-30.0, 30.0] = 0.0;
        /// Electrical downtilt of a sector, positive below the horizon.
        electrical_downtilt_deg: optional f64 [-30.0, 30.0] = 0.0;
        /// How the frame is shared, downlink then uplink: symbols `[29, 18]` or shares `[0.74, 0.23]`. Default: the air interface's own.
        split: optional Pair;
    }
}

written_table! {
    /// A structure that carries radios: a tower, a roof, a silo.
    pub struct MastText {
        /// Id by which sectors refer to it.
        id: required String;
        /// What a person calls it. Default: the id.
        name: optional String;
        /// Longitude, WGS 84.
        lon: required f64 [-180.0, 180.0];
        /// Latitude, WGS 84.
        lat: required f64 [-90.0, 90.0];
        /// Height of the structure above ground.
        height_agl_m: required f64 [1.0, 700.0];
        /// Surveyed ground height at its foot; replaces the terrain's.
        ground_amsl_m: optional f64 [-500.0, 9000.0];
    }
}

written_table! {
    /// One base station behind one antenna on a mast.
    pub struct SectorText {
        /// Id of the sector.
        id: required String;
        /// Id of the mast that carries it.
        mast: required String;
        /// Aim, clockwise from true north.
        azimuth_deg: required f64 [0.0, 360.0];
        /// Mechanical downtilt, positive below the horizon.
        mechanical_downtilt_deg: optional f64 [-30.0, 30.0];
        /// Electrical downtilt, positive below the horizon.
        electrical_downtilt_deg: optional f64 [-30.0, 30.0];
        /// Middle of the antenna above ground. Default: the top of the mast.
        height_agl_m: optional f64 [1.0, 700.0];
        /// Middle of the channel.
        channel_mhz: required f64 [30.0, 100000.0];
        /// Id of an antenna card.
        antenna: optional String;
        /// Id of a base station card.
        base_station: optional String;
        /// Id of an air interface card.
        air_interface: optional String;
        /// Power of one transmit chain, before rules and back-off.
        tx_power_per_chain_dbm: optional f64 [-60.0, 60.0];
        /// Loss between radio and antenna.
        feeder_loss_db: optional f64 [0.0, 30.0];
        /// Width of the channel, for readers; it must be the air interface's.
        channel_width_mhz: optional f64 [0.1, 2000.0];
        /// How the frame is shared, downlink then uplink: symbols `[29, 18]` or shares `[0.74, 0.23]`.
        split: optional Pair;
        /// Whether its frames begin with the common time, as a satellite receiver gives it.
        synchronised: optional bool = true;
    }
}
