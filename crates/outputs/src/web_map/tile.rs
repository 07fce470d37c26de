//! Square tiles of the ground: shaded relief and land cover.

use engine::Surroundings;
use geodesy::LonLat;
use model::settings::{ClutterTable, Surface};
use raster::Mosaic;

use super::lat_deg;
use crate::handout::OutputError;

/// One tile of the pyramid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Tile {
    zoom: u8,
    column: u32,
    row: u32,
}

/// A tile that does not exist.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("there is no tile {zoom}/{column}/{row}")]
pub struct TileError {
    zoom: u8,
    column: u32,
    row: u32,
}

/// Pixels on a side.
const SIDE: usize = 256;
/// Finer tiles than this show nothing more.
const DEEPEST_ZOOM: u8 = 20;
/// Metres of the equator.
const EQUATOR_M: f64 = 40_075_016.686;

impl Tile {
    /// A tile by zoom, column from the west and row from the north.
    ///
    /// # Errors
    /// Zoom over 20, or a column or row beyond the zoom's.
    pub fn new(zoom: u8, column: u32, row: u32) -> Result<Self, TileError> {
        let exists = zoom <= DEEPEST_ZOOM && column < 1 << zoom && row < 1 << zoom;
        exists
            .then_some(Self { zoom, column, row })
            .ok_or(TileError { zoom, column, row })
    }

    /// The middle of a pixel, which may lie beyond the tile.
    fn place(&self, x: f64, y: f64) -> Option<LonLat> {
        let tiles = f64::from(1u32 << self.zoom);
        let across = (f64::from(self.column) + (x + 0.5) / SIDE as f64) / tiles;
        let down = (f64::from(self.row) + (y + 0.5) / SIDE as f64) / tiles;
        let lon_deg = geodesy::wrap_lon_deg(across * 360.0 - 180.0, 0.0);
        LonLat::new(lon_deg, lat_deg(down)).ok()
    }

    /// Metres on the ground that a pixel in the middle of the tile is wide.
    fn pixel_m(&self) -> f64 {
        let middle = SIDE as f64 / 2.0;
        let lat_deg = self.place(middle, middle).map_or(0.0, LonLat::lat_deg);
        EQUATOR_M * lat_deg.to_radians().cos() / (SIDE as f64 * f64::from(1u32 << self.zoom))
    }
}

/// Light from the north-west over the ground: black of rising opacity in the
/// shade, white in the light, so that it lies over any colour; `None` where
/// the tile holds no known ground.
pub fn relief_tile(tile: Tile, ground: &dyn Surroundings) -> Result<Option<Vec<u8>>, OutputError> {
    // One pixel more all around, so that tiles meet without a seam.
    let wide = SIDE + 2;
    let mut heights = Vec::with_capacity(wide * wide);
    for y in 0..wide {
        for x in 0..wide {
            let place = tile.place(x as f64 - 1.0, y as f64 - 1.0);
            let height_m = place.and_then(|at| ground.ground_amsl_m(at));
            heights.push(height_m.unwrap_or(f64::NAN));
        }
    }
    if heights.iter().all(|h| h.is_nan()) {
        return Ok(None);
    }
    let step_m = tile.pixel_m();
    let mut pixels = Vec::with_capacity(2 * SIDE * SIDE);
    for y in 1..=SIDE {
        for x in 1..=SIDE {
            let own = heights[y * wide + x];
            let z = |dx: isize, dy: isize| {
                let value =
                    heights[y.saturating_add_signed(dy) * wide + x.saturating_add_signed(dx)];
                if value.is_nan() { own } else { value }
            };
            pixels.extend(shade(own, z, step_m));
        }
    }
    Ok(Some(png(&pixels, png::ColorType::GrayscaleAlpha)?))
}

/// Steepness of coarse tiles is flattened by their wide pixels: slopes count
/// for more there. Taste, no source.
fn exaggeration(step_m: f64) -> f64 {
    (step_m / 20.0).sqrt().clamp(1.0, 4.0)
}

/// Grey and opacity of a pixel; slopes after Horn, as in [`crate::relief`].
fn shade(own: f64, z: impl Fn(isize, isize) -> f64, step_m: f64) -> [u8; 2] {
    if own.is_nan() {
        return [0, 0];
    }
    let run_m = 8.0 * step_m / exaggeration(step_m);
    let east = (z(1, -1) + 2.0 * z(1, 0) + z(1, 1) - z(-1, -1) - 2.0 * z(-1, 0) - z(-1, 1)) / run_m;
    let north =
        (z(-1, -1) + 2.0 * z(0, -1) + z(1, -1) - z(-1, 1) - 2.0 * z(0, 1) - z(1, 1)) / run_m;
    let level = std::f64::consts::FRAC_1_SQRT_2;
    let toward = 0.5 * east - 0.5 * north + level;
    let light = (toward / (1.0 + east * east + north * north).sqrt()).clamp(0.0, 1.0);
    if light < level {
        [0, (165.0 * (level - light) / level) as u8]
    } else {
        [255, (150.0 * (light - level) / (1.0 - level)) as u8]
    }
}

/// Land cover in quiet colours by what it stands for; `None` where the tile
/// holds none.
pub fn land_cover_tile(
    tile: Tile,
    (classes, clutter): (&Mosaic, &ClutterTable),
) -> Result<Option<Vec<u8>>, OutputError> {
    let mut pixels = Vec::with_capacity(4 * SIDE * SIDE);
    let mut any = false;
    for y in 0..SIDE {
        for x in 0..SIDE {
            let place = tile.place(x as f64, y as f64);
            let code = place.and_then(|at| classes.class(at));
            let colour = code.map(|code| land_cover_colour(clutter, code));
            any |= colour.is_some();
            let [r, g, b] = colour.unwrap_or([0, 0, 0]);
            pixels.extend([r, g, b, if colour.is_some() { 255 } else { 0 }]);
        }
    }
    any.then(|| png(&pixels, png::ColorType::Rgba)).transpose()
}

/// Colour of a class: water by its surface, all else from pale sand to green
/// by the height of its clutter. Unnamed classes are grey.
pub fn land_cover_colour(clutter: &ClutterTable, code: i32) -> [u8; 3] {
    let Some(class) = clutter.class(code) else {
        return [222, 222, 218];
    };
    if class.surface == Surface::Sea || class.name.to_lowercase().contains("water") {
        return [190, 212, 224];
    }
    let name = class.name.to_lowercase();
    if ["built", "urban", "building", "town"]
        .iter()
        .any(|word| name.contains(word))
    {
        return [214, 200, 194];
    }
    let share = (class.height_m / 20.0).clamp(0.0, 1.0);
    let mix = |low: f64, high: f64| (low + (high - low) * share) as u8;
    [mix(238.0, 158.0), mix(236.0, 190.0), mix(216.0, 150.0)]
}

fn png(pixels: &[u8], colour: png::ColorType) -> Result<Vec<u8>, OutputError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, SIDE as u32, SIDE as u32);
    encoder.set_color(colour);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_tiles_that_do_not_exist_are_refused() {
        assert!(Tile::new(0, 0, 0).is_ok());
        assert!(Tile::new(0, 1, 0).is_err());
        assert!(Tile::new(3, 0, 8).is_err());
        assert!(Tile::new(21, 0, 0).is_err());
        assert!(Tile::new(255, 0, 0).is_err());
    }

    /// OGC 17-083r2, Annex D.1: scale at zoom 0, 156543.0339 m a pixel on the equator.
    #[test]
    fn ref_pixels_are_as_wide_as_the_standard_says() {
        let tile = Tile::new(1, 0, 0).expect("it exists");
        let wide = EQUATOR_M / (SIDE as f64);
        assert!((wide - 156_543.033_9).abs() < 0.01);
        assert!(tile.pixel_m() < wide / 2.0);
        let west = tile.place(-0.5, -0.5).expect("a place");
        assert!((west.lon_deg().abs() - 180.0).abs() < 1e-9);
    }

    #[test]
    fn exact_level_ground_is_untouched_and_the_far_side_dark() {
        assert_eq!(shade(100.0, |_, _| 100.0, 30.0), [255, 0]);
        // The light comes from the north-west: ground that rises to the south-east faces it.
        let [grey, _] = shade(0.0, |dx, dy| (dx + dy) as f64 * 30.0, 30.0);
        assert_eq!(grey, 255);
        let [grey, opacity] = shade(0.0, |dx, dy| (dx + dy) as f64 * -30.0, 30.0);
        assert_eq!(grey, 0);
        assert!(opacity > 100, "{opacity}");
    }
}
