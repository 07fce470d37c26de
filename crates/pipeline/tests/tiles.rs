//! Coverage tile by tile: the same cells whatever the tiles, and only what an
//! edit touches computed again.

#![expect(
    clippy::unwrap_used,
    reason = "tests fail where something is not there"
)]

mod formula_world;

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use formula_world::{FormulaGround, TextWorld, design, sector};
use geodesy::{Crs, LonLat, LonLatBox, MapXy};
use pipeline::engine::coverage::{
    Coverage, CoverageError, CoverageRequest, GroundPieces, Layer, MemoryShelf, Reuse, TileSources,
    TiledCoverage, cover, cover_in_tiles, losses_on_shelf,
};
use pipeline::engine::mapped_ground::MappedGround;
use pipeline::engine::{Progress, RunControl, Surroundings};
use pipeline::model::Network;
use raster::{Affine, Georeference, Grid, Mosaic};

const PREMISES: &str = "id,lon,lat\na,9.5,47.2\n";

/// Three sectors on two masts; the first and the last share a channel.
fn network(azimuth_deg: f64) -> Network {
    let sectors = sector("s1", "m1", azimuth_deg, 3600.0)
        + &sector("s2", "m1", 200.0, 3620.0)
        + &sector("s3", "m2", 170.0, 3600.0);
    let text = design(&sectors)
        .replace("[8.8, 46.8]", "[9.38, 47.10]")
        .replace("[10.1, 47.6]", "[9.58, 47.30]")
        .replace("reach_km = 40", "reach_km = 7\ninterference_reach_km = 12");
    let world = TextWorld::new(&text, PREMISES, FormulaGround::flat(0.0));
    pipeline::read(&world).network.unwrap()
}

/// Hills, 60 m cells over more than the territory; one cell may be raised.
struct Hills(Arc<MappedGround>);

impl Hills {
    fn new(network: &Network, raised: Option<usize>) -> Self {
        let crs = Crs::from_epsg(network.territory.working_plane_epsg).unwrap();
        let middle = crs.to_map(LonLat::new(9.48, 47.2).unwrap()).unwrap();
        let side = 600;
        let origin = MapXy {
            x: middle.x - 18_000.0,
            y: middle.y + 18_000.0,
        };
        let height_m = |i: usize| {
            let (x, y) = ((i % side) as f32, (i / side) as f32);
            let hills = 35.0 * (x / 17.0).sin() * (y / 23.0).cos() + 8.0 * (x / 3.1).sin();
            420.0 + hills + if Some(i) == raised { 1.0 } else { 0.0 }
        };
        let cells: Vec<f32> = (0..side * side).map(height_m).collect();
        let affine = Affine::north_up(origin, 60.0, 60.0).unwrap();
        let georeference = Georeference::new(crs, affine, side, side);
        let grid = Grid::new(georeference, side, side, cells).unwrap();
        Self(Arc::new(MappedGround::new(Mosaic::new(vec![grid]), None)))
    }
}

impl GroundPieces for Hills {
    fn piece(&self, _: &LonLatBox) -> Option<Arc<dyn Surroundings>> {
        let ground: Arc<dyn Surroundings> = self.0.clone();
        Some(ground)
    }
}

fn request() -> CoverageRequest {
    CoverageRequest {
        cell_m: 90.0,
        ..CoverageRequest::default()
    }
}

fn tiled(
    (network, ground): (&Network, &Hills),
    (shelf, tile_cells): (&MemoryShelf, usize),
    run: &RunControl<'_>,
) -> Result<TiledCoverage, CoverageError> {
    let sources = TileSources {
        ground,
        shelf,
        tile_cells,
    };
    cover_in_tiles(network, (&request(), &sources), run)
}

fn bits(cells: &[f32]) -> Vec<u32> {
    cells.iter().map(|cell| cell.to_bits()).collect()
}

#[test]
fn exact_cells_know_neither_tiles_nor_threads() {
    let network = network(10.0);
    let ground = Hills::new(&network, None);
    let run = RunControl::unwatched();
    let (whole, _) = cover(&network, ground.0.as_ref(), (&request(), None), &run).unwrap();
    for (tile_cells, threads) in [(64, 1), (100, 2), (192, 2), (4096, 1)] {
        let shelf = MemoryShelf::default();
        let run = RunControl { threads, ..run };
        let tiled = tiled((&network, &ground), (&shelf, tile_cells), &run).unwrap();
        assert_eq!(tiled.raster, whole.raster);
        assert_eq!(tiled.reuse.tiles == 1, tile_cells == 4096);
        for layer in Layer::ALL {
            let grid = tiled.grid(layer, &shelf).unwrap();
            let same = bits(grid.cells()) == bits(whole.cells(layer).unwrap());
            assert!(same, "{layer:?} in tiles of {tile_cells}");
        }
    }
    let loss = whole.cells(Layer::PathLoss).unwrap();
    assert!(loss.iter().filter(|l| !l.is_nan()).count() > 10_000);
}

#[test]
fn exact_losses_from_a_shelf_are_those_of_a_sweep() {
    let network = network(10.0);
    let ground = Hills::new(&network, None);
    let run = RunControl::unwatched();
    let surroundings = ground.0.as_ref();
    let (whole, swept) = cover(&network, surroundings, (&request(), None), &run).unwrap();
    let shelf = MemoryShelf::default();
    let sources = TileSources {
        ground: &ground,
        shelf: &shelf,
        tile_cells: 64,
    };
    let shelved = |kept| losses_on_shelf(&network, (&request(), kept), &sources, &run).unwrap();
    let first = shelved(None);
    assert_eq!(first.swept_launch_points(), first.launch_points());
    let again = shelved(None);
    assert_eq!(again.swept_launch_points(), 0, "all lie on the shelf");
    // In memory already: the shelf, which has lost everything, is not asked.
    let empty = MemoryShelf::default();
    let unasked = TileSources {
        shelf: &empty,
        ..sources
    };
    let kept = losses_on_shelf(&network, (&request(), Some(&swept)), &unasked, &run).unwrap();
    assert_eq!(kept.swept_launch_points(), 0);
    for losses in [first, again, kept] {
        let asked = (&request(), Some(&losses));
        let (other, grids) = cover(&network, surroundings, asked, &run).unwrap();
        assert_eq!(grids.swept_launch_points(), 0);
        for layer in Layer::ALL {
            let cells = |coverage: &Coverage| bits(coverage.cells(layer).unwrap());
            assert!(cells(&other) == cells(&whole), "{layer:?}");
        }
    }
}

#[test]
fn exact_an_edit_computes_only_what_it_touches() {
    let first = network(10.0);
    let ground = Hills::new(&first, None);
    let run = RunControl::unwatched();
    let shelf = MemoryShelf::default();
    let reuse = |network: &Network, ground: &Hills| {
        let covered = tiled((network, ground), (&shelf, 64), &run).unwrap();
        covered.reuse
    };
    let all = reuse(&first, &ground);
    assert_eq!(all.swept_launch_points, 3);
    assert_eq!(all.composed_tiles, all.tiles);
    let none = Reuse {
        swept_launch_points: 0,
        composed_tiles: 0,
        ..all
    };
    assert_eq!(reuse(&first, &ground), none);
    // Aim, tilt and power leave every loss as it is.
    let mut edited = network(75.0);
    edited.sectors[0].mechanical_downtilt_deg += 2.0;
    edited.sectors[2].feeder_loss_db += 1.0;
    let recoloured = reuse(&edited, &ground);
    assert_eq!(recoloured.swept_launch_points, 0);
    assert!(recoloured.composed_tiles > 0);
    // A mast that moves takes only its own losses along.
    let mut moved = first.clone();
    let own = moved.sectors[2].mast.clone();
    let mast = moved.masts.iter_mut().find(|m| m.id == own).unwrap();
    let at = mast.position;
    mast.position = LonLat::new(at.lon_deg() + 0.004, at.lat_deg()).unwrap();
    assert_eq!(reuse(&moved, &ground).swept_launch_points, 1);
    assert_eq!(reuse(&first, &ground), none);
    // Other ground, by a metre in one cell, is other ground.
    let raised = Hills::new(&first, Some(300 * 600 + 300));
    assert_eq!(reuse(&first, &raised).swept_launch_points, 3);
}

/// Stops after so many looks.
struct StopsAfter(AtomicUsize);

impl Progress for StopsAfter {
    fn begin(&self, _: &'static str, _: usize) {}
    fn advance(&self, _: usize) {}
    fn interrupted(&self) -> bool {
        let left = self.0.load(Ordering::Relaxed);
        self.0.store(left.saturating_sub(1), Ordering::Relaxed);
        left == 0
    }
}

#[test]
fn exact_a_stopped_run_goes_on_where_it_was() {
    let network = network(10.0);
    let ground = Hills::new(&network, None);
    let run = RunControl {
        threads: 1,
        ..RunControl::unwatched()
    };
    let fresh = MemoryShelf::default();
    let whole = tiled((&network, &ground), (&fresh, 64), &run).unwrap();
    let shelf = MemoryShelf::default();
    let mut stops = 0;
    let done = loop {
        let watch = StopsAfter(AtomicUsize::new(60 + 20 * stops));
        let run = RunControl {
            progress: &watch,
            threads: 1,
        };
        match tiled((&network, &ground), (&shelf, 64), &run) {
            Ok(done) => break done,
            Err(error) => assert!(matches!(error, CoverageError::Interrupted(_)), "{error}"),
        }
        stops += 1;
        assert!(stops < 1000, "nothing is kept from one run to the next");
    };
    assert!(stops > 0);
    assert!(done.reuse.swept_launch_points < 3);
    for layer in [Layer::PathLoss, Layer::DownlinkSinr, Layer::Servers] {
        let [one, other] = [(&whole, &fresh), (&done, &shelf)]
            .map(|(tiled, shelf)| bits(tiled.grid(layer, shelf).unwrap().cells()));
        assert!(one == other, "{layer:?}");
    }
}
