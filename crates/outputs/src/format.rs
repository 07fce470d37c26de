//! Numbers to text with units, for people: the one place that decides how
//! many decimals a quantity deserves.

/// A number with a fixed count of decimals and a typographic minus; never "−0".
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let text = format!("{value:.decimals$}");
    let is_zero = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    match text.strip_prefix('-') {
        Some(rest) if is_zero => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// A number with its unit, with the decimals its unit deserves.
pub fn with_unit(value: f64, unit: &str) -> String {
    let text = number(value, decimals_of_unit(unit));
    if value.is_finite() && !unit.is_empty() {
        format!("{text} {unit}")
    } else {
        text
    }
}

/// Decimals that a unit deserves on paper.
pub fn decimals_of_unit(unit: &str) -> usize {
    match unit {
        "m" | "%" => 0,
        "km" => 2,
        _ => 1,
    }
}

/// Decimals that a field keeps in a table for programs, by the suffix of its
/// name: one step finer than anybody can measure.
pub fn decimals_of_field(name: &str) -> usize {
    const BY_SUFFIX: [(&str, usize); 13] = [
        ("lon_deg", 7),
        ("lat_deg", 7),
        ("_deg", 2),
        ("_dbm", 2),
        ("_dbi", 2),
        ("_db", 2),
        ("_frac", 4),
        ("_ratio", 3),
        ("_mbps", 3),
        ("_mhz", 4),
        ("_agl_m", 2),
        ("_amsl_m", 2),
        ("_m", 1),
    ];
    BY_SUFFIX
        .iter()
        .find(|(suffix, _)| name.ends_with(suffix))
        .map_or(6, |(_, decimals)| *decimals)
}

/// A field's number as a program reads it, rounded to the decimals of its name.
pub fn round_field(name: &str, value: f64) -> f64 {
    let decimals = decimals_of_field(name);
    // Through text, so that the result is the nearest number to what is
    // printed and prints the same again. Adding zero drops a negative sign.
    format!("{value:.decimals$}")
        .parse::<f64>()
        .map_or(value, |v| v + 0.0)
}

/// A ratio: `−3.2 dB`.
pub fn db(value_db: f64) -> String {
    with_unit(value_db, "dB")
}

/// A ratio that says its direction: `+3.2 dB`.
pub fn signed_db(value_db: f64) -> String {
    let text = db(value_db);
    if value_db > 0.0 && text != "0.0 dB" {
        format!("+{text}")
    } else {
        text
    }
}

/// A level: `−71.4 dBm`.
pub fn dbm(value_dbm: f64) -> String {
    with_unit(value_dbm, "dBm")
}

/// A height or a short length: `12 m`, below ten metres with a decimal.
pub fn metres(value_m: f64) -> String {
    let decimals = usize::from(value_m != 0.0 && value_m.abs() < 9.95);
    format!("{} m", number(value_m, decimals))
}

/// A distance: metres up to a kilometre, kilometres beyond.
pub fn distance(value_m: f64) -> String {
    if value_m.abs() < 999.5 {
        format!("{} m", number(value_m, 0))
    } else if value_m.abs() < 99_950.0 {
        format!("{} km", number(value_m / 1e3, 2))
    } else {
        format!("{} km", number(value_m / 1e3, 0))
    }
}

/// A bearing: `007°`.
pub fn bearing(azimuth_deg: f64) -> String {
    // 359.6 rounds to north, which is written 000.
    format!("{:03.0}°", azimuth_deg.rem_euclid(360.0).round() % 360.0)
}

/// An angle: `−1.2°`.
pub fn angle(value_deg: f64) -> String {
    format!("{}°", number(value_deg, 1))
}

/// A rate: `25 Mb/s`, below ten with a decimal.
pub fn rate(value_mbps: f64) -> String {
    let decimals = usize::from(value_mbps < 9.95);
    format!("{} Mb/s", number(value_mbps, decimals))
}

/// A frequency: `5 815 MHz`, with decimals only where there are any.
pub fn frequency(value_mhz: f64) -> String {
    let decimals = if value_mhz.fract().abs() < 5e-4 { 0 } else { 3 };
    format!("{} MHz", number(value_mhz, decimals))
}

/// An expected count of installations with its verb: `5.3 installations are`.
pub fn installations(expected: f64) -> String {
    let text = number(expected, usize::from(expected < 9.95));
    let words = if text == "1.0" {
        "installation is"
    } else {
        "installations are"
    };
    format!("{text} {words}")
}

/// A share as a percentage: `93 %`. Only certainty is written as 0 or 100.
pub fn percent(share_frac: f64) -> String {
    let value_pct = 100.0 * share_frac;
    if value_pct > 99.0 && share_frac < 1.0 {
        if value_pct >= 99.95 {
            return "> 99.9 %".to_owned();
        }
        return format!("{} %", number(value_pct, 1));
    }
    if value_pct < 1.0 && share_frac > 0.0 {
        if value_pct < 0.05 {
            return "< 0.1 %".to_owned();
        }
        return format!("{} %", number(value_pct, 1));
    }
    format!("{} %", number(value_pct, 0))
}

/// A count with a narrow space between thousands: `12 345`.
pub fn count(value: usize) -> String {
    let digits = value.to_string();
    let mut text = String::with_capacity(digits.len() + digits.len() / 3);
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}

/// A count of things: `1 sector`, `3 sectors`.
pub fn count_of(value: usize, one: &str, many: &str) -> String {
    format!("{} {}", count(value), if value == 1 { one } else { many })
}

/// Text without the characters that no XML document may hold.
///
/// Source: Extensible Markup Language 1.0, fifth edition, production 2.
pub fn xml_text(text: &str) -> String {
    text.chars()
        .filter(|c| {
            matches!(c, '\t' | '\n' | '\r') || (*c >= ' ' && !matches!(c, '\u{fffe}' | '\u{ffff}'))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_numbers_read_as_a_person_writes_them() {
        assert_eq!(db(-3.24), "−3.2 dB");
        assert_eq!(number(-0.04, 1), "0.0");
        assert_eq!(signed_db(0.04), "0.0 dB");
        assert_eq!(signed_db(3.0), "+3.0 dB");
        assert_eq!(distance(999.6), "1.00 km");
        assert_eq!(distance(850.2), "850 m");
        assert_eq!(bearing(359.7), "000°");
        assert_eq!(bearing(7.2), "007°");
        assert_eq!(percent(0.9999), "> 99.9 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.994), "99.4 %");
        assert_eq!(percent(0.93), "93 %");
        assert_eq!(count(1_234_567), "1\u{202f}234\u{202f}567");
        assert_eq!(db(f64::NEG_INFINITY), "–");
    }

    #[test]
    fn exact_fields_round_by_their_suffix() {
        assert_eq!(round_field("downlink_rsl_dbm", -71.404_9), -71.4);
        assert_eq!(round_field("lon_deg", 8.123_456_78), 8.123_456_8);
        assert!(round_field("margin_db", -0.001).is_sign_positive());
        assert_eq!(decimals_of_field("from_amsl_m"), 2);
        assert_eq!(decimals_of_field("distance_m"), 1);
    }
}
