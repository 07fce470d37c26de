//! A rectangle of longitudes and latitudes.

use serde::Serialize;

use crate::lonlat::wrap_lon_deg;
use crate::{LonLat, LonLatError};

/// The places between two meridians and two parallels, borders included. It
/// may span the 180 degree meridian: then `west_deg` > `east_deg`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LonLatBox {
    west_deg: f64,
    south_deg: f64,
    east_deg: f64,
    north_deg: f64,
}

impl LonLatBox {
    /// The box between its south-west and its north-east corner.
    ///
    /// Latitudes given the wrong way round are put right; longitudes cannot
    /// be, since a box may span the 180 degree meridian.
    pub fn new(south_west: LonLat, north_east: LonLat) -> Self {
        Self {
            west_deg: south_west.lon_deg(),
            south_deg: south_west.lat_deg().min(north_east.lat_deg()),
            east_deg: north_east.lon_deg(),
            north_deg: north_east.lat_deg().max(south_west.lat_deg()),
        }
    }

    /// The box `[west, south, east, north]` in degrees, the order of GeoJSON.
    pub fn from_degrees(sides: [f64; 4]) -> Result<Self, LonLatError> {
        let [west_deg, south_deg, east_deg, north_deg] = sides;
        let south_west = LonLat::new(west_deg, south_deg)?;
        Ok(Self::new(south_west, LonLat::new(east_deg, north_deg)?))
    }

    /// The smallest box around places; `None` without any.
    ///
    /// Places on both sides of the 180 degree meridian give a box across it.
    pub fn around(places: impl IntoIterator<Item = LonLat>) -> Option<Self> {
        let mut places = places.into_iter();
        let first = places.next()?;
        let mut sides = [
            first.lon_deg(),
            first.lat_deg(),
            first.lon_deg(),
            first.lat_deg(),
        ];
        for place in places {
            let lon_deg = wrap_lon_deg(place.lon_deg(), first.lon_deg());
            sides[0] = sides[0].min(lon_deg);
            sides[1] = sides[1].min(place.lat_deg());
            sides[2] = sides[2].max(lon_deg);
            sides[3] = sides[3].max(place.lat_deg());
        }
        Self::from_degrees([
            wrap_lon_deg(sides[0], 0.0),
            sides[1],
            wrap_lon_deg(sides[2], 0.0),
            sides[3],
        ])
        .ok()
    }

    /// The western meridian.
    pub fn west_deg(&self) -> f64 {
        self.west_deg
    }

    /// The southern parallel.
    pub fn south_deg(&self) -> f64 {
        self.south_deg
    }

    /// The eastern meridian.
    pub fn east_deg(&self) -> f64 {
        self.east_deg
    }

    /// The northern parallel.
    pub fn north_deg(&self) -> f64 {
        self.north_deg
    }

    /// Degrees from the western to the eastern side.
    pub fn width_deg(&self) -> f64 {
        (self.east_deg - self.west_deg).rem_euclid(360.0)
    }

    /// Whether a place lies in the box.
    pub fn contains(&self, place: LonLat) -> bool {
        let east_of_west_deg = (place.lon_deg() - self.west_deg).rem_euclid(360.0);
        east_of_west_deg <= self.width_deg()
            && (self.south_deg..=self.north_deg).contains(&place.lat_deg())
    }

    /// The middle of the box.
    pub fn centre(&self) -> LonLat {
        let lon_deg = wrap_lon_deg(self.west_deg + self.width_deg() / 2.0, 0.0);
        self.place(lon_deg, (self.south_deg + self.north_deg) / 2.0)
    }

    /// Places around the border, `per_side` steps along each side.
    pub fn border(&self, per_side: usize) -> Vec<LonLat> {
        let steps = per_side.max(1);
        let (width_deg, height_deg) = (self.width_deg(), self.north_deg - self.south_deg);
        let mut places = Vec::with_capacity(4 * (steps + 1));
        for i in 0..=steps {
            let part = i as f64 / steps as f64;
            let lon_deg = wrap_lon_deg(self.west_deg + part * width_deg, 0.0);
            let lat_deg = self.south_deg + part * height_deg;
            places.push(self.place(lon_deg, self.south_deg));
            places.push(self.place(lon_deg, self.north_deg));
            places.push(self.place(self.west_deg, lat_deg));
            places.push(self.place(self.east_deg, lat_deg));
        }
        places
    }

    /// A place whose numbers come from the box itself.
    fn place(&self, lon_deg: f64, lat_deg: f64) -> LonLat {
        let lat_deg = lat_deg.clamp(-90.0, 90.0);
        LonLat::new(lon_deg, lat_deg).expect("a box holds only valid degrees")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_box_across_the_antimeridian() {
        let places = [(179.9, -16.0), (-179.9, -16.5)]
            .map(|(lon_deg, lat_deg)| LonLat::new(lon_deg, lat_deg).unwrap());
        let around = LonLatBox::around(places).unwrap();
        assert!((around.width_deg() - 0.2).abs() < 1e-9);
        assert!(around.contains(around.centre()));
        assert!(!around.contains(LonLat::new(0.0, -16.2).unwrap()));
        assert!(
            around
                .border(4)
                .into_iter()
                .all(|p| around.contains(p) || p.lon_deg() == around.east_deg())
        );
    }
}
