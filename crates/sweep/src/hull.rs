//! The upper hull of the points of a radial so far.

use std::ops::RangeInclusive;

use crate::wide::wide;

/// Two slopes closer than this are taken as equal; a point that stands below
/// its neighbours' chord by no more is kept, so that ties are seen. \[m/km\]
const SAME_SLOPE: f64 = 1e-10;

/// Slopes from a receiver closer than this to the steepest are told to the
/// caller, who decides as the scalar model does. \[m/km\]
pub(crate) const TIE: f64 = 1e-8;

/// How many samples before and behind it tell whether a sample may become a vertex.
pub(crate) const WINDOW: usize = 4;

/// One over the distance of a neighbour in steps.
const PER_STEPS: [f64; WINDOW] = [1.0, 1.0 / 2.0, 1.0 / 3.0, 1.0 / 4.0];

/// The samples from 1 that may become vertices: those that do not lie below the chord
/// of any two of the [`WINDOW`] before and the [`WINDOW`] behind them. These must be known, so
/// that a sample counts only once so many more are on the path; the last of a path are always
/// looked at for themselves.
///
/// * `g`: folded heights at equal steps, sample 0 the mast.
pub(crate) fn prominent(g: &[f64], step: f64, is: &mut Vec<bool>, list: &mut Vec<u32>) {
    is.clear();
    is.resize(g.len(), true);
    list.resize(g.len(), 0);
    let same = SAME_SLOPE * step;
    let flags = &mut is[..];
    wide(
        #[inline(always)]
        || {
            // The mast is no vertex: the first are not all between two others.
            let windows = g.get(1..).unwrap_or_default().windows(2 * WINDOW + 1);
            for (flag, near) in flags.iter_mut().skip(1 + WINDOW).zip(windows) {
                let own = near[WINDOW];
                let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
                for (k, per_steps) in PER_STEPS.iter().enumerate() {
                    let before = (own - near[WINDOW - 1 - k]) * per_steps;
                    let behind = (near[WINDOW + 1 + k] - own) * per_steps;
                    least = if before < least { before } else { least };
                    most = if behind > most { behind } else { most };
                }
                *flag = most <= least + same;
            }
        },
    );
    let mut count = 0;
    for (i, is_prominent) in is.iter().enumerate().skip(1) {
        list[count] = i as u32;
        count += usize::from(*is_prominent);
    }
    list.truncate(count);
}

/// The last samples of a path whose last one on the radial is `last`.
#[inline]
pub(crate) fn recent(last: usize) -> RangeInclusive<usize> {
    (last + 1).saturating_sub(WINDOW).max(1)..=last
}

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
    pub(crate) fn tangent(&self, d: f64, g: f64) -> Option<Tangent> {
        // The slope from vertex to point falls along the hull up to the
        // tangent and rises after it: the edge into a vertex is steeper than
        // the way on to the point for all vertices up to the tangent.
        let hull = self.hull();
        if hull.is_empty() {
            return None;
        }
        let low = last_where(hull, |v| v.edge * (d - v.d) > g - v.g);
        let slope = |j: usize| (hull[j].g - g) / (d - hull[j].d);
        let mut found = Tangent {
            at: low,
            first: low,
            last: low,
            slope: 0.0,
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
        found.slope = best;
        Some(found)
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

    /// Adds what is prominent before the [`recent`] samples of a path, from a place in
    /// the list on; returns the place where the next call goes on.
    #[inline]
    pub(crate) fn push_up_to(
        &mut self,
        last: usize,
        (list, mut next): (&[u32], usize),
        (d, g, per_distance): (&[f64], &[f64], &[f64]),
    ) -> usize {
        while let Some(i) = list.get(next).map(|i| *i as usize)
            && i + WINDOW <= last
        {
            self.push(i, d[i], g[i], per_distance);
            next += 1;
        }
        next
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
    /// The steepest vertex, and its slope.
    pub(crate) at: usize,
    pub(crate) slope: f64,
    /// First and last vertex as steep within rounding.
    pub(crate) first: usize,
    pub(crate) last: usize,
}
