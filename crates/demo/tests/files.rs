//! The example project as a set of files.

#![expect(clippy::unwrap_used, reason = "a test that finds nothing fails")]

use std::collections::BTreeSet;

use demo::DemoContent;

/// FNV-1a, enough to notice a changed bit.
fn print_of(bytes: impl IntoIterator<Item = u8>) -> u64 {
    bytes.into_iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

fn content(path: &str) -> DemoContent {
    let file = demo::files().into_iter().find(|f| f.path == path).unwrap();
    file.content
}

/// Our own earlier output: the same on every machine, whatever its mathematics library.
#[test]
fn gold_terrain_is_the_same_everywhere() {
    let DemoContent::Elevation(terrain) = content("terrain/ossorel.tif") else {
        panic!("terrain is an elevation raster");
    };
    let bytes = terrain.cells().iter().flat_map(|v| v.to_le_bytes());
    assert_eq!(print_of(bytes), TERRAIN, "terrain changed");
    let highest = terrain.cells().iter().copied().fold(0.0, f32::max);
    assert_eq!(highest, 641.3, "height of the summit");
    let sea = terrain.cells().iter().filter(|v| **v == 0.0).count();
    let share = sea as f64 / terrain.cells().len() as f64;
    assert!((0.3..0.7).contains(&share), "{share} of the map is sea");
}

#[test]
fn exact_premises_stand_on_land_and_have_their_own_ids() {
    let terrain = demo::island::terrain();
    let homes = demo::premises::settle(&terrain);
    assert!(homes.len() >= 400);
    let ids: BTreeSet<_> = homes.iter().map(|h| &h.id).collect();
    assert_eq!(ids.len(), homes.len());
    for home in &homes {
        let height_m = terrain.nearest(home.at.lonlat());
        assert!(height_m > 0.0, "{} stands in the sea", home.id);
    }
}

#[test]
fn exact_classes_are_those_of_the_legend() {
    let DemoContent::Classes(cover) = content("landcover/ossorel.tif") else {
        panic!("land cover is a class raster");
    };
    let found: BTreeSet<i32> = cover.cells().iter().map(|v| *v as i32).collect();
    let legend = BTreeSet::from([10, 20, 30, 40, 50, 60, 80]);
    assert_eq!(found, legend);
}

const TERRAIN: u64 = 2_192_126_793_221_702_285;
