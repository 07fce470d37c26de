//! Coverage held against the study's own links, over a raster of hills.

#![expect(
    clippy::unwrap_used,
    reason = "tests fail where something is not there"
)]

mod formula_world;

use formula_world::{FormulaGround, TextWorld, design, sector};
use geodesy::{Crs, LonLat, MapXy};
use pipeline::engine::RunControl;
use pipeline::engine::coverage::{
    Bearings, CoverageError, CoverageRaster, CoverageRequest, Layer, cover,
};
use pipeline::engine::interference::{Scene, of_link};
use pipeline::engine::link::{Link, evaluate};
use pipeline::engine::mapped_ground::MappedGround;
use pipeline::engine::matrix::PathMatrix;
use pipeline::engine::radio::ReadyNetwork;
use pipeline::model::{Network, PremisesId};
use raster::{Affine, CellXy, Georeference, Grid, Mosaic};

const PREMISES: &str = "id,lon,lat\na,9.5,47.2\n";

/// Three sectors on two masts; the first and the last share a channel.
fn network(azimuth_deg: f64) -> Network {
    let sectors = sector("s1", "m1", azimuth_deg, 3600.0)
        + &sector("s2", "m1", 200.0, 3620.0)
        + &sector("s3", "m2", 170.0, 3600.0);
    let text = design(&sectors)
        .replace("[8.8, 46.8]", "[9.38, 47.10]")
        .replace("[10.1, 47.6]", "[9.58, 47.30]");
    let world = TextWorld::new(&text, PREMISES, FormulaGround::flat(0.0));
    pipeline::read(&world).network.unwrap()
}

/// Hills and a wall, 60 m cells over more than the territory.
fn ground(network: &Network) -> MappedGround {
    let crs = Crs::from_epsg(network.territory.working_plane_epsg).unwrap();
    let middle = crs.to_map(LonLat::new(9.48, 47.2).unwrap()).unwrap();
    let side = 600;
    let origin = MapXy {
        x: middle.x - 18_000.0,
        y: middle.y + 18_000.0,
    };
    let height_m = |i: usize| {
        let (x, y) = ((i % side) as f32, (i / side) as f32);
        420.0 + 35.0 * (x / 17.0).sin() * (y / 23.0).cos() + 8.0 * (x / 3.1 + y / 4.3).sin()
    };
    let cells: Vec<f32> = (0..side * side).map(height_m).collect();
    let affine = Affine::north_up(origin, 60.0, 60.0).unwrap();
    let georeference = Georeference::new(crs, affine, side, side);
    let grid = Grid::new(georeference, side, side, cells).unwrap();
    MappedGround::new(Mosaic::new(vec![grid]), None)
}

fn request() -> CoverageRequest {
    CoverageRequest {
        cell_m: 400.0,
        bearings: Bearings::Own,
        clearance: true,
        ..CoverageRequest::default()
    }
}

/// The network with a premises in the middle of each cell.
fn homes_at(network: &Network, raster: &CoverageRaster, cells: &[(usize, usize)]) -> Network {
    let mut homes = network.clone();
    let pattern = homes.premises[0].clone();
    homes.premises.clear();
    for (i, (col, row)) in cells.iter().enumerate() {
        let (col, row) = (*col as f64 + 0.5, *row as f64 + 0.5);
        let mut home = pattern.clone();
        home.id = PremisesId::new(format!("p{i}"));
        home.position = raster.georeference.to_lonlat(CellXy { col, row }).unwrap();
        homes.premises.push(home);
    }
    homes
}

/// A cell's best link as the study works it out for a premises at its middle:
/// the sweep's stated difference of own bearings is 0.01 dB.
#[test]
fn exact_cells_have_the_links_of_premises_at_their_middles() {
    let network = network(10.0);
    let ground = ground(&network);
    let run = RunControl::unwatched();
    let (coverage, _) = cover(&network, &ground, (&request(), None), &run).unwrap();
    let raster = &coverage.raster;
    let inner = |count: usize| (2..count - 2).step_by(3);
    let cells: Vec<(usize, usize)> = inner(raster.height)
        .flat_map(|row| inner(raster.width).map(move |col| (col, row)))
        .collect();
    let homes = homes_at(&network, raster, &cells);
    let ready = ReadyNetwork::new(&homes);
    let paths = PathMatrix::evaluate(&ready, &ground, &run).unwrap();
    let scene = Scene::new(&ready, &paths);
    let alone = vec![Vec::new(); ready.sectors.len()];
    let (mut compared, mut disturbed) = (0, 0);
    for (premises, cell) in cells.iter().enumerate() {
        let within = |s: &usize| {
            let path = paths.state(premises, *s).known().unwrap();
            path.distance_m <= ready.sectors[*s].guard_range_m
        };
        let links = (0..ready.sectors.len()).filter(within).map(|s| {
            let path = paths.state(premises, s).known().unwrap();
            let unwanted = of_link(&scene, (premises, s), &alone);
            (path, evaluate(&ready, (premises, s), path, &unwanted))
        });
        // A plan out of reach comes below every one that is not.
        let rank = |link: &Link| link.margin_db().unwrap_or(link.downlink.sinr_db - 1e3);
        let mut links: Vec<_> = links.collect();
        links.sort_by(|a, b| rank(&b.1).total_cmp(&rank(&a.1)));
        if links.is_empty() {
            assert!(coverage.value(Layer::PathLoss, *cell).is_nan());
            continue;
        }
        // Which of two equals wins is no matter of a hundredth of a decibel.
        if links.len() > 1 && rank(&links[0].1) - rank(&links[1].1) < 0.3 {
            continue;
        }
        let (path, link) = &links[0];
        let close = |layer: Layer, value: f64, tolerance: f64| {
            let found = f64::from(coverage.value(layer, *cell));
            let difference = (found - value).abs();
            assert!(
                difference <= tolerance,
                "{layer:?} {cell:?}: {found} {value}"
            );
        };
        close(Layer::PathLoss, path.loss_db, 0.01);
        close(Layer::DownlinkLevel, link.downlink.rsl_dbm, 0.01);
        close(Layer::UplinkLevel, link.uplink.rsl_dbm, 0.01);
        // The terminal's elevation towards a mast beyond the horizon is an estimate.
        close(Layer::DownlinkSinr, link.downlink.sinr_db, 0.25);
        close(Layer::UplinkSinr, link.uplink.sinr_db, 0.01);
        close(Layer::Probability, link.probability_frac, 0.02);
        close(
            Layer::LineOfSight,
            f64::from(u8::from(link.clearance_ratio >= 0.0)),
            0.0,
        );
        let holds = links.iter().filter(|(_, l)| rank(l) >= 0.0).count();
        let near = links.iter().any(|(_, l)| rank(l).abs() < 0.3);
        if !near {
            close(Layer::Servers, holds as f64, 0.0);
        }
        let steps = ready.sectors[0].downlink[0].steps();
        let on_a_limit = steps.iter().any(|s| {
            (s.required_sinr_db - link.downlink.sinr_db).abs() < 0.3
                || (s.required_sinr_db - link.uplink.sinr_db).abs() < 0.02
        });
        if !on_a_limit {
            close(
                Layer::DownlinkRate,
                link.downlink.ethernet_rate_mbps(),
                1e-3,
            );
        }
        compared += 1;
        disturbed += usize::from(link.downlink.interference_dbm.is_some());
    }
    assert!(compared > 100 && disturbed > 20, "{compared} {disturbed}");
}

#[test]
fn exact_kept_losses_give_what_new_ones_give() {
    let (first, turned) = (network(10.0), network(75.0));
    let ground = ground(&first);
    let request = CoverageRequest {
        bearings: Bearings::DEFAULT,
        ..request()
    };
    let run = RunControl::unwatched();
    let (before, kept) = cover(&first, &ground, (&request, None), &run).unwrap();
    assert_eq!(kept.swept_launch_points(), kept.launch_points());
    let (again, reused) = cover(&turned, &ground, (&request, Some(&kept)), &run).unwrap();
    assert_eq!(reused.swept_launch_points(), 0);
    let (fresh, _) = cover(&turned, &ground, (&request, None), &run).unwrap();
    let bits = |coverage: &pipeline::engine::coverage::Coverage, layer| {
        let grid = coverage.grid(layer).unwrap();
        grid.cells().iter().map(|v| v.to_bits()).collect::<Vec<_>>()
    };
    for layer in [
        Layer::PathLoss,
        Layer::DownlinkLevel,
        Layer::DownlinkSinr,
        Layer::Servers,
    ] {
        assert_eq!(bits(&again, layer), bits(&fresh, layer));
    }
    assert_ne!(
        bits(&again, Layer::DownlinkLevel),
        bits(&before, Layer::DownlinkLevel)
    );
    // Another height has other losses.
    let mut raised = turned.clone();
    raised.sectors[2].height_agl_m += 5.0;
    let (_, partly) = cover(&raised, &ground, (&request, Some(&reused)), &run).unwrap();
    assert_eq!(partly.swept_launch_points(), 1);
    // One thread gives what all of them give.
    let one = RunControl { threads: 1, ..run };
    let (single, _) = cover(&turned, &ground, (&request, None), &one).unwrap();
    assert_eq!(
        bits(&single, Layer::DownlinkSinr),
        bits(&fresh, Layer::DownlinkSinr)
    );
}

#[test]
fn exact_what_cannot_be_covered_says_why() {
    let network = network(10.0);
    let run = RunControl::unwatched();
    let fails = |network: &Network, request: &CoverageRequest| {
        cover(network, &ground(network), (request, None), &run).unwrap_err()
    };
    let flat = FormulaGround::flat(400.0);
    let error = cover(&network, &flat, (&request(), None), &run).unwrap_err();
    assert_eq!(error, CoverageError::NoRasters);
    let named = CoverageRequest {
        sector: Some("s9".into()),
        ..request()
    };
    let error = fails(&network, &named);
    assert_eq!(error, CoverageError::UnknownSector("s9".into()));
    for cell_m in [0.0, -1.0, f64::NAN, 1e-3] {
        let size = CoverageRequest {
            cell_m,
            ..request()
        };
        assert!(matches!(
            fails(&network, &size),
            CoverageError::Cells { .. }
        ));
    }
    let mut bare = network.clone();
    bare.sectors.clear();
    assert_eq!(fails(&bare, &request()), CoverageError::NoSector);
    let mut nameless = network.clone();
    nameless.place_defaults = None;
    assert_eq!(fails(&nameless, &request()), CoverageError::NoTerminal);
}
