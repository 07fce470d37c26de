//! One id type per kind of thing, so that a sector can never be looked up
//! by a premises' name.

use std::fmt;
use std::sync::Arc;

use serde::Serialize;

macro_rules! id_type {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(transparent)]
        pub struct $name(Arc<str>);

        impl $name {
            /// An id from its text as the design writes it.
            pub fn new(text: impl Into<Arc<str>>) -> Self {
                Self(text.into())
            }

            /// The id as the design writes it.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }
    };
}

id_type!(
    /// A mast: a structure that carries radios.
    MastId
);
id_type!(
    /// A sector: one base station behind one antenna on a mast.
    SectorId
);
id_type!(
    /// A backhaul hop: a fixed link between two masts.
    HopId
);
id_type!(
    /// A home, farm or business that might be served.
    PremisesId
);
id_type!(
    /// A service plan.
    PlanId
);
id_type!(
    /// An equipment card: antenna, base station, terminal or air interface.
    EquipmentId
);
id_type!(
    /// One rule of a rule set.
    RuleId
);
