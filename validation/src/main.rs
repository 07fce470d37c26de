//! `make validate`: writes `docs/VALIDATION.md` anew.

#![expect(
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a program that writes one page and says so"
)]

use anyhow::ensure;
use validation::{Suites, measure, page, page_path, reference};

fn main() -> anyhow::Result<()> {
    let Some(reference) = reference() else {
        println!("skipped: the page, the shared reference data is not here");
        return Ok(());
    };
    let suites = Suites::built_in()?;
    let measured = measure(&suites, &reference)?;
    let path = page_path();
    std::fs::write(&path, page(&suites, &measured))?;
    let tables: Vec<_> = measured.iter().flat_map(|m| &m.tables).collect();
    let cases: usize = tables.iter().map(|t| t.rows).sum();
    println!(
        "{cases} cases in {} tables: docs/VALIDATION.md",
        tables.len()
    );
    let failed: Vec<_> = tables
        .iter()
        .filter(|t| !t.passes())
        .map(|t| format!("{} ({:?}, {:?})", t.model.name, t.results, t.further))
        .collect();
    ensure!(
        failed.is_empty(),
        "out of tolerance:\n{}",
        failed.join("\n")
    );
    Ok(())
}
