//! Every file that a study hands out, by name.

use crate::handout::{Handout, OutputError};
use crate::{geopackage, json, kml, ledger_csv, report, vector_geojson};

/// Name and bytes of every file of a study.
pub fn study_files(handout: &Handout<'_>) -> Result<Vec<(&'static str, Vec<u8>)>, OutputError> {
    Ok(vec![
        ("ledger.csv", ledger_csv::premises(handout)?),
        ("sectors.csv", ledger_csv::sectors(handout)?),
        (
            "premises.geojson",
            vector_geojson::premises(handout)?.into(),
        ),
        ("sectors.geojson", vector_geojson::sectors(handout)?.into()),
        ("links.geojson", vector_geojson::links(handout)?.into()),
        ("network.gpkg", geopackage::geopackage(handout)?),
        ("network.kml", kml::kml(handout)?),
        ("study.json", json::study(handout)?.into()),
        ("report.html", report::report(handout)?.into()),
    ])
}

/// What a file of that name is for a person; empty for an unknown one.
pub fn study_file_meaning(name: &str) -> &'static str {
    match name {
        "ledger.csv" => "every premises with its verdict, cause and link, as a table",
        "sectors.csv" => "every sector with power and load, as a table",
        "premises.geojson" => "premises as points",
        "sectors.geojson" => "sectors as points",
        "links.geojson" => "links as lines",
        "network.gpkg" => "everything as layers of one GeoPackage",
        "network.kml" => "the network for a globe",
        "study.json" => "everything, for programs",
        "report.html" => "the report, for people",
        _ => "",
    }
}
