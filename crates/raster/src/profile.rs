//! Elevation and class along the geodesic between two places.

use geodesy::{Crs, GeodesicPath, LonLat, MapXy, inverse, wrap_lon_deg};

use crate::mosaic::class_of;
use crate::{Grid, Mosaic};

/// No profile has more samples than this.
pub const MAX_PROFILE_SAMPLES: usize = 1_000_000;

/// How a path is divided; both ends are always samples.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Steps {
    /// Equal steps, as few as keep each at or below this length. \[m\]
    AtMostM(f64),
    /// This many samples (at least 2).
    Samples(usize),
}

/// What lies along a path, at equal steps from its start to its end. One
/// value serves many paths: tracing reuses its buffers.
#[derive(Debug, Clone, Default)]
pub struct Profile {
    /// Length of the geodesic. \[m\]
    pub length_m: f64,
    /// Step between samples. \[m\]
    pub spacing_m: f64,
    /// Direction at the start towards the end, from true north.
    pub azimuth_deg: f64,
    /// Direction at the end towards the start, from true north.
    pub back_azimuth_deg: f64,
    /// Ground above sea level at each sample, bilinear; NaN is unknown. \[m\]
    pub elevation_amsl_m: Vec<f64>,
    /// Class of the cell at each sample; `None` is unknown. Empty when the
    /// tracer has no class raster.
    pub class: Vec<Option<i32>>,
    /// Samples whose elevation is unknown.
    pub void_samples: usize,
    /// Work space: one curve for each reference system.
    curves: Vec<Curve>,
}

impl Profile {
    /// Number of samples.
    pub fn len(&self) -> usize {
        self.elevation_amsl_m.len()
    }

    /// Whether nothing has been traced yet.
    pub fn is_empty(&self) -> bool {
        self.elevation_amsl_m.is_empty()
    }

    /// Distance of a sample from the start. \[m\]
    pub fn distance_m(&self, sample: usize) -> f64 {
        sample as f64 * self.spacing_m
    }
}

/// Reads profiles from an elevation mosaic and, if there is one, a class
/// mosaic.
///
/// The geodesic and the projections are computed exactly at four nodes of
/// every piece of at most 20 km; between them the map coordinates follow the
/// cubic through the nodes. It stays within a hundredth of a millimetre of
/// the geodesic at middle latitudes and within a millimetre up to 80 degrees.
#[derive(Debug, Clone, Copy)]
pub struct ProfileTracer<'a> {
    elevation: &'a Mosaic,
    classes: Option<&'a Mosaic>,
}

/// Longest piece that one cubic spans. \[m\]
const MAX_PIECE_M: f64 = 20_000.0;

impl<'a> ProfileTracer<'a> {
    /// A tracer over elevation alone.
    pub fn new(elevation: &'a Mosaic) -> Self {
        Self {
            elevation,
            classes: None,
        }
    }

    /// The same with a class raster.
    #[must_use]
    pub fn with_classes(self, classes: &'a Mosaic) -> Self {
        Self {
            classes: Some(classes),
            ..self
        }
    }

    /// Fills `profile` with the path from `start` to `end`.
    pub fn trace(&self, start: LonLat, end: LonLat, steps: Steps, profile: &mut Profile) {
        let path = inverse(start, end);
        let samples = sample_count(path.distance_m, steps);
        profile.length_m = path.distance_m;
        profile.spacing_m = path.distance_m / (samples - 1) as f64;
        profile.azimuth_deg = path.azimuth_deg;
        profile.back_azimuth_deg = path.back_azimuth_deg;
        profile.elevation_amsl_m.clear();
        profile.class.clear();
        let pieces = (path.distance_m / MAX_PIECE_M).ceil().max(1.0) as usize;
        let mut next_sample = 0;
        for piece in 0..pieces {
            let nodes = Nodes::of(&path, piece, pieces);
            let past = if piece + 1 == pieces {
                samples
            } else {
                // Samples up to the node that ends this piece.
                ((piece + 1) * (samples - 1)).div_ceil(pieces)
            };
            let range = SampleRange {
                from: next_sample,
                past,
                piece: piece as f64,
                pieces_per_step: pieces as f64 / (samples - 1) as f64,
            };
            self.trace_piece(&nodes, range, profile);
            next_sample = past;
        }
        let voids = profile.elevation_amsl_m.iter().filter(|e| e.is_nan());
        profile.void_samples = voids.count();
    }

    fn trace_piece(&self, nodes: &Nodes, range: SampleRange, profile: &mut Profile) {
        let curves = &mut profile.curves;
        curves.clear();
        curves.extend(
            self.elevation
                .systems()
                .iter()
                .map(|crs| nodes.in_system(crs)),
        );
        let elevations = range.positions().map(|t| {
            first_value(self.elevation, curves, t, |grid, at| {
                grid.bilinear_at(grid.georeference().map_to_cell(at))
            })
        });
        profile.elevation_amsl_m.extend(elevations);
        let Some(classes) = self.classes else {
            return;
        };
        if classes.systems() != self.elevation.systems() {
            curves.clear();
            curves.extend(classes.systems().iter().map(|crs| nodes.in_system(crs)));
        }
        let codes = range.positions().map(|t| {
            let value = first_value(classes, curves, t, |grid, at| {
                let cell = grid.containing(grid.georeference().map_to_cell(at));
                cell.map_or(f64::NAN, |cell| grid.value(cell).into())
            });
            class_of(value as f32)
        });
        profile.class.extend(codes);
    }
}

/// The first grid's value that is not NaN, at position `t` of the curves.
#[inline]
fn first_value(
    mosaic: &Mosaic,
    curves: &[Curve],
    t: f64,
    sample: impl Fn(&Grid, MapXy) -> f64,
) -> f64 {
    for (grid, system) in mosaic.grids_with_system() {
        let value = sample(grid, curves[system].at(t));
        if !value.is_nan() {
            return value;
        }
    }
    f64::NAN
}

fn sample_count(length_m: f64, steps: Steps) -> usize {
    match steps {
        Steps::Samples(samples) => samples.clamp(2, MAX_PROFILE_SAMPLES),
        Steps::AtMostM(step_m) => {
            // The small number keeps a length that is a whole number of steps
            // from being divided once more by its rounding error. A step that
            // is no positive number gives the finest division.
            let count = (length_m / step_m - 1e-9).ceil();
            let last = MAX_PROFILE_SAMPLES - 1;
            if step_m > 0.0 && count < last as f64 {
                (count.max(1.0) as usize) + 1
            } else {
                MAX_PROFILE_SAMPLES
            }
        }
    }
}

/// The samples of one piece.
#[derive(Debug, Clone, Copy)]
struct SampleRange {
    from: usize,
    past: usize,
    piece: f64,
    pieces_per_step: f64,
}

impl SampleRange {
    /// The samples' positions in the piece, 0 at its start, 1 at its end.
    fn positions(self) -> impl Iterator<Item = f64> {
        (self.from..self.past).map(move |i| i as f64 * self.pieces_per_step - self.piece)
    }
}

/// Four places on the geodesic: at 0, 1/3, 2/3 and 1 of a piece.
struct Nodes([LonLat; 4]);

impl Nodes {
    fn of(path: &GeodesicPath, piece: usize, pieces: usize) -> Self {
        let last = 3 * pieces;
        Self(std::array::from_fn(|i| match 3 * piece + i {
            0 => path.start,
            n if n == last => path.end,
            n => path.point_at(path.distance_m * (n as f64 / last as f64)),
        }))
    }

    /// The cubic through the nodes in a reference system; not a number where
    /// the system cannot show them.
    fn in_system(&self, crs: &Crs) -> Curve {
        let mut x = [f64::NAN; 4];
        let mut y = [f64::NAN; 4];
        for (i, node) in self.0.iter().enumerate() {
            let Ok(at) = crs.to_map(*node) else {
                return Curve::through([f64::NAN; 4], [f64::NAN; 4]);
            };
            // Longitudes run on across the 180 degree meridian.
            x[i] = match i {
                1.. if crs.is_geographic() => wrap_lon_deg(at.x, x[0]),
                _ => at.x,
            };
            y[i] = at.y;
        }
        Curve::through(x, y)
    }
}

/// Map coordinates along a piece as cubics in the position 0 to 1, each
/// relative to its first node so that no digits are lost.
#[derive(Debug, Clone, Copy)]
struct Curve {
    x: [f64; 4],
    y: [f64; 4],
}

impl Curve {
    fn through(x: [f64; 4], y: [f64; 4]) -> Self {
        Self {
            x: cubic(x),
            y: cubic(y),
        }
    }

    #[inline]
    fn at(&self, t: f64) -> MapXy {
        let horner = |c: &[f64; 4]| c[0] + t * (c[1] + t * (c[2] + t * c[3]));
        MapXy {
            x: horner(&self.x),
            y: horner(&self.y),
        }
    }
}

/// Coefficients of the cubic through values at 0, 1/3, 2/3 and 1: Newton's
/// forward differences, expanded.
fn cubic(v: [f64; 4]) -> [f64; 4] {
    let d1 = v[1] - v[0];
    let d2 = v[2] - 2.0 * v[1] + v[0];
    let d3 = v[3] - 3.0 * v[2] + 3.0 * v[1] - v[0];
    // With s = 3t: v0 + d1 s + d2 s(s-1)/2 + d3 s(s-1)(s-2)/6.
    [
        v[0],
        3.0 * (d1 - d2 / 2.0 + d3 / 3.0),
        9.0 * (d2 / 2.0 - d3 / 2.0),
        27.0 * (d3 / 6.0),
    ]
}
