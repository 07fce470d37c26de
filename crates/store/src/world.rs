//! A project folder as the world that the pipeline evaluates.

mod ground_findings;
mod rasters;
mod survey;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use geodesy::{LonLat, LonLatBox, sphere};
use model::settings::{BuildingSources, RasterSource};
use model::{Finding, Network, Severity};
use pipeline::design::ProjectSources;
use pipeline::engine::DataSource;
use pipeline::engine::buildings::Buildings;
use pipeline::engine::mapped_ground::{Canopy, LandCover, MappedGround};
use pipeline::{Ground, World};
use raster::Mosaic;

use crate::ground::OpenOptions;
use crate::project::read_footprints;
use crate::sampling::places_along;
use ground_findings::Codes;
use rasters::Rasters;

/// A project folder, its texts read.
#[derive(Debug)]
pub struct FolderWorld {
    folder: PathBuf,
    sources: ProjectSources,
    /// Footprints are read whole and once, whatever ground is asked for.
    buildings: Mutex<Option<(BuildingSources, BuildingsRead)>>,
}

impl FolderWorld {
    /// A folder whose texts were read before; rasters are looked for in it.
    pub fn new(folder: impl Into<PathBuf>, sources: ProjectSources) -> Self {
        Self {
            folder: folder.into(),
            sources,
            buildings: Mutex::default(),
        }
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }
}

impl World for FolderWorld {
    fn sources(&self) -> &ProjectSources {
        &self.sources
    }

    /// Reads what the masts and premises need of every raster that the design
    /// names. A raster that cannot be read is an error among the findings, and
    /// its ground unknown.
    fn ground(&self, network: &Network) -> Ground {
        self.read(network, &bounds(network))
    }

    fn ground_over(&self, network: &Network, extent: &LonLatBox) -> Ground {
        let bounds = bounds_over(network, extent);
        if self.terrain_cells(network, &bounds) > LARGE_CELLS {
            let mut ground = survey::survey(&self.folder, network, &bounds);
            let buildings = self.buildings(&network.ground.buildings);
            ground.findings.extend(buildings.findings);
            ground.data_sources.extend(buildings.data_sources);
            ground
        } else {
            self.read(network, &bounds)
        }
    }

    fn ground_piece(&self, network: &Network, extent: &LonLatBox) -> Ground {
        let mut ground = self.rasters(network, &widened(extent));
        ground.findings.retain(|f| f.severity == Severity::Error);
        ground.finish(network)
    }
}

/// More cells than this are surveyed rather than held: 64 MiB of heights, and
/// as much again of classes.
const LARGE_CELLS: usize = 1 << 24;

/// Rasters as they were read.
struct RastersRead {
    elevation: Mosaic,
    classes: Mosaic,
    heights: Mosaic,
    data_sources: Vec<DataSource>,
    findings: Vec<Finding>,
    /// Findings of the terrain's files alone.
    of_terrain: Vec<Finding>,
    buildings: Option<Arc<Buildings>>,
}

/// Buildings as they were read.
#[derive(Debug, Clone, Default)]
struct BuildingsRead {
    buildings: Option<Arc<Buildings>>,
    data_sources: Vec<DataSource>,
    findings: Vec<Finding>,
}

impl RastersRead {
    fn finish(self, network: &Network) -> Ground {
        let sources = &network.ground;
        let land_cover = (!self.classes.is_empty()).then(|| LandCover {
            classes: self.classes,
            clutter: sources.clutter.clone(),
        });
        let mut ground = MappedGround::new(self.elevation, land_cover);
        if !self.heights.is_empty() {
            ground = ground.with_canopy(Canopy {
                heights: self.heights,
                unit_m: sources.canopy_unit_m,
            });
        }
        if let Some(buildings) = self.buildings {
            ground = ground.with_buildings(buildings);
        }
        Ground {
            surroundings: Box::new(ground),
            data_sources: self.data_sources,
            findings: self.findings,
        }
    }
}

impl FolderWorld {
    fn rasters(&self, network: &Network, bounds: &LonLatBox) -> RastersRead {
        let sources = &network.ground;
        let read = |mut rasters: Rasters, sources: &[RasterSource]| {
            for source in sources {
                rasters.read(&self.folder, source, bounds);
            }
            rasters.finish()
        };
        let terrain = Rasters::new("terrain", OpenOptions::elevation());
        let (elevation, mut data_sources, of_terrain) = read(terrain, &sources.terrain);
        let mut findings = of_terrain.clone();
        let cover = Rasters::new("land cover", OpenOptions::classes());
        let (classes, more_sources, more) = read(cover, &sources.land_cover);
        data_sources.extend(more_sources);
        findings.extend(more);
        let trees = Rasters::new("canopy height", OpenOptions::classes());
        let (heights, more_sources, more) = read(trees, &sources.canopy);
        data_sources.extend(more_sources);
        findings.extend(more);
        let built = self.buildings(&sources.buildings);
        data_sources.extend(built.data_sources);
        findings.extend(built.findings);
        RastersRead {
            buildings: built.buildings,
            elevation,
            classes,
            heights,
            data_sources,
            findings,
            of_terrain,
        }
    }

    fn buildings(&self, sources: &BuildingSources) -> BuildingsRead {
        let mut kept = self
            .buildings
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        if let Some((own, read)) = &*kept
            && own == sources
        {
            return read.clone();
        }
        let mut read = BuildingsRead::default();
        let mut footprints = Vec::new();
        for file in &sources.files {
            let found = read_footprints(&self.folder, file, sources);
            read.data_sources.push(DataSource {
                kind: "buildings",
                file: file.to_string(),
                description: format!(
                    "{} footprints, of which {} have a height",
                    found.features,
                    found.footprints.len()
                ),
            });
            read.findings.extend(found.findings);
            footprints.extend(found.footprints);
        }
        if !footprints.is_empty() {
            read.buildings = Some(Arc::new(Buildings::new(footprints)));
        }
        *kept = Some((sources.clone(), read.clone()));
        read
    }

    fn read(&self, network: &Network, bounds: &LonLatBox) -> Ground {
        let mut read = self.rasters(network, bounds);
        let elevation = &read.elevation;
        let known = |at| !elevation.bilinear(at).is_nan();
        let told =
            ground_findings::of_terrain(network, (elevation.is_empty(), &read.of_terrain), &known);
        read.findings.extend(told);
        if !read.classes.is_empty() {
            let mut codes = Codes::default();
            read.classes.grids().iter().for_each(|grid| codes.add(grid));
            let clutter = &network.ground.clutter;
            read.findings
                .extend(ground_findings::of_classes(clutter, &codes));
        }
        read.finish(network)
    }

    /// Cells of terrain in a box, of the rasters that can be opened.
    fn terrain_cells(&self, network: &Network, bounds: &LonLatBox) -> usize {
        let terrain = Rasters::new("terrain", OpenOptions::elevation());
        let sources = network.ground.terrain.iter();
        let cells = sources.map(|source| terrain.cells(&self.folder, source, bounds));
        cells.sum()
    }
}

/// Ground that is read beyond the outermost place.
const MARGIN_DEG: f64 = 0.01;

/// Premises farther from every mast than this are no reason to read ground:
/// they are mistakes in a table, and a box around them could span the Earth.
const FARTHEST_PREMISES_M: f64 = 100e3;

/// The box around every mast and every premises that some mast could reach;
/// the territory where there is neither.
fn bounds(network: &Network) -> LonLatBox {
    let masts = || network.masts.iter().map(|m| m.position);
    let farthest_m = FARTHEST_PREMISES_M.max(2e3 * network.propagation.reach_km);
    let near = |at: LonLat| masts().any(|mast| sphere::distance_m(mast, at) < farthest_m);
    let premises = network.premises.iter().map(|p| p.position);
    let reachable = premises.filter(|at| near(*at));
    let territory = &network.territory;
    LonLatBox::around(masts().chain(reachable))
        .map(|around| widened(&with_bends(&around)))
        .unwrap_or_else(|| LonLatBox::new(territory.south_west, territory.north_east))
}

/// The box around every mast and an extent.
fn bounds_over(network: &Network, extent: &LonLatBox) -> LonLatBox {
    // Places all along the border: the box around the corners of a wide one
    // could be the one on the other side of the Earth.
    let places = extent.border(8).into_iter();
    let masts = network.masts.iter().map(|m| m.position);
    let around = LonLatBox::around(places.chain(masts));
    around.map_or(*extent, |around| widened(&with_bends(&around)))
}

/// The box with the bends of the geodesics between places in it: a path from
/// east to west runs nearer to the pole than its ends. None bends farther than
/// those along the box's northern and southern sides.
fn with_bends(around: &LonLatBox) -> LonLatBox {
    let side = |lat_deg: f64| {
        let corner = |lon_deg| LonLat::new(lon_deg, lat_deg).ok();
        let ends = corner(around.west_deg()).zip(corner(around.east_deg()));
        // Odd, so that the middle, where the bend is greatest, is among them.
        let places = ends.map_or_else(Vec::new, |ends| places_along(ends, 3));
        places.into_iter().map(|place| place.lat_deg())
    };
    let sides = [
        around.west_deg(),
        side(around.south_deg()).fold(around.south_deg(), f64::min),
        around.east_deg(),
        side(around.north_deg()).fold(around.north_deg(), f64::max),
    ];
    LonLatBox::from_degrees(sides).unwrap_or(*around)
}

fn widened(around: &LonLatBox) -> LonLatBox {
    // A degree of longitude shrinks towards the poles.
    let lat_deg = around.south_deg().abs().max(around.north_deg().abs());
    let lon_margin = MARGIN_DEG / lat_deg.min(89.0).to_radians().cos();
    let sides = [
        geodesy::wrap_lon_deg(around.west_deg() - lon_margin, 0.0),
        (around.south_deg() - MARGIN_DEG).max(-90.0),
        geodesy::wrap_lon_deg(around.east_deg() + lon_margin, 0.0),
        (around.north_deg() + MARGIN_DEG).min(90.0),
    ];
    LonLatBox::from_degrees(sides).unwrap_or(*around)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Great circle between two places of one latitude: tan of its highest
    /// latitude is tan φ / cos(Δλ/2) (spherical trigonometry). 250 km at 65° north bend
    /// by 2.6 km, which is more than the margin.
    #[test]
    fn exact_the_box_holds_the_bend_of_a_long_path() {
        for lat_deg in [65.0f64, -65.0] {
            let (west_deg, east_deg) = (10.0, 15.3);
            let sides = [west_deg, lat_deg, east_deg, lat_deg];
            let around = LonLatBox::from_degrees(sides).expect("a box");
            let held = with_bends(&around);
            let half_rad = f64::to_radians((east_deg - west_deg) / 2.0);
            let top_deg = (lat_deg.abs().to_radians().tan() / half_rad.cos())
                .atan()
                .to_degrees();
            let found_deg = if lat_deg > 0.0 {
                held.north_deg()
            } else {
                -held.south_deg()
            };
            assert!((found_deg - top_deg).abs() < 1e-4, "{found_deg} {top_deg}");
            assert!(found_deg - lat_deg.abs() > 2.0 * MARGIN_DEG);
            // The other side stays where it is.
            let other_deg = if lat_deg > 0.0 {
                held.south_deg()
            } else {
                held.north_deg()
            };
            assert_eq!(other_deg, lat_deg);
        }
        let equator = LonLatBox::from_degrees([0.0, -1.0, 1.0, 1.0]).expect("a box");
        assert!((with_bends(&equator).north_deg() - 1.0).abs() < 1e-4);
    }
}
