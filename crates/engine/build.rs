//! Puts a digest of the source code that computes losses and coverage into the
//! program, so that what an earlier build has kept is not taken for this one's.

#![expect(clippy::disallowed_methods, reason = "a build script reads sources")]

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Whatever a number of a coverage goes through.
const SOURCES: [&str; 8] = [
    "src",
    "../sweep/src",
    "../gpu/src",
    "../physics/src",
    "../raster/src",
    "../geodesy/src",
    "../model/src",
    "../../Cargo.lock",
];

fn main() -> io::Result<()> {
    let mut files = Vec::new();
    for source in SOURCES {
        println!("cargo::rerun-if-changed={source}");
        collect(Path::new(source), &mut files)?;
    }
    files.sort();
    let mut digest = blake3::Hasher::new();
    for file in files {
        digest.update(file.to_string_lossy().as_bytes());
        digest.update(blake3::hash(&fs::read(&file)?).as_bytes());
    }
    println!(
        "cargo::rustc-env=MASTWRIGHT_SOURCES={}",
        digest.finalize().to_hex()
    );
    Ok(())
}

fn collect(path: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    if !path.is_dir() {
        // A source that is not there is none.
        if path.exists() {
            files.push(path.to_owned());
        }
        return Ok(());
    }
    for entry in fs::read_dir(path)? {
        collect(&entry?.path(), files)?;
    }
    Ok(())
}
