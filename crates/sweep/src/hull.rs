//! The upper hull of the points of a radial so far.

/// Two slopes closer than this are taken as equal; a point that stands below
/// its neighbours' chord by no more is kept, so that ties are seen. \[m/km\]
const SAME_SLOPE: f64 = 1e-10;

/// Slopes from a receiver closer than this to the steepest are told to the
/// caller, who decides as the scalar model does. \[m/km\]
const TIE: f64 = 1e-8;

/// A vertex of the hull.
#[derive(Debug, Clone, Copy, Default)]
struct Vertex {
    d: f64,
    g: f64,
    /// Slope from the vertex before; infinite at the first.
    edge: f64,
    sample: u32,
}

/// Vertices in rising order of distance. A point is pushed once and popped at
/// most once, so a radial of n samples costs O(n) in all.
#[derive(Debug, Clone, Default)]
pub(crate) struct Hull {
    /// Room for every sample; the first `len` are the hull.
    room: Vec<Vertex>,
    len: usize,
}

impl Hull {
    /// Empties the hull and makes room for samples below `samples`.
    pub(crate) fn clear(&mut self, samples: usize) {
        self.len = 0;
        if self.room.len() < samples {
            self.room.resize(samples, Vertex::default());
        }
    }

    /// Adds the next point to the right.
    ///
    /// * `per_distance`: one over the distance of n samples, at index n.
    #[inline]
    pub(crate) fn push(&mut self, sample: usize, d: f64, g: f64, per_distance: &[f64]) {
        let mut edge = f64::INFINITY;
        let mut n = self.len;
        while n > 0 {
            let top = &self.room[n - 1];
            edge = (g - top.g) * per_distance[sample - top.sample as usize];
            if edge <= top.edge + SAME_SLOPE {
                break;
            }
            n -= 1;
        }
        self.room[n] = Vertex {
            d,
            g,
            edge,
            sample: sample as u32,
        };
        self.len = n + 1;
    }

    #[inline]
    fn hull(&self) -> &[Vertex] {
        &self.room[..self.len]
    }

    /// The sample seen steepest from a point right of the hull, and the
    /// vertices that are as steep within rounding, as positions for
    /// [`Hull::sample_at`].
    #[inline]
    pub(crate) fn tangent(&self, d: f64, g: f64) -> Tangent {
        // The slope from vertex to point falls along the hull up to the
        // tangent and rises after it: the edge into a vertex is steeper than
        // the way on to the point for all vertices up to the tangent.
        let hull = self.hull();
        let low = last_where(hull, |v| v.edge * (d - v.d) > g - v.g);
        let slope = |j: usize| (hull[j].g - g) / (d - hull[j].d);
        let mut found = Tangent {
            at: low,
            first: low,
            last: low,
        };
        let mut best = slope(low);
        while found.last + 1 < hull.len() {
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
        let hull = self.hull();
        hull[last_where(hull, |v| v.edge > line)].sample as usize
    }

    #[inline]
    pub(crate) fn sample_at(&self, vertex: usize) -> usize {
        self.hull()[vertex].sample as usize
    }

    /// All vertices as distance and height.
    #[inline]
    pub(crate) fn vertices(&self) -> impl Iterator<Item = (f64, f64)> {
        self.hull().iter().map(|v| (v.d, v.g))
    }
}

/// Longest hull that is walked from its end rather than halved.
const WALKED: usize = 12;

/// Position of the last vertex for which `is` holds; it holds for the first
/// vertices up to some one. 0 where it holds for none.
#[inline]
fn last_where(hull: &[Vertex], is: impl Fn(&Vertex) -> bool) -> usize {
    if hull.len() <= WALKED {
        return hull.iter().rposition(is).unwrap_or(0);
    }
    hull.partition_point(is).saturating_sub(1)
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
