//! Positions, distances, azimuths and map projections.
