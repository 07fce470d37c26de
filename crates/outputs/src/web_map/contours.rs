//! Contour lines of the ground over a territory.

use engine::Surroundings;
use geodesy::{Crs, LonLatBox, MapXy};
use model::Territory;
use raster::{Affine, CellXy, Georeference, Grid};

use crate::coverage::{Better, CoverageError, Kind, Naming, Quantity, contour_lines, geojson};

/// Points along the longer side: finer ones only make the lines heavier.
const LONGER_SIDE: usize = 400;
/// Lines that a territory is cut by, about.
const LINES: f64 = 24.0;

/// Lines of equal height as GeoJSON, at a round interval for the territory's relief.
///
/// # Errors
/// A territory without a place in its working plane.
pub fn contours_geojson(
    territory: &Territory,
    ground: &dyn Surroundings,
) -> Result<String, CoverageError> {
    let grid = heights(territory, ground)?;
    let known = grid.cells().iter().filter(|h| !h.is_nan());
    let (low, high) = known.fold((f32::INFINITY, f32::NEG_INFINITY), |(low, high), h| {
        (low.min(*h), high.max(*h))
    });
    let (low, high) = (f64::from(low), f64::from(high));
    let step_m = [5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
    let step_m = step_m
        .into_iter()
        .find(|step| (high - low) / step <= LINES)
        .unwrap_or(1000.0);
    let mut breaks = Vec::new();
    if low.is_finite() && high.is_finite() {
        // A line at the lowest height would run along the edge of what is known.
        let first = (low / step_m).floor() as i64 + 1;
        let last = (high / step_m).floor() as i64;
        breaks.extend((first..=last).map(|i| i as f64 * step_m));
    }
    let naming = Naming {
        name: "ground_amsl_m",
        title: "Ground above sea level",
        unit: "m",
    };
    let quantity = Quantity::with_breaks(naming, Kind::Ratio, Better::Higher, &breaks);
    geojson(&contour_lines(&grid, &quantity)?)
}

fn heights(territory: &Territory, ground: &dyn Surroundings) -> Result<Grid, CoverageError> {
    let crs = Crs::from_epsg(territory.working_plane_epsg)?;
    let around = LonLatBox::new(territory.south_west, territory.north_east);
    let corners: Vec<MapXy> = around
        .border(16)
        .into_iter()
        .map(|place| crs.to_map(place))
        .collect::<Result<_, _>>()?;
    let side = |pick: fn(&MapXy) -> f64, fold: fn(f64, f64) -> f64| {
        corners.iter().map(pick).reduce(fold).unwrap_or(0.0)
    };
    let (west, east) = (side(|c| c.x, f64::min), side(|c| c.x, f64::max));
    let (south, north) = (side(|c| c.y, f64::min), side(|c| c.y, f64::max));
    let cell_m = ((east - west).max(north - south) / LONGER_SIDE as f64).max(1.0);
    let count = |length: f64| ((length / cell_m).ceil() as usize).max(2);
    let (width, height) = (count(east - west), count(north - south));
    let affine = Affine::north_up(MapXy { x: west, y: north }, cell_m, cell_m)?;
    let georeference = Georeference::new(crs, affine, width, height);
    let mut cells = Vec::with_capacity(width * height);
    for row in 0..height {
        for col in 0..width {
            let at = CellXy {
                col: col as f64 + 0.5,
                row: row as f64 + 0.5,
            };
            let place = georeference.to_lonlat(at).ok();
            let height_m = place.and_then(|place| ground.ground_amsl_m(place));
            cells.push(height_m.map_or(f32::NAN, |h| h as f32));
        }
    }
    Ok(Grid::new(georeference, width, height, cells)?)
}
