//! The one point that stands for a building or parcel.

/// A geometry, taken apart: points, lines and the rings of areas.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Shape {
    pub(super) points: Vec<[f64; 2]>,
    pub(super) lines: Vec<Vec<[f64; 2]>>,
    /// First ring of each area outside, the others holes.
    pub(super) areas: Vec<Vec<Vec<[f64; 2]>>>,
}

impl Shape {
    /// Centroid of the areas; without any, the middle of the lines' and points' positions.
    ///
    /// `None` where the geometry is empty or not finite. Taken in the plane of
    /// the coordinates: over a building, degrees are as good as metres.
    pub(super) fn centroid(&self) -> Option<[f64; 2]> {
        let origin = self.first()?;
        // Relative to a point of the shape, or its small area drowns in rounding.
        let mut sum = [0.0, 0.0, 0.0];
        for area in &self.areas {
            for (index, ring) in area.iter().enumerate() {
                let [x, y, twice_area] = ring_moments(ring, origin);
                // Rings run either way round; a hole takes away.
                let sign = if index == 0 { 1.0 } else { -1.0 } * twice_area.signum();
                sum = [
                    sum[0] + sign * x,
                    sum[1] + sign * y,
                    sum[2] + sign * twice_area,
                ];
            }
        }
        let centroid = if sum[2] > 0.0 {
            [
                origin[0] + sum[0] / (3.0 * sum[2]),
                origin[1] + sum[1] / (3.0 * sum[2]),
            ]
        } else {
            self.mean()?
        };
        centroid.iter().all(|c| c.is_finite()).then_some(centroid)
    }

    fn positions(&self) -> impl Iterator<Item = [f64; 2]> {
        let rings = self.areas.iter().flatten().flatten();
        let lines = self.lines.iter().flatten();
        self.points.iter().chain(lines).chain(rings).copied()
    }

    fn first(&self) -> Option<[f64; 2]> {
        self.positions().next()
    }

    fn mean(&self) -> Option<[f64; 2]> {
        let (sum, count) = self
            .positions()
            .fold(([0.0, 0.0], 0.0), |(sum, count), [x, y]| {
                ([sum[0] + x, sum[1] + y], count + 1.0)
            });
        (count > 0.0).then(|| [sum[0] / count, sum[1] / count])
    }
}

/// First moments (times 6) and twice the signed area of a ring, about an origin.
fn ring_moments(ring: &[[f64; 2]], origin: [f64; 2]) -> [f64; 3] {
    let next = ring.iter().cycle().skip(1);
    ring.iter().zip(next).fold([0.0; 3], |sum, (a, b)| {
        let (ax, ay) = (a[0] - origin[0], a[1] - origin[1]);
        let (bx, by) = (b[0] - origin[0], b[1] - origin[1]);
        let cross = ax * by - bx * ay;
        [
            sum[0] + (ax + bx) * cross,
            sum[1] + (ay + by) * cross,
            sum[2] + cross,
        ]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64) -> Vec<[f64; 2]> {
        vec![
            [x, y],
            [x + side, y],
            [x + side, y + side],
            [x, y + side],
            [x, y],
        ]
    }

    #[test]
    fn exact_square_with_a_hole_either_way_round() {
        // 4 x 4 with its lower left 2 x 2 quarter cut out: (16·2 - 4·1) / 12.
        let expected = 28.0 / 12.0;
        let mut hole = square(0.0, 0.0, 2.0);
        for _ in 0..2 {
            let shape = Shape {
                areas: vec![vec![square(0.0, 0.0, 4.0), hole.clone()]],
                ..Shape::default()
            };
            let [x, y] = shape.centroid().expect("it has an area");
            assert!((x - expected).abs() < 1e-12 && (y - expected).abs() < 1e-12);
            hole.reverse();
        }
    }

    #[test]
    fn exact_points_and_flat_areas_take_the_mean() {
        let shape = Shape {
            areas: vec![vec![vec![[1.0, 1.0], [3.0, 1.0]]]],
            ..Shape::default()
        };
        assert_eq!(shape.centroid(), Some([2.0, 1.0]));
        assert_eq!(Shape::default().centroid(), None);
    }
}
