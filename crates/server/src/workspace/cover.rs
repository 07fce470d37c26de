//! Coverage over the map: kept losses, the picture that follows a drag, and
//! the lattice that brings both onto the page.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Instant;

use axum::http::StatusCode;
use geodesy::LonLatBox;
use outputs::coverage::quantities::{self, Direction};
use outputs::coverage::{Kind, Quantity};
use outputs::web_map::MercatorLattice;
use pipeline::engine::Surroundings;
use pipeline::engine::adaptation::MimoMode;
use pipeline::engine::coverage::{
    self, Coverage, CoverageError, CoverageRaster, CoverageRequest, GroundPieces, Layer, LossGrids,
    PaintError, Painter, Picture, TileSources,
};
use pipeline::engine::study::study_again;
use pipeline::model::{Edit, Network};
use pipeline::{Ground, World as _};
use store::world::FolderWorld;

use super::jobs::{CancelOnDrop, JobState};
use super::scene::Scene;
use super::study::stopped;
use super::{Workspace, aside, held, resolve};
use crate::api::Bounds;
use crate::api::consequence::Counts;
use crate::api::coverage::{CoverageList, GridHead, PreviewQuestion, QuantityClass};
use crate::api::{coverage as wire, problem::Problem};

/// What is kept between two looks at the map.
#[derive(Debug, Default)]
pub(crate) struct CoverKept {
    losses: Option<LossesKept>,
    lattice: Option<(CoverageRaster, Arc<MercatorLattice>)>,
    picture: Option<(PictureKey, Arc<Coverage>)>,
    painter: Option<PainterKept>,
}

#[derive(Debug)]
struct LossesKept {
    ground: Arc<Ground>,
    losses: LossGrids,
}

/// A picture that follows edits.
#[derive(Debug)]
struct PainterKept {
    key: PictureKey,
    painter: Painter,
    /// Takes it back to the design as it stands.
    undo: Vec<Edit>,
}

/// What a picture is of.
#[derive(Debug, Clone, PartialEq)]
struct PictureKey {
    revision: String,
    cell_m: f64,
    sector: Option<String>,
    layer: Layer,
    /// Whether uplink interference was known.
    is_studied: bool,
}

/// Latest preview of every window.
pub(crate) type Newest = Mutex<BTreeMap<String, (u64, Arc<JobState>)>>;

/// A grid to be sent.
#[derive(Debug)]
pub(crate) struct GridAnswer {
    head: GridHead,
    values: Vec<f32>,
}

/// Cells up to which a territory is shown in cells of [`FINEST_CELL_M`].
const MOST_CELLS: f64 = 1.4e6;
const FINEST_CELL_M: f64 = 30.0;
/// Windows that are remembered.
const MOST_WINDOWS: usize = 64;

/// The quantities of the map in the order of its list.
const LAYERS: [Layer; 12] = [
    Layer::DownlinkRate,
    Layer::UplinkRate,
    Layer::Probability,
    Layer::DownlinkLevel,
    Layer::UplinkLevel,
    Layer::DownlinkSinr,
    Layer::DownlinkMcs,
    Layer::DownlinkMode,
    Layer::BestServer,
    Layer::Servers,
    Layer::PathLoss,
    Layer::LineOfSight,
];

/// What the cells of a layer hold.
pub(crate) fn quantity(layer: Layer, (sectors, steps): (&[String], &[String])) -> Option<Quantity> {
    use Direction::{Downlink, Uplink};
    Some(match layer {
        Layer::DownlinkRate => quantities::rate(Downlink),
        Layer::UplinkRate => quantities::rate(Uplink),
        Layer::Probability => quantities::probability(),
        Layer::DownlinkLevel => quantities::received_level(Downlink),
        Layer::UplinkLevel => quantities::received_level(Uplink),
        Layer::DownlinkSinr => quantities::sinr(Downlink),
        Layer::DownlinkMcs => quantities::mcs(Downlink, steps),
        Layer::DownlinkMode => {
            let modes = [
                MimoMode::SingleStream,
                MimoMode::SpaceTimeCoding,
                MimoMode::SpatialMultiplexing,
            ];
            quantities::mimo_mode(Downlink, &modes.map(|mode| mode.name().to_owned()))
        }
        Layer::BestServer => quantities::best_server(sectors),
        Layer::Servers => quantities::servers(),
        Layer::PathLoss => quantities::path_loss(),
        Layer::LineOfSight => quantities::line_of_sight(),
        _ => return None,
    })
}

/// A layer by the name of its quantity.
pub(crate) fn layer_of(name: &str) -> Result<Layer, Problem> {
    let is_named = |layer: &Layer| quantity(*layer, (&[], &[])).is_some_and(|q| q.name == name);
    LAYERS
        .into_iter()
        .find(is_named)
        .ok_or_else(|| Problem::not_found(format!("there is no quantity `{name}`")))
}

/// For the page.
fn shown(quantity: &Quantity) -> wire::Quantity {
    wire::Quantity {
        name: quantity.name.to_owned(),
        title: quantity.title.clone(),
        unit: quantity.unit.to_owned(),
        shown_unit: quantity.shown_unit().to_owned(),
        is_named: quantity.kind == Kind::Classes,
        classes: quantity
            .classes
            .iter()
            .map(|class| QuantityClass {
                from: class.from,
                to: class.to,
                label: class.label.clone(),
                colour: {
                    let [r, g, b] = class.colour;
                    format!("#{r:02x}{g:02x}{b:02x}")
                },
            })
            .collect(),
        best_first: quantity.best_first(),
    }
}

/// Side of a cell that a network is shown in where none is named.
pub(crate) fn usual_cell_m(network: &Network) -> f64 {
    let cells = CoverageRaster::of(network, FINEST_CELL_M);
    let cells = cells.map_or(0.0, |raster| (raster.width * raster.height) as f64);
    let side_m = FINEST_CELL_M * (cells / MOST_CELLS).sqrt().max(1.0);
    (side_m / 5.0).ceil() * 5.0
}

fn no_coverage(error: &CoverageError) -> Problem {
    match error {
        CoverageError::Interrupted(_) => stopped(),
        CoverageError::UnknownSector(_) => Problem::not_found(error.to_string()),
        other => Problem::unusable(other.to_string()),
    }
}

impl Workspace {
    /// The quantities that a map of the design has.
    pub(crate) fn coverage_list(&self) -> Result<CoverageList, Problem> {
        let scene = self.scene();
        let network = scene.network()?;
        let sectors: Vec<String> = network.sectors.iter().map(|s| s.id.to_string()).collect();
        let mut steps: Vec<String> = Vec::new();
        for mcs in network.sectors.iter().flat_map(|s| &s.air_interface.mcs) {
            if !steps.contains(&mcs.name) {
                steps.push(mcs.name.clone());
            }
        }
        let quantities = LAYERS.into_iter();
        let quantities = quantities.filter_map(|layer| quantity(layer, (&sectors, &steps)));
        Ok(CoverageList {
            revision: scene.revision.clone(),
            cell_m: usual_cell_m(network),
            quantities: quantities.map(|quantity| shown(&quantity)).collect(),
        })
    }

    /// Begins to work out the losses of the design as it stands, so that the
    /// first drag does not wait for them.
    pub(crate) fn prepare_coverage(self: &Arc<Self>) {
        let Ok(asked) = Asked::new(self, (Layer::DownlinkRate, None, None)) else {
            return;
        };
        let revision = &asked.scene.revision;
        if held(&self.prepared).replace(revision.clone()).as_ref() == Some(revision) {
            return;
        }
        let workspace = Arc::clone(self);
        let running = self.jobs.begin("coverage", &self.events);
        // What cannot be worked out is told to whoever asks for it.
        drop(tokio::task::spawn_blocking(move || {
            let mut kept = held(&workspace.cover);
            drop(kept.losses(&workspace, &asked, &running.job));
        }));
    }

    /// The grid of one quantity.
    pub(crate) async fn coverage_grid(
        self: &Arc<Self>,
        name: String,
        sector: Option<String>,
        cell_m: Option<f64>,
    ) -> Result<GridAnswer, Problem> {
        let layer = layer_of(&name)?;
        let running = self.jobs.begin("coverage", &self.events);
        let _cancel = CancelOnDrop(Arc::clone(&running.job));
        let workspace = Arc::clone(self);
        aside(move || {
            let began = now();
            let asked = Asked::new(&workspace, (layer, sector, cell_m))?;
            let mut kept = held(&workspace.cover);
            let coverage = kept.coverage(&workspace, &asked, &running.job)?;
            let head = Head {
                asked: &asked,
                counts: None,
                ticket: 0,
                began,
            };
            kept.answer(&coverage, head)
        })
        .await
    }

    /// The grid and the counts with changes that are not made. A later ticket
    /// of the same window ends an earlier one.
    pub(crate) async fn preview(
        self: &Arc<Self>,
        question: PreviewQuestion,
    ) -> Result<GridAnswer, Problem> {
        let running = self.jobs.begin("preview", &self.events);
        self.newest_of(&question, &running.job)?;
        let _cancel = CancelOnDrop(Arc::clone(&running.job));
        let workspace = Arc::clone(self);
        aside(move || {
            let began = now();
            let layer = match &question.quantity {
                Some(name) => layer_of(name)?,
                None => Layer::DownlinkRate,
            };
            let asked = Asked::new(
                &workspace,
                (layer, question.sector.clone(), question.cell_m),
            )?;
            let edits = resolve::edits(&asked.scene, &question.changes)?;
            let mut changed = Network::clone(asked.scene.network()?);
            Edit::apply_all(&edits, &mut changed)
                .map_err(|error| Problem::unusable(error.to_string()))?;
            let counts = question
                .with_counts
                .then(|| workspace.counts_of(&asked.scene, &changed, &running.job))
                .transpose()?
                .flatten();
            let mut kept = held(&workspace.cover);
            let head = Head {
                asked: &asked,
                counts,
                ticket: question.ticket,
                began,
            };
            if question.quantity.is_none() {
                return Ok(head.alone());
            }
            let made = kept.preview(&workspace, (&asked, &edits, &changed), &running.job)?;
            match made {
                Some(coverage) => kept.answer(&coverage, head),
                None => kept.answer_from_picture(head),
            }
        })
        .await
    }

    fn newest_of(&self, question: &PreviewQuestion, job: &Arc<JobState>) -> Result<(), Problem> {
        let mut newest = held(&self.newest);
        let superseded = || {
            Problem::new(
                StatusCode::CONFLICT,
                "superseded",
                "a later preview was asked for",
            )
        };
        if let Some((ticket, earlier)) = newest.get(&question.window) {
            if *ticket > question.ticket {
                return Err(superseded());
            }
            earlier.cancel();
        }
        if newest.len() >= MOST_WINDOWS && !newest.contains_key(&question.window) {
            newest.pop_first();
        }
        newest.insert(question.window.clone(), (question.ticket, Arc::clone(job)));
        Ok(())
    }

    /// Counts of a changed network; `None` while the design itself is not studied.
    fn counts_of(
        &self,
        scene: &Scene,
        changed: &Network,
        job: &JobState,
    ) -> Result<Option<Counts>, Problem> {
        let Some(study) = self.study_of(&scene.revision) else {
            return Ok(None);
        };
        let ground = study.ground.surroundings.as_ref();
        let (result, _) = study_again(changed, ground, Some(&study.kept.paths), &self.run(job))
            .map_err(|_| stopped())?;
        Ok(Some(Counts::from(&result.summary)))
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "how long an answer took is told with it"
)]
fn now() -> Instant {
    Instant::now()
}

/// What is asked of the map.
struct Asked {
    scene: Arc<Scene>,
    key: PictureKey,
    uplink_interference_dbm: Option<Vec<f64>>,
}

impl Asked {
    fn new(
        workspace: &Workspace,
        (layer, sector, cell_m): (Layer, Option<String>, Option<f64>),
    ) -> Result<Self, Problem> {
        let scene = workspace.scene();
        let network = scene.network()?;
        let study = workspace.study_of(&scene.revision);
        let uplink_interference_dbm = study.as_ref().map(|study| {
            let sectors = study.result.sectors.iter();
            let level = |dbm: Option<f64>| dbm.unwrap_or(f64::NEG_INFINITY);
            sectors.map(|s| level(s.uplink_interference_dbm)).collect()
        });
        let cell_m = cell_m.unwrap_or_else(|| usual_cell_m(network));
        if !(5.0..=5000.0).contains(&cell_m) {
            return Err(Problem::unusable(format!(
                "`cell_m` is `{cell_m}`, outside 5 to 5000\nhint: choose a value between the two"
            )));
        }
        Ok(Self {
            key: PictureKey {
                revision: scene.revision.clone(),
                cell_m,
                sector,
                layer,
                is_studied: study.is_some(),
            },
            uplink_interference_dbm,
            scene,
        })
    }

    fn request(&self) -> CoverageRequest {
        CoverageRequest {
            cell_m: self.key.cell_m,
            sector: self.key.sector.clone(),
            uplink_interference_dbm: self.uplink_interference_dbm.clone(),
            layers: vec![self.key.layer],
            ..CoverageRequest::default()
        }
    }
}

/// What a head says beside the picture.
struct Head<'a> {
    asked: &'a Asked,
    counts: Option<Counts>,
    ticket: u64,
    began: Instant,
}

impl Head<'_> {
    fn with(
        self,
        (width, height): (usize, usize),
        bounds: Bounds,
        quantity: wire::Quantity,
    ) -> GridHead {
        GridHead {
            width,
            height,
            bounds,
            quantity,
            sector: self.asked.key.sector.clone(),
            cell_m: self.asked.key.cell_m,
            revision: self.asked.key.revision.clone(),
            counts: self.counts,
            ticket: self.ticket,
            took_ms: self.began.elapsed().as_secs_f64() * 1e3,
        }
    }

    /// Counts without a picture.
    fn alone(self) -> GridAnswer {
        let nowhere = Bounds {
            west_deg: 0.0,
            south_deg: 0.0,
            east_deg: 0.0,
            north_deg: 0.0,
        };
        let quantity = shown(&quantities::rate(Direction::Downlink));
        GridAnswer {
            head: self.with((0, 0), nowhere, quantity),
            values: Vec::new(),
        }
    }
}

impl CoverKept {
    /// The coverage of the design as it stands.
    fn coverage(
        &mut self,
        workspace: &Workspace,
        asked: &Asked,
        job: &JobState,
    ) -> Result<Arc<Coverage>, Problem> {
        if let Some((key, coverage)) = &self.picture
            && *key == asked.key
        {
            return Ok(Arc::clone(coverage));
        }
        let network = asked.scene.network()?;
        let coverage = Arc::new(self.covered(workspace, (asked, network), job)?);
        self.picture = Some((asked.key.clone(), Arc::clone(&coverage)));
        Ok(coverage)
    }

    /// Covers a network, its losses kept for the next time.
    fn covered(
        &mut self,
        workspace: &Workspace,
        (asked, network): (&Asked, &Network),
        job: &JobState,
    ) -> Result<Coverage, Problem> {
        let run = workspace.run(job);
        let (ground, kept) = self.kept_losses(workspace, (asked, network), job)?;
        let surroundings = ground.surroundings.as_ref();
        let (coverage, losses) = coverage::cover(
            network,
            surroundings,
            (&asked.request(), kept.as_ref()),
            &run,
        )
        .map_err(|error| no_coverage(&error))?;
        self.losses = Some(LossesKept { ground, losses });
        Ok(coverage)
    }

    /// The losses of the design as it stands.
    fn losses(
        &mut self,
        workspace: &Workspace,
        asked: &Asked,
        job: &JobState,
    ) -> Result<LossGrids, Problem> {
        let network = asked.scene.network()?;
        let (ground, kept) = self.kept_losses(workspace, (asked, network), job)?;
        let surroundings = ground.surroundings.as_ref();
        let request = (&asked.request(), kept.as_ref());
        let losses = coverage::losses(network, surroundings, request, &workspace.run(job))
            .map_err(|error| no_coverage(&error))?;
        self.losses = Some(LossesKept {
            ground,
            losses: losses.clone(),
        });
        Ok(losses)
    }

    /// The ground of a network and losses over it: those in memory, and for the
    /// design as it stands those that lie in the results or are put there.
    fn kept_losses(
        &mut self,
        workspace: &Workspace,
        (asked, network): (&Asked, &Network),
        job: &JobState,
    ) -> Result<(Arc<Ground>, Option<LossGrids>), Problem> {
        let ground = workspace.ground(&asked.scene, network);
        let fits = |kept: &&LossesKept| Arc::ptr_eq(&kept.ground, &ground);
        let kept = self.losses.as_ref().filter(fits);
        let kept = kept.map(|kept| kept.losses.clone());
        let is_designed = asked
            .scene
            .network()
            .is_ok_and(|own| std::ptr::eq(&raw const **own, network));
        if !is_designed {
            return Ok((ground, kept));
        }
        let Some(shelf) = workspace.shelf() else {
            return Ok((ground, kept));
        };
        let pieces = Pieces {
            world: FolderWorld::new(&workspace.folder, asked.scene.sources.clone()),
            network,
        };
        let sources = TileSources {
            ground: &pieces,
            shelf,
            tile_cells: TileSources::TILE_CELLS,
        };
        let request = (&asked.request(), kept.as_ref());
        match coverage::losses_on_shelf(network, request, &sources, &workspace.run(job)) {
            Ok(losses) => Ok((ground, Some(losses))),
            Err(CoverageError::Interrupted(_)) => Err(stopped()),
            // Without the shelf everything is only worked out again.
            Err(_) => Ok((ground, kept)),
        }
    }

    /// The coverage with edits: the picture follows them where it can (`None`),
    /// and a coverage is made anew where masts or heights change.
    fn preview(
        &mut self,
        workspace: &Workspace,
        (asked, edits, changed): (&Asked, &[Edit], &Network),
        job: &JobState,
    ) -> Result<Option<Coverage>, Problem> {
        let numbers = edits.iter().all(|edit| matches!(edit, Edit::Sector { .. }));
        if !numbers {
            return self.covered(workspace, (asked, changed), job).map(Some);
        }
        if self
            .painter
            .as_ref()
            .is_none_or(|kept| kept.key != asked.key)
        {
            self.painter = None;
            let losses = self.losses(workspace, asked, job)?;
            let picture = Picture {
                sector: asked.key.sector.clone(),
                layers: vec![asked.key.layer],
                uplink_interference_dbm: asked.uplink_interference_dbm.clone(),
            };
            let network = asked.scene.network()?;
            let painter = Painter::new(network, losses, (picture, &workspace.run(job)));
            self.painter = Some(PainterKept {
                key: asked.key.clone(),
                painter: painter.map_err(|error| no_picture(&error))?,
                undo: Vec::new(),
            });
        }
        match self.follow(workspace, edits, job) {
            Some(result) => result.map(|()| None),
            None => self.covered(workspace, (asked, changed), job).map(Some),
        }
    }

    /// Moves the picture from one preview to the next; `None` where it cannot follow.
    fn follow(
        &mut self,
        workspace: &Workspace,
        edits: &[Edit],
        job: &JobState,
    ) -> Option<Result<(), Problem>> {
        let run = workspace.run(job);
        let mut kept = self.painter.take()?;
        let from_here: Vec<Edit> = kept.undo.iter().chain(edits).cloned().collect();
        match kept.painter.edit(&from_here, &run) {
            Ok(repainted) => {
                // The way back of the whole goes by the last preview; only its
                // part from the design as it stands is kept.
                let own = repainted.undo.len() - kept.undo.len();
                kept.undo = repainted.undo.into_iter().take(own).collect();
                self.painter = Some(kept);
                Some(Ok(()))
            }
            Err(PaintError::Interrupted(_)) => Some(Err(stopped())),
            Err(PaintError::Edit(error)) => {
                self.painter = Some(kept);
                Some(Err(Problem::unusable(error.to_string())))
            }
            Err(_) => {
                self.painter = Some(kept);
                None
            }
        }
    }

    fn lattice(&mut self, raster: &CoverageRaster) -> Result<Arc<MercatorLattice>, Problem> {
        if let Some((own, lattice)) = &self.lattice
            && own == raster
        {
            return Ok(Arc::clone(lattice));
        }
        let size = (raster.width, raster.height);
        let lattice = MercatorLattice::over(&raster.georeference, size)
            .map_err(|error| Problem::unusable(error.to_string()))?;
        let lattice = Arc::new(lattice);
        self.lattice = Some((raster.clone(), Arc::clone(&lattice)));
        Ok(lattice)
    }

    fn answer(&mut self, coverage: &Coverage, head: Head<'_>) -> Result<GridAnswer, Problem> {
        let lattice = self.lattice(&coverage.raster)?;
        grid(coverage, &lattice, head)
    }

    /// The picture as edits have left it.
    fn answer_from_picture(&mut self, head: Head<'_>) -> Result<GridAnswer, Problem> {
        let gone = || Problem::fault("the picture is gone");
        let raster = self
            .painter
            .as_ref()
            .map(|kept| kept.painter.coverage().raster.clone());
        let lattice = self.lattice(&raster.ok_or_else(gone)?)?;
        let kept = self.painter.as_ref().ok_or_else(gone)?;
        grid(kept.painter.coverage(), &lattice, head)
    }
}

/// A coverage on the lattice of the page.
fn grid(
    coverage: &Coverage,
    lattice: &MercatorLattice,
    head: Head<'_>,
) -> Result<GridAnswer, Problem> {
    let layer = head.asked.key.layer;
    let names = (coverage.sectors.as_slice(), coverage.mcs_names.as_slice());
    let quantity = quantity(layer, names);
    let quantity = quantity.ok_or_else(|| Problem::fault("a layer without a quantity"))?;
    let values = lattice.values(coverage.cells(layer).unwrap_or_default());
    let bounds = Bounds {
        west_deg: lattice.west_deg,
        south_deg: lattice.south_deg,
        east_deg: lattice.east_deg,
        north_deg: lattice.north_deg,
    };
    Ok(GridAnswer {
        head: head.with((lattice.width, lattice.height), bounds, shown(&quantity)),
        values,
    })
}

fn no_picture(error: &PaintError) -> Problem {
    match error {
        PaintError::Interrupted(_) => stopped(),
        other => Problem::unusable(other.to_string()),
    }
}

impl GridAnswer {
    /// As [`GridHead`] says.
    pub(crate) fn bytes(&self) -> Result<Vec<u8>, Problem> {
        let mut head = serde_json::to_vec(&self.head)
            .map_err(|error| Problem::fault(format!("the head has no JSON form: {error}")))?;
        while head.len() % 4 != 0 {
            head.push(b' ');
        }
        let length = u32::try_from(head.len()).unwrap_or(u32::MAX);
        let mut bytes = Vec::with_capacity(8 + head.len() + size_of_val(&*self.values));
        bytes.extend_from_slice(b"MWG1");
        bytes.extend_from_slice(&length.to_le_bytes());
        bytes.extend_from_slice(&head);
        let start = bytes.len();
        bytes.resize(start + size_of_val(&*self.values), 0);
        let (cells, _) = bytes[start..].as_chunks_mut::<4>();
        for (cell, value) in cells.iter_mut().zip(&self.values) {
            *cell = value.to_le_bytes();
        }
        Ok(bytes)
    }
}

/// The ground of the folder by the piece, as coverage from the command line
/// reads it: its losses are found here, and the other way round.
struct Pieces<'a> {
    world: FolderWorld,
    network: &'a Network,
}

impl GroundPieces for Pieces<'_> {
    fn piece(&self, extent: &LonLatBox) -> Option<Arc<dyn Surroundings>> {
        let ground = self.world.ground_piece(self.network, extent);
        Some(Arc::from(ground.surroundings))
    }
}
