//! Several grids as one.

use geodesy::{Crs, LonLat, MapXy, wrap_lon_deg};

use crate::{Affine, CellXy, Georeference, Grid};

/// Several grids read as one raster.
///
/// Grids on the same lattice (same system, cell size and rotation, offset by
/// whole cells) are joined into one grid first, so that a value between two
/// tiles is interpolated as if there were no seam. Where grids overlap, the
/// first that has data wins.
#[derive(Debug, Clone, Default)]
pub struct Mosaic {
    grids: Vec<Grid>,
    /// The different reference systems, and for each grid which one it has.
    systems: Vec<Crs>,
    system_of: Vec<usize>,
}

/// Lattices may disagree by this share of a cell over their whole extent:
/// file headers round their cell sizes.
const SAME_LATTICE_CELLS: f64 = 0.01;

/// Joining may not claim more than this many times the cells there are, so
/// that two far tiles do not fill the memory with the void between them.
const MAX_JOIN_GROWTH: usize = 3;

impl Mosaic {
    /// Joins grids, given in order of precedence.
    pub fn new(grids: Vec<Grid>) -> Self {
        let mut groups: Vec<Vec<Grid>> = Vec::new();
        for grid in grids {
            match groups.iter_mut().find(|g| joins(g, &grid)) {
                Some(group) => group.push(grid),
                None => groups.push(vec![grid]),
            }
        }
        let mut mosaic = Self::default();
        for grid in groups.into_iter().filter_map(join) {
            let crs = grid.georeference().crs();
            let known = mosaic.systems.iter().position(|s| s == crs);
            mosaic.system_of.push(known.unwrap_or(mosaic.systems.len()));
            if known.is_none() {
                mosaic.systems.push(crs.clone());
            }
            mosaic.grids.push(grid);
        }
        mosaic
    }

    /// The joined grids, in order of precedence.
    pub fn grids(&self) -> &[Grid] {
        &self.grids
    }

    /// Whether there is no grid at all.
    pub fn is_empty(&self) -> bool {
        self.grids.is_empty()
    }

    /// Bilinear value at a place; NaN where no grid has one.
    pub fn bilinear(&self, place: LonLat) -> f64 {
        let values = self.grids.iter().map(|g| g.bilinear(place));
        values.into_iter().find(|v| !v.is_nan()).unwrap_or(f64::NAN)
    }

    /// Value of the cell that contains the place; NaN where no grid has one.
    pub fn nearest(&self, place: LonLat) -> f32 {
        let values = self.grids.iter().map(|g| g.nearest(place));
        values.into_iter().find(|v| !v.is_nan()).unwrap_or(f32::NAN)
    }

    /// Class of the cell that contains the place; `None` where unknown.
    pub fn class(&self, place: LonLat) -> Option<i32> {
        class_of(self.nearest(place))
    }

    /// The finest cell spacing of the grids, on the ground. \[m\]
    pub fn spacing_m(&self) -> Option<f64> {
        let spacings = self.grids.iter().filter_map(Grid::spacing_m);
        spacings.min_by(f64::total_cmp)
    }

    /// The different reference systems of the grids.
    pub(crate) fn systems(&self) -> &[Crs] {
        &self.systems
    }

    /// Each grid with the number of its reference system.
    pub(crate) fn grids_with_system(&self) -> impl Iterator<Item = (&Grid, usize)> {
        self.grids.iter().zip(self.system_of.iter().copied())
    }
}

/// The class number in a cell; NaN is "unknown".
pub(crate) fn class_of(cell: f32) -> Option<i32> {
    (!cell.is_nan()).then_some(cell as i32)
}

/// A rectangle on the lattice of a group's first grid, in whole cells.
#[derive(Debug, Clone, Copy)]
struct Extent {
    left: i64,
    top: i64,
    right: i64,
    bottom: i64,
}

impl Extent {
    fn of(offset: (i64, i64), grid: &Grid) -> Self {
        Self {
            left: offset.0,
            top: offset.1,
            right: offset.0 + grid.width() as i64,
            bottom: offset.1 + grid.height() as i64,
        }
    }

    fn union(self, other: Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    fn cells(self) -> Option<usize> {
        let width = usize::try_from(self.right - self.left).ok()?;
        let height = usize::try_from(self.bottom - self.top).ok()?;
        width.checked_mul(height)
    }
}

/// Whether a grid lies on the group's lattice and near enough to be joined.
fn joins(group: &[Grid], grid: &Grid) -> bool {
    let mut extent: Option<Extent> = None;
    let mut cells = 0_usize;
    for member in group.iter().chain([grid]) {
        let Some(offset) = offset_on(&group[0], member) else {
            return false;
        };
        let own = Extent::of(offset, member);
        extent = Some(extent.map_or(own, |e| e.union(own)));
        cells = cells.saturating_add(member.cells().len());
    }
    let joined = extent.and_then(Extent::cells);
    joined.is_some_and(|joined| joined <= cells.saturating_mul(MAX_JOIN_GROWTH))
}

/// Where a grid starts on another's lattice, if it lies on it.
fn offset_on(lattice: &Grid, grid: &Grid) -> Option<(i64, i64)> {
    let (a, b) = (lattice.georeference(), grid.georeference());
    if a.crs() != b.crs() {
        return None;
    }
    let cell = a
        .affine()
        .steps()
        .into_iter()
        .map(f64::abs)
        .fold(0.0, f64::max);
    let reach = (lattice.width() + lattice.height() + grid.width() + grid.height()) as f64;
    let same_steps = a.affine().steps().into_iter().zip(b.affine().steps());
    for (one, other) in same_steps {
        if (one - other).abs() * reach > SAME_LATTICE_CELLS * cell {
            return None;
        }
    }
    let mut origin = b.affine().origin();
    if a.crs().is_geographic() {
        origin.x = wrap_lon_deg(origin.x, a.affine().origin().x);
    }
    let at = a.affine().to_cell(origin);
    let (col, row) = (at.col.round(), at.row.round());
    let on_lattice =
        (at.col - col).abs() <= SAME_LATTICE_CELLS && (at.row - row).abs() <= SAME_LATTICE_CELLS;
    let near = col.abs() < 1e12 && row.abs() < 1e12;
    (on_lattice && near).then_some((col as i64, row as i64))
}

/// One grid of a group's cells.
fn join(mut group: Vec<Grid>) -> Option<Grid> {
    if group.len() < 2 {
        return group.pop();
    }
    let offsets: Vec<(i64, i64)> = group
        .iter()
        .filter_map(|g| offset_on(&group[0], g))
        .collect();
    let extents = offsets.iter().zip(&group).map(|(o, g)| Extent::of(*o, g));
    let whole = extents.reduce(Extent::union)?;
    let width = usize::try_from(whole.right - whole.left).ok()?;
    let height = usize::try_from(whole.bottom - whole.top).ok()?;
    let affine = group[0]
        .georeference()
        .affine()
        .shifted(whole.left as f64, whole.top as f64);
    let crs = group[0].georeference().crs().clone();
    let mut cells = vec![f32::NAN; width * height];
    for (grid, offset) in group.into_iter().zip(offsets) {
        let left = usize::try_from(offset.0 - whole.left).ok()?;
        let top = usize::try_from(offset.1 - whole.top).ok()?;
        for (i, row) in grid.cells().chunks_exact(grid.width()).enumerate() {
            let start = (top + i) * width + left;
            let target = &mut cells[start..start + row.len()];
            for (to, from) in target.iter_mut().zip(row) {
                if to.is_nan() {
                    *to = *from;
                }
            }
        }
    }
    Grid::new(
        Georeference::new(crs, tidy(affine), width, height),
        width,
        height,
        cells,
    )
    .ok()
}

/// Keeps the corner of the joined grid free of the noise of `shifted` where
/// nothing was shifted.
fn tidy(affine: Affine) -> Affine {
    let MapXy { x, y } = affine.to_map(CellXy { col: 0.0, row: 0.0 });
    Affine::new(MapXy { x, y }, affine.steps()).unwrap_or(affine)
}
