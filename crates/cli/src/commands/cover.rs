//! `cover`: every cell of the territory, as rasters, pictures and figures.

use std::path::{Path, PathBuf};

use outputs::CAUTION;
use outputs::coverage::quantities::{self, Direction};
use outputs::coverage::{
    Around, Caption, CoverageStatistics, Mark, Occupied, Quantity, contour_lines, geojson, kmz,
    sheet_png, statistics,
};
use outputs::format;
use pipeline::engine::RunControl;
use pipeline::engine::adaptation::MimoMode;
use pipeline::engine::coverage::{Bearings, Coverage, CoverageRequest, Grid, Layer};
use pipeline::{Completeness, Covering};
use serde_json::json;
use store::geotiff_out::{self, Band, CellType, Overviews, RasterDescription};
use store::project::RESULTS_FOLDER;

use super::open;
use crate::args::{Cover, CoverLayer};
use crate::clock;
use crate::console::Console;
use crate::exit::Exit;
use crate::findings_text::findings_text;
use crate::progress::{Watch, stop_if_interrupted};
use crate::results;

pub(super) fn run(args: &Cover, console: &Console) -> anyhow::Result<Exit> {
    let world = open(&args.dir)?;
    let request = CoverageRequest {
        cell_m: args.cell_m,
        bearings: if args.own_bearing {
            Bearings::Own
        } else {
            Bearings::DEFAULT
        },
        sector: args.sector.clone(),
        clearance: args.what.contains(&CoverLayer::Clearance),
        ..CoverageRequest::default()
    };
    let completeness = if args.partial {
        Completeness::WhatStands
    } else {
        Completeness::Whole
    };
    let watch = Watch::new(console);
    let run = RunControl {
        progress: &watch,
        threads: console.threads,
    };
    let covering = pipeline::cover(&world, completeness, (&request, &run))?;
    stop_if_interrupted()?;
    drop(watch);
    let handed = Handed::new(&covering, args)?;
    let folder = folder(world.folder(), args);
    results::write_into(&folder, &handed.files)?;
    show(&covering, &handed, (&folder, console))?;
    Ok(Exit::of_evaluation(&covering.findings))
}

/// Where the files go; a sector's beside the network's.
fn folder(project: &Path, args: &Cover) -> PathBuf {
    let base = match &args.out {
        Some(out) => out.clone(),
        None => project.join(RESULTS_FOLDER).join("coverage"),
    };
    match &args.sector {
        Some(sector) => {
            // An id may hold what a folder's name may not.
            let plain = |c: char| c.is_alphanumeric() || c == '-' || c == '_';
            let name = sector.chars().map(|c| if plain(c) { c } else { '_' });
            base.join(name.collect::<String>())
        }
        None => base,
    }
}

/// The files of a coverage, and the figures in them.
struct Handed {
    files: Vec<(String, Vec<u8>)>,
    figures: Vec<CoverageStatistics>,
    /// Figures of the downlink rate, which the screen shows whatever was asked for.
    rates: CoverageStatistics,
}

impl Handed {
    fn new(covering: &Covering, args: &Cover) -> anyhow::Result<Self> {
        let premises = covering.network.premises.iter();
        let occupied: Vec<Occupied> = premises
            .map(|p| Occupied {
                position: p.position,
                people: p.people,
            })
            .collect();
        let grid = covering.coverage.grid(Layer::DownlinkRate)?;
        let rates = statistics(&grid, &quantities::rate(Direction::Downlink), &occupied)?;
        let mut handed = Self {
            files: Vec::new(),
            figures: Vec::new(),
            rates,
        };
        let sheet = Sheet::new(covering, args);
        let mut asked: Vec<CoverLayer> = Vec::new();
        for layer in &args.what {
            if !asked.contains(layer) {
                asked.push(*layer);
            }
        }
        for what in asked {
            for (layer, quantity) in layers(what, &covering.coverage) {
                stop_if_interrupted()?;
                handed.add((layer, &quantity), (covering, &sheet), (&occupied, args))?;
            }
        }
        Ok(handed)
    }

    fn add(
        &mut self,
        (layer, quantity): (Layer, &Quantity),
        (covering, sheet): (&Covering, &Sheet),
        (occupied, args): (&[Occupied], &Cover),
    ) -> anyhow::Result<()> {
        let grid = covering.coverage.grid(layer)?;
        let figures = statistics(&grid, quantity, occupied)?;
        let notes: Vec<&str> = sheet.notes.iter().map(String::as_str).collect();
        let caption = Caption {
            subtitle: &sheet.subtitle,
            notes: &notes,
        };
        let around = Around {
            ground: Some(covering.ground.surroundings.as_ref()),
            marks: &sheet.marks,
            statistics: Some(&figures),
        };
        let name = quantity.name;
        let description = description(&grid, quantity, sheet);
        let mut add = |suffix: &str, bytes: Vec<u8>| {
            self.files.push((format!("{name}.{suffix}"), bytes));
        };
        add("tif", geotiff_out::encode_bands(&description, &[&grid])?);
        add("png", sheet_png(&grid, quantity, &caption, &around)?);
        add("csv", figures.csv()?);
        add("json", figures.json()?.into());
        if args.kmz {
            add("kmz", kmz(&grid, quantity, &caption)?);
        }
        // Names have no lines of equal value.
        if args.contours && quantity.kind != outputs::coverage::Kind::Classes {
            let lines = geojson(&contour_lines(&grid, quantity)?)?;
            add("contours.geojson", lines.into());
        }
        self.figures.push(figures);
        Ok(())
    }
}

/// What stands on every picture.
struct Sheet {
    subtitle: String,
    notes: Vec<String>,
    marks: Vec<Mark>,
}

impl Sheet {
    fn new(covering: &Covering, args: &Cover) -> Self {
        let network = &covering.network;
        let written_at = clock::written_at();
        let day = written_at.split('T').next().unwrap_or_default();
        let server = match &args.sector {
            Some(sector) => format!("sector {sector}"),
            None => "every sector".to_owned(),
        };
        let terminal = network.place_defaults.as_ref().map(|d| {
            let height = format::metres(network.study.mount_height_agl_m);
            format!(
                "Terminal {} at {height} above ground, plan {}",
                d.terminal.id, d.plan.id
            )
        });
        let time_pct = format::number(network.propagation.time_pct, 0);
        let mut notes = vec![format!(
            "ITU-R P.1812, {time_pct} % of the time, median location; cells of {}",
            format::metres(args.cell_m)
        )];
        notes.extend(terminal);
        notes.push(format!("Mastwright {}, {day}", pipeline::VERSION));
        let has_sector = |id: &_| network.sectors.iter().any(|s| s.mast == *id);
        let masts = network.masts.iter().filter(|m| has_sector(&m.id));
        Self {
            subtitle: format!("{}, {server}", network.name),
            notes,
            marks: masts
                .map(|m| Mark {
                    position: m.position,
                    label: m.name.clone(),
                })
                .collect(),
        }
    }
}

/// The quantities behind a word of the command line.
fn layers(what: CoverLayer, coverage: &Coverage) -> Vec<(Layer, Quantity)> {
    use Direction::{Downlink, Uplink};
    match what {
        CoverLayer::Loss => vec![(Layer::PathLoss, quantities::path_loss())],
        CoverLayer::Level => vec![
            (Layer::DownlinkLevel, quantities::received_level(Downlink)),
            (Layer::UplinkLevel, quantities::received_level(Uplink)),
        ],
        CoverLayer::Server => {
            vec![(
                Layer::BestServer,
                quantities::best_server(&coverage.sectors),
            )]
        }
        CoverLayer::Sinr => vec![
            (Layer::DownlinkSinr, quantities::sinr(Downlink)),
            (Layer::UplinkSinr, quantities::sinr(Uplink)),
        ],
        CoverLayer::Mode => {
            let modes = [
                MimoMode::SingleStream,
                MimoMode::SpaceTimeCoding,
                MimoMode::SpatialMultiplexing,
            ];
            let names = modes.map(|mode| mode.name().to_owned());
            vec![(Layer::DownlinkMode, quantities::mimo_mode(Downlink, &names))]
        }
        CoverLayer::Mcs => vec![(
            Layer::DownlinkMcs,
            quantities::mcs(Downlink, &coverage.mcs_names),
        )],
        CoverLayer::RateDown => vec![(Layer::DownlinkRate, quantities::rate(Downlink))],
        CoverLayer::RateUp => vec![(Layer::UplinkRate, quantities::rate(Uplink))],
        CoverLayer::Probability => vec![(Layer::Probability, quantities::probability())],
        CoverLayer::Servers => vec![(Layer::Servers, quantities::servers())],
        CoverLayer::Clearance => vec![(Layer::Clearance, quantities::clearance())],
        CoverLayer::Sight => vec![(Layer::LineOfSight, quantities::line_of_sight())],
    }
}

/// How a quantity is stored: names as bytes with their colours, numbers as they are.
fn description(grid: &Grid, quantity: &Quantity, sheet: &Sheet) -> RasterDescription {
    let is_named = quantity.kind == outputs::coverage::Kind::Classes;
    // 255 is the void of bytes.
    let (cells, overviews) = match (is_named, quantity.classes.len() <= 255) {
        (true, true) => (CellType::Unsigned8, Overviews::Nearest),
        (true, false) => (CellType::Unsigned16, Overviews::Nearest),
        (false, _) => (CellType::Float32, Overviews::Average),
    };
    let band = Band::new(&quantity.title, quantity.unit);
    let mut description = RasterDescription::of(grid, cells, band, overviews);
    let note = |name: &str, text: String| (name.to_owned(), text);
    description.notes = vec![
        note(
            "DESCRIPTION",
            format!("{}: {}", sheet.subtitle, quantity.title),
        ),
        note("METHOD", sheet.notes.join("; ")),
        note("CAUTION", CAUTION.to_owned()),
    ];
    if is_named {
        let names = quantity.classes.iter().enumerate();
        let names = names.map(|(code, class)| format!("{code} {}", class.label));
        let names: Vec<String> = names.collect();
        description.notes.push(note("CLASSES", names.join("; ")));
        description.palette = Some(quantity.classes.iter().map(|c| c.colour).collect());
    }
    description
}

fn show(
    covering: &Covering,
    handed: &Handed,
    (folder, console): (&Path, &Console),
) -> anyhow::Result<()> {
    let raster = &covering.coverage.raster;
    let territory_km2 = raster.territory_km2();
    // Only cells with a link in both directions have a server.
    let grid = covering.coverage.grid(Layer::BestServer)?;
    let servers = quantities::best_server(&covering.coverage.sectors);
    let linked_km2 = statistics(&grid, &servers, &[])?.area_km2;
    let linked_frac = linked_km2 / territory_km2;
    console.remark(&findings_text(&covering.findings));
    if !covering.findings.is_empty() {
        console.remark("\n");
    }
    console.text(&format!(
        "{}, {} × {} cells of {}\n\n{}\na link holds in {} km², {} of the territory's {} km²\n\nresults: {}\n\n{CAUTION}\n",
        covering.network.name,
        raster.width,
        raster.height,
        format::metres(raster.cell_m),
        handed.rates.text(),
        format::number(linked_km2, 1),
        format::percent(linked_frac),
        format::number(territory_km2, 1),
        folder.display(),
    ));
    let files: Vec<&str> = handed.files.iter().map(|(name, _)| name.as_str()).collect();
    console.document(&json!({
        "version": pipeline::VERSION,
        "caution": CAUTION,
        "cell_m": raster.cell_m,
        "columns": raster.width,
        "rows": raster.height,
        "territory_km2": territory_km2,
        "linked_km2": linked_km2,
        "linked_frac": linked_frac,
        "statistics": handed.figures,
        "findings": covering.findings,
        "data_sources": covering.ground.data_sources,
        "results_folder": folder,
        "files": files,
    }))
}
