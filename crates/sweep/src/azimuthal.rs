//! Places around a mast by geodesic distance and azimuth, and where they fall
//! in a raster, without a projection per place.
//!
//! A place at distance s and true azimuth α from the mast has the azimuthal
//! coordinates east = s·sin α and north = s·cos α. Both ways between these and
//! the cells of a raster are smooth functions, so a polynomial of sixth degree
//! through exact geodesics and projections replaces them; up to 50 km and 75
//! degrees of latitude it is good to a few millimetres.

use std::ops::Range;

use geodesy::{LonLat, direct, inverse};
use raster::{CellXy, Georeference};

use crate::sampling::Positions;
use crate::wide::wide;

/// Nodes in each direction; one more than the degree.
pub const NODES: usize = 7;

/// Terms of a ray's polynomial; the rest is a few millimetres at 50 km and 62 degrees.
pub const RAY_TERMS: usize = 5;

/// A raster whose reference system cannot show the mast's surroundings.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "the raster's reference system cannot show everything within {radius_km} km of {mast}\nhint: use terrain in the UTM zone of the mast"
)]
pub struct OutOfMap {
    /// The mast.
    pub mast: LonLat,
    /// How far the surroundings reach.
    pub radius_km: f64,
}

/// Two functions of two variables as polynomials, each variable scaled to −1 to 1.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Where the scaled variables u and v are 0.
    pub centre: [f64; 2],
    /// How much u and v grow by unit of the variables.
    pub per_unit: [f64; 2],
    /// Coefficient of u^i·v^j of the two functions at `[i][j]`.
    pub terms: [[[f64; NODES]; NODES]; 2],
}

impl Fit {
    /// Through exact values on nodes of the square `centre` ± `half`.
    fn through<E>(
        centre: [f64; 2],
        half: [f64; 2],
        exact: impl Fn([f64; 2]) -> Result<[f64; 2], E>,
    ) -> Result<Self, E> {
        let nodes = nodes();
        let mut values = [[[0.0; NODES]; NODES]; 2];
        for (i, u) in nodes.iter().enumerate() {
            for (j, v) in nodes.iter().enumerate() {
                let at = [centre[0] + half[0] * u, centre[1] + half[1] * v];
                let [first, second] = exact(at)?;
                values[0][i][j] = first;
                values[1][i][j] = second;
            }
        }
        let to_terms = inverse_of_powers(&nodes);
        Ok(Self {
            centre,
            per_unit: half.map(|h| 1.0 / h),
            terms: values.map(|v| both_ways(&to_terms, &v)),
        })
    }

    /// The functions with the second variable held fixed, as polynomials of u.
    pub fn along_first(&self, second: f64) -> [[f64; NODES]; 2] {
        let v = (second - self.centre[1]) * self.per_unit[1];
        self.terms.map(|t| t.map(|row| horner(&row, v)))
    }
}

/// Chebyshev nodes with the ends.
fn nodes() -> [f64; NODES] {
    std::array::from_fn(|i| (std::f64::consts::PI * i as f64 / (NODES - 1) as f64).cos())
}

fn horner<const N: usize>(terms: &[f64; N], x: f64) -> f64 {
    terms.iter().rev().fold(0.0, |sum, t| sum * x + t)
}

type Square = [[f64; NODES]; NODES];

/// The inverse of the matrix of powers of the nodes, by elimination.
fn inverse_of_powers(nodes: &[f64; NODES]) -> Square {
    let mut a: Square = nodes.map(|x| std::array::from_fn(|j| x.powi(j as i32)));
    let mut b: Square =
        std::array::from_fn(|i| std::array::from_fn(|j| f64::from(u8::from(i == j))));
    for k in 0..NODES {
        let pivot = (k..NODES).max_by(|x, y| a[*x][k].abs().total_cmp(&a[*y][k].abs()));
        let pivot = pivot.unwrap_or(k);
        a.swap(k, pivot);
        b.swap(k, pivot);
        let scale = 1.0 / a[k][k];
        a[k] = a[k].map(|x| x * scale);
        b[k] = b[k].map(|x| x * scale);
        for i in (0..NODES).filter(|i| *i != k) {
            let factor = a[i][k];
            for j in 0..NODES {
                a[i][j] -= factor * a[k][j];
                b[i][j] -= factor * b[k][j];
            }
        }
    }
    b
}

/// m·v·mᵀ.
fn both_ways(m: &Square, v: &Square) -> Square {
    let sum = |f: &dyn Fn(usize) -> f64| (0..NODES).map(f).sum::<f64>();
    let left: Square =
        std::array::from_fn(|i| std::array::from_fn(|j| sum(&|k| m[i][k] * v[k][j])));
    std::array::from_fn(|i| std::array::from_fn(|j| sum(&|k| left[i][k] * m[j][k])))
}

/// From azimuthal coordinates to the cells of a raster.
#[derive(Debug, Clone)]
pub(crate) struct ToCells(pub(crate) Fit);

impl ToCells {
    pub(crate) fn new(
        mast: LonLat,
        radius_km: f64,
        raster: &Georeference,
    ) -> Result<Self, OutOfMap> {
        let cell = |[east, north]: [f64; 2]| {
            let azimuth_deg = east.atan2(north).to_degrees();
            let place = direct(mast, azimuth_deg, east.hypot(north) * 1e3);
            let at = raster
                .to_cell(place)
                .map_err(|_| OutOfMap { mast, radius_km })?;
            Ok([at.col, at.row])
        };
        Fit::through([0.0; 2], [radius_km; 2], cell).map(Self)
    }

    /// The cells along a radial.
    pub(crate) fn ray(&self, azimuth_rad: f64) -> Ray {
        let (sin, cos) = azimuth_rad.sin_cos();
        self.ray_towards([sin, cos])
    }

    /// The cells along the radial to the east and north by a vector of length one.
    pub(crate) fn ray_towards(&self, [sin, cos]: [f64; 2]) -> Ray {
        let powers = |x: f64| {
            let mut power = 1.0;
            std::array::from_fn::<f64, RAY_TERMS, _>(|_| {
                let this = power;
                power *= x;
                this
            })
        };
        let (sin, cos) = (powers(sin), powers(cos));
        let terms = |f: &Square| {
            std::array::from_fn(|n| (0..=n).map(|i| f[i][n - i] * sin[i] * cos[n - i]).sum())
        };
        Ray {
            per_km: self.0.per_unit[0],
            col: terms(&self.0.terms[0]),
            row: terms(&self.0.terms[1]),
        }
    }
}

/// Cells of a raster along a radial, as polynomials of the distance.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ray {
    per_km: f64,
    col: [f64; RAY_TERMS],
    row: [f64; RAY_TERMS],
}

/// Terms of a row that add up to less are left out. \[cells or km\]
const NOTHING: f64 = 1e-7;

/// Terms of a ray smaller than this are left out. \[cells\]
const NO_CELLS: f64 = 1e-5;

impl Ray {
    /// Columns and rows as polynomials of the number of steps.
    pub(crate) fn per_step(&self, step_km: f64) -> [[f64; RAY_TERMS]; 2] {
        let scale = step_km * self.per_km;
        [self.col, self.row].map(|terms| {
            let mut power = 1.0;
            terms.map(|term| {
                let this = term * power;
                power *= scale;
                this
            })
        })
    }

    /// Fills `positions` with some of the samples at equal steps from the mast, which
    /// is number 0.
    pub(crate) fn fill(&self, step_km: f64, samples: Range<usize>, positions: &mut Positions) {
        let counts = |n: &usize| self.col[*n].abs().max(self.row[*n].abs()) > NO_CELLS;
        let last = (0..RAY_TERMS).rev().find(counts).unwrap_or(0);
        positions.col.resize(samples.len(), 0.0);
        positions.row.resize(samples.len(), 0.0);
        let first = samples.start as i32;
        let steps = (first, step_km * self.per_km);
        let (col, row) = (&mut positions.col[..], &mut positions.row[..]);
        // A loop of fixed length for what is needed.
        wide(
            #[inline(always)]
            || match last {
                0..=2 => {
                    along::<3>(&self.col, steps, col);
                    along::<3>(&self.row, steps, row);
                }
                3 => {
                    along::<4>(&self.col, steps, col);
                    along::<4>(&self.row, steps, row);
                }
                _ => {
                    along::<RAY_TERMS>(&self.col, steps, col);
                    along::<RAY_TERMS>(&self.row, steps, row);
                }
            },
        );
    }
}

/// The first N terms of a polynomial at whole multiples of a step from some one on.
#[inline(always)]
fn along<const N: usize>(terms: &[f64; RAY_TERMS], (first, step): (i32, f64), values: &mut [f64]) {
    for (i, value) in values.iter_mut().enumerate() {
        let t = f64::from(first + i as i32) * step;
        let mut sum = terms[N - 1];
        for n in (0..N - 1).rev() {
            sum = sum * t + terms[n];
        }
        *value = sum;
    }
}

/// From the cells of a raster to azimuthal coordinates, or to the cells of another.
#[derive(Debug, Clone)]
pub(crate) struct FromCells(pub(crate) Fit);

impl FromCells {
    /// To azimuthal coordinates in kilometres, over the cells `centre` ± `half`.
    pub(crate) fn to_azimuthal(
        mast: LonLat,
        raster: &Georeference,
        (centre, half): (CellXy, CellXy),
    ) -> Result<Self, geodesy::CrsError> {
        Self::new(raster, (centre, half), |place| {
            let path = inverse(mast, place);
            let (sin, cos) = path.azimuth_deg.to_radians().sin_cos();
            let s_km = path.distance_m / 1e3;
            Ok([s_km * sin, s_km * cos])
        })
    }

    /// To the cells of another raster.
    pub(crate) fn to_cells(
        other: &Georeference,
        raster: &Georeference,
        window: (CellXy, CellXy),
    ) -> Result<Self, geodesy::CrsError> {
        Self::new(raster, window, |place| {
            let at = other.to_cell(place)?;
            Ok([at.col, at.row])
        })
    }

    fn new(
        raster: &Georeference,
        (centre, half): (CellXy, CellXy),
        exact: impl Fn(LonLat) -> Result<[f64; 2], geodesy::CrsError>,
    ) -> Result<Self, geodesy::CrsError> {
        let at = |[col, row]: [f64; 2]| exact(raster.to_lonlat(CellXy { col, row })?);
        let fit = Fit::through([centre.col, centre.row], [half.col, half.row], at);
        fit.map(Self)
    }

    /// The functions along a row of cell centres.
    pub(crate) fn row(&self, row: usize) -> CellRow {
        let terms = self.0.along_first(row as f64 + 0.5);
        // Between rasters of one lattice nothing is left beyond the straight line.
        let rest = |n: usize| {
            terms
                .iter()
                .flat_map(move |t| t[n..].iter().map(|t| t.abs()))
        };
        let is_nothing = |n: usize| rest(n).sum::<f64>() < NOTHING;
        let count = [2, 4].into_iter().find(|n| is_nothing(*n)).unwrap_or(NODES);
        CellRow {
            centre: self.0.centre[0],
            per_col: self.0.per_unit[0],
            terms,
            count,
        }
    }
}

/// Two functions of the columns of one row.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CellRow {
    centre: f64,
    per_col: f64,
    terms: [[f64; NODES]; 2],
    /// Terms that count.
    count: usize,
}

impl CellRow {
    /// At the centre of a column.
    #[inline]
    pub(crate) fn at(&self, col: usize) -> [f64; 2] {
        let u = (col as f64 + 0.5 - self.centre) * self.per_col;
        match self.count {
            2 => self.terms.map(|t| t[0] + t[1] * u),
            4 => {
                let square = u * u;
                self.terms
                    .map(|t| (t[0] + t[1] * u) + square * (t[2] + t[3] * u))
            }
            _ => [horner(&self.terms[0], u), horner(&self.terms[1], u)],
        }
    }

    /// At the centres of consecutive columns from one on.
    #[inline(always)]
    pub(crate) fn fill(&self, first: usize, [one, other]: [&mut [f64]; 2]) {
        let terms = &self.terms;
        let at = |i: usize| ((first + i) as u32 as f64 + 0.5 - self.centre) * self.per_col;
        let both = one.iter_mut().zip(other).enumerate();
        match self.count {
            2 => both.for_each(|(i, (one, other))| {
                let u = at(i);
                *one = terms[0][0] + terms[0][1] * u;
                *other = terms[1][0] + terms[1][1] * u;
            }),
            4 => both.for_each(|(i, (one, other))| {
                let (u, square) = (at(i), at(i) * at(i));
                let value = |t: &[f64; NODES]| (t[0] + t[1] * u) + square * (t[2] + t[3] * u);
                *one = value(&terms[0]);
                *other = value(&terms[1]);
            }),
            _ => both.for_each(|(i, (one, other))| {
                let u = at(i);
                *one = horner(&terms[0], u);
                *other = horner(&terms[1], u);
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geodesy::Crs;
    use geodesy::MapXy;
    use raster::Affine;

    /// Rasters of 30 m around 34 and 62 degrees, in UTM and in degrees.
    fn rasters() -> Vec<(LonLat, Georeference)> {
        let mut all = Vec::new();
        for (lon_deg, lat_deg, epsg) in [(-117.5, 34.0, 32_611), (8.2, 62.0, 32_632)] {
            let mast = LonLat::new(lon_deg, lat_deg).unwrap();
            for (epsg, cell) in [(epsg, 30.0), (4326, 1.0 / 3600.0)] {
                let crs = Crs::from_epsg(epsg).unwrap();
                let at = crs.to_map(mast).unwrap();
                let origin = MapXy {
                    x: at.x - 1000.0 * cell,
                    y: at.y + 1000.0 * cell,
                };
                let affine = Affine::north_up(origin, cell, cell).unwrap();
                all.push((mast, Georeference::new(crs, affine, 2000, 2000)));
            }
        }
        all
    }

    /// Both ways against geodesics and projections, worst in cells or metres.
    #[test]
    fn exact_to_millimetres_within_50_km() {
        let mut worst = [0.0_f64; 2];
        for (mast, raster) in rasters() {
            let to = ToCells::new(mast, 50.0, &raster).unwrap();
            let window = (
                CellXy {
                    col: 1000.0,
                    row: 1000.0,
                },
                CellXy {
                    col: 1700.0,
                    row: 1700.0,
                },
            );
            let from = FromCells::to_azimuthal(mast, &raster, window).unwrap();
            for k in 0..400 {
                let azimuth_deg = f64::from(k) * 37.7 % 360.0;
                let d_km = f64::from(k) / 8.0;
                let exact = raster
                    .to_cell(direct(mast, azimuth_deg, d_km * 1e3))
                    .unwrap();
                let mut positions = Positions::default();
                to.ray(azimuth_deg.to_radians())
                    .fill(d_km, 0..2, &mut positions);
                let got = positions.at(1);
                let apart = (got.col - exact.col).hypot(got.row - exact.row);
                worst[0] = worst[0].max(apart * 30.0);
                let (col, row) = ((k * 13 % 2000) as usize, (k * 29 % 2000) as usize);
                let centre = CellXy {
                    col: col as f64 + 0.5,
                    row: row as f64 + 0.5,
                };
                let path = inverse(mast, raster.to_lonlat(centre).unwrap());
                let [east, north] = from.row(row).at(col);
                worst[1] = worst[1].max((east.hypot(north) * 1e3 - path.distance_m).abs());
            }
        }
        assert!(worst[0] < 3e-3 && worst[1] < 1e-3, "{worst:?} m");
    }
}
