//! Writes every output of a settled valley for the eye, where the
//! environment names a folder in `MASTWRIGHT_LOOK`.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot be set up has failed"
)]

mod valley;

use outputs::TextStyle;

#[test]
#[expect(clippy::disallowed_methods, reason = "writes for the eye, on request")]
fn gold_everything_for_the_eye() {
    let Ok(folder) = std::env::var("MASTWRIGHT_LOOK") else {
        println!("skipped: nobody looks, MASTWRIGHT_LOOK names no folder");
        return;
    };
    let folder = std::path::Path::new(&folder);
    let write = |name: &str, bytes: &[u8]| std::fs::write(folder.join(name), bytes).unwrap();
    let valley = valley::Valley::settled(140);
    let h = valley.handout();
    write(
        "report.html",
        outputs::report::report(&h).unwrap().as_bytes(),
    );
    write("study.gpkg", &outputs::geopackage::geopackage(&h).unwrap());
    write("study.kml", &outputs::kml::kml(&h).unwrap());
    write("study.json", outputs::json::study(&h).unwrap().as_bytes());
    write("ledger.csv", &outputs::ledger_csv::premises(&h).unwrap());
    write(
        "premises.geojson",
        outputs::vector_geojson::premises(&h).unwrap().as_bytes(),
    );
    for (i, report) in valley.cross_sections.iter().enumerate() {
        let svg = outputs::cross_section_svg(report);
        write(&format!("section-{i}.svg"), svg.as_bytes());
        let style = TextStyle {
            colour: true,
            ..TextStyle::default()
        };
        let text = outputs::cross_section_text(report, &style)
            + &outputs::cross_section_text(
                report,
                &TextStyle {
                    ascii: true,
                    width: 80,
                    colour: false,
                },
            )
            + &outputs::budget_text(report, &TextStyle::default());
        write(&format!("section-{i}.txt"), text.as_bytes());
    }
}
