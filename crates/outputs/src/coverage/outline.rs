//! Outlines of classes along the edges of cells.
//!
//! Not by a contour library: that draws between cell centres and knows no
//! void, so that its areas are not those of the cells, and it sorts rings into
//! polygons by comparing each with each. Here a ring belongs to the patch of
//! cells on its left, which is known from the start: the time grows with the
//! cells alone, and the areas are those of [`super::statistics`].

/// A corner of the grid: column and row.
pub(super) type Corner = (usize, usize);

/// One patch of cells of a class that touch along edges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Patch {
    /// Counterclockwise with rows going down, closed: the last corner is the first.
    pub(super) exterior: Vec<Corner>,
    /// Clockwise, closed.
    pub(super) holes: Vec<Vec<Corner>>,
}

/// Patches of each class, in the order in which a reader meets them.
pub(super) fn patches(
    cells: &[Option<usize>],
    (width, height): (usize, usize),
    classes: usize,
) -> Vec<Vec<Patch>> {
    let labels = Labels::new(cells, width, height);
    let mut rings = labels.rings();
    let mut found = vec![Vec::new(); classes];
    for (class, rings) in labels.classes.iter().zip(&mut rings) {
        let exterior = rings.iter().position(|r| doubled_area(r) > 0);
        if let (Some(at), Some(patches)) = (exterior, found.get_mut(*class)) {
            let exterior = rings.remove(at);
            let holes = std::mem::take(rings);
            patches.push(Patch { exterior, holes });
        }
    }
    found
}

/// Twice the signed area; positive counterclockwise, rows going down.
pub(super) fn doubled_area(ring: &[Corner]) -> i64 {
    let number = |c: &Corner| (c.0 as i64, c.1 as i64);
    ring.windows(2)
        .map(|pair| {
            let ((x0, y0), (x1, y1)) = (number(&pair[0]), number(&pair[1]));
            x1 * y0 - x0 * y1
        })
        .sum()
}

const NONE: u32 = u32::MAX;

/// Which patch each cell belongs to.
struct Labels {
    width: usize,
    height: usize,
    cells: Vec<u32>,
    /// Class of each patch.
    classes: Vec<usize>,
}

/// East, north, west, south, in the order of left turns.
const STEPS: [(isize, isize); 4] = [(1, 0), (0, -1), (-1, 0), (0, 1)];
/// The cell on the left of a step from a corner.
const LEFT: [(isize, isize); 4] = [(0, -1), (-1, -1), (-1, 0), (0, 0)];
/// The cell on the right.
const RIGHT: [(isize, isize); 4] = [(0, 0), (0, -1), (-1, -1), (-1, 0)];

impl Labels {
    fn new(cells: &[Option<usize>], width: usize, height: usize) -> Self {
        let mut labels = Self {
            width,
            height,
            cells: vec![NONE; width * height],
            classes: Vec::new(),
        };
        let mut waiting = Vec::new();
        for (start, class) in cells.iter().enumerate() {
            let Some(class) = *class else { continue };
            if labels.cells[start] != NONE {
                continue;
            }
            let label = labels.classes.len() as u32;
            labels.classes.push(class);
            labels.cells[start] = label;
            waiting.push(start);
            while let Some(cell) = waiting.pop() {
                let (col, row) = (cell % width, cell / width);
                let near = [
                    (col > 0).then(|| cell - 1),
                    (col + 1 < width).then(|| cell + 1),
                    (row > 0).then(|| cell - width),
                    (row + 1 < height).then(|| cell + width),
                ];
                for next in near.into_iter().flatten() {
                    if labels.cells[next] == NONE && cells[next] == Some(class) {
                        labels.cells[next] = label;
                        waiting.push(next);
                    }
                }
            }
        }
        labels
    }

    fn at(&self, corner: Corner, (dx, dy): (isize, isize)) -> u32 {
        let col = corner.0.checked_add_signed(dx);
        let row = corner.1.checked_add_signed(dy);
        match (col, row) {
            (Some(col), Some(row)) if col < self.width && row < self.height => {
                self.cells[row * self.width + col]
            }
            _ => NONE,
        }
    }

    /// The patch whose border a step from a corner follows, on its left.
    fn border(&self, corner: Corner, step: usize) -> Option<u32> {
        let left = self.at(corner, LEFT[step]);
        (left != NONE && left != self.at(corner, RIGHT[step])).then_some(left)
    }

    /// All rings of each patch.
    fn rings(&self) -> Vec<Vec<Vec<Corner>>> {
        let mut rings = vec![Vec::new(); self.classes.len()];
        let mut walked = vec![0u8; (self.width + 1) * (self.height + 1)];
        for row in 0..=self.height {
            for col in 0..=self.width {
                for step in 0..STEPS.len() {
                    let is_walked = walked[row * (self.width + 1) + col] & (1 << step) != 0;
                    if let (false, Some(label)) = (is_walked, self.border((col, row), step)) {
                        rings[label as usize].push(self.walk((col, row), step, &mut walked));
                    }
                }
            }
        }
        rings
    }

    /// Follows a patch's border until it closes. Where two cells of the patch
    /// touch at a corner only, the walk turns right: over to the other cell,
    /// so that no ring touches itself and what lies between becomes a hole.
    fn walk(&self, start: Corner, first: usize, walked: &mut [u8]) -> Vec<Corner> {
        let label = self.at(start, LEFT[first]);
        let (mut corner, mut step) = (start, first);
        let mut ring = Vec::new();
        let mut straight = LONGEST_EDGE;
        loop {
            let mark = &mut walked[corner.1 * (self.width + 1) + corner.0];
            if *mark & (1 << step) != 0 {
                break;
            }
            *mark |= 1 << step;
            if straight >= LONGEST_EDGE {
                ring.push(corner);
                straight = 0;
            }
            let (dx, dy) = STEPS[step];
            corner = (
                corner.0.wrapping_add_signed(dx),
                corner.1.wrapping_add_signed(dy),
            );
            straight += 1;
            let turned = [3, 0, 1].map(|turn| (step + turn) % 4);
            let next = turned
                .into_iter()
                .find(|s| self.border(corner, *s) == Some(label));
            // A border has no end.
            let Some(next) = next else { break };
            if next != step {
                straight = LONGEST_EDGE;
            }
            step = next;
        }
        if let Some(first) = ring.first() {
            ring.push(*first);
        }
        ring
    }
}

/// Cells that one edge spans at most, so that it still follows its row or
/// column when its ends become longitudes and latitudes: 64 cells of 30 m bend
/// by 0.1 m at 60 degrees.
const LONGEST_EDGE: usize = 64;

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn drawn(text: &[&str]) -> (Vec<Option<usize>>, (usize, usize)) {
        let cells = text.iter().flat_map(|row| row.chars());
        let cells = cells.map(|c| c.to_digit(10).map(|d| d as usize)).collect();
        (cells, (text[0].len(), text.len()))
    }

    #[test]
    fn exact_ring_with_an_island_in_its_hole() {
        let (cells, size) = drawn(&["00000", "0...0", "0.0.0", "0...0", "00000"]);
        let found = patches(&cells, size, 1);
        assert_eq!(found[0].len(), 2);
        assert_eq!(
            found[0][0].exterior,
            [(0, 0), (0, 5), (5, 5), (5, 0), (0, 0)]
        );
        assert_eq!(found[0][0].holes.len(), 1);
        assert_eq!(doubled_area(&found[0][0].holes[0]), -18);
    }

    /// The gap touches the outside at a corner only: a hole, not a bay.
    #[test]
    fn exact_cells_of_one_patch_that_touch_at_a_corner_leave_a_hole() {
        let (cells, size) = drawn(&["000", "0.0", "00."]);
        let found = patches(&cells, size, 1);
        assert_eq!(found[0].len(), 1);
        assert_eq!(found[0][0].holes.len(), 1);
    }

    #[test]
    fn exact_cells_that_touch_at_a_corner_only_are_two_patches() {
        let (cells, size) = drawn(&["0.", ".0"]);
        let found = patches(&cells, size, 1);
        assert_eq!(found[0].len(), 2);
        assert!(found[0].iter().all(|p| p.exterior.len() == 5));
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

        /// Areas are those of the cells, and no ring meets itself.
        #[test]
        fn exact_areas_are_those_of_the_cells(
            cells in proptest::collection::vec(proptest::option::of(0usize..3), 150),
        ) {
            let found = patches(&cells, (15, 10), 3);
            for (class, patches) in found.iter().enumerate() {
                let count = cells.iter().filter(|c| **c == Some(class)).count() as i64;
                let rings = || patches.iter().flat_map(|p| p.holes.iter().chain([&p.exterior]));
                prop_assert_eq!(rings().map(|r| doubled_area(r)).sum::<i64>(), 2 * count);
                for ring in rings() {
                    let mut corners = ring[1..].to_vec();
                    corners.sort_unstable();
                    corners.dedup();
                    prop_assert_eq!(corners.len(), ring.len() - 1);
                }
                for patch in patches {
                    prop_assert!(doubled_area(&patch.exterior) > 0);
                    prop_assert!(patch.holes.iter().all(|h| doubled_area(h) < 0));
                }
            }
        }
    }
}
