//! Premises: verdicts and the ledger.

use pipeline::engine::verdict;
use serde::Serialize;
use utoipa::ToSchema;
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{ObjectBuilder, Schema, SchemaType, Type};

/// The answer for one premises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Its plan is met with the probability that the plan asks for.
    Served,
    /// Its plan is met on the median, but less surely than the plan asks for.
    Doubtful,
    /// Its plan is not met.
    Unserved,
}

impl From<verdict::Verdict> for Verdict {
    fn from(verdict: verdict::Verdict) -> Self {
        match verdict {
            verdict::Verdict::Served => Self::Served,
            verdict::Verdict::Doubtful => Self::Doubtful,
            verdict::Verdict::Unserved => Self::Unserved,
        }
    }
}

macro_rules! causes {
    ($($(#[$doc:meta])* $name:ident,)*) => {
        /// What holds a premises back.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
        #[serde(rename_all = "snake_case")]
        pub enum Cause {
            $($(#[$doc])* $name,)*
        }

        impl From<verdict::LimitingCause> for Cause {
            fn from(cause: verdict::LimitingCause) -> Self {
                match cause {
                    $(verdict::LimitingCause::$name => Self::$name,)*
                }
            }
        }
    };
}

causes! {
    /// No sector within reach, or too far even over clear ground.
    OutOfReach,
    /// The ground stands in the way.
    Terrain,
    /// What stands on the ground is in the way.
    Clutter,
    /// The power that the rules take away would have been enough.
    RuleLimit,
    /// Other sectors, or their terminals, drown it.
    Interference,
    /// The sector has no airtime left at the busy hour.
    Airtime,
    /// The sector's radio holds no more terminals or traffic.
    SectorFull,
    /// No step of the air interface gives the plan's rate.
    PlanRate,
    /// The terminal stands below the roofs or indoors; on the roof it would do.
    Mounting,
    /// The ground along every path is unknown.
    UnknownGround,
    /// It stands at the mast itself.
    AtTheMast,
}

/// The ledger: all premises, column by column.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Ledger {
    /// Revision of the design that the rows are of.
    pub revision: String,
    /// How many rows every column has.
    pub rows: usize,
    /// Columns, named as in `ledger.csv`.
    pub columns: Vec<LedgerColumn>,
}

/// A column of the ledger.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LedgerColumn {
    /// Name with its unit.
    pub name: String,
    /// What it means.
    pub meaning: String,
    /// What sort of value it holds.
    pub kind: ColumnKind,
    /// One value a row; `null` where there is none.
    pub values: Vec<LedgerValue>,
}

/// What sort of value a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ColumnKind {
    /// Text.
    Text,
    /// Numbers.
    Number,
    /// Whole numbers.
    Count,
    /// Yes or no.
    Flag,
}

/// One value of a row.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum LedgerValue {
    /// Text.
    Text(String),
    /// A number.
    Number(f64),
    /// A whole number.
    Count(i64),
    /// Yes or no.
    Flag(bool),
    /// There is none.
    Empty(()),
}

// By hand: a whole number is a number too, so that "one of" would not hold.
impl utoipa::PartialSchema for LedgerValue {
    fn schema() -> RefOr<Schema> {
        let types = [Type::String, Type::Number, Type::Boolean, Type::Null];
        ObjectBuilder::new()
            .schema_type(SchemaType::from_iter(types))
            .description(Some("One value of a row."))
            .into()
    }
}

impl ToSchema for LedgerValue {}
