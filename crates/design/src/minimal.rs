//! The files that a new project starts from.

/// The commented minimal design for a project of a name: file names relative
/// to the project folder, and their texts. It reads without an error.
pub fn minimal_design(name: &str) -> Vec<(String, String)> {
    let quoted: String = name
        .chars()
        .filter(|c| !c.is_control())
        .flat_map(|c| match c {
            '"' | '\\' => vec!['\\', c],
            c => vec![c],
        })
        .collect();
    let files = [
        ("mastwright.toml", include_str!("minimal/mastwright.toml")),
        ("plans.toml", include_str!("minimal/plans.toml")),
        ("premises.csv", include_str!("minimal/premises.csv")),
    ];
    files
        .into_iter()
        .map(|(file, text)| (file.to_owned(), text.replace("@NAME@", &quoted)))
        .collect()
}
