//! Where losses and finished tiles are kept from one run to the next.
//!
//! What is kept has the digest of everything that it follows from as its
//! name: it is never out of date, only no longer asked for.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};

use raster::{CellWindow, Georeference, Mosaic};

use crate::mapped_ground::MappedGround;

/// Name of what is kept: a digest of everything it follows from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct ShelfName([u8; 32]);

impl ShelfName {
    /// A name by its digest.
    pub fn from_bytes(digest: [u8; 32]) -> Self {
        Self(digest)
    }

    /// The bytes of the digest.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Display for ShelfName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// Layers of cells of one extent, each `width` times `height` cells row by
/// row; NaN is "no data".
#[derive(Debug, Clone, Copy)]
pub struct ShelfLayers<'a> {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// The layers.
    pub layers: &'a [&'a [f32]],
}

/// Something could not be kept.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{reason}")]
pub struct NotKept {
    /// What the system said.
    pub reason: String,
}

/// Keeps layers under names. Whatever is handed out is bit for bit what was
/// kept; what is lost or damaged is as if it had never been kept.
pub trait Shelf: Sync {
    /// Whether something is kept under a name, whole and undamaged.
    fn has(&self, name: &ShelfName) -> bool;

    /// Some layers of what is kept, within a window of its cells.
    fn read(
        &self,
        name: &ShelfName,
        window: CellWindow,
        layers: Range<usize>,
    ) -> Option<Vec<Vec<f32>>>;

    /// Keeps layers, in place of what has the name.
    ///
    /// # Errors
    /// [`NotKept`] where there is no room.
    fn keep(&self, name: &ShelfName, layers: &ShelfLayers<'_>) -> Result<(), NotKept>;
}

/// A shelf that lasts as long as the program.
#[derive(Debug, Default)]
pub struct MemoryShelf {
    kept: Mutex<BTreeMap<ShelfName, Kept>>,
}

#[derive(Debug)]
struct Kept {
    width: usize,
    height: usize,
    layers: Vec<Arc<[f32]>>,
}

impl Shelf for MemoryShelf {
    fn has(&self, name: &ShelfName) -> bool {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.contains_key(name)
    }

    fn read(
        &self,
        name: &ShelfName,
        window: CellWindow,
        layers: Range<usize>,
    ) -> Option<Vec<Vec<f32>>> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let found = kept.get(name)?;
        let is_inside =
            window.col + window.width <= found.width && window.row + window.height <= found.height;
        let layers = found.layers.get(layers).filter(|_| is_inside)?;
        Some(layers.iter().map(|l| cut(l, found.width, window)).collect())
    }

    fn keep(&self, name: &ShelfName, layers: &ShelfLayers<'_>) -> Result<(), NotKept> {
        let kept = Kept {
            width: layers.width,
            height: layers.height,
            layers: layers.layers.iter().map(|l| Arc::from(*l)).collect(),
        };
        let mut shelf = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        shelf.insert(*name, kept);
        Ok(())
    }
}

/// The cells of a window of a layer.
pub(super) fn cut(layer: &[f32], width: usize, window: CellWindow) -> Vec<f32> {
    let mut cells = Vec::with_capacity(window.width * window.height);
    for row in window.row..window.row + window.height {
        let start = row * width + window.col;
        cells.extend_from_slice(&layer[start..start + window.width]);
    }
    cells
}

/// Takes in what a name depends on, one thing after the other.
pub(super) struct Digest(blake3::Hasher);

impl Digest {
    /// Of something made by this build of the program; `kind` keeps different
    /// things apart.
    pub(super) fn of(kind: &str) -> Self {
        let mut digest = Self(blake3::Hasher::new());
        digest.text(env!("MASTWRIGHT_SOURCES"));
        // Functions of the system's library differ in their last digit.
        digest.text(std::env::consts::ARCH);
        digest.text(kind);
        digest
    }

    pub(super) fn text(&mut self, text: &str) {
        self.whole(text.len() as i64);
        self.0.update(text.as_bytes());
    }

    pub(super) fn number(&mut self, number: f64) {
        self.0.update(&number.to_bits().to_le_bytes());
    }

    pub(super) fn whole(&mut self, number: i64) {
        self.0.update(&number.to_le_bytes());
    }

    pub(super) fn name(&mut self, name: &ShelfName) {
        self.0.update(&name.0);
    }

    fn cells(&mut self, cells: &[f32]) {
        let mut bytes = Vec::with_capacity(1 << 16);
        for some in cells.chunks(1 << 14) {
            bytes.clear();
            bytes.extend(some.iter().flat_map(|c| c.to_bits().to_le_bytes()));
            self.0.update(&bytes);
        }
    }

    fn mosaic(&mut self, mosaic: &Mosaic) {
        self.whole(mosaic.grids().len() as i64);
        for grid in mosaic.grids() {
            self.place(grid.georeference());
            self.whole(grid.width() as i64);
            self.whole(grid.height() as i64);
            self.cells(grid.cells());
        }
    }

    /// A reference system and where its cells lie.
    pub(super) fn place(&mut self, georeference: &Georeference) {
        self.text(&format!("{:?}", georeference.crs()));
        let affine = georeference.affine();
        let origin = affine.origin();
        let numbers = [origin.x, origin.y].into_iter().chain(affine.steps());
        numbers.for_each(|n| self.number(n));
    }

    /// Every cell of a ground and what its classes stand for.
    pub(super) fn ground(&mut self, ground: &MappedGround) {
        self.mosaic(ground.elevation());
        match ground.land_cover() {
            Some(cover) => {
                self.mosaic(&cover.classes);
                self.text(&format!("{:?}", cover.clutter.classes));
            }
            None => self.text("no land cover"),
        }
        match ground.canopy() {
            Some(canopy) => {
                self.mosaic(&canopy.heights);
                self.number(canopy.unit_m);
            }
            None => self.text("no canopy"),
        }
    }

    pub(super) fn finish(self) -> ShelfName {
        ShelfName(*self.0.finalize().as_bytes())
    }
}
