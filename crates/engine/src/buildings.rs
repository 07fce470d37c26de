//! Buildings by their footprints: which of them a stretch of a path crosses.

use std::collections::BTreeMap;
use std::sync::Arc;

use geodesy::LonLat;

/// A building.
#[derive(Debug, Clone, PartialEq)]
pub struct Footprint {
    /// What it is called where it stands in the way.
    pub name: Arc<str>,
    /// Rings of longitudes and latitudes, in degrees; what lies within an odd
    /// number of them belongs to the building.
    pub rings: Vec<Vec<[f64; 2]>>,
    /// Height above the ground.
    pub height_m: f64,
}

/// Buildings, found by where they stand.
#[derive(Debug, Default, PartialEq)]
pub struct Buildings {
    footprints: Vec<Footprint>,
    /// Indices of the footprints that touch each square of [`SQUARE_DEG`].
    squares: BTreeMap<(i32, i32), Vec<usize>>,
    /// Those that touch too many squares to be listed in each.
    wide: Vec<usize>,
}

/// Some hundred metres: a few buildings in a village.
const SQUARE_DEG: f64 = 0.002;

/// Squares that one footprint is listed in, at most.
const MOST_SQUARES: usize = 10_000;

/// West, south, east and north side. \[deg\]
type Sides = [f64; 4];

impl Buildings {
    /// Buildings by their footprints; those without an extent or a height are nowhere.
    pub fn new(footprints: Vec<Footprint>) -> Self {
        let mut buildings = Self {
            footprints,
            ..Self::default()
        };
        for (index, footprint) in buildings.footprints.iter().enumerate() {
            let Some(sides) = footprint.sides().filter(|_| footprint.height_m > 0.0) else {
                continue;
            };
            match squares(&sides) {
                Some(squares) => squares.for_each(|square| {
                    buildings.squares.entry(square).or_default().push(index);
                }),
                None => buildings.wide.push(index),
            }
        }
        buildings
    }

    /// All of them, in the order of their files.
    pub fn footprints(&self) -> &[Footprint] {
        &self.footprints
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.footprints.len()
    }

    /// Indices of the buildings that a place lies in.
    pub fn holding(&self, at: LonLat) -> Vec<usize> {
        let at = [at.lon_deg(), at.lat_deg()];
        let mut found = self.near(&[at[0], at[1], at[0], at[1]]);
        found.retain(|index| self.footprints[*index].holds(at));
        found
    }

    /// The tallest building that the straight stretch between two near places
    /// touches, but for some.
    pub(crate) fn tallest_across(
        &self,
        (from, to): (LonLat, LonLat),
        except: &[usize],
    ) -> Option<&Footprint> {
        let [a, b] = [from, to].map(|at| [at.lon_deg(), at.lat_deg()]);
        let sides = [
            a[0].min(b[0]),
            a[1].min(b[1]),
            a[0].max(b[0]),
            a[1].max(b[1]),
        ];
        // Where longitudes begin anew nothing is looked up.
        let near = if sides[2] - sides[0] < 180.0 {
            self.near(&sides)
        } else {
            Vec::new()
        };
        let near = near.into_iter().filter(|index| !except.contains(index));
        let touched = near.map(|index| &self.footprints[index]);
        let touched = touched.filter(|footprint| footprint.touches(a, b));
        touched.reduce(|tallest, next| {
            if next.height_m > tallest.height_m {
                next
            } else {
                tallest
            }
        })
    }

    /// Indices of the buildings that may touch a box, in rising order.
    fn near(&self, sides: &Sides) -> Vec<usize> {
        let mut found = self.wide.clone();
        match squares(sides) {
            Some(squares) => {
                let listed = squares.filter_map(|square| self.squares.get(&square));
                found.extend(listed.flatten());
            }
            None => found.extend(0..self.footprints.len()),
        }
        found.sort_unstable();
        found.dedup();
        found
    }
}

impl Footprint {
    fn sides(&self) -> Option<Sides> {
        let mut corners = self.rings.iter().flatten().peekable();
        let [lon_deg, lat_deg] = **corners.peek()?;
        let sides = corners.fold([lon_deg, lat_deg, lon_deg, lat_deg], |s, [x, y]| {
            [s[0].min(*x), s[1].min(*y), s[2].max(*x), s[3].max(*y)]
        });
        sides.iter().all(|side| side.is_finite()).then_some(sides)
    }

    fn edges(&self) -> impl Iterator<Item = ([f64; 2], [f64; 2])> {
        self.rings.iter().flat_map(|ring| {
            let next = ring.iter().cycle().skip(1);
            ring.iter().copied().zip(next.copied())
        })
    }

    /// Whether a place lies within: an odd number of edges lies east of it.
    fn holds(&self, [x, y]: [f64; 2]) -> bool {
        let east = self.edges().filter(|([ax, ay], [bx, by])| {
            (*ay > y) != (*by > y) && x < ax + (bx - ax) * (y - ay) / (by - ay)
        });
        east.count() % 2 == 1
    }

    fn touches(&self, a: [f64; 2], b: [f64; 2]) -> bool {
        self.holds(a) || self.edges().any(|(c, d)| cross((a, b), (c, d)))
    }
}

/// Whether two stretches have a point in common; those that only lie along each
/// other have none.
fn cross((a, b): ([f64; 2], [f64; 2]), (c, d): ([f64; 2], [f64; 2])) -> bool {
    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
        (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
    };
    let apart = |one: f64, other: f64| (one > 0.0) != (other > 0.0);
    apart(side(a, b, c), side(a, b, d)) && apart(side(c, d, a), side(c, d, b))
}

/// Squares that a box touches; `None` where they are many.
fn squares(sides: &Sides) -> Option<impl Iterator<Item = (i32, i32)> + use<>> {
    let [west, south, east, north] = sides.map(|side| (side / SQUARE_DEG).floor() as i32);
    let across = |low: i32, high: i32| high.abs_diff(low) as usize + 1;
    let is_few = across(west, east).saturating_mul(across(south, north)) <= MOST_SQUARES;
    is_few.then(|| (west..=east).flat_map(move |x| (south..=north).map(move |y| (x, y))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn place(x: f64, y: f64) -> LonLat {
        LonLat::new(x, y).expect("a place")
    }

    fn block(name: &str, [west, south]: [f64; 2], side_deg: f64, height_m: f64) -> Footprint {
        let (east, north) = (west + side_deg, south + side_deg);
        Footprint {
            name: name.into(),
            rings: vec![vec![
                [west, south],
                [east, south],
                [east, north],
                [west, north],
            ]],
            height_m,
        }
    }

    #[test]
    fn exact_the_tallest_that_is_crossed_and_not_excepted() {
        let mut yard = block("yard", [9.0, 47.0], 0.001, 20.0);
        yard.rings
            .push(block("", [9.0004, 47.0004], 0.0002, 0.0).rings.remove(0));
        let all = vec![
            yard,
            block("low", [9.003, 47.0], 0.001, 5.0),
            block("flat", [9.001, 47.0], 0.001, 0.0),
        ];
        let buildings = Buildings::new(all);
        let across = |x0: f64, x1: f64, except: &[usize]| {
            let stretch = (place(x0, 47.0005), place(x1, 47.0005));
            buildings
                .tallest_across(stretch, except)
                .map(|f| f.name.to_string())
        };
        assert_eq!(across(8.999, 9.01, &[]).as_deref(), Some("yard"));
        assert_eq!(across(8.999, 9.01, &[0]).as_deref(), Some("low"));
        assert_eq!(across(9.0012, 9.0018, &[]), None);
        // Within the yard's court, and within its wing.
        assert_eq!(across(9.00045, 9.00055, &[]), None);
        assert_eq!(across(9.0001, 9.0002, &[]).as_deref(), Some("yard"));
        assert!(buildings.holding(place(9.0005, 47.0005)).is_empty());
        assert_eq!(buildings.holding(place(9.0002, 47.0005)), [0]);
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

        /// The squares hide no building that going through all of them would find.
        #[test]
        fn exact_squares_hide_nothing(
            corners in prop::collection::vec((0.0..0.02f64, 0.0..0.02f64, 1e-4..6e-3f64), 1..30),
            (x0, y0, x1, y1) in (0.0..0.02f64, 0.0..0.02f64, 0.0..0.02f64, 0.0..0.02f64),
        ) {
            let all = corners.iter().enumerate().map(|(i, (x, y, side))| {
                block(&i.to_string(), [9.0 + x, 47.0 + y], *side, 1.0 + i as f64)
            });
            let buildings = Buildings::new(all.collect());
            let (a, b) = (place(9.0 + x0, 47.0 + y0), place(9.0 + x1, 47.0 + y1));
            let ends = [a, b].map(|p| [p.lon_deg(), p.lat_deg()]);
            let by_all = buildings.footprints.iter().rfind(|f| f.touches(ends[0], ends[1]));
            prop_assert_eq!(buildings.tallest_across((a, b), &[]), by_all);
        }
    }
}
