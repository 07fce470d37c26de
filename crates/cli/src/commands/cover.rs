//! `cover`: every cell of the territory, as rasters, pictures and figures.

use std::path::{Path, PathBuf};

use anyhow::Context as _;
use outputs::CAUTION;
use outputs::coverage::quantities::{self, Direction};
use outputs::coverage::{
    Around, Backdrop, Caption, CellRows as _, CoverageStatistics, Mark, Occupied, Quantity,
    ShelvedLayer, contour_lines, geojson, kmz, sheet_png, statistics,
};
use outputs::format;
use pipeline::engine::RunControl;
use pipeline::engine::adaptation::MimoMode;
use pipeline::engine::coverage::{Bearings, CoverageRequest, Grid, Layer, Reuse, TiledCoverage};
use pipeline::{Completeness, Covering};
use serde_json::json;
use store::geotiff_out::{self, Band, CellType, Overviews, RasterDescription, Rows};
use store::project::{CACHE_FOLDER, RESULTS_FOLDER};
use store::shelf::DiskShelf;

use super::open;
use crate::args::{Cover, CoverLayer};
use crate::clock;
use crate::console::Console;
use crate::exit::Exit;
use crate::findings_text::findings_text;
use crate::graphics::Machine;
use crate::progress::{Watch, stop_if_interrupted};
use crate::results::{self, Staging};

pub(super) fn run(args: &Cover, console: &Console) -> anyhow::Result<Exit> {
    let world = open(&args.dir)?;
    let machine = Machine::open(args.gpu);
    if let Some(why) = machine.stand_in() {
        console.remark(&format!("the processor works out the losses: {why}\n\n"));
    }
    let request = CoverageRequest {
        cell_m: args.cell_m,
        bearings: if args.own_bearing || args.gpu.is_some() {
            Bearings::Own
        } else {
            Bearings::DEFAULT
        },
        sweeper: machine.sweeper(),
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
    let shelf = shelf(world.folder(), args, console)?;
    let covering = pipeline::cover(&world, completeness, (&request, &shelf), &run)?;
    stop_if_interrupted()?;
    drop(watch);
    let covered = Covered {
        covering: &covering,
        shelf: &shelf,
        by: LossesBy::new(&machine),
    };
    let folder = folder(world.folder(), args);
    let handed = Handed::write(&covered, args, &folder)?;
    show(&covered, &handed, (&folder, console))?;
    Ok(Exit::of_evaluation(&covering.findings))
}

/// Where losses and tiles are kept.
fn shelf(project: &Path, args: &Cover, console: &Console) -> anyhow::Result<DiskShelf> {
    anyhow::ensure!(
        args.cache_gb >= 0.0,
        "`{}` is no size\nhint: give `--cache-gb` a number of gigabytes from 0",
        args.cache_gb
    );
    let temporary = || DiskShelf::temporary().context("no place for temporary files");
    if args.no_cache {
        return temporary();
    }
    let folder = project.join(RESULTS_FOLDER).join(CACHE_FOLDER);
    // Converting saturates, so that more than any disk has is no limit.
    DiskShelf::open(&folder, (args.cache_gb * 1e9) as u64).or_else(|error| {
        console.remark(&format!(
            "nothing is kept for the next time: `{}` cannot be used: {error}\n\n",
            folder.display()
        ));
        temporary()
    })
}

/// A coverage and where its tiles lie.
struct Covered<'a> {
    covering: &'a Covering,
    shelf: &'a DiskShelf,
    by: LossesBy,
}

/// Who worked out the losses.
#[derive(serde::Serialize)]
struct LossesBy {
    /// Name of the graphics adapter; `None` is the processor.
    graphics_adapter: Option<String>,
    /// Why the processor stood in where an adapter was asked for.
    processor_because: Option<String>,
}

impl LossesBy {
    fn new(machine: &Machine) -> Self {
        Self {
            graphics_adapter: machine.sweeper().name().map(str::to_owned),
            processor_because: machine.stand_in(),
        }
    }

    /// For people: only what is not a matter of course.
    fn text(&self) -> String {
        let why = self.processor_because.as_deref().unwrap_or_default();
        let why = why.lines().next().unwrap_or_default();
        match (&self.graphics_adapter, why) {
            (None, "") => String::new(),
            (None, why) => format!("losses: the processor, own bearings ({why})\n"),
            (Some(name), "") => format!("losses: {name}, own bearings\n"),
            (Some(name), why) => format!("losses: {name}, own bearings; {why}\n"),
        }
    }
}

impl Covered<'_> {
    fn layer(&self, layer: Layer) -> ShelvedLayer<'_> {
        ShelvedLayer {
            coverage: &self.covering.coverage,
            shelf: self.shelf,
            layer,
        }
    }

    /// The whole layer, for what cannot be made row by row.
    fn grid(&self, layer: Layer) -> anyhow::Result<Grid> {
        Ok(self.covering.coverage.grid(layer, self.shelf)?)
    }
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
    files: Vec<String>,
    figures: Vec<CoverageStatistics>,
    /// Figures of the downlink rate, which the screen shows whatever was asked for.
    rates: CoverageStatistics,
}

impl Handed {
    /// Writes every file that was asked for: one quantity after the other, some rows at
    /// a time; an overlay for a globe and contours take a whole layer.
    fn write(covered: &Covered<'_>, args: &Cover, folder: &Path) -> anyhow::Result<Self> {
        let premises = covered.covering.network.premises.iter();
        let occupied: Vec<Occupied> = premises
            .map(|p| Occupied {
                position: p.position,
                people: p.people,
            })
            .collect();
        let lattice = covered.layer(Layer::PathLoss);
        let relief = Backdrop::new(
            lattice.georeference(),
            (lattice.width(), lattice.height()),
            covered.covering.ground.surroundings.as_ref(),
        )?;
        let mut writer = Writer {
            relief,
            staging: Staging::new(folder)?,
            sheet: Sheet::new(covered.covering, args),
            covered,
            occupied: &occupied,
            args,
        };
        let mut asked: Vec<CoverLayer> = Vec::new();
        for layer in &args.what {
            if !asked.contains(layer) {
                asked.push(*layer);
            }
        }
        let mut figures = Vec::new();
        for what in asked {
            for (layer, quantity) in layers(what, &covered.covering.coverage) {
                stop_if_interrupted()?;
                figures.push(writer.quantity(layer, &quantity)?);
            }
        }
        let rate = quantities::rate(Direction::Downlink);
        let told = figures.iter().find(|f| f.quantity == rate.name).cloned();
        let rates = match told {
            Some(rates) => rates,
            None => statistics(&covered.layer(Layer::DownlinkRate), &rate, &occupied)?,
        };
        Ok(Self {
            files: writer.staging.finish()?,
            figures,
            rates,
        })
    }
}

/// Writes the files of one quantity after the other.
struct Writer<'a> {
    staging: Staging,
    sheet: Sheet,
    relief: Option<Backdrop>,
    covered: &'a Covered<'a>,
    occupied: &'a [Occupied],
    args: &'a Cover,
}

impl Writer<'_> {
    fn quantity(
        &mut self,
        layer: Layer,
        quantity: &Quantity,
    ) -> anyhow::Result<CoverageStatistics> {
        let cells = self.covered.layer(layer);
        let figures = statistics(&cells, quantity, self.occupied)?;
        let sheet = &self.sheet;
        let notes: Vec<&str> = sheet.notes.iter().map(String::as_str).collect();
        let caption = Caption {
            subtitle: &sheet.subtitle,
            notes: &notes,
        };
        let around = Around {
            relief: self.relief.as_ref(),
            marks: &sheet.marks,
            statistics: Some(&figures),
        };
        let name = quantity.name;
        let description = description(&cells, quantity, sheet);
        self.staging.add(&format!("{name}.tif"), |path| {
            let rows = |rows: Rows, to: &mut [f32]| {
                let read = cells.rows(rows.first, to);
                read.map_err(std::io::Error::other)
            };
            let written = geotiff_out::write_file(&description, rows, path);
            written.with_context(|| results::unwritable(path))
        })?;
        let mut add = |suffix: &str, bytes: Vec<u8>| {
            self.staging.add(&format!("{name}.{suffix}"), |path| {
                let written = store::write_atomically(path, &bytes);
                written.with_context(|| results::unwritable(path))
            })
        };
        add("png", sheet_png(&cells, quantity, &caption, &around)?)?;
        add("csv", figures.csv()?)?;
        add("json", figures.json()?.into())?;
        if self.args.kmz {
            add("kmz", kmz(&self.covered.grid(layer)?, quantity, &caption)?)?;
        }
        // Names have no lines of equal value.
        if self.args.contours && quantity.kind != outputs::coverage::Kind::Classes {
            let lines = geojson(&contour_lines(&self.covered.grid(layer)?, quantity)?)?;
            add("contours.geojson", lines.into())?;
        }
        Ok(figures)
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
fn layers(what: CoverLayer, coverage: &TiledCoverage) -> Vec<(Layer, Quantity)> {
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
fn description(layer: &ShelvedLayer<'_>, quantity: &Quantity, sheet: &Sheet) -> RasterDescription {
    let is_named = quantity.kind == outputs::coverage::Kind::Classes;
    // 255 is the void of bytes.
    let (cells, overviews) = match (is_named, quantity.classes.len() <= 255) {
        (true, true) => (CellType::Unsigned8, Overviews::Nearest),
        (true, false) => (CellType::Unsigned16, Overviews::Nearest),
        (false, _) => (CellType::Float32, Overviews::Average),
    };
    let band = Band::new(&quantity.title, quantity.unit);
    let mut description = RasterDescription::over(
        (layer.georeference(), layer.width(), layer.height()),
        (cells, band, overviews),
    );
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
    covered: &Covered<'_>,
    handed: &Handed,
    (folder, console): (&Path, &Console),
) -> anyhow::Result<()> {
    let covering = covered.covering;
    let raster = &covering.coverage.raster;
    let territory_km2 = raster.territory_km2();
    // Only cells with a link in both directions have a server.
    let servers = quantities::best_server(&covering.coverage.sectors);
    let linked_km2 = statistics(&covered.layer(Layer::BestServer), &servers, &[])?.area_km2;
    let linked_frac = linked_km2 / territory_km2;
    console.remark(&findings_text(&covering.findings));
    if !covering.findings.is_empty() {
        console.remark("\n");
    }
    console.text(&format!(
        "{}, {} × {} cells of {}\n\n{}\na link holds in {} km², {} of the territory's {} km²\n\n{}\n{}results: {}\n\n{CAUTION}\n",
        covering.network.name,
        raster.width,
        raster.height,
        format::metres(raster.cell_m),
        handed.rates.text(),
        format::number(linked_km2, 1),
        format::percent(linked_frac),
        format::number(territory_km2, 1),
        reused(&covering.coverage.reuse),
        covered.by.text(),
        folder.display(),
    ));
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
        "files": handed.files,
        "losses_by": covered.by,
        "reuse": covering.coverage.reuse,
    }))
}

/// What did not have to be computed again.
fn reused(reuse: &Reuse) -> String {
    let Reuse {
        launch_points,
        swept_launch_points,
        tiles,
        composed_tiles,
    } = reuse;
    format!(
        "losses of {} of {launch_points} launch points and {} of {tiles} tiles were kept from before",
        launch_points - swept_launch_points,
        tiles - composed_tiles,
    )
}
