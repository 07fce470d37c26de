//! Rules of the house that no compiler checks: who may use whom, where
//! decibels are converted, who prints, what may lie in the tree.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "tests fail where something is not there, and read the tree"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

/// Who may use whom, as ARCHITECTURE.md has it.
const ARROWS: &[(&str, &[&str])] = &[
    (
        "cli",
        &[
            "server",
            "store",
            "outputs",
            "pipeline",
            "calculator",
            "demo",
            "gpu",
        ],
    ),
    ("server", &["store", "outputs", "pipeline", "geodesy"]),
    ("store", &["pipeline", "raster", "model", "geodesy"]),
    ("pipeline", &["design", "engine", "model", "geodesy"]),
    ("outputs", &["engine", "raster", "model", "geodesy"]),
    (
        "engine",
        &[
            "model",
            "sweep",
            "raster",
            "simulator",
            "traffic",
            "physics",
            "geodesy",
        ],
    ),
    ("sweep", &["raster", "physics", "geodesy"]),
    ("gpu", &["sweep", "raster", "physics", "geodesy"]),
    ("design", &["model", "geodesy"]),
    ("model", &["geodesy"]),
    ("raster", &["geodesy"]),
    ("demo", &["raster", "geodesy"]),
    ("calculator", &["physics"]),
    ("physics", &[]),
    ("simulator", &["physics", "traffic"]),
    ("traffic", &[]),
    ("geodesy", &[]),
];

fn root() -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    root.canonicalize().unwrap()
}

/// Every file of the tree that a person wrote, relative to the root.
fn tree() -> Vec<PathBuf> {
    let root = root();
    let ignored = [
        "target",
        "node_modules",
        "dist",
        "results",
        "corpus",
        "artifacts",
    ];
    let walk = WalkDir::new(&root).into_iter().filter_entry(|entry| {
        let name = entry.file_name().to_string_lossy();
        let is_ignored = name.starts_with('.') || ignored.contains(&&*name);
        // What `make demo` writes is not part of the tree.
        let is_demo = entry.path() == root.join("island");
        // In a further working tree of the repository `.git` is a file.
        let is_outside = name == ".git" || entry.file_type().is_dir() && (is_ignored || is_demo);
        entry.depth() == 0 || !is_outside
    });
    let files = walk.map(Result::unwrap).filter(|e| e.file_type().is_file());
    files
        .map(|e| e.path().strip_prefix(&root).unwrap().to_owned())
        .collect()
}

/// Rust files below `crates/NAME/src`, with the crate's name.
fn sources() -> Vec<(String, PathBuf)> {
    tree()
        .into_iter()
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .filter_map(|path| {
            let parts: Vec<_> = path.iter().map(|p| p.to_string_lossy()).collect();
            match parts.as_slice() {
                [top, name, src, ..] if top == "crates" && src == "src" => {
                    Some((name.to_string(), path.clone()))
                }
                _ => None,
            }
        })
        .collect()
}

fn text(path: &Path) -> String {
    fs::read_to_string(root().join(path)).unwrap_or_default()
}

/// Lines of code with their numbers, comments and texts left out.
fn code(path: &Path) -> Vec<(usize, String)> {
    text(path)
        .lines()
        .enumerate()
        .map(|(i, line)| (i + 1, bare(line)))
        .collect()
}

/// A line without what stands in quotes and after `//`.
fn bare(line: &str) -> String {
    let unescaped = line
        .replace("\\\\", "")
        .replace("\\\"", "")
        .replace("'\"'", "");
    let outside: Vec<&str> = unescaped.split('"').step_by(2).collect();
    let outside = outside.join("\"\"");
    outside.split("//").next().unwrap_or("").to_owned()
}

/// Fails with every place where a rule is broken.
fn none(rule: &str, broken: &[String]) {
    assert!(broken.is_empty(), "{rule}:\n  {}", broken.join("\n  "));
}

/// Lines of crates other than `allowed` in which `is_broken` finds something.
fn lines_where(allowed: &[&str], is_broken: impl Fn(&str) -> bool) -> Vec<String> {
    let mut broken = Vec::new();
    for (_, path) in sources()
        .iter()
        .filter(|(name, _)| !allowed.contains(&name.as_str()))
    {
        for (number, line) in code(path) {
            if is_broken(&line) {
                broken.push(format!("{}:{number}: {}", path.display(), line.trim()));
            }
        }
    }
    broken
}

#[test]
fn exact_crates_use_only_those_below() {
    let allowed: BTreeMap<_, _> = ARROWS.iter().copied().collect();
    let mut broken = Vec::new();
    let mut seen = 0;
    for entry in fs::read_dir(root().join("crates")).unwrap() {
        let folder = entry.unwrap().path();
        let Ok(manifest) = fs::read_to_string(folder.join("Cargo.toml")) else {
            continue;
        };
        let name = folder.file_name().unwrap().to_str().unwrap().to_owned();
        let manifest: toml::Table = manifest.parse().unwrap();
        let Some(may_use) = allowed.get(name.as_str()) else {
            broken.push(format!("crate `{name}` stands in no row of the table"));
            continue;
        };
        seen += 1;
        let ours = |used: &str| allowed.contains_key(used) || used == "cli";
        let used = manifest.get("dependencies").and_then(toml::Value::as_table);
        let wrong = used.into_iter().flat_map(toml::Table::keys);
        let wrong = wrong.filter(|used| ours(used) && !may_use.contains(&used.as_str()));
        broken.extend(wrong.map(|used| format!("{name} uses {used}")));
        if manifest["lints"]["workspace"].as_bool() != Some(true) {
            broken.push(format!("{name} does not take the workspace's lints"));
        }
    }
    none("the arrows between crates", &broken);
    assert!(seen >= 10, "only {seen} crates were looked at");
}

#[test]
fn exact_physics_knows_no_serde() {
    let manifest = text(Path::new("crates/physics/Cargo.toml"));
    assert!(!manifest.is_empty() && !manifest.contains("serde"));
}

#[test]
fn exact_decibels_are_converted_in_physics_alone() {
    let is_conversion = |line: &str| {
        [
            "log10",
            "exp10",
            "powf(10",
            "10.0_f64.pow",
            "10f64.pow",
            "10_f64.pow",
            "LN_10",
            "LOG10",
        ]
        .iter()
        .any(|word| line.contains(word))
    };
    none(
        "decibels are converted by `physics::levels` alone",
        &lines_where(&["physics"], is_conversion),
    );
}

/// Whether a line adds two names that end in `_dbm`.
fn adds_levels(line: &str) -> bool {
    let is_name = |c: char| c.is_alphanumeric() || matches!(c, '_' | '.');
    let parts: Vec<&str> = line.split('+').collect();
    parts.windows(2).any(|pair| {
        let left = pair[0].trim_end();
        let left: String = left.chars().rev().take_while(|c| is_name(*c)).collect();
        let right = pair[1].trim_start_matches([' ', '&', '*', '(']);
        let right: String = right.chars().take_while(|c| is_name(*c)).collect();
        // `left` is reversed.
        left.starts_with("mbd_") && right.ends_with("_dbm")
    })
}

#[test]
fn exact_texts_and_comments_are_no_code() {
    assert_eq!(bare(r#"a("log10 \"x\"", b) // powf"#), r#"a("", b) "#);
}

#[test]
fn exact_levels_are_not_added_as_numbers() {
    assert!(adds_levels("let sum = noise_dbm + self.interference_dbm;"));
    assert!(!adds_levels("let rsl_dbm = power_dbm + gain_dbi;"));
    none(
        "levels are added by `levels::sum_dbm`",
        &lines_where(&[], adds_levels),
    );
}

#[test]
fn exact_only_the_command_line_prints() {
    let prints = |line: &str| {
        ["println!", "eprintln!", " print!", " eprint!", "dbg!"]
            .iter()
            .any(|word| line.contains(word))
    };
    none("only `cli` prints", &lines_where(&["cli"], prints));
}

#[test]
fn exact_every_source_file_says_what_it_is() {
    let undocumented: Vec<String> = sources()
        .into_iter()
        .map(|(_, path)| path)
        .filter(|path| !text(path).trim_start().starts_with("//!"))
        .map(|path| path.display().to_string())
        .collect();
    none("a file begins with what it is", &undocumented);
}

#[test]
fn exact_no_file_is_a_drawer_for_everything() {
    let drawers = ["utils", "util", "common", "misc", "manager", "helpers"];
    let named: Vec<String> = tree()
        .iter()
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .filter(|path| {
            let parts = path.iter().map(|p| p.to_string_lossy().into_owned());
            parts
                .map(|part| part.trim_end_matches(".rs").to_owned())
                .any(|part| drawers.contains(&part.as_str()))
        })
        .map(|path| path.display().to_string())
        .collect();
    none("files are named for what they hold", &named);
}

#[test]
fn exact_no_path_of_one_machine() {
    // Put together here, so that this file does not contain them.
    let machine = ["work", "home", "root", "Users"].map(|folder| format!("/{folder}/"));
    let mut broken = Vec::new();
    for path in tree() {
        let text = text(&path);
        for (number, line) in text.lines().enumerate() {
            if machine.iter().any(|folder| starts_a_path(line, folder)) {
                broken.push(format!(
                    "{}:{}: {}",
                    path.display(),
                    number + 1,
                    line.trim()
                ));
            }
        }
    }
    none("no absolute path of a machine", &broken);
}

/// Whether a folder stands at the start of a path, not in the middle of one.
fn starts_a_path(line: &str, folder: &str) -> bool {
    line.match_indices(folder).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        before.is_none_or(|c| !(c.is_alphanumeric() || matches!(c, '.' | '_' | '-' | '}')))
    })
}

#[test]
fn exact_no_large_file() {
    const LARGEST_BYTES: u64 = 1_000_000;
    // The page as it is built: the map's library is one piece.
    const LARGEST_BUILT_BYTES: u64 = 2_000_000;
    let most = |path: &Path| {
        let is_built = path.starts_with("crates/server/page/assets");
        if is_built {
            LARGEST_BUILT_BYTES
        } else {
            LARGEST_BYTES
        }
    };
    let large: Vec<String> = tree()
        .into_iter()
        .filter(|path| fs::metadata(root().join(path)).is_ok_and(|m| m.len() > most(path)))
        .map(|path| path.display().to_string())
        .collect();
    none("no file over 1 MB", &large);
}

#[test]
fn exact_paths_named_in_the_documents_exist() {
    let tops = [
        "crates/", "data/", "docs/", "tests/", "bench/", "schemas/", "fuzz/",
    ];
    let mut broken = Vec::new();
    for document in [
        "README.md",
        "ARCHITECTURE.md",
        "CONTRIBUTING.md",
        "NOMENCLATURE.md",
    ] {
        let text = text(Path::new(document));
        for named in text.split('`').skip(1).step_by(2) {
            let is_path =
                tops.iter().any(|top| named.starts_with(top)) && !named.contains([' ', '*', '<']);
            // Made by a run, not part of the tree.
            let is_made = named == "bench/results.json";
            if is_path && !is_made && !named.contains("NAME") && !root().join(named).exists() {
                broken.push(format!("{document} names {named}"));
            }
        }
    }
    none("documents name paths that exist", &broken);
}
