//! Edits of premises, into `premises.csv`.

use std::collections::BTreeMap;

use csv::StringRecord;
use model::{Edit, Mounting, Premises, PremisesId};

use super::blocks::newline_of;
use super::{WriteError, number_text};
use crate::premises_table::delimiter;

/// The text of `premises.csv` with the edits of premises written into it, in
/// their order; edits of masts and sectors are left alone. Only the lines of
/// edited premises change.
pub fn apply_premises_edits(text: &str, edits: &[Edit]) -> Result<String, WriteError> {
    let mark = text.len() - text.trim_start_matches('\u{feff}').len();
    let body = &text[mark..];
    let mut table = Table::read(body)?;
    for edit in edits {
        table.apply(edit)?;
    }
    Ok(text[..mark].to_owned() + &table.text())
}

#[derive(Debug, Clone, Copy)]
enum Cell<'e> {
    Number(f64),
    Text(&'e str),
}

/// The table, line by line.
struct Table {
    delimiter: u8,
    newline: &'static str,
    columns: Option<StringRecord>,
    /// What stands before the first row: blank lines and the header.
    head: String,
    rows: Vec<Row>,
    /// Place of a row by its id; the first where two have the same.
    places: BTreeMap<String, usize>,
}

/// One row and the text that it takes, its line end and what is blank before it included.
struct Row {
    cells: StringRecord,
    before: String,
    raw: String,
    after: String,
}

impl Table {
    fn read(text: &str) -> Result<Self, WriteError> {
        let mut table = Self {
            delimiter: delimiter(text),
            newline: newline_of(text),
            columns: None,
            head: String::new(),
            rows: Vec::new(),
            places: BTreeMap::new(),
        };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(table.delimiter)
            .flexible(true)
            .has_headers(false)
            .from_reader(text.as_bytes());
        // Text that belongs to no record yet: blank lines.
        let mut open = 0;
        loop {
            let mut cells = StringRecord::new();
            let start = reader.position().byte() as usize;
            match reader.read_record(&mut cells) {
                Ok(true) => {}
                Ok(false) => break,
                Err(error) => {
                    return Err(WriteError::Syntax {
                        line: error.position().map_or(0, |at| at.line() as usize),
                        message: error.to_string(),
                    });
                }
            }
            let end = reader.position().byte() as usize;
            if cells.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            let piece = Row::cut(cells, &text[open..start], &text[start..end]);
            open = end;
            match table.columns {
                None => {
                    table.head = format!("{}{}{}", piece.before, piece.raw, piece.after);
                    table.columns = Some(piece.cells);
                }
                Some(_) => table.rows.push(piece),
            }
        }
        match table.rows.last_mut() {
            Some(last) => last.after.push_str(&text[open..]),
            None => table.head.push_str(&text[open..]),
        }
        table.index();
        Ok(table)
    }

    fn index(&mut self) {
        self.places.clear();
        let Ok(column) = self.column("id") else {
            return;
        };
        for (place, row) in self.rows.iter().enumerate() {
            let id = row.cells.get(column).unwrap_or("").trim().to_owned();
            self.places.entry(id).or_insert(place);
        }
    }

    fn text(&self) -> String {
        let mut text = self.head.clone();
        for row in &self.rows {
            text.push_str(&row.before);
            text.push_str(&row.raw);
            text.push_str(&row.after);
        }
        text
    }

    fn column(&self, name: &'static str) -> Result<usize, WriteError> {
        let columns = self.columns.iter().flat_map(StringRecord::iter);
        let mut columns = columns.map(str::trim);
        columns
            .position(|column| column == name)
            .ok_or(WriteError::MissingColumn(name))
    }

    fn place(&self, id: &PremisesId) -> Result<usize, WriteError> {
        let place = self.places.get(id.as_str()).copied();
        place.ok_or_else(|| WriteError::UnknownPremises(id.clone()))
    }

    fn apply(&mut self, edit: &Edit) -> Result<(), WriteError> {
        match edit {
            Edit::PremisesMountHeight {
                premises,
                mount_height_agl_m,
            } => self.set_in(
                premises,
                "mount_height_agl_m",
                Cell::Number(*mount_height_agl_m),
            ),
            Edit::PremisesPlan { premises, plan } => {
                self.set_in(premises, "plan", Cell::Text(plan.as_str()))
            }
            Edit::PremisesTerminal { premises, terminal } => {
                self.set_in(premises, "terminal", Cell::Text(terminal.id.as_str()))
            }
            Edit::PremisesSector { premises, sector } => {
                let name = sector.as_ref().map_or("", |sector| sector.as_str());
                self.set_in(premises, "sector", Cell::Text(name))
            }
            Edit::MovePremises { premises, position } => {
                self.set(premises, "lon", Cell::Number(position.lon_deg()))?;
                self.set(premises, "lat", Cell::Number(position.lat_deg()))
            }
            Edit::AddPremises { index, premises } => self.add(*index, premises),
            Edit::RemovePremises { premises } => self.remove(premises),
            _ => Ok(()),
        }
    }

    fn set(
        &mut self,
        id: &PremisesId,
        name: &'static str,
        cell: Cell<'_>,
    ) -> Result<(), WriteError> {
        let column = self.column(name);
        let place = self.place(id)?;
        self.set_cell(place, (name, column?), cell)
    }

    /// The same, and the column is made where there is none yet.
    fn set_in(
        &mut self,
        id: &PremisesId,
        name: &'static str,
        cell: Cell<'_>,
    ) -> Result<(), WriteError> {
        self.place(id)?;
        self.make_column(name);
        self.set(id, name, cell)
    }

    fn set_cell(
        &mut self,
        place: usize,
        (name, column): (&'static str, usize),
        cell: Cell<'_>,
    ) -> Result<(), WriteError> {
        let row = &mut self.rows[place];
        let mut cells: Vec<String> = row.cells.iter().map(str::to_owned).collect();
        if cells.len() <= column {
            cells.resize(column + 1, String::new());
        }
        cells[column] = match cell {
            Cell::Number(value) if !value.is_finite() => {
                return Err(WriteError::NotFinite { key: name });
            }
            Cell::Number(value) => number_text(value, &cells[column]),
            Cell::Text(text) => text.to_owned(),
        };
        row.raw = row_text(&row.raw, &cells, self.delimiter);
        row.cells = StringRecord::from(cells);
        Ok(())
    }

    /// Adds a column behind the last; rows need no cell for it.
    fn make_column(&mut self, name: &'static str) {
        if self.column(name).is_ok() {
            return;
        }
        let Some(columns) = &mut self.columns else {
            return;
        };
        let content = self.head.trim_end_matches(['\n', '\r']).len();
        let separator = char::from(self.delimiter);
        self.head.insert_str(content, &format!("{separator}{name}"));
        columns.push_field(name);
    }

    fn add(&mut self, index: usize, premises: &Premises) -> Result<(), WriteError> {
        if self.columns.is_none() {
            self.columns = Some(StringRecord::from(NEW_COLUMNS.to_vec()));
            let header = NEW_COLUMNS.join(&char::from(self.delimiter).to_string());
            self.head = format!("{header}{}", self.newline);
        }
        for (name, _) in optional_cells(premises) {
            self.make_column(name);
        }
        let known = self.columns.clone().unwrap_or_default();
        let mut cells = vec![String::new(); known.len()];
        for (name, value) in needed_cells(premises)?
            .into_iter()
            .chain(optional_cells(premises))
        {
            let column = self.column(name)?;
            cells[column] = value;
        }
        let at_end = index >= self.rows.len();
        self.end_the_last_line();
        let row = Row {
            raw: row_text("", &cells, self.delimiter),
            cells: StringRecord::from(cells),
            before: String::new(),
            after: self.newline.to_owned(),
        };
        if at_end {
            let id = premises.id.as_str().to_owned();
            self.places.entry(id).or_insert(self.rows.len());
            self.rows.push(row);
        } else {
            self.rows.insert(index, row);
            self.index();
        }
        Ok(())
    }

    /// A row can only follow a line that has an end.
    fn end_the_last_line(&mut self) {
        let end = match self.rows.last_mut() {
            Some(last) => &mut last.after,
            None => &mut self.head,
        };
        if !end.ends_with('\n') {
            end.push_str(self.newline);
        }
    }

    fn remove(&mut self, id: &PremisesId) -> Result<(), WriteError> {
        let place = self.place(id)?;
        self.rows.remove(place);
        self.index();
        Ok(())
    }
}

impl Row {
    fn cut(cells: StringRecord, blank: &str, text: &str) -> Self {
        // The reader may count the line ends before and after to the record.
        let is_line_end = |c| c == '\n' || c == '\r';
        let start = text.len() - text.trim_start_matches(is_line_end).len();
        let end = text.trim_end_matches(is_line_end).len().max(start);
        Self {
            cells,
            before: format!("{blank}{}", &text[..start]),
            raw: text[start..end].to_owned(),
            after: text[end..].to_owned(),
        }
    }
}

/// Columns of a table that has none yet.
const NEW_COLUMNS: [&str; 6] = ["id", "lon", "lat", "name", "plan", "mount_height_agl_m"];

fn needed_cells(premises: &Premises) -> Result<Vec<(&'static str, String)>, WriteError> {
    let number = |key, value: f64| {
        if value.is_finite() {
            Ok((key, number_text(value, "")))
        } else {
            Err(WriteError::NotFinite { key })
        }
    };
    Ok(vec![
        ("id", premises.id.as_str().to_owned()),
        number("lon", premises.position.lon_deg())?,
        number("lat", premises.position.lat_deg())?,
    ])
}

/// Cells that a table need not have a column for where they say nothing.
pub(super) fn optional_cells(premises: &Premises) -> Vec<(&'static str, String)> {
    let mounting = Mounting::NAMES
        .iter()
        .find(|(_, mounting)| *mounting == premises.mounting)
        .filter(|_| premises.mounting != Mounting::default())
        .map(|(name, _)| (*name).to_owned());
    let priority = (premises.priority != 0).then(|| premises.priority.to_string());
    let sector = premises.fixed_sector.as_ref().map(ToString::to_string);
    let name = (!premises.name.is_empty()).then(|| premises.name.clone());
    let people = premises.people.map(|people| number_text(people, ""));
    let height = premises.mount_height_agl_m;
    [
        ("name", name),
        ("plan", Some(premises.plan.id.to_string())),
        ("mount_height_agl_m", Some(number_text(height, ""))),
        ("terminal", Some(premises.terminal.id.to_string())),
        ("priority", priority),
        ("sector", sector),
        ("mounting", mounting),
        ("people", people),
    ]
    .into_iter()
    .filter_map(|(column, cell)| Some((column, cell?)))
    .collect()
}

/// A record's text; as it was apart from the changed cells where it has no quotes.
fn row_text(before: &str, cells: &[String], delimiter: u8) -> String {
    let separator = char::from(delimiter);
    let is_plain = |text: &str| !text.contains(['"', '\n', '\r']);
    if is_plain(before)
        && cells
            .iter()
            .all(|cell| is_plain(cell) && !cell.contains(separator))
    {
        return cells.join(&separator.to_string());
    }
    let mut writer = csv::WriterBuilder::new()
        .delimiter(delimiter)
        .from_writer(Vec::new());
    writer
        .write_record(cells)
        .expect("writing into memory does not fail");
    let bytes = writer
        .into_inner()
        .expect("writing into memory does not fail");
    let text = String::from_utf8(bytes).expect("text in, text out");
    text.trim_end_matches(['\n', '\r']).to_owned()
}
