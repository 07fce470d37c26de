//! Digital maps of climate: a grid of numbers over the whole Earth, and the
//! value between its points.

use geodesy::LonLat;

/// A quantity of the climate for which the ITU publishes a map.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ClimateQuantity {
    /// Median fall of refractivity over the lowest kilometre (ITU-R P.453, DN50).
    RefractivityLapse,
    /// Median surface refractivity at sea level (ITU-R P.453, N050).
    SurfaceRefractivity,
    /// Rain rate exceeded for 0.01 % of the year (ITU-R P.837, R001).
    Rain001,
    /// Refractivity gradient over the lowest 65 m, not exceeded for 1 % of the year (ITU-R P.453).
    Gradient1Pct,
    /// Decimal logarithm of the geoclimatic factor (ITU-R P.530).
    LogK,
    /// Statistic of the refractivity gradient (ITU-R P.530).
    Gradient75,
}

impl ClimateQuantity {
    /// Every quantity.
    pub const ALL: [Self; 6] = [
        Self::RefractivityLapse,
        Self::SurfaceRefractivity,
        Self::Rain001,
        Self::Gradient1Pct,
        Self::LogK,
        Self::Gradient75,
    ];

    /// Key under `[climate]`.
    pub fn key(self) -> &'static str {
        match self {
            Self::RefractivityLapse => "refractivity_lapse_n_per_km",
            Self::SurfaceRefractivity => "surface_refractivity_n",
            Self::Rain001 => "rain_001_mm_per_h",
            Self::Gradient1Pct => "gradient_1pct_n_per_km",
            Self::LogK => "log_k",
            Self::Gradient75 => "gradient_75_n_per_km",
        }
    }

    /// Values that a map may give, the key's own range.
    pub(crate) fn range(self) -> (f64, f64) {
        match self {
            Self::RefractivityLapse => (10.0, 200.0),
            Self::SurfaceRefractivity => (200.0, 500.0),
            Self::Rain001 => (0.0, 300.0),
            Self::Gradient1Pct => (-1000.0, 0.0),
            Self::LogK => (-10.0, 0.0),
            Self::Gradient75 => (0.0, 1000.0),
        }
    }

    /// Latitude and longitude of the first number of the published map, from memory:
    /// P.453 from 90° N and 0° E, P.837 from 90° S and 180° W, P.530 from 90° N and 180° W.
    pub(crate) fn published_first_deg(self) -> (f64, f64) {
        match self {
            Self::RefractivityLapse | Self::SurfaceRefractivity | Self::Gradient1Pct => (90.0, 0.0),
            Self::Rain001 => (-90.0, -180.0),
            Self::LogK | Self::Gradient75 => (90.0, -180.0),
        }
    }
}

/// The numbers of a map, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct ClimateGrid {
    columns: usize,
    values: Vec<f64>,
}

/// How far the cells of a map may be from square: 1 %.
const SQUARE: f64 = 0.01;

impl ClimateGrid {
    /// A grid of rows of `columns` finite numbers; `None` where it has fewer
    /// than two of either, or the numbers do not fill the last row.
    pub fn new(columns: usize, values: Vec<f64>) -> Option<Self> {
        let whole = columns >= 2 && values.len().is_multiple_of(columns);
        let sound = whole && values.len() / columns >= 2 && values.iter().all(|v| v.is_finite());
        sound.then_some(Self { columns, values })
    }

    /// Rows and columns.
    pub fn size(&self) -> (usize, usize) {
        (self.values.len() / self.columns, self.columns)
    }

    /// The grid laid over the Earth.
    ///
    /// Rows run from `first_lat_deg` to the same latitude beyond the equator,
    /// columns once around from `first_lon_deg`, the last one repeating the
    /// first. Every published map has square cells, so a grid whose cells are
    /// not lacks rows or columns, or starts elsewhere: the error says what it would be.
    pub fn laid_over(
        &self,
        first_lat_deg: f64,
        first_lon_deg: f64,
    ) -> Result<LaidGrid<'_>, String> {
        let (rows, columns) = self.size();
        let lat_step_deg = -2.0 * first_lat_deg / (rows - 1) as f64;
        let lon_step_deg = 360.0 / (columns - 1) as f64;
        if (lat_step_deg.abs() / lon_step_deg - 1.0).abs() > SQUARE {
            return Err(format!(
                "{rows} rows of {columns} numbers from latitude {first_lat_deg} make cells of {:.4} by {lon_step_deg:.4} degrees, which are not square",
                lat_step_deg.abs()
            ));
        }
        Ok(LaidGrid {
            grid: self,
            first_lat_deg,
            first_lon_deg,
            lat_step_deg,
            lon_step_deg,
        })
    }
}

/// A grid laid over the Earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaidGrid<'a> {
    grid: &'a ClimateGrid,
    first_lat_deg: f64,
    first_lon_deg: f64,
    lat_step_deg: f64,
    lon_step_deg: f64,
}

impl LaidGrid<'_> {
    /// The value at a place, bilinear between the four points around it; beyond the
    /// outermost row that row's.
    pub fn at(&self, place: LonLat) -> f64 {
        let (rows, columns) = self.grid.size();
        let last_row = (rows - 1) as f64;
        let row = ((place.lat_deg() - self.first_lat_deg) / self.lat_step_deg).clamp(0.0, last_row);
        let around_deg = (place.lon_deg() - self.first_lon_deg).rem_euclid(360.0);
        let column = (around_deg / self.lon_step_deg).min((columns - 1) as f64);
        let (top, left) = (
            (row as usize).min(rows - 2),
            (column as usize).min(columns - 2),
        );
        let (down, right) = (row - top as f64, column - left as f64);
        let along = |row: usize| {
            let from = row * columns + left;
            let [a, b] = [self.grid.values[from], self.grid.values[from + 1]];
            a + (b - a) * right
        };
        let (upper, lower) = (along(top), along(top + 1));
        upper + (lower - upper) * down
    }
}
