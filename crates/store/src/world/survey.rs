//! More ground than should be held: looked at as a whole, kept coarsely.

use std::collections::BTreeSet;
use std::path::Path;

use geodesy::{LonLat, LonLatBox};
use model::Network;
use model::settings::RasterSource;
use pipeline::Ground;
use raster::Grid;

use super::RastersRead;
use super::ground_findings::{self, Codes};
use super::rasters::Rasters;
use crate::ground::OpenOptions;

/// Cells that are kept of each kind, about.
const KEPT_CELLS: usize = 1 << 22;

/// Ground over a box with the findings that all of its cells give, and
/// surroundings that are good enough for a picture.
pub(super) fn survey(folder: &Path, network: &Network, bounds: &LonLatBox) -> Ground {
    let sources = &network.ground;
    let look_through = |kind, options: OpenOptions, sources: &[RasterSource], look: Look<'_>| {
        let mut rasters = Rasters::new(kind, options);
        let cells = sources.iter().map(|s| rasters.cells(folder, s, bounds));
        let every = cells.sum::<usize>().div_ceil(KEPT_CELLS).isqrt().max(1);
        for source in sources {
            rasters.look_through((folder, source), (bounds, every), look);
        }
        rasters.finish()
    };
    let mut places = Places::of(network);
    let elevation = OpenOptions::elevation();
    let (elevation, mut data_sources, of_terrain) =
        look_through("terrain", elevation, &sources.terrain, &mut |grid| {
            places.look(grid);
        });
    let mut findings = of_terrain.clone();
    let known = |at| places.is_known(at);
    let is_empty = elevation.is_empty();
    findings.extend(ground_findings::of_terrain(
        network,
        (is_empty, &of_terrain),
        &known,
    ));
    let mut codes = Codes::default();
    let classes = OpenOptions::classes();
    let (classes, more_sources, more) =
        look_through("land cover", classes, &sources.land_cover, &mut |grid| {
            codes.add(grid);
        });
    data_sources.extend(more_sources);
    findings.extend(more);
    if !classes.is_empty() {
        findings.extend(ground_findings::of_classes(&sources.clutter, &codes));
    }
    let trees = OpenOptions::classes();
    let (heights, more_sources, more) =
        look_through("canopy height", trees, &sources.canopy, &mut |_| {});
    data_sources.extend(more_sources);
    findings.extend(more);
    let read = RastersRead {
        // A picture of that much ground shows no building.
        buildings: None,
        elevation,
        classes,
        heights,
        data_sources,
        findings,
        of_terrain,
    };
    read.finish(network)
}

/// What is done with every strip of a raster.
type Look<'a> = &'a mut dyn FnMut(&Grid);

/// Masts and premises, and which of them some raster knows the ground of.
struct Places {
    unknown: Vec<LonLat>,
    known: BTreeSet<[u64; 2]>,
}

impl Places {
    fn of(network: &Network) -> Self {
        let masts = network.masts.iter().map(|m| m.position);
        let premises = network.premises.iter().map(|p| p.position);
        Self {
            unknown: masts.chain(premises).collect(),
            known: BTreeSet::new(),
        }
    }

    fn look(&mut self, elevation: &Grid) {
        self.unknown.retain(|place| {
            let is_unknown = elevation.bilinear(*place).is_nan();
            if !is_unknown {
                self.known.insert(key(*place));
            }
            is_unknown
        });
    }

    fn is_known(&self, at: LonLat) -> bool {
        self.known.contains(&key(at))
    }
}

fn key(place: LonLat) -> [u64; 2] {
    [place.lon_deg().to_bits(), place.lat_deg().to_bits()]
}
