//! The tagged layout of NSMA WG16.99.050 (20 May 1999).
//!
//! A record is `TAG:,value`; after the tags of a cut come bare data records
//! `angle,level[,phase]`. The 1999 standard fixes an order; this reader only
//! relies on `PATFRE` and `PATCUT` opening what follows them.

use super::PatternFile;
use super::cut::{CutPlane, LevelUnit, PatternCut, finish, number, point};
use super::problem::{ErrorKind, PatternError, Warning, WarningKind};

/// Tags of the standard that carry nothing a pattern needs.
const OTHER_TAGS: &[&str] = &[
    "REVNUM", "REVDAT", "COMNT1", "COMNT2", "PATNUM", "FILNUM", "FEDORN", "DESCR1", "DESCR2",
    "DESCR3", "DESCR4", "DESCR5", "DTDATA", "LWGAIN", "HGGAIN", "CONTYP", "ATVSWR", "RADCTR",
    "POTOPO", "MAXPOW", "ANTLEN", "ANTWID", "ANTDEP", "ANTWGT", "FIELD1", "FIELD2", "FIELD3",
    "FIELD4", "FIELD5", "NOFREQ", "NUMCUT", "FSTLST", "XORIEN", "YORIEN", "ZORIEN",
];

/// dBi of an antenna with the gain of a half-wave dipole.
const DIPOLE_DBI: f64 = 2.15;

/// Whether a first line is that of a tagged file.
pub(super) fn is_tagged(line: &str) -> bool {
    tag_of(line).is_some_and(|(tag, _)| tag.len() == 6)
}

/// Splits `TAG:rest`; none for anything else.
fn tag_of(line: &str) -> Option<(String, &str)> {
    let (tag, rest) = line.split_once(':')?;
    let tag = tag.trim();
    let plain = (3..=8).contains(&tag.len()) && tag.bytes().all(|b| b.is_ascii_alphanumeric());
    let lettered = tag.bytes().next().is_some_and(|b| b.is_ascii_alphabetic());
    (plain && lettered).then(|| (tag.to_ascii_uppercase(), rest))
}

pub(super) fn parse(text: &str) -> Result<(PatternFile, Vec<Warning>), PatternError> {
    let mut reader = Reader::default();
    for (index, raw) in text.lines().enumerate() {
        let record = raw.split('!').next().unwrap_or_default().trim();
        if record.is_empty() {
            continue;
        }
        if reader.ended {
            reader
                .warnings
                .push(Warning::at(index + 1, record, WarningKind::TextAfterEnd));
            break;
        }
        reader.record(index + 1, record)?;
    }
    reader.finish()
}

/// Unit of the pattern's levels as GUNITS states it.
#[derive(Clone, Copy, PartialEq)]
enum PatternUnit {
    Relative,
    Dbi,
    Dbd,
    VoltageRatio,
}

#[derive(Default)]
struct Reader {
    file: PatternFile,
    warnings: Vec<Warning>,
    ended: bool,
    units: Option<(bool, PatternUnit)>,
    mid_gain: Option<f64>,
    f_mhz: Option<f64>,
    stated_points: Option<usize>,
    /// Whether points now belong to the last cut, are skipped, or are astray.
    place: Place,
}

#[derive(Default, Clone, Copy, PartialEq)]
enum Place {
    #[default]
    Header,
    Cut,
    Skipped,
}

impl Reader {
    fn record(&mut self, line: usize, record: &str) -> Result<(), PatternError> {
        let Some((tag, rest)) = tag_of(record) else {
            return self.data(line, record);
        };
        let value = match rest.trim_start().strip_prefix(',') {
            Some(value) => value,
            None => {
                self.warn(line, record, WarningKind::MissingComma);
                rest
            }
        };
        self.tagged(line, &tag, value.trim().trim_end_matches(',').trim())
    }

    fn tagged(&mut self, line: usize, tag: &str, value: &str) -> Result<(), PatternError> {
        match tag {
            "ANTMAN" => self.file.maker = named(value),
            "MODNUM" => self.file.model = named(value),
            "LOWFRQ" => self.file.low_mhz = self.first_number(line, value),
            "HGHFRQ" => self.file.high_mhz = self.first_number(line, value),
            "GUNITS" => self.units = Some(units(line, value)?),
            "MDGAIN" => self.mid_gain = self.first_number(line, value),
            "AZWIDT" => self.file.beamwidth_h_deg = self.first_number(line, value),
            "ELWIDT" => self.file.beamwidth_v_deg = self.first_number(line, value),
            "FRTOBA" => self.file.front_to_back_db = self.first_number(line, value),
            "ELTILT" => self.file.electrical_downtilt_deg = self.first_number(line, value),
            "PATTYP" => self.file.envelope = Some(value.eq_ignore_ascii_case("envelope")),
            "PATFRE" => {
                self.close_cut();
                self.f_mhz = self.first_number(line, value);
            }
            "PATCUT" => self.open_cut(line, value)?,
            "POLARI" => self.polarization(value),
            "NUPOIN" => self.stated_points = value.parse().ok(),
            "ENDFIL" => self.ended = true,
            _ if OTHER_TAGS.contains(&tag) => {}
            _ => self.warn(line, tag, WarningKind::UnknownTag),
        }
        Ok(())
    }

    fn warn(&mut self, line: usize, text: &str, kind: WarningKind) {
        self.warnings.push(Warning::at(line, text, kind));
    }

    /// The first of comma-separated values; a tolerance may follow it.
    fn first_number(&mut self, line: usize, value: &str) -> Option<f64> {
        let first = value.split(',').next().unwrap_or_default().trim();
        let read = number(first);
        if read.is_none() && !first.is_empty() {
            self.warn(line, value, WarningKind::UnreadableField);
        }
        read
    }

    fn open_cut(&mut self, line: usize, value: &str) -> Result<(), PatternError> {
        self.close_cut();
        let plane = match value.to_ascii_uppercase().as_str() {
            "H" | "AZ" => CutPlane::Horizontal,
            "V" | "EL" => CutPlane::Vertical,
            other if number(other).is_some() => {
                self.warn(line, value, WarningKind::SphericalCut);
                self.place = Place::Skipped;
                return Ok(());
            }
            _ => return Err(PatternError::at(line, value, ErrorKind::UnknownPlane)),
        };
        self.place = Place::Cut;
        self.file.cuts.push(PatternCut {
            plane,
            f_mhz: self.f_mhz,
            co_polar: true,
            polarization: String::new(),
            unit: LevelUnit::Decibels,
            points: Vec::new(),
            line,
        });
        Ok(())
    }

    fn current(&mut self) -> Option<&mut PatternCut> {
        if self.place == Place::Cut {
            self.file.cuts.last_mut()
        } else {
            None
        }
    }

    fn polarization(&mut self, value: &str) {
        if let Some(cut) = self.current() {
            cut.polarization = value.to_ascii_uppercase();
            // A polarization without its source's is taken as co-polar.
            cut.co_polar = cut
                .polarization
                .split_once('/')
                .is_none_or(|(antenna, source)| antenna.trim() == source.trim());
        }
    }

    fn data(&mut self, line: usize, record: &str) -> Result<(), PatternError> {
        let mut columns = record
            .split(|c: char| c == ',' || c.is_whitespace())
            .filter(|s| !s.is_empty());
        let (Some(angle), Some(level)) = (columns.next(), columns.next()) else {
            return Err(PatternError::at(line, record, ErrorKind::NotANumber));
        };
        let point = point(line, angle, level)?;
        match self.place {
            Place::Header => Err(PatternError::at(line, record, ErrorKind::PointOutsideCut)),
            Place::Skipped => Ok(()),
            Place::Cut => {
                if let Some(cut) = self.current() {
                    cut.points.push(point);
                }
                Ok(())
            }
        }
    }

    /// Compares the stated number of points with those found.
    fn close_cut(&mut self) {
        let stated = self.stated_points.take();
        let found = self.current().map(|cut| (cut.points.len(), cut.line));
        if let (Some(stated), Some((found, line))) = (stated, found)
            && stated != found
        {
            self.warn(line, "", WarningKind::PointCount { stated, found });
        }
        if self.place == Place::Cut {
            self.place = Place::Header;
        }
    }

    fn finish(mut self) -> Result<(PatternFile, Vec<Warning>), PatternError> {
        self.close_cut();
        if !self.ended {
            self.warn(0, "", WarningKind::MissingEnd);
        }
        let (dipole, unit) = self.units.unwrap_or_else(|| {
            self.warn(0, "", WarningKind::UnitsMissing);
            (false, PatternUnit::Relative)
        });
        self.file.gain_dbi = self
            .mid_gain
            .map(|gain| if dipole { gain + DIPOLE_DBI } else { gain });
        for cut in &mut self.file.cuts {
            normalise(cut, unit, self.file.gain_dbi)?;
        }
        let file = finish(self.file, &mut self.warnings)?;
        Ok((file, self.warnings))
    }
}

/// Text that says something.
fn named(value: &str) -> Option<String> {
    let said = !value.is_empty() && !value.eq_ignore_ascii_case("none");
    said.then(|| value.to_owned())
}

/// GUNITS: whether gains are over a dipole, and the unit of the pattern.
fn units(line: usize, value: &str) -> Result<(bool, PatternUnit), PatternError> {
    let unknown = || PatternError::at(line, value, ErrorKind::UnknownUnit);
    let upper = value.to_ascii_uppercase();
    let (gain, pattern) = upper.split_once('/').ok_or_else(unknown)?;
    let dipole = match gain.trim() {
        "DBI" => false,
        "DBD" => true,
        _ => return Err(unknown()),
    };
    let unit = match pattern.trim() {
        "DBR" => PatternUnit::Relative,
        "DBI" => PatternUnit::Dbi,
        "DBD" => PatternUnit::Dbd,
        "LIN" => PatternUnit::VoltageRatio,
        _ => return Err(unknown()),
    };
    Ok((dipole, unit))
}

/// Brings levels to the peak's reference.
fn normalise(
    cut: &mut PatternCut,
    unit: PatternUnit,
    gain_dbi: Option<f64>,
) -> Result<(), PatternError> {
    let offset_db = match unit {
        PatternUnit::Relative => 0.0,
        PatternUnit::VoltageRatio => {
            cut.unit = LevelUnit::VoltageRatio;
            if let Some(bad) = cut.points.iter().find(|p| p.level < 0.0) {
                let text = format!("{},{}", bad.angle_deg, bad.level);
                return Err(PatternError::at(cut.line, &text, ErrorKind::NegativeRatio));
            }
            0.0
        }
        PatternUnit::Dbi | PatternUnit::Dbd => {
            let needed = || PatternError::at(cut.line, "", ErrorKind::GainNeeded);
            let over_dipole_db = if unit == PatternUnit::Dbd {
                DIPOLE_DBI
            } else {
                0.0
            };
            over_dipole_db - gain_dbi.ok_or_else(needed)?
        }
    };
    for point in &mut cut.points {
        point.level += offset_db;
    }
    Ok(())
}
