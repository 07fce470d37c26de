//! Any text as a table of premises: findings, never a panic; what an edit
//! writes can be read again and says the same.
#![no_main]

use design::write::apply_premises_edits;
use design::{SourceText, premises_from_csv};
use libfuzzer_sys::fuzz_target;
use model::{Edit, PremisesId};

fuzz_target!(|text: &str| {
    let (table, _) = premises_from_csv(&SourceText::new("fuzz.csv", text));
    let Some(table) = table else { return };
    let Some(id) = table.column("id") else { return };
    let Some(id) = table.rows.first().and_then(|row| row.cells.get(id)) else {
        return;
    };
    let edit = Edit::PremisesMountHeight {
        premises: PremisesId::new(id.as_str()),
        mount_height_agl_m: 7.5,
    };
    if let Ok(written) = apply_premises_edits(text, &[edit.clone()]) {
        assert_eq!(apply_premises_edits(&written, &[edit]), Ok(written));
    }
});
