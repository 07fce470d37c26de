//! Files that were brought in, into the texts that name them.

use toml::de::{DeTable, DeValue};

use super::blocks::{newline_of, quoted};
use super::sectors::syntax;
use super::{Splice, WriteError, spliced};

/// What a raster holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RasterRole {
    /// Elevation.
    Terrain,
    /// Classes of land cover.
    LandCover,
    /// Height of trees.
    Canopy,
}

impl RasterRole {
    /// Its key under `[ground]`.
    pub fn key(self) -> &'static str {
        match self {
            Self::Terrain => "terrain",
            Self::LandCover => "land_cover",
            Self::Canopy => "canopy",
        }
    }
}

/// The text of `mastwright.toml` with a raster named last in its list under `[ground]`.
///
/// # Errors
/// [`WriteError`]: a text that cannot be read, a list that is none.
pub fn name_raster(text: &str, role: RasterRole, path: &str) -> Result<String, WriteError> {
    let (mark, body) = text.split_at(text.len() - text.trim_start_matches('\u{feff}').len());
    let document = DeTable::parse(body).map_err(|error| syntax(&error, body))?;
    let newline = newline_of(body);
    let (key, path) = (role.key(), quoted(path));
    let at = |at: usize, text: String| Splice {
        range: at..at,
        text,
    };
    let splice = match document.get_ref().get("ground") {
        None => {
            let end = body.trim_end().len();
            let gap = if end == 0 { "" } else { newline };
            let text = format!("{gap}{newline}[ground]{newline}{key} = [{path}]");
            at(end, text)
        }
        Some(ground) => {
            let keys = ground
                .get_ref()
                .as_table()
                .ok_or(WriteError::InlineTable("ground"))?;
            match keys.get(key) {
                Some(list) => {
                    let DeValue::Array(items) = list.get_ref() else {
                        return Err(WriteError::InlineTable(key));
                    };
                    match items.last() {
                        Some(last) => at(last.span().end, format!(", {path}")),
                        None => at(list.span().start + 1, path),
                    }
                }
                // Behind whichever of its keys stands first.
                None => match keys.values().map(|value| value.span().end).min() {
                    Some(end) if !body[ground.span().start..].starts_with('{') => {
                        let line_end = body[end..].find('\n').map_or(body.len(), |n| end + n);
                        let line_end = body[..line_end].trim_end_matches('\r').len();
                        at(line_end, format!("{newline}{key} = [{path}]"))
                    }
                    Some(end) => at(end, format!(", {key} = [{path}]")),
                    None => {
                        let header = ground.span().end.max(ground.span().start);
                        at(header, format!("{newline}{key} = [{path}]"))
                    }
                },
            }
        }
    };
    Ok(format!("{mark}{}", spliced(body, vec![splice])))
}

/// The card of an antenna whose pattern was brought in.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternCard<'a> {
    /// Id, new among the antennas.
    pub id: &'a str,
    /// What a person calls it.
    pub name: &'a str,
    /// Peak gain of one port.
    pub gain_dbi: f64,
    /// The pattern file, relative to the project folder.
    pub pattern_file: &'a str,
    /// Where the figures come from.
    pub source: &'a str,
}

/// A text of cards with an antenna's behind the last.
pub fn add_pattern_card(text: &str, card: &PatternCard<'_>) -> String {
    let newline = newline_of(text);
    let gap = match text {
        "" => "",
        text if text.ends_with('\n') => newline,
        _ => &format!("{newline}{newline}"),
    };
    let lines = [
        "[[antenna]]".to_owned(),
        format!("id = {}", quoted(card.id)),
        format!("name = {}", quoted(card.name)),
        format!("gain_dbi = {}", card.gain_dbi + 0.0),
        format!("pattern_file = {}", quoted(card.pattern_file)),
        format!("source = {}", quoted(card.source)),
    ];
    format!("{text}{gap}{}{newline}", lines.join(newline))
}
