//! Memory follows the window, not the file. A process of its own, because
//! what counts is its peak.

mod ground_data;

use geodesy::{LonLat, LonLatBox};
use ground_data::{shared, table};
use raster::CellWindow;
use store::ground::{GroundError, GroundWarning, OpenOptions, RasterFile};

/// Peak resident memory of this process, MiB; `None` where the system does
/// not say.
fn peak_mib() -> Option<f64> {
    #[expect(
        clippy::disallowed_methods,
        reason = "the test measures its own process"
    )]
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_whitespace()
        .nth(1)?
        .parse::<f64>()
        .ok()
        .map(|kib| kib / 1024.0)
}

#[test]
fn ref_town_in_a_tile_of_36000_by_36000() {
    let Some(folder) = shared("geodata/sao-tome-worldcover") else {
        return;
    };
    let path = folder.join("ESA_WorldCover_10m_2021_v200_N00E006_Map.tif");
    let mut file = RasterFile::open(&path, &OpenOptions::classes()).unwrap();
    assert_eq!((file.info().width, file.info().height), (36_000, 36_000));
    let bounds = LonLatBox::from_degrees([6.45, -0.05, 6.77, 0.42]).unwrap();
    let grid = file.read_box(&bounds).unwrap().unwrap().grid;
    let mut compared = 0;
    for row in table(&folder.join("spots.csv")) {
        let place = LonLat::new(row.number("lon").unwrap(), row.number("lat").unwrap()).unwrap();
        let Some(class) = row.number("class") else {
            continue;
        };
        let window = bounds.contains(place);
        let value = if window {
            grid.nearest(place)
        } else {
            let at = file.info().georeference.to_cell(place).unwrap();
            let one = CellWindow {
                col: at.col as usize,
                row: at.row as usize,
                width: 1,
                height: 1,
            };
            file.read_window(one).unwrap().grid.cells()[0]
        };
        // The file declares 0 as no data.
        match class {
            0.0 => assert!(value.is_nan(), "{}", row.text("id")),
            class => assert_eq!(f64::from(value), class, "{}", row.text("id")),
        }
        compared += 1;
    }
    assert!(compared > 10);
    if let Some(peak) = peak_mib() {
        println!("{compared} classes; peak {peak:.0} MiB");
        assert!(peak < 200.0, "peak {peak} MiB");
    }
}

#[test]
fn exact_sparse_file_of_640_gigabytes() {
    let Some(path) = shared("geodata/format-variants/bad-giant-sparse.tif") else {
        return;
    };
    let mut file = RasterFile::open(&path, &OpenOptions::elevation()).unwrap();
    assert!(matches!(
        file.read_all(),
        Err(GroundError::WindowTooLarge { .. })
    ));
    let window = CellWindow {
        col: 200_000,
        row: 399_990,
        width: 300,
        height: 300,
    };
    let reading = file.read_window(window).unwrap();
    // Absent blocks are unknown ground, never zero.
    assert!(reading.grid.cells().iter().all(|v| v.is_nan()));
    assert!(matches!(
        reading.warnings[..],
        [GroundWarning::AbsentBlocks { .. }]
    ));
    if let Some(peak) = peak_mib() {
        assert!(peak < 200.0, "peak {peak} MiB");
    }
}
