//! Any text as a design, as plans and as cards: findings, never a panic;
//! what an edit writes can be read again.
#![no_main]

use design::write::apply_edits;
use design::{ProjectSources, SourceText, read};
use libfuzzer_sys::fuzz_target;
use model::edit::SectorField;
use model::{Edit, SectorId};

fuzz_target!(|text: &str| {
    let source = SourceText::new("fuzz.toml", text);
    let sources = ProjectSources {
        design: Some(source.clone()),
        plans: Some(source.clone()),
        equipment: vec![source],
        ..ProjectSources::default()
    };
    let (network, _) = read(&sources);
    let sector = network
        .and_then(|network| network.sectors.first().map(|sector| sector.id.clone()))
        .unwrap_or_else(|| SectorId::new("a"));
    let edit = Edit::Sector {
        sector,
        field: SectorField::AzimuthDeg,
        value: 12.5,
    };
    if let Ok(written) = apply_edits(text, &[edit.clone()]) {
        assert_eq!(apply_edits(&written, &[edit]), Ok(written));
    }
});
