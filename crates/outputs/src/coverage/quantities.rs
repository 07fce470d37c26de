//! The quantities that coverage has. Breaks are round numbers that a fixed
//! wireless network lives between: practice, no source.

use super::quantity::{Better, Kind, Naming, Quantity};

/// Toward the customer, or from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Base station to terminal.
    Downlink,
    /// Terminal to base station.
    Uplink,
}

impl Direction {
    fn pick<T>(self, down: T, up: T) -> T {
        match self {
            Self::Downlink => down,
            Self::Uplink => up,
        }
    }
}

/// Basic transmission loss.
pub fn path_loss() -> Quantity {
    let naming = Naming {
        name: "path_loss_db",
        title: "Path loss",
        unit: "dB",
    };
    let breaks = [
        100.0, 110.0, 115.0, 120.0, 125.0, 130.0, 135.0, 140.0, 150.0,
    ];
    Quantity::with_breaks(naming, Kind::Ratio, Better::Lower, &breaks)
}

/// Received signal level of one stream at one port.
pub fn received_level(direction: Direction) -> Quantity {
    let naming = Naming {
        name: direction.pick("downlink_rsl_dbm", "uplink_rsl_dbm"),
        title: direction.pick("Received level, downlink", "Received level, uplink"),
        unit: "dBm",
    };
    let breaks = [
        -95.0, -90.0, -85.0, -80.0, -75.0, -70.0, -65.0, -60.0, -55.0,
    ];
    Quantity::with_breaks(naming, Kind::Level, Better::Higher, &breaks)
}

/// SINR of one stream at one port.
pub fn sinr(direction: Direction) -> Quantity {
    let naming = Naming {
        name: direction.pick("downlink_sinr_db", "uplink_sinr_db"),
        title: direction.pick("SINR, downlink", "SINR, uplink"),
        unit: "dB",
    };
    let breaks = [0.0, 4.0, 8.0, 12.0, 16.0, 20.0, 24.0, 28.0];
    Quantity::with_breaks(naming, Kind::Ratio, Better::Higher, &breaks)
}

/// Rate at the Ethernet port, the sector otherwise idle.
pub fn rate(direction: Direction) -> Quantity {
    let naming = Naming {
        name: direction.pick("downlink_ethernet_rate_mbps", "uplink_ethernet_rate_mbps"),
        title: direction.pick("Rate, downlink", "Rate, uplink"),
        unit: "Mb/s",
    };
    let breaks = [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 50.0, 100.0];
    Quantity::with_breaks(naming, Kind::Rate, Better::Higher, &breaks)
}

/// Probability that an installation meets its plan.
pub fn probability() -> Quantity {
    let naming = Naming {
        name: "probability_frac",
        title: "Probability of service",
        unit: "",
    };
    let breaks = [0.5, 0.7, 0.8, 0.9, 0.95, 0.99];
    Quantity::with_breaks(naming, Kind::Share, Better::Higher, &breaks)
}

/// Number of sectors that would serve.
pub fn servers() -> Quantity {
    let naming = Naming {
        name: "servers",
        title: "Number of servers",
        unit: "",
    };
    Quantity::with_breaks(
        naming,
        Kind::Count,
        Better::Higher,
        &[1.0, 2.0, 3.0, 4.0, 5.0],
    )
}

/// Least clearance over the first Fresnel zone's radius; negative is blocked.
pub fn clearance() -> Quantity {
    let naming = Naming {
        name: "clearance_ratio",
        title: "Clearance, first Fresnel radii",
        unit: "",
    };
    Quantity::with_breaks(
        naming,
        Kind::Ratio,
        Better::Higher,
        &[-1.0, -0.5, 0.0, 0.3, 0.6, 1.0],
    )
}

/// Line of sight: 0 blocked, 1 in sight.
pub fn line_of_sight() -> Quantity {
    let naming = Naming {
        name: "line_of_sight",
        title: "Line of sight",
        unit: "",
    };
    let names = ["blocked".to_owned(), "in sight".to_owned()];
    Quantity::with_names(naming, Some(Better::Higher), &names)
}

/// Best server: a cell holds the index of a sector in `sectors`.
pub fn best_server(sectors: &[String]) -> Quantity {
    let naming = Naming {
        name: "best_server",
        title: "Best server",
        unit: "",
    };
    Quantity::with_names(naming, None, sectors)
}

/// MIMO mode: a cell holds the index in `modes`, the fastest last.
pub fn mimo_mode(direction: Direction, modes: &[String]) -> Quantity {
    let naming = Naming {
        name: direction.pick("downlink_mode", "uplink_mode"),
        title: direction.pick("MIMO mode, downlink", "MIMO mode, uplink"),
        unit: "",
    };
    Quantity::with_names(naming, Some(Better::Higher), modes)
}

/// Modulation and coding: a cell holds the index in `steps`, the fastest last.
pub fn mcs(direction: Direction, steps: &[String]) -> Quantity {
    let naming = Naming {
        name: direction.pick("downlink_mcs", "uplink_mcs"),
        title: direction.pick(
            "Modulation and coding, downlink",
            "Modulation and coding, uplink",
        ),
        unit: "",
    };
    Quantity::with_names(naming, Some(Better::Higher), steps)
}
