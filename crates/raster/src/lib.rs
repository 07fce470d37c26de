//! Grids in memory: georeference, sampling and profiles; NaN is "no data".
