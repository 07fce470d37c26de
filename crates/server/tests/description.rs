//! The description of the API stands in the repository as the code makes it.

use std::path::Path;

/// `MASTWRIGHT_BLESS=1` writes it anew.
#[test]
#[expect(
    clippy::disallowed_methods,
    reason = "the test compares a file of the repository"
)]
fn gold_description_is_fresh() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/api/openapi.json");
    let made = server::openapi_json().expect("it has a JSON form");
    if std::env::var("MASTWRIGHT_BLESS").is_ok() {
        std::fs::write(&path, &made).expect("it can be written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == made,
        "docs/api/openapi.json is not what the code makes\nhint: make api"
    );
}
