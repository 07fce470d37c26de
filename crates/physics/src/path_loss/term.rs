//! One named quantity of a computation, as a screen or a table lists it.

/// A quantity with its name, value and unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// Name with unit suffix, as in result tables: `ldp_db`.
    pub name: &'static str,
    /// What it is, in a few words.
    pub meaning: &'static str,
    /// Value in `unit`; a truth value is 0 or 1.
    pub value: f64,
    /// Unit, empty for a pure number.
    pub unit: &'static str,
}

/// Builds the list: name, value, unit, meaning.
macro_rules! terms {
    ($(($name:literal, $value:expr, $unit:literal, $meaning:literal)),* $(,)?) => {
        vec![$($crate::path_loss::Term { name: $name, meaning: $meaning, value: $value, unit: $unit }),*]
    };
}
pub(crate) use terms;
