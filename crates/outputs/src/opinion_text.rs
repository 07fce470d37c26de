//! Two path-loss models side by side, as aligned text for a terminal.

use engine::second_opinion::SecondOpinion;

use crate::format;
use crate::handout::TextStyle;

/// The parts of both models' losses with their differences, then what each
/// model says of its own range.
pub fn opinion_text(opinion: &SecondOpinion, style: &TextStyle) -> String {
    let mut text = format!(
        "Two models\n  A  {}\n  B  {}\n\n",
        opinion.first.model, opinion.second.model
    );
    let label_width = opinion
        .parts
        .iter()
        .map(|p| p.name.chars().count())
        .max()
        .unwrap_or(0);
    text.push_str(&format!(
        "  {:label_width$} {:>9} {:>9} {:>9}\n",
        "dB", "A", "B", "B − A"
    ));
    for part in &opinion.parts {
        text.push_str(&format!(
            "  {:label_width$} {:>9} {:>9} {:>9}   {}",
            part.name,
            format::number(part.first_db, 1),
            format::number(part.second_db, 1),
            format::number(part.difference_db, 1),
            part.note
        ));
        text.truncate(text.trim_end().len());
        text.push('\n');
    }
    for one in [&opinion.first, &opinion.second] {
        for warning in &one.warnings {
            text.push_str(&format!("warning: {}: {warning}\n", one.model));
        }
    }
    if style.ascii {
        crate::section_text::ascii(&text)
    } else {
        text
    }
}
