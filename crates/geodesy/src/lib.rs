//! Positions, distances, azimuths and map projections.
//!
//! * [`LonLat`] is the one way a place travels through the program: WGS 84
//!   degrees, longitude first. [`LocalXy`] is the same place in the metres of
//!   a [`WorkingPlane`] (a UTM zone), for work that needs a flat map;
//!   [`LonLatBox`] is a rectangle of places.
//! * [`geodesic`] gives distances and azimuths on the ellipsoid; link geometry
//!   uses these. [`sphere`] has the sphere formulas, only for the methods that
//!   prescribe them.
//! * [`Crs`] turns places into the coordinates of a file and back, with the
//!   datum shift. What a file's own words for its system mean is decided in
//!   [`crs`].
//! * [`declination`] is the way from true to magnetic azimuths.
//!
//! Nothing here knows terrain, radio or files.

pub mod crs;
mod declination;
pub mod geodesic;
mod lonlat;
mod lonlat_box;
pub mod sphere;
mod working_plane;

pub use crs::{Crs, CrsError, MapXy};
pub use declination::{Declination, DeclinationError, declination};
pub use geodesic::{GeodesicPath, direct, inverse};
pub use lonlat::{LocalXy, LonLat, LonLatError, wrap_lon_deg};
pub use lonlat_box::LonLatBox;
pub use working_plane::{Hemisphere, WorkingPlane, WorkingPlaneError};
