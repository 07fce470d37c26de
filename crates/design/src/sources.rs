//! What a project folder holds, read into memory by someone else.

use std::collections::BTreeMap;
use std::sync::Arc;

use model::Finding;
use model::equipment::CutPoint;

use crate::climate_grid::ClimateGrid;
use crate::premises_table::PremisesTable;
use crate::text::SourceText;

/// Everything that [`crate::read`] looks at. This crate opens no file itself.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ProjectSources {
    /// `mastwright.toml`; `None` where the folder has none.
    pub design: Option<SourceText>,
    /// `plans.toml`.
    pub plans: Option<SourceText>,
    /// `equipment/*.toml`, in rising order of file name.
    pub equipment: Vec<SourceText>,
    /// The premises, from whichever of the three formats the folder has.
    pub premises: Option<PremisesTable>,
    /// Pattern files by the path under which a card names them.
    pub patterns: BTreeMap<String, PatternTable>,
    /// Climate maps by the path under which the design names them; `None` for a file that was there and could not be read, which is told in `findings`.
    pub climate_maps: BTreeMap<String, Option<Arc<ClimateGrid>>>,
    /// Paths of the folder's other files, relative to it, with `/`; raster patterns are matched with them.
    pub files: Vec<Arc<str>>,
    /// What the reader of the folder had to tell.
    pub findings: Vec<Finding>,
}

/// An antenna pattern read from a file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PatternTable {
    /// Loss below the peak in the horizontal plane.
    pub horizontal: Vec<CutPoint>,
    /// Loss below the peak in the vertical plane.
    pub vertical: Vec<CutPoint>,
}

/// Paths of the pattern files that a project's equipment cards name.
pub fn pattern_files(equipment: &[SourceText]) -> Vec<String> {
    let mut unheard = Vec::new();
    let mut paths: Vec<String> = equipment
        .iter()
        .filter_map(|text| {
            crate::written::read_toml::<crate::schema::CardsText>(text, &mut unheard)
        })
        .flat_map(|cards| cards.antenna.map_or(Vec::new(), |list| list.value))
        .filter_map(|antenna| antenna.value.pattern_file.map(|path| path.value))
        .collect();
    paths.sort();
    paths.dedup();
    paths
}

/// Paths of the climate maps that a design names.
pub fn climate_map_files(design: &SourceText) -> Vec<String> {
    let text = crate::written::read_toml::<crate::schema::DesignText>(design, &mut Vec::new());
    let maps = text.and_then(|text| text.climate?.value.map);
    let mut paths: Vec<String> = maps
        .map_or(Vec::new(), |list| list.value)
        .into_iter()
        .filter_map(|map| map.value.file.map(|file| file.value))
        .collect();
    paths.sort();
    paths.dedup();
    paths
}
