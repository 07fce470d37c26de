//! Edits of masts and sectors, into `mastwright.toml`.

use std::collections::BTreeMap;

use model::edit::SectorField;
use model::{Edit, FrameSplit, Mast, MastId, Sector, SectorId};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::blocks::{Blocks, newline_of, quoted};
use super::{Splice, WriteError, number_text, spliced};

/// The design's text with the edits of masts and sectors written into it, in
/// their order; edits of premises are left alone.
///
/// A key that a sector took from its defaults is added below its `id`.
pub fn apply_edits(text: &str, edits: &[Edit]) -> Result<String, WriteError> {
    let mark = text.len() - text.trim_start_matches('\u{feff}').len();
    let mut body = text[mark..].to_owned();
    let mut rest = edits;
    // Numbers of sectors in a row are written at once, so that a long list
    // does not read the text again for each.
    while let Some((first, others)) = rest.split_first() {
        let run = rest.iter().take_while(|edit| is_number(edit)).count();
        if run > 0 {
            body = set_numbers(&body, &rest[..run])?;
            rest = &rest[run..];
        } else {
            body = apply_one(body, first)?;
            rest = others;
        }
    }
    if edits.is_empty() {
        DeTable::parse(&body).map_err(|error| syntax(&error, &body))?;
    }
    Ok(text[..mark].to_owned() + &body)
}

fn is_number(edit: &Edit) -> bool {
    matches!(edit, Edit::Sector { .. })
}

fn apply_one(body: String, edit: &Edit) -> Result<String, WriteError> {
    match edit {
        Edit::AddSector { index, sector } => {
            let lines = sector_lines(sector)?;
            let block = block(&body, "sector", &lines);
            Blocks::read(&body, "sector")?.insert(*index, &block)
        }
        Edit::RemoveSector { sector } => {
            let blocks = Blocks::read(&body, "sector")?;
            let unknown = || WriteError::UnknownSector(sector.clone());
            blocks.remove(blocks.find(sector.as_str()).ok_or_else(unknown)?)
        }
        Edit::AddMast { index, mast } => {
            let lines = mast_lines(mast)?;
            let block = block(&body, "mast", &lines);
            Blocks::read(&body, "mast")?.insert(*index, &block)
        }
        Edit::RemoveMast { mast } => {
            let blocks = Blocks::read(&body, "mast")?;
            let unknown = || WriteError::UnknownMast(mast.clone());
            blocks.remove(blocks.find(mast.as_str()).ok_or_else(unknown)?)
        }
        Edit::MoveMast { mast, position } => {
            let values = [("lon", position.lon_deg()), ("lat", position.lat_deg())];
            set_in_mast(&body, mast, &values)
        }
        Edit::MastHeight {
            mast,
            height_agl_m,
            top_sectors,
        } => set_mast_height(&body, (mast, *height_agl_m), top_sectors),
        // Premises stand in their own file.
        _ => Ok(body),
    }
}

fn set_numbers(body: &str, edits: &[Edit]) -> Result<String, WriteError> {
    let mut wanted: BTreeMap<(&SectorId, SectorField), f64> = BTreeMap::new();
    for edit in edits {
        if let Edit::Sector {
            sector,
            field,
            value,
        } = edit
        {
            wanted.insert((sector, *field), finite(field.key(), *value)?);
        }
    }
    let document = DeTable::parse(body).map_err(|error| syntax(&error, body))?;
    let mut splices = Vec::new();
    for ((sector, field), value) in wanted {
        let table = Table::find(&document, "sector", sector.as_str())
            .ok_or_else(|| WriteError::UnknownSector(sector.clone()))?;
        splices.push(table.set(body, field.key(), value));
    }
    Ok(spliced(body, splices))
}

fn set_in_mast(
    body: &str,
    mast: &MastId,
    values: &[(&'static str, f64)],
) -> Result<String, WriteError> {
    let document = DeTable::parse(body).map_err(|error| syntax(&error, body))?;
    let table = Table::find(&document, "mast", mast.as_str());
    let table = table.ok_or_else(|| WriteError::UnknownMast(mast.clone()))?;
    let splices = values
        .iter()
        .map(|(key, value)| Ok(table.set(body, key, finite(key, *value)?)))
        .collect::<Result<_, WriteError>>()?;
    Ok(spliced(body, splices))
}

/// A sector that names no height stands at the top of its mast: those that go
/// along need no word, those that stay get their height written down.
fn set_mast_height(
    body: &str,
    (mast, height_agl_m): (&MastId, f64),
    top_sectors: &[SectorId],
) -> Result<String, WriteError> {
    const KEY: &str = "height_agl_m";
    let height_agl_m = finite(KEY, height_agl_m)?;
    let document = DeTable::parse(body).map_err(|error| syntax(&error, body))?;
    let own = Table::find(&document, "mast", mast.as_str());
    let own = own.ok_or_else(|| WriteError::UnknownMast(mast.clone()))?;
    let before_m = own.number(KEY);
    let mut splices = vec![own.set(body, KEY, height_agl_m)];
    for sector in Table::all(&document, "sector") {
        if sector.text("mast") != Some(mast.as_str()) {
            continue;
        }
        let goes_along = top_sectors
            .iter()
            .any(|top| sector.text("id") == Some(top.as_str()));
        match (goes_along, sector.keys.get(KEY), before_m) {
            (true, Some(_), _) => splices.push(sector.set(body, KEY, height_agl_m)),
            (false, None, Some(before_m)) => splices.push(sector.set(body, KEY, before_m)),
            _ => {}
        }
    }
    Ok(spliced(body, splices))
}

fn mast_lines(mast: &Mast) -> Result<Vec<(&'static str, String)>, WriteError> {
    let number = |key, value| Ok((key, number_text(finite(key, value)?, "")));
    let mut lines = vec![("id", quoted(mast.id.as_str()))];
    if mast.name != mast.id.as_str() {
        lines.push(("name", quoted(&mast.name)));
    }
    lines.push(number("lon", mast.position.lon_deg())?);
    lines.push(number("lat", mast.position.lat_deg())?);
    lines.push(number("height_agl_m", mast.height_agl_m)?);
    if let Some(ground_amsl_m) = mast.ground_amsl_m {
        lines.push(number("ground_amsl_m", ground_amsl_m)?);
    }
    Ok(lines)
}

fn sector_lines(sector: &Sector) -> Result<Vec<(&'static str, String)>, WriteError> {
    let number = |key, value| Ok((key, number_text(finite(key, value)?, "")));
    let split = match sector.split {
        FrameSplit::Symbols {
            downlink_symbols,
            uplink_symbols,
        } => format!("[{downlink_symbols}, {uplink_symbols}]"),
        FrameSplit::Fractions {
            downlink_frac,
            uplink_frac,
        } => format!("[{downlink_frac}, {uplink_frac}]"),
    };
    let mut lines = vec![
        ("id", quoted(sector.id.as_str())),
        ("mast", quoted(sector.mast.as_str())),
        number("azimuth_deg", sector.azimuth_deg)?,
        number("mechanical_downtilt_deg", sector.mechanical_downtilt_deg)?,
        number("electrical_downtilt_deg", sector.electrical_downtilt_deg)?,
        number("height_agl_m", sector.height_agl_m)?,
        number("channel_mhz", sector.channel.centre_mhz)?,
        ("antenna", quoted(sector.antenna.id.as_str())),
        ("base_station", quoted(sector.base_station.id.as_str())),
        ("air_interface", quoted(sector.air_interface.id.as_str())),
        number("tx_power_per_chain_dbm", sector.tx_power_per_chain_dbm)?,
        number("feeder_loss_db", sector.feeder_loss_db)?,
        ("split", split),
    ];
    if !sector.synchronised {
        lines.push(("synchronised", "false".to_owned()));
    }
    Ok(lines)
}

fn block(body: &str, array: &str, lines: &[(&'static str, String)]) -> String {
    let newline = newline_of(body);
    let mut text = format!("[[{array}]]{newline}");
    for (key, value) in lines {
        text.push_str(&format!("{key} = {value}{newline}"));
    }
    text
}

fn finite(key: &'static str, value: f64) -> Result<f64, WriteError> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(WriteError::NotFinite { key })
    }
}

pub(super) fn syntax(error: &toml::de::Error, text: &str) -> WriteError {
    let start = error.span().map_or(0, |span| span.start.min(text.len()));
    WriteError::Syntax {
        line: text.as_bytes()[..start]
            .iter()
            .filter(|b| **b == b'\n')
            .count()
            + 1,
        message: error.message().replace('\n', ", "),
    }
}

/// The table of one mast or sector in the text.
struct Table<'t> {
    keys: &'t DeTable<'t>,
    id_end: usize,
    start: usize,
}

impl<'t> Table<'t> {
    fn all(
        document: &'t Spanned<DeTable<'t>>,
        array: &str,
    ) -> impl Iterator<Item = Table<'t>> + use<'t> {
        let tables = document.get_ref().get(array);
        let tables = tables.and_then(|tables| tables.get_ref().as_array());
        let tables = tables.into_iter().flat_map(|tables| tables.iter());
        tables.filter_map(|table: &Spanned<DeValue<'t>>| {
            let keys = table.get_ref().as_table()?;
            Some(Self {
                keys,
                id_end: keys.get("id")?.span().end,
                start: table.span().start,
            })
        })
    }

    fn find(document: &'t Spanned<DeTable<'t>>, array: &str, id: &str) -> Option<Self> {
        Self::all(document, array).find(|table| table.text("id") == Some(id))
    }

    fn text(&self, key: &str) -> Option<&str> {
        self.keys.get(key)?.get_ref().as_str()
    }

    fn number(&self, key: &str) -> Option<f64> {
        match self.keys.get(key)?.get_ref() {
            DeValue::Float(float) => float.as_str().replace('_', "").parse().ok(),
            DeValue::Integer(integer) => integer.as_str().replace('_', "").parse().ok(),
            _ => None,
        }
    }

    fn set(&self, text: &str, key: &str, value: f64) -> Splice {
        match self.keys.get(key) {
            Some(old) => Splice {
                text: number_text(value, &text[old.span()]),
                range: old.span(),
            },
            None => self.add(text, key, &number_text(value, "")),
        }
    }

    fn add(&self, text: &str, key: &str, value: &str) -> Splice {
        if text[self.start..].starts_with('{') {
            return Splice {
                range: self.id_end..self.id_end,
                text: format!(", {key} = {value}"),
            };
        }
        let rest = &text[self.id_end..];
        let line_end = rest.find('\n').unwrap_or(rest.len());
        let (line_end, newline) = match rest[..line_end].strip_suffix('\r') {
            Some(line) => (line.len(), "\r\n"),
            None => (line_end, "\n"),
        };
        let line_start = text[..self.id_end].rfind('\n').map_or(0, |at| at + 1);
        let line = &text[line_start..];
        let indent = &line[..line.len() - line.trim_start_matches([' ', '\t']).len()];
        let at = self.id_end + line_end;
        Splice {
            range: at..at,
            text: format!("{newline}{indent}{key} = {value}"),
        }
    }
}
