//! What end-to-end tests and benchmarks share: where the reference data lie,
//! and a whole project on real terrain.

#![expect(
    clippy::disallowed_methods,
    reason = "tests and benchmarks write project folders"
)]

pub mod santa_ana;

use std::path::{Path, PathBuf};

/// The folder of shared reference data: named by `MASTWRIGHT_SHARED`, or
/// `shared` beside the checkout. `None` where there is none.
pub fn shared_dir() -> Option<PathBuf> {
    let named = std::env::var_os("MASTWRIGHT_SHARED").map(PathBuf::from);
    let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared");
    named
        .into_iter()
        .chain([beside])
        .find(|dir| dir.join("geodata").is_dir())
}
