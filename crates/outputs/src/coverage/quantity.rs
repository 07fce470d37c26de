//! What the cells of a grid hold, and the classes that they fall into.

use super::colours;
use crate::format;

/// What sort of number a cell holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A level, dBm.
    Level,
    /// A ratio or a loss, dB, or a plain ratio.
    Ratio,
    /// A share from 0 to 1, shown in percent.
    Share,
    /// A rate, Mb/s.
    Rate,
    /// A count.
    Count,
    /// A code that stands for one of several names; never averaged.
    Classes,
}

/// Which values are the good ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Better {
    /// The high ones.
    Higher,
    /// The low ones.
    Lower,
}

/// One class of a quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    /// Least value that belongs to it; the class code. `None` is unbounded.
    pub from: Option<f64>,
    /// Least value that no longer belongs to it; the class code. `None` is unbounded.
    pub to: Option<f64>,
    /// What a person reads, without the unit.
    pub label: String,
    /// Red, green, blue.
    pub colour: [u8; 3],
}

/// A quantity, its classes in ascending order.
#[derive(Debug, Clone, PartialEq)]
pub struct Quantity {
    /// Name in files, with its unit suffix: `downlink_rsl_dbm`.
    pub name: &'static str,
    /// What a person reads.
    pub title: String,
    /// Unit of the cells; empty where there is none.
    pub unit: &'static str,
    /// What sort of number a cell holds.
    pub kind: Kind,
    /// Which values are the good ones; `None` where classes have no order.
    pub better: Option<Better>,
    /// At least one.
    pub classes: Vec<Class>,
}

/// Name, title and unit of a quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Naming<'a> {
    /// Name in files.
    pub name: &'static str,
    /// What a person reads.
    pub title: &'a str,
    /// Unit of the cells.
    pub unit: &'static str,
}

impl Quantity {
    /// A quantity cut into classes at ascending `breaks`, one class more than
    /// there are breaks. A value on a break belongs to the class above it.
    pub fn with_breaks(naming: Naming<'_>, kind: Kind, better: Better, breaks: &[f64]) -> Self {
        let mut breaks: Vec<f64> = breaks.iter().copied().filter(|b| b.is_finite()).collect();
        breaks.sort_by(f64::total_cmp);
        breaks.dedup();
        let mut colours = colours::ramp(breaks.len() + 1);
        if better == Better::Lower {
            colours.reverse();
        }
        let bound = |i: Option<usize>| i.and_then(|i| breaks.get(i)).copied();
        let classes = colours.into_iter().enumerate().map(|(i, colour)| {
            let (from, to) = (bound(i.checked_sub(1)), bound(Some(i)));
            let label = label(kind, &breaks, (from, to));
            Class {
                from,
                to,
                label,
                colour,
            }
        });
        Self {
            name: naming.name,
            title: naming.title.to_owned(),
            unit: naming.unit,
            kind,
            better: Some(better),
            classes: classes.collect(),
        }
    }

    /// Codes from 0, each with a name. With `better` the names are in
    /// ascending order of the codes and get a ramp, without they get colours
    /// that only differ.
    pub fn with_names(naming: Naming<'_>, better: Option<Better>, names: &[String]) -> Self {
        let mut colours = match better {
            Some(_) => colours::ramp(names.len()),
            None => colours::distinct(names.len()),
        };
        if better == Some(Better::Lower) {
            colours.reverse();
        }
        let classes = names.iter().zip(colours).enumerate();
        Self {
            name: naming.name,
            title: naming.title.to_owned(),
            unit: naming.unit,
            kind: Kind::Classes,
            better,
            classes: classes
                .map(|(code, (name, colour))| Class {
                    from: Some(code as f64),
                    to: Some(code as f64),
                    label: name.clone(),
                    colour,
                })
                .collect(),
        }
    }

    /// The index of the class that a cell belongs to; `None` where it is NaN
    /// or a code without a name.
    pub fn class_of(&self, value: f32) -> Option<usize> {
        if value.is_nan() {
            return None;
        }
        let value = f64::from(value);
        if self.kind == Kind::Classes {
            let code = value.round();
            let is_code = code >= 0.0 && code < self.classes.len() as f64;
            return is_code.then_some(code as usize);
        }
        // A cell holds 32 bits: 0.9 in a cell is a little less than a break
        // at 0.9, and means it.
        let is_below = |c: &Class| c.to.is_some_and(|to| f64::from(to as f32) <= value);
        Some(
            self.classes
                .partition_point(is_below)
                .min(self.classes.len() - 1),
        )
    }

    /// Indices of the classes, the best first; without an order as they are.
    pub fn best_first(&self) -> Vec<usize> {
        let ascending = 0..self.classes.len();
        match self.better {
            Some(Better::Higher) => ascending.rev().collect(),
            Some(Better::Lower) | None => ascending.collect(),
        }
    }

    /// The unit that labels are in.
    pub fn shown_unit(&self) -> &'static str {
        if self.kind == Kind::Share {
            "%"
        } else {
            self.unit
        }
    }
}

/// `−90 to −85`, `below −95`, `−55 and above`; counts name each number.
fn label(kind: Kind, breaks: &[f64], bounds: (Option<f64>, Option<f64>)) -> String {
    let factor = if kind == Kind::Share { 100.0 } else { 1.0 };
    let needs = |decimals: usize| {
        let is_whole = |b: &f64| {
            let shifted = b * factor * [1.0, 10.0][decimals];
            (shifted - shifted.round()).abs() < 1e-9
        };
        !breaks.iter().all(is_whole)
    };
    let decimals = usize::from(needs(0)) + usize::from(needs(0) && needs(1));
    let text = |value: f64| format::number(value * factor, decimals);
    match bounds {
        (Some(from), Some(to)) if kind == Kind::Count && to - from == 1.0 => text(from),
        (None, Some(1.0)) if kind == Kind::Count => "none".to_owned(),
        (Some(from), Some(to)) => format!("{} to {}", text(from), text(to)),
        (None, Some(to)) => format!("below {}", text(to)),
        (Some(from), None) => format!("{} and above", text(from)),
        (None, None) => "any".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LEVEL: Naming<'static> = Naming {
        name: "rsl_dbm",
        title: "level",
        unit: "dBm",
    };

    #[test]
    fn exact_breaks_make_classes_that_meet() {
        let q = Quantity::with_breaks(LEVEL, Kind::Level, Better::Higher, &[-80.0, -90.0]);
        let labels: Vec<&str> = q.classes.iter().map(|c| c.label.as_str()).collect();
        assert_eq!(labels, ["below −90", "−90 to −80", "−80 and above"]);
        let classes = [-90.01, -90.0, -80.1, -80.0, 5.0, f32::NAN].map(|v| q.class_of(v));
        assert_eq!(classes, [Some(0), Some(1), Some(1), Some(2), Some(2), None]);
        assert_eq!(q.class_of(f32::NEG_INFINITY), Some(0));
        assert_eq!(q.best_first(), [2, 1, 0]);
    }

    #[test]
    fn exact_best_is_darkest_either_way() {
        let lower = Quantity::with_breaks(LEVEL, Kind::Ratio, Better::Lower, &[1.0, 2.0]);
        let higher = Quantity::with_breaks(LEVEL, Kind::Ratio, Better::Higher, &[1.0, 2.0]);
        assert_eq!(lower.classes[0].colour, higher.classes[2].colour);
    }

    #[test]
    fn exact_shares_read_in_percent_and_counts_as_numbers() {
        let q = Quantity::with_breaks(LEVEL, Kind::Share, Better::Higher, &[0.5, 0.995]);
        assert_eq!(q.classes[1].label, "50.0 to 99.5");
        assert_eq!(q.class_of(0.995), Some(2));
        let q = Quantity::with_breaks(LEVEL, Kind::Count, Better::Higher, &[1.0, 2.0]);
        let labels: Vec<&str> = q.classes.iter().map(|c| c.label.as_str()).collect();
        assert_eq!(labels, ["none", "1", "2 and above"]);
    }

    #[test]
    fn exact_codes_without_a_name_are_no_class() {
        let names = ["a".to_owned(), "b".to_owned()];
        let q = Quantity::with_names(LEVEL, None, &names);
        assert_eq!(
            [0.0, 1.0, 2.0, -1.0].map(|v| q.class_of(v)),
            [Some(0), Some(1), None, None]
        );
    }
}
