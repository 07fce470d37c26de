//! The datum's place relative to WGS 84, made explicit in the parameters.

use super::CrsError;

/// Datum names of well-known texts (without a leading `D_`, lower case,
/// letters and digits only) beside a geographic EPSG code whose definition
/// carries the shift.
const DATUMS: [(&str, u16); 22] = [
    ("amersfoort", 4289),
    ("ch1903", 4149),
    ("ch1903plus", 4150),
    ("belge1972", 4313),
    ("reseaunationalbelge1972", 4313),
    ("deutscheshauptdreiecksnetz", 4314),
    ("dhdn", 4314),
    ("european1950", 4230),
    ("europeandatum1950", 4230),
    ("hungarian1972", 4237),
    ("hungariandatum1972", 4237),
    ("ireland1965", 4299),
    ("tm65", 4299),
    ("mgi", 4312),
    ("militargeographischeinstitute", 4312),
    ("montemario", 4265),
    ("osgb1936", 4277),
    ("pulkovo1942", 4284),
    ("pulkovo194283", 4178),
    ("sjtsk", 4156),
    ("systemjednotnetrigonometrickesitekatastralni", 4156),
    ("newzealand1949", 4272),
];

/// The parameters with an explicit shift to WGS 84, or why there is none.
pub(super) fn complete(
    name: &str,
    parameters: &str,
    datum_name: Option<&str>,
) -> Result<String, CrsError> {
    if let Some(grids) = value(parameters, "nadgrids") {
        return match grids {
            "@null" => Ok(parameters.to_owned()),
            _ => Err(CrsError::NeedsShiftGrid { name: name.into() }),
        };
    }
    let by_name = datum_name.map(plain);
    let nad27 = by_name
        .as_deref()
        .is_some_and(|d| d.ends_with("northamerican1927") || d == "northamericandatum1927");
    if nad27 || value(parameters, "datum") == Some("NAD27") {
        return Err(CrsError::NeedsShiftGrid { name: name.into() });
    }
    // A zero shift on an old ellipsoid means "not stated", as the reader of
    // well-known text writes it.
    let stated = value(parameters, "datum").is_some()
        || value(parameters, "towgs84")
            .is_some_and(|t| modern_ellipsoid(parameters) || !is_zero(t));
    if stated {
        return Ok(parameters.to_owned());
    }
    if modern_ellipsoid(parameters) {
        return Ok(format!("{} +towgs84=0,0,0", without(parameters, "towgs84")));
    }
    let shift = by_name
        .and_then(|d| DATUMS.iter().find(|(n, _)| *n == d))
        .and_then(|(_, code)| crs_definitions::from_code(*code))
        .and_then(|definition| shift_of(definition.proj4));
    match shift {
        Some(shift) => Ok(format!("{} {shift}", without(parameters, "towgs84"))),
        None => Err(CrsError::UnknownDatum { name: name.into() }),
    }
}

/// Whether the datum is WGS 84 or lies on it within a metre or two (ETRS89,
/// NAD83), so that degrees are taken as they are.
pub(super) fn is_wgs84(parameters: &str) -> bool {
    let unshifted = match value(parameters, "datum") {
        Some(datum) => matches!(datum, "WGS84" | "NAD83"),
        None => value(parameters, "towgs84").is_some_and(is_zero) && modern_ellipsoid(parameters),
    };
    unshifted && matches!(value(parameters, "pm"), None | Some("0" | "greenwich"))
}

/// The quoted word after a keyword: the name of a well-known text's part.
pub(super) fn quoted_after<'a>(text: &'a str, keyword: &str) -> Option<&'a str> {
    let start = text.find(keyword)? + keyword.len();
    let rest = text[start..].trim_start().strip_prefix('"')?;
    rest.split('"').next()
}

/// The value of `+key=value`.
pub(super) fn value<'a>(parameters: &'a str, key: &str) -> Option<&'a str> {
    parameters.split_whitespace().find_map(|word| {
        let (k, v) = word.trim_start_matches('+').split_once('=')?;
        (k == key).then_some(v)
    })
}

/// The part of a definition that says where its datum lies.
pub(super) fn shift_of(definition: &str) -> Option<String> {
    let towgs84 = value(definition, "towgs84").map(|v| format!("+towgs84={v}"));
    // `+datum=` also sets the ellipsoid, which the parameters have already;
    // both are the same by the name.
    towgs84.or_else(|| value(definition, "datum").map(|v| format!("+datum={v}")))
}

fn without(parameters: &str, key: &str) -> String {
    let kept = parameters.split_whitespace().filter(|word| {
        word.trim_start_matches('+')
            .split_once('=')
            .is_none_or(|(k, _)| k != key)
    });
    kept.collect::<Vec<_>>().join(" ")
}

fn is_zero(towgs84: &str) -> bool {
    towgs84.split(',').all(|v| v.trim().parse() == Ok(0.0))
}

/// GRS 1980 and WGS 84 ellipsoids: the datums on them agree with WGS 84
/// within a metre or two.
fn modern_ellipsoid(parameters: &str) -> bool {
    if let Some(name) = value(parameters, "ellps") {
        return matches!(name, "GRS80" | "WGS84");
    }
    let number = |key| value(parameters, key).and_then(|v| v.parse::<f64>().ok());
    let a = number("a").unwrap_or(0.0);
    let rf = number("rf")
        .or_else(|| number("b").map(|b| a / (a - b)))
        .unwrap_or(0.0);
    (a - 6_378_137.0).abs() < 0.01 && (rf - 298.2572).abs() < 1e-4
}

fn plain(name: &str) -> String {
    let name = name.strip_prefix("D_").unwrap_or(name).replace('+', "plus");
    name.chars()
        .filter(char::is_ascii_alphanumeric)
        .collect::<String>()
        .to_ascii_lowercase()
}
