//! Any bytes as an ASCII grid in UTM zone 32: an error or a whole grid.
#![no_main]

use std::path::Path;

use libfuzzer_sys::fuzz_target;
use raster::CellWindow;
use store::ground::{OpenOptions, RasterFile};

fuzz_target!(|bytes: &[u8]| {
    let options = OpenOptions {
        assumed_crs: geodesy::Crs::from_epsg(32_632).ok(),
        ..OpenOptions::elevation()
    };
    let name = Path::new("grid.asc");
    let Ok(mut file) = RasterFile::from_bytes(name, bytes.to_vec(), None, &options) else {
        return;
    };
    let window = CellWindow {
        col: 0,
        row: 0,
        width: 128,
        height: 128,
    };
    if let Ok(reading) = file.read_window(window) {
        let grid = reading.grid;
        assert_eq!(grid.cells().len(), grid.width() * grid.height());
    }
});
