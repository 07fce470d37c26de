//! Comparison with earlier, reviewed output: words exactly, numbers within a
//! tolerance.

use std::path::PathBuf;

/// Two steps of the last printed decimal, and a part in ten thousand: what a
/// different processor's elementary functions may change, and no more.
fn close(a: f64, b: f64, step: f64) -> bool {
    (a - b).abs() <= 2.001 * step + 1e-4 * a.abs().max(b.abs())
}

/// Compares `text` with the gold file of that name, or writes it anew where
/// `MASTWRIGHT_BLESS` is set.
#[expect(
    clippy::disallowed_methods,
    reason = "gold files are read and blessed by tests"
)]
pub(crate) fn check(name: &str, text: &str) {
    let file = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/gold")
        .join(name);
    if std::env::var("MASTWRIGHT_BLESS").is_ok() {
        std::fs::write(&file, text).unwrap();
        return;
    }
    let gold = std::fs::read_to_string(&file)
        .unwrap_or_else(|e| panic!("{}: {e}; MASTWRIGHT_BLESS=1 writes it", file.display()));
    for (i, (a, b)) in gold.lines().zip(text.lines()).enumerate() {
        assert!(same(a, b), "{name}:{}\n  gold {a}\n  now  {b}", i + 1);
    }
    assert_eq!(gold.lines().count(), text.lines().count(), "{name}: lines");
}

fn same(a: &str, b: &str) -> bool {
    let (a, b) = (pieces(a), pieces(b));
    a.len() == b.len()
        && a.iter()
            .zip(&b)
            .all(|(a, b)| match (a.parse::<f64>(), b.parse::<f64>()) {
                (Ok(x), Ok(y)) => close(x, y, step(a).max(step(b))),
                _ => a == b,
            })
}

/// One unit of the last decimal; whole numbers are counts and must be equal.
fn step(number: &str) -> f64 {
    match number.split_once('.') {
        Some((_, decimals)) => 0.1f64.powi(decimals.len() as i32),
        None => 0.0,
    }
}

/// Runs of digits (with a point inside) and what stands between them.
fn pieces(line: &str) -> Vec<&str> {
    let mut pieces = Vec::new();
    let mut start = 0;
    let is_number = |c: char| c.is_ascii_digit() || c == '.';
    let mut last = None;
    for (i, c) in line.char_indices() {
        let kind = is_number(c);
        if last.is_some_and(|k| k != kind) {
            pieces.push(&line[start..i]);
            start = i;
        }
        last = Some(kind);
    }
    pieces.push(&line[start..]);
    pieces
}
