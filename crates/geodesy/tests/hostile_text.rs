//! Whatever a file says about its reference system: an error or a system
//! that answers, never a panic.

use geodesy::crs::geo_keys::{GeoKeyValue, GeoKeys};
use geodesy::{Crs, LonLat, MapXy};
use proptest::prelude::*;

const WKT: &str = r#"PROJCS["MGI_Austria_Lambert",GEOGCS["GCS_MGI",DATUM["D_MGI",SPHEROID["Bessel_1841",6377397.155,299.1528128]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Lambert_Conformal_Conic"],PARAMETER["False_Easting",400000.0],PARAMETER["Central_Meridian",13.3],PARAMETER["Standard_Parallel_1",49.0],PARAMETER["Standard_Parallel_2",46.0],PARAMETER["Latitude_Of_Origin",47.5],UNIT["Meter",1.0]]"#;

/// Asks a system for a few places, whatever it is.
fn ask(crs: &Crs) {
    for (lon_deg, lat_deg) in [(0.0, 0.0), (13.0, 47.0), (-179.9, -89.9), (90.0, 90.0)] {
        let place = LonLat::new(lon_deg, lat_deg).expect("a place");
        if let Ok(at) = crs.to_map(place) {
            assert!(at.x.is_finite() && at.y.is_finite());
        }
        let at = MapXy {
            x: lon_deg * 1e5,
            y: lat_deg * 1e5,
        };
        if let Ok(place) = crs.to_lonlat(at) {
            assert!(place.lat_deg().abs() <= 90.0);
        }
    }
}

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        -180.0..180.0_f64,
        prop::sample::select(vec![0.0, 90.0, -90.0, 1e300, 6_378_137.0, 298.257]),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn exact_mutated_wkt_never_panics(
        edits in prop::collection::vec((any::<prop::sample::Index>(), any::<char>()), 0..6),
        cut in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let mut text: Vec<char> = WKT.chars().collect();
        for (at, c) in edits {
            let at = at.index(text.len());
            text[at] = c;
        }
        if let Some(cut) = cut {
            text.truncate(cut.index(text.len()));
        }
        if let Ok(crs) = Crs::parse(&text.into_iter().collect::<String>()) {
            ask(&crs);
        }
    }

    #[test]
    fn exact_odd_parameters_never_panic(
        method in prop::sample::select(vec!["utm", "tmerc", "lcc", "aea", "merc", "laea", "longlat", "stere", "krovak", "somerc", "omerc", "x"]),
        values in prop::collection::vec((prop::sample::select(vec!["lon_0", "lat_0", "lat_1", "lat_2", "k_0", "x_0", "zone", "to_meter", "a", "rf", "pm", "lat_ts"]), number()), 0..6),
    ) {
        let words: Vec<String> = values.iter().map(|(k, v)| format!("+{k}={v}")).collect();
        if let Ok(crs) = Crs::parse(&format!("+proj={method} {} +ellps=GRS80", words.join(" "))) {
            ask(&crs);
        }
    }

    #[test]
    fn exact_odd_geo_keys_never_panic(
        shorts in prop::collection::vec((prop::sample::select(vec![1024_u16, 2048, 2050, 2056, 3072, 3074, 3075, 3076]), prop_oneof![any::<u16>(), Just(32_767), 1..17_u16]), 0..7),
        doubles in prop::collection::vec((3077..3096_u16, number()), 0..6),
        axes in prop::option::of((number(), number())),
    ) {
        let mut keys = GeoKeys::default();
        for (key, value) in shorts {
            keys.insert(key, GeoKeyValue::Short(value));
        }
        for (key, value) in doubles {
            keys.insert(key, GeoKeyValue::Double(vec![value]));
        }
        if let Some((a, rf)) = axes {
            keys.insert(2057, GeoKeyValue::Double(vec![a]));
            keys.insert(2059, GeoKeyValue::Double(vec![rf]));
        }
        if let Ok(Some(crs)) = keys.horizontal_crs() {
            ask(&crs);
        }
    }
}

/// Every definition answers or says why not: no code panics.
#[test]
fn exact_every_code_is_safe() {
    let mut usable = 0;
    for code in 0..=u32::from(u16::MAX) {
        if let Ok(crs) = Crs::from_epsg(code) {
            ask(&crs);
            usable += 1;
        }
    }
    assert!(usable > 3000, "{usable}");
}
