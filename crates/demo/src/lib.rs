//! The example project: an invented island, its masts and its premises.
//!
//! Everything here is invented: no such land, place or law exists. The same
//! files come out on every machine, because the terrain is made with
//! additions, multiplications and square roots alone and rounded to whole
//! decimetres. [`files`] gives them; someone else writes them to a folder.
//!
//! Read [`island`] for the shape of the land, [`premises`] for who lives
//! there; the design itself is text in `text/`.

mod dice;
pub mod island;
mod land_cover;
pub mod premises;

use raster::Grid;

/// One file of the example project.
#[derive(Debug, Clone)]
pub struct DemoFile {
    /// Path relative to the project folder, with `/`.
    pub path: &'static str,
    /// What it holds.
    pub content: DemoContent,
}

/// The content of a file.
#[derive(Debug, Clone)]
pub enum DemoContent {
    /// Text, written as it stands.
    Text(String),
    /// Metres above sea level, for a raster of floating point cells.
    Elevation(Grid),
    /// Class codes from 0 to 254, for a raster of bytes.
    Classes(Grid),
}

/// Every file of the example project.
pub fn files() -> Vec<DemoFile> {
    let terrain = island::terrain();
    let homes = premises::settle(&terrain);
    let cover = land_cover::classes(&terrain, &homes);
    let text = |path, text: &str| DemoFile {
        path,
        content: DemoContent::Text(text.to_owned()),
    };
    vec![
        text("mastwright.toml", include_str!("text/mastwright.toml")),
        text("plans.toml", include_str!("text/plans.toml")),
        text(
            "equipment/terminals.toml",
            include_str!("text/terminals.toml"),
        ),
        text("premises.csv", &premises::table(&homes)),
        DemoFile {
            path: "terrain/ossorel.tif",
            content: DemoContent::Elevation(terrain),
        },
        DemoFile {
            path: "landcover/ossorel.tif",
            content: DemoContent::Classes(cover),
        },
    ]
}
