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
    Bearings, Coverage, CoverageError, CoverageRaster, CoverageRequest, Layer, PaintError, Painter,
    Picture, cover,
};
use pipeline::engine::interference::{Interferer, Scene, of_link};
use pipeline::engine::link::{Link, evaluate};
use pipeline::engine::mapped_ground::MappedGround;
use pipeline::engine::matrix::PathMatrix;
use pipeline::engine::radio::ReadyNetwork;
use pipeline::model::edit::SectorField;
use pipeline::model::{Edit, Network, PremisesId, SectorId};
use raster::{Affine, CellXy, Georeference, Grid, Mosaic};

/// Near the noise of a base station, so that both count.
const UPLINK_INTERFERENCE_DBM: f64 = -97.0;

const FROM_OTHERS: Interferer = Interferer {
    sector: 0,
    level_dbm: UPLINK_INTERFERENCE_DBM,
};

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

/// Every third cell either way.
fn some_cells(raster: &CoverageRaster) -> Vec<(usize, usize)> {
    let inner = |count: usize| (2..count - 2).step_by(3);
    inner(raster.height)
        .flat_map(|row| inner(raster.width).map(move |col| (col, row)))
        .collect()
}

/// A cell's best link as the study works it out for a premises at its middle:
/// the sweep's stated difference of own bearings is 0.01 dB.
#[test]
fn exact_cells_have_the_links_of_premises_at_their_middles() {
    let network = network(10.0);
    let ground = ground(&network);
    let run = RunControl::unwatched();
    let request = CoverageRequest {
        uplink_interference_dbm: Some(vec![UPLINK_INTERFERENCE_DBM; 3]),
        ..request()
    };
    let (coverage, _) = cover(&network, &ground, (&request, None), &run).unwrap();
    let raster = &coverage.raster;
    let cells = some_cells(raster);
    let homes = homes_at(&network, raster, &cells);
    let ready = ReadyNetwork::new(&homes);
    let paths = PathMatrix::evaluate(&ready, &ground, &run).unwrap();
    let scene = Scene::new(&ready, &paths);
    let uplink = vec![vec![FROM_OTHERS]; ready.sectors.len()];
    let (mut compared, mut disturbed) = (0, 0);
    for (premises, cell) in cells.iter().enumerate() {
        let within = |s: &usize| {
            let path = paths.state(premises, *s).known().unwrap();
            path.distance_m <= ready.sectors[*s].guard_range_m
        };
        let links = (0..ready.sectors.len()).filter(within).map(|s| {
            let path = paths.state(premises, s).known().unwrap();
            let unwanted = of_link(&scene, (premises, s), &uplink);
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
        close(Layer::Clearance, path.clearance_ratio, 0.01);
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

fn bits(coverage: &Coverage, layer: Layer) -> Vec<u32> {
    let cells = coverage.cells(layer).unwrap();
    cells.iter().map(|v| v.to_bits()).collect()
}

fn set(sector: &str, field: SectorField, value: f64) -> Edit {
    Edit::Sector {
        sector: SectorId::new(sector),
        field,
        value,
    }
}

/// What a painter shows after edits is what a new coverage shows, to the last bit.
#[test]
fn exact_a_painter_shows_what_a_new_coverage_shows() {
    use SectorField::{AzimuthDeg, ChannelCentreMhz, MechanicalDowntiltDeg, TxPowerPerChainDbm};
    let mut network = network(10.0);
    let ground = ground(&network);
    let request = CoverageRequest {
        cell_m: 150.0,
        bearings: Bearings::DEFAULT,
        ..request()
    };
    let run = RunControl::unwatched();
    let (first, losses) = cover(&network, &ground, (&request, None), &run).unwrap();
    let picture = Picture {
        layers: Layer::ALL.to_vec(),
        ..Picture::default()
    };
    let mut painter = Painter::new(&network, losses, (picture, &run)).unwrap();
    let edits = [
        vec![set("s1", AzimuthDeg, 130.0)],
        vec![
            set("s3", MechanicalDowntiltDeg, 2.5),
            set("s2", TxPowerPerChainDbm, 17.0),
        ],
        // Another sector of the mast has had this channel: its losses are kept.
        vec![set("s2", ChannelCentreMhz, 3600.0)],
    ];
    let mut undo = Vec::new();
    for edits in &edits {
        for edit in edits {
            edit.apply(&mut network).unwrap();
        }
        let repainted = painter.edit(edits, &run).unwrap();
        assert!(!repainted.is_provisional && !repainted.rows.is_empty());
        undo.push(repainted.undo);
        let (fresh, _) = cover(&network, &ground, (&request, None), &run).unwrap();
        for layer in Layer::ALL {
            assert!(
                bits(painter.coverage(), layer) == bits(&fresh, layer),
                "{layer:?} {edits:?}"
            );
        }
    }
    for edits in undo.iter().rev() {
        painter.edit(edits, &run).unwrap();
    }
    for layer in Layer::ALL {
        assert!(
            bits(painter.coverage(), layer) == bits(&first, layer),
            "{layer:?}"
        );
    }
}

/// A channel whose losses are not kept is shown by those of a near one, and said to be.
#[test]
fn exact_a_new_channel_is_provisional_and_a_new_height_is_refused() {
    let mut network = network(10.0);
    let ground = ground(&network);
    let run = RunControl::unwatched();
    let (_, losses) = cover(&network, &ground, (&request(), None), &run).unwrap();
    let picture = Picture {
        layers: vec![Layer::PathLoss, Layer::DownlinkLevel],
        ..Picture::default()
    };
    let mut painter = Painter::new(&network, losses, (picture, &run)).unwrap();
    let before = bits(painter.coverage(), Layer::DownlinkLevel);
    let raised = painter.edit(&[set("s3", SectorField::HeightAglM, 25.0)], &run);
    assert_eq!(raised.unwrap_err(), PaintError::Losses(SectorId::new("s3")));
    assert!(before == bits(painter.coverage(), Layer::DownlinkLevel));
    let moved = [set("s1", SectorField::ChannelCentreMhz, 3660.0)];
    assert!(painter.edit(&moved, &run).unwrap().is_provisional);
    moved[0].apply(&mut network).unwrap();
    let (fresh, _) = cover(&network, &ground, (&request(), None), &run).unwrap();
    for layer in [Layer::PathLoss, Layer::DownlinkLevel] {
        let both = painter.coverage().cells(layer).unwrap().iter();
        let apart = both
            .zip(fresh.cells(layer).unwrap())
            .map(|(a, b)| (a - b).abs());
        let most = apart.filter(|d| !d.is_nan()).fold(0.0, f32::max);
        // 60 MHz are 0.14 dB of free space; diffraction moves by less than that.
        assert!(most < 0.2, "{layer:?} {most}");
    }
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
