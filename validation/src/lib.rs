//! The published models against their reference tables, as a page.
//!
//! `suites.toml` says what is compared with what, how closely and why;
//! [`measure`] runs the calculator over every table; [`page`] writes what came
//! of it. Every figure of the page is computed when it is written.

#![expect(
    clippy::disallowed_methods,
    reason = "reads the reference tables and writes one page"
)]

mod compare;
mod page;
mod suites;

use std::path::{Path, PathBuf};

use anyhow::Context;

pub use compare::{Comparison, Measured, TableMeasured};
pub use page::page;
pub use suites::{Suite, Suites};

/// Folder of the reference tables of all models; `None` where it is not there.
#[must_use]
pub fn reference() -> Option<PathBuf> {
    let folder = tests::shared_dir()?.join("reference/propagation");
    folder.is_dir().then_some(folder)
}

/// Where the page lies.
#[must_use]
pub fn page_path() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/VALIDATION.md")
}

/// Runs every table of every suite.
///
/// # Errors
/// A table that is missing, that the calculator refuses, or that lacks a
/// column which is to be compared.
pub fn measure(suites: &Suites, reference: &Path) -> anyhow::Result<Vec<Measured>> {
    let measured = suites.suite.iter().map(|suite| {
        compare::measure(suite, &reference.join(suite.folder()))
            .with_context(|| format!("suite `{}`", suite.name))
    });
    measured.collect()
}
