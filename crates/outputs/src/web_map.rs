//! Pictures and grids for a map in Web Mercator, the projection in which map
//! pages lay square tiles side by side.
//!
//! Source: EPSG:3857 and OGC 17-083r2, Annex D.1 (`WebMercatorQuad`): a sphere
//! mapped to a square of which tile `0/0/0` is the whole.

mod contours;
mod grid;
mod tile;

pub use contours::contours_geojson;
pub use grid::MercatorLattice;
pub use tile::{Tile, TileError, land_cover_colour, land_cover_tile, relief_tile};

use std::f64::consts::PI;

/// Share of the square's height at a latitude, 0 in the north. Beyond the
/// square's edge at 85.05° it is below 0 or above 1.
pub(crate) fn down(lat_deg: f64) -> f64 {
    let lat_rad = lat_deg.clamp(-89.9, 89.9).to_radians();
    0.5 - (lat_rad.tan() + 1.0 / lat_rad.cos()).ln() / (2.0 * PI)
}

/// Latitude at a share of the square's height.
pub(crate) fn lat_deg(down: f64) -> f64 {
    (PI * (1.0 - 2.0 * down)).sinh().atan().to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// OGC 17-083r2, Annex D.1: the square ends at 85.0511287798° where `down`
    /// is 0; the equator is its middle.
    #[test]
    fn ref_the_square_ends_where_the_standard_says() {
        assert!(down(85.051_128_779_8).abs() < 1e-12);
        assert_eq!(down(0.0), 0.5);
        for lat in [-84.0, -33.3, 0.0, 12.0, 61.5] {
            assert!((lat_deg(down(lat)) - lat).abs() < 1e-9);
        }
    }
}
