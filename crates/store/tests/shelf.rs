//! Kept layers: what comes back, what is recognised as damaged, what goes first.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "tests fail where something is not there, and damage files"
)]

use std::fs;
use std::path::PathBuf;
use std::time::{Duration, SystemTime};

use pipeline::engine::coverage::{CellWindow, Shelf, ShelfLayers, ShelfName};
use store::shelf::DiskShelf;
use tempfile::TempDir;

const WIDTH: usize = 300;
const HEIGHT: usize = 270;

fn name(number: u8) -> ShelfName {
    ShelfName::from_bytes([number; 32])
}

/// Two layers with holes and every kind of bit pattern.
fn layers() -> [Vec<f32>; 2] {
    let cells = WIDTH * HEIGHT;
    let smooth = (0..cells).map(|i| match i % 97 {
        0 => f32::NAN,
        _ => 100.0 + (i as f32 * 1e-3).sin(),
    });
    let wild = (0..cells as u32).map(|i| f32::from_bits(i.wrapping_mul(2_654_435_761)));
    [smooth.collect(), wild.collect()]
}

fn keep(shelf: &DiskShelf, number: u8) {
    let [a, b] = layers();
    let layers = ShelfLayers {
        width: WIDTH,
        height: HEIGHT,
        layers: &[&a, &b],
    };
    shelf.keep(&name(number), &layers).unwrap();
}

fn file(folder: &TempDir, number: u8) -> PathBuf {
    folder.path().join(format!("{}.layers", name(number)))
}

fn whole() -> CellWindow {
    CellWindow {
        col: 0,
        row: 0,
        width: WIDTH,
        height: HEIGHT,
    }
}

#[test]
fn exact_what_comes_back_is_what_was_kept() {
    let folder = TempDir::new().unwrap();
    let shelf = DiskShelf::open(folder.path(), u64::MAX).unwrap();
    assert!(!shelf.has(&name(1)));
    keep(&shelf, 1);
    assert!(shelf.has(&name(1)));
    let window = CellWindow {
        col: 250,
        row: 200,
        width: 40,
        height: 70,
    };
    for window in [whole(), window] {
        let found = shelf.read(&name(1), window, 0..2).unwrap();
        for (layer, found) in layers().iter().zip(found) {
            let rows = layer
                .chunks_exact(WIDTH)
                .skip(window.row)
                .take(window.height);
            let cells = rows.flat_map(|row| &row[window.col..window.col + window.width]);
            let bits: Vec<u32> = cells.map(|cell| cell.to_bits()).collect();
            assert!(bits == found.iter().map(|c| c.to_bits()).collect::<Vec<_>>());
        }
    }
    let beyond = CellWindow { col: 1, ..whole() };
    assert!(shelf.read(&name(1), beyond, 0..2).is_none());
    assert!(shelf.read(&name(1), whole(), 1..3).is_none());
    // Under another name it is something else.
    fs::copy(file(&folder, 1), file(&folder, 2)).unwrap();
    assert!(!shelf.has(&name(2)));
}

#[test]
fn exact_damage_is_as_if_nothing_had_been_kept() {
    let folder = TempDir::new().unwrap();
    let shelf = DiskShelf::open(folder.path(), u64::MAX).unwrap();
    keep(&shelf, 1);
    let good = fs::read(file(&folder, 1)).unwrap();
    let step = (good.len() / 150).max(1);
    for at in (0..good.len()).step_by(step).chain([good.len() - 1]) {
        let mut bad = good.clone();
        bad[at] ^= 0x10;
        fs::write(file(&folder, 1), bad).unwrap();
        assert!(!shelf.has(&name(1)), "byte {at}");
        let read = shelf.read(&name(1), whole(), 0..2);
        assert!(read.is_none(), "byte {at}");
        fs::write(file(&folder, 1), &good[..at]).unwrap();
        assert!(!shelf.has(&name(1)), "cut at {at}");
    }
    fs::write(file(&folder, 1), [&good[..], &[0]].concat()).unwrap();
    assert!(!shelf.has(&name(1)));
    // And it is put right again.
    keep(&shelf, 1);
    assert!(shelf.has(&name(1)));
}

#[test]
fn exact_the_longest_unused_goes_first_and_only_when_nobody_looks() {
    let folder = TempDir::new().unwrap();
    let shelf = DiskShelf::open(folder.path(), u64::MAX).unwrap();
    for number in 1..=4 {
        keep(&shelf, number);
        let used = SystemTime::now() - Duration::from_secs(1000 - u64::from(number));
        let entry = fs::File::options().append(true).open(file(&folder, number));
        entry.unwrap().set_modified(used).unwrap();
    }
    // Used again, the oldest is the youngest.
    assert!(shelf.has(&name(1)));
    let left = folder.path().join(".unfinished-abc");
    fs::write(&left, "half").unwrap();
    let size = fs::metadata(file(&folder, 1)).unwrap().len();
    let kept = || {
        (1..=4)
            .filter(|n| file(&folder, *n).exists())
            .collect::<Vec<u8>>()
    };
    // While the first one is open, a second one throws nothing away.
    drop(DiskShelf::open(folder.path(), 2 * size).unwrap());
    assert_eq!(kept(), [1, 2, 3, 4]);
    assert!(left.exists());
    drop(shelf);
    drop(DiskShelf::open(folder.path(), 2 * size).unwrap());
    assert_eq!(kept(), [1, 4]);
    assert!(!left.exists());
}
