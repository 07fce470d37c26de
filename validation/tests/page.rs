//! The page in the tree is what a run writes, and everything on it passes.

#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "tests read the page and the tables, and say what they skip"
)]

use std::collections::BTreeSet;
use std::path::Path;

use validation::{Suites, measure, page, page_path, reference};

fn suites() -> Suites {
    Suites::built_in().expect("suites")
}

fn tables() -> Option<std::path::PathBuf> {
    let folder = reference();
    if folder.is_none() {
        println!("skipped: the validation page, the shared reference data is not here");
    }
    folder
}

#[test]
fn gold_the_page_is_fresh() {
    let Some(folder) = tables() else { return };
    let fresh = page(&suites(), &measure(&suites(), &folder).expect("measured"));
    let there = std::fs::read_to_string(page_path()).expect("docs/VALIDATION.md");
    for (i, (a, b)) in there.lines().zip(fresh.lines()).enumerate() {
        assert_eq!(
            a,
            b,
            "docs/VALIDATION.md:{} is stale; hint: make validate",
            i + 1
        );
    }
    assert_eq!(
        there, fresh,
        "docs/VALIDATION.md is stale; hint: make validate"
    );
}

/// Source: the tables themselves; see the page for each.
#[test]
fn ref_every_table_is_within_tolerance() {
    let Some(folder) = tables() else { return };
    for model in measure(&suites(), &folder).expect("measured") {
        for table in model.tables {
            let all = table.results.iter().chain(&table.further);
            let failed: Vec<_> = all.filter(|c| !c.passes()).collect();
            assert!(failed.is_empty(), "{}: {failed:?}", table.model.name);
        }
    }
}

/// No table of the reference is left out, but those of models we do not have.
#[test]
fn exact_every_table_stands_in_a_suite() {
    let Some(folder) = tables() else { return };
    let suites = suites();
    let named: BTreeSet<String> = suites
        .suite
        .iter()
        .flat_map(|s| {
            s.table
                .iter()
                .map(|t| format!("{}/{}", suite_folder(&s.name), t.file))
        })
        .collect();
    let mut there = BTreeSet::new();
    for model in std::fs::read_dir(&folder).expect("the folder") {
        let model = model.expect("an entry").path();
        // Air to ground, P.528, is not among the models.
        if model.is_dir() && !model.ends_with("p528") {
            there.extend(csv_files(&model));
        }
    }
    assert_eq!(named, there);
}

fn suite_folder(name: &str) -> &str {
    name.strip_suffix("-area").unwrap_or(name)
}

fn csv_files(folder: &Path) -> Vec<String> {
    let name = folder.file_name().and_then(|n| n.to_str()).expect("a name");
    let files = std::fs::read_dir(folder).expect("the folder");
    files
        .map(|f| f.expect("an entry").path())
        .filter(|f| f.extension().is_some_and(|e| e == "csv"))
        .map(|f| {
            format!(
                "{name}/{}",
                f.file_name().and_then(|n| n.to_str()).expect("a name")
            )
        })
        .collect()
}
