//! `.hgt` tiles: square posts of big-endian 16-bit metres, void -32768, with
//! the name as only georeference.
//!
//! The posts lie on the degree lines: the name is the south-west post, and
//! neighbouring tiles share their edge rows. Source: NASA/USGS, "SRTM
//! Topography" (documentation beside the tiles).

use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use geodesy::{Crs, MapXy};
use raster::{Affine, CellWindow};

use super::error::GroundError;
use super::info::{self, Draft};
use super::values::Conversion;
use super::{Input, OpenOptions, PixelType, RasterFormat, RasterInfo, ReadSeek};

/// Posts along a side: 3 and 1 arc-seconds.
const SIDES: [u64; 2] = [1201, 3601];

const VOID: f64 = -32_768.0;

pub(super) struct HgtSource {
    bytes: Box<dyn ReadSeek>,
    side: usize,
}

/// Opens a bare tile.
pub(super) fn open(
    input: Input,
    options: &OpenOptions,
) -> Result<(RasterInfo, HgtSource), GroundError> {
    describe(input, RasterFormat::HgtTile, options)
}

/// Opens a zip archive that holds one tile.
pub(super) fn open_zip(
    input: Input,
    options: &OpenOptions,
) -> Result<(RasterInfo, HgtSource), GroundError> {
    let Input {
        path,
        bytes,
        prj,
        world,
        ..
    } = input;
    let broken =
        |e: zip::result::ZipError| GroundError::corrupt(&path, format!("the archive: {e}"));
    let mut archive = zip::ZipArchive::new(bytes).map_err(broken)?;
    let tiles: Vec<usize> = (0..archive.len())
        .filter(|i| {
            archive
                .name_for_index(*i)
                .is_some_and(|n| n.is_ok_and(|n| is_tile_name(&n)))
        })
        .collect();
    let [tile] = tiles[..] else {
        let what = format!("an archive with {} .hgt tiles", tiles.len());
        let hint = "unpack it, or make one archive for each tile";
        return Err(GroundError::unsupported(&path, what, hint));
    };
    let mut member = archive.by_index(tile).map_err(broken)?;
    let name = member.name().map_err(broken)?;
    let name = name.rsplit(['/', '\\']).next().unwrap_or("").to_owned();
    // The largest tile bounds what an archive may unpack to.
    let most = SIDES[1] * SIDES[1] * 2;
    let mut posts = Vec::new();
    (&mut member)
        .take(most + 1)
        .read_to_end(&mut posts)
        .map_err(|e| GroundError::corrupt(&path, format!("the archive: {e}")))?;
    drop(member);
    let input = Input {
        path: path.with_file_name(name),
        length: posts.len() as u64,
        bytes: Box::new(std::io::Cursor::new(posts)),
        prj,
        world,
    };
    describe(input, RasterFormat::ZippedHgtTile, options)
}

fn is_tile_name(name: &str) -> bool {
    let extension = Path::new(name).extension();
    extension.is_some_and(|e| e.eq_ignore_ascii_case("hgt"))
}

fn describe(
    input: Input,
    format: RasterFormat,
    _options: &OpenOptions,
) -> Result<(RasterInfo, HgtSource), GroundError> {
    let side = SIDES.into_iter().find(|s| s * s * 2 == input.length);
    let side = side.ok_or_else(|| GroundError::HgtSize {
        path: input.path.clone(),
        bytes: input.length,
    })?;
    let (west_deg, south_deg) = input
        .path
        .file_name()
        .and_then(|n| n.to_str())
        .and_then(tile_corner)
        .ok_or_else(|| GroundError::HgtName {
            path: input.path.clone(),
        })?;
    let step_deg = 1.0 / (side - 1) as f64;
    let corner = MapXy {
        x: west_deg - step_deg / 2.0,
        y: south_deg + 1.0 + step_deg / 2.0,
    };
    let affine = Affine::north_up(corner, step_deg, step_deg)
        .map_err(|e| GroundError::corrupt(&input.path, e.to_string()))?;
    let side = side as usize;
    let georeference = info::georeference(&input, Crs::wgs84(), affine, (side, side))?;
    let draft = Draft {
        format,
        width: side,
        height: side,
        pixel: PixelType::Signed(16),
        nodata: Some(VOID),
    };
    let info = RasterInfo::new(draft, georeference);
    let bytes = input.bytes;
    Ok((info, HgtSource { bytes, side }))
}

/// Longitude and latitude of the south-west post from a name such as
/// `N47E009.hgt` or `s07w062.SRTMGL1.hgt`.
fn tile_corner(name: &str) -> Option<(f64, f64)> {
    let name = name.to_ascii_uppercase();
    let after = name.get(7..)?;
    if !after.starts_with(['.', '_']) {
        return None;
    }
    let degrees = |range: std::ops::Range<usize>| {
        let digits = name.get(range)?;
        let all_digits = digits.bytes().all(|b| b.is_ascii_digit());
        all_digits.then(|| digits.parse::<f64>().ok()).flatten()
    };
    let lat_deg = match name.get(0..1)? {
        "N" => degrees(1..3)?,
        "S" => -degrees(1..3)?,
        _ => return None,
    };
    let lon_deg = match name.get(3..4)? {
        "E" => degrees(4..7)?,
        "W" => -degrees(4..7)?,
        _ => return None,
    };
    let on_earth = (-90.0..90.0).contains(&lat_deg) && (-180.0..180.0).contains(&lon_deg);
    on_earth.then_some((lon_deg, lat_deg))
}

impl HgtSource {
    pub(super) fn read(
        &mut self,
        path: &Path,
        window: CellWindow,
        conversion: &mut Conversion,
    ) -> Result<Vec<f32>, GroundError> {
        let mut cells = Vec::with_capacity(window.width * window.height);
        let mut row_bytes = vec![0; window.width * 2];
        for row in window.row..window.row + window.height {
            let start = (row * self.side + window.col) as u64 * 2;
            let read = self.bytes.seek(SeekFrom::Start(start));
            read.and_then(|_| self.bytes.read_exact(&mut row_bytes))
                .map_err(|e| GroundError::io(path, &e))?;
            let posts = row_bytes
                .chunks_exact(2)
                .map(|b| i16::from_be_bytes([b[0], b[1]]));
            cells.extend(posts.map(|post| conversion.cell(f64::from(post))));
        }
        Ok(cells)
    }
}

#[cfg(test)]
mod tests {
    use super::tile_corner;

    #[test]
    fn exact_tile_names() {
        assert_eq!(tile_corner("N47E009.hgt"), Some((9.0, 47.0)));
        assert_eq!(tile_corner("s07w062.hgt"), Some((-62.0, -7.0)));
        assert_eq!(tile_corner("N43W114.SRTMGL1.hgt"), Some((-114.0, 43.0)));
        for name in [
            "tile.hgt",
            "N47E09.hgt",
            "N91E009.hgt",
            "N47E190.hgt",
            "N47E009x.hgt",
            "N+7E009.hgt",
            "Ñ47E009.hgt",
        ] {
            assert_eq!(tile_corner(name), None, "{name}");
        }
    }
}
