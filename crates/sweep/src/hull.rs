//! The upper hull of the points of a radial so far.

/// Two slopes closer than this are taken as equal; a point that stands below
/// its neighbours' chord by no more is kept, so that ties are seen. [m/km]
const SAME_SLOPE: f64 = 1e-10;

/// Slopes from a receiver closer than this to the steepest are told to the
/// caller, who decides as the scalar model does. [m/km]
const TIE: f64 = 1e-8;

/// Vertices in rising order of distance. A point is pushed once and popped at
/// most once, so a radial of n samples costs O(n) in all.
#[derive(Debug, Default)]
pub(crate) struct Hull {
    sample: Vec<u32>,
    d: Vec<f64>,
    g: Vec<f64>,
    /// Slope from the vertex before.
    edge: Vec<f64>,
}

impl Hull {
    pub(crate) fn clear(&mut self) {
        self.sample.clear();
        self.d.clear();
        self.g.clear();
        self.edge.clear();
    }

    /// Adds the next point to the right.
    ///
    /// * `per_distance`: one over the distance of n samples, at index n.
    #[inline]
    pub(crate) fn push(&mut self, sample: usize, d: f64, g: f64, per_distance: &[f64]) {
        let mut slope = f64::INFINITY;
        let mut n = self.d.len();
        while n > 0 {
            let apart = sample - self.sample[n - 1] as usize;
            slope = (g - self.g[n - 1]) * per_distance[apart];
            if n == 1 || slope <= self.edge[n - 1] + SAME_SLOPE {
                break;
            }
            n -= 1;
        }
        self.sample.truncate(n);
        self.d.truncate(n);
        self.g.truncate(n);
        self.edge.truncate(n);
        self.sample.push(sample as u32);
        self.d.push(d);
        self.g.push(g);
        self.edge.push(slope);
    }

    /// The sample seen steepest from a point right of the hull, and the
    /// vertices that are as steep within rounding, as positions for
    /// [`Hull::sample_at`].
    #[inline]
    pub(crate) fn tangent(&self, d: f64, g: f64) -> Tangent {
        // The slope from vertex to point falls along the hull up to the
        // tangent and rises after it: the edge into a vertex is steeper than
        // the way on to the point for all vertices up to the tangent.
        let (mut low, mut high) = (0, self.d.len());
        while high - low > 1 {
            let mid = low + (high - low) / 2;
            if self.edge[mid] * (d - self.d[mid]) > g - self.g[mid] {
                low = mid;
            } else {
                high = mid;
            }
        }
        let slope = |j: usize| (self.g[j] - g) / (d - self.d[j]);
        let mut found = Tangent {
            at: low,
            first: low,
            last: low,
        };
        let mut best = slope(low);
        while found.last + 1 < self.d.len() {
            let next = slope(found.last + 1);
            if next < best - TIE {
                break;
            }
            found.last += 1;
            if next > best {
                (best, found.at) = (next, found.last);
            }
        }
        while found.first > 0 {
            let next = slope(found.first - 1);
            if next < best - TIE {
                break;
            }
            found.first -= 1;
            if next > best {
                (best, found.at) = (next, found.first);
            }
        }
        found
    }

    /// The sample that stands highest over a line of this slope.
    #[inline]
    pub(crate) fn highest_over(&self, line: f64) -> usize {
        let (mut low, mut high) = (0, self.d.len());
        while high - low > 1 {
            let mid = low + (high - low) / 2;
            if self.edge[mid] > line {
                low = mid;
            } else {
                high = mid;
            }
        }
        self.sample[low] as usize
    }

    #[inline]
    pub(crate) fn sample_at(&self, vertex: usize) -> usize {
        self.sample[vertex] as usize
    }

    /// All vertices as distance and height.
    pub(crate) fn vertices(&self) -> impl Iterator<Item = (f64, f64)> {
        self.d.iter().copied().zip(self.g.iter().copied())
    }
}

/// Where a tangent touches the hull.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tangent {
    /// The steepest vertex.
    pub(crate) at: usize,
    /// First and last vertex as steep within rounding.
    pub(crate) first: usize,
    pub(crate) last: usize,
}
