//! Every quantity of one computation, and the list of them for a person.

use super::{Combination, Troposcatter};
use crate::path_loss::Term;
use crate::path_loss::clear_air::{Diffraction, Ducting, LineOfSight, PathAnalysis};
use crate::path_loss::term::terms;

/// Every intermediate quantity of the Recommendation, in its order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    /// Zones, horizons, smooth surface.
    pub path: PathAnalysis,
    /// Free space, multipath and focusing.
    pub line_of_sight: LineOfSight,
    /// Diffraction.
    pub diffraction: Diffraction,
    /// Troposcatter.
    pub troposcatter: Troposcatter,
    /// Ducting and layer reflection.
    pub ducting: Ducting,
    /// Combination and result.
    pub combination: Combination,
}

impl Terms {
    /// Every term with the column name of the reference data, in the order of
    /// the computation.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        let mut all = self.path.list();
        all.extend(self.line_of_sight.list());
        all.extend(self.diffraction.list());
        all.extend(self.troposcatter.list());
        all.extend(self.ducting.list());
        all.extend(self.combination.joint.list());
        all.extend(self.combination.list());
        all
    }
}

impl Troposcatter {
    fn list(&self) -> Vec<Term> {
        terms![
            ("lf_db", self.lf_db, "dB", "troposcatter, part of frequency"),
            ("lbs_db", self.lbs_db, "dB", "troposcatter loss"),
        ]
    }
}

impl Combination {
    fn list(&self) -> Vec<Term> {
        terms![
            (
                "lbc_db",
                self.lbc_db,
                "dB",
                "joined with troposcatter, 50 % of locations"
            ),
            ("lloc_db", self.lloc_db, "dB", "correction for locations"),
            ("lb_db", self.lb_db, "dB", "basic transmission loss"),
            (
                "ep_dbuvm",
                self.ep_dbuvm,
                "dB(µV/m)",
                "field strength for 1 kW e.r.p."
            ),
        ]
    }
}
