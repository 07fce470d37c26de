//! The unit of a number, from the end of its name.

/// Unit of a key, as a person writes it; empty where the key has none.
pub(crate) fn of_key(key: &str) -> &'static str {
    const UNITS: &[(&str, &str)] = &[
        ("_dbm_per_mhz", "dBm/MHz"),
        ("_n_per_km", "N/km"),
        ("_mm_per_h", "mm/h"),
        ("_mbps_per_mhz", "Mb/s per MHz"),
        ("_per_s", "per second"),
        ("_agl_m", "m above ground"),
        ("_amsl_m", "m above sea level"),
        ("_mbps", "Mb/s"),
        ("_dbm", "dBm"),
        ("_dbi", "dBi"),
        ("_mhz", "MHz"),
        ("_deg", "degrees"),
        ("_pct", "percent"),
        ("_frac", "(a share, 0 to 1)"),
        ("_db", "dB"),
        ("_km", "km"),
        ("_us", "µs"),
        ("_ms", "ms"),
        ("_m", "m"),
    ];
    if key == "surface_refractivity_n" {
        return "N";
    }
    if matches!(key, "lon" | "lat") {
        return "degrees";
    }
    UNITS
        .iter()
        .find(|(suffix, _)| key.ends_with(suffix))
        .map_or("", |(_, unit)| unit)
}
