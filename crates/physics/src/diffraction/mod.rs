//! Diffraction over terrain and over the bulge of the Earth.
//!
//! [`knife_edge_loss_db`] is one edge, [`bullington_db`] a profile replaced by
//! one edge, [`SphericalEarth`] the smooth curved surface, and
//! [`delta_bullington`] the three joined as the Recommendations do.
//!
//! Source: ITU-R P.526-15 (sections in the items), whose delta-Bullington
//! method ITU-R P.1812-8 repeats in section 4.3 with the equation numbers
//! used here.

mod bullington;
mod edges;
mod spherical_earth;

pub use bullington::{
    DeltaBullington, DiffractionPath, SmoothSurface, bullington_db, delta_bullington,
    smooth_surface,
};
pub use edges::{
    Obstacle, TwoEdges, knife_edge_exact_db, knife_edge_loss_db, rounded_obstacle_loss_db,
    two_edges_loss_db,
};
pub use spherical_earth::{Ground, SphericalEarth};
