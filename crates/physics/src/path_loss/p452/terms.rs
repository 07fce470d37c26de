//! Every quantity of one computation, and the list of them for a person.

use super::{Gases, Troposcatter};
use crate::path_loss::Term;
use crate::path_loss::clear_air::{Diffraction, Ducting, Joint, LineOfSight, PathAnalysis};
use crate::path_loss::term::terms;

/// Every intermediate quantity of the Recommendation, in its order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    /// Zones, horizons, smooth surface.
    pub path: PathAnalysis,
    /// Gaseous attenuation per kilometre.
    pub gases: Gases,
    /// Free space, gases, multipath and focusing.
    pub line_of_sight: LineOfSight,
    /// Diffraction.
    pub diffraction: Diffraction,
    /// Troposcatter.
    pub troposcatter: Troposcatter,
    /// Ducting and layer reflection.
    pub ducting: Ducting,
    /// Line of sight, diffraction and ducting joined.
    pub joint: Joint,
    /// Basic transmission loss not exceeded for the asked time. \[dB\]
    pub lb_db: f64,
}

impl Terms {
    /// Every term with the column name of the reference data, in the order of
    /// the computation.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        let mut all = self.path.list();
        all.extend(self.list_air());
        all.extend(self.line_of_sight.list());
        all.extend(self.diffraction.list());
        all.extend(self.troposcatter.list());
        all.extend(self.ducting.list());
        all.extend(self.joint.list());
        all.extend(terms![(
            "lb_db",
            self.lb_db,
            "dB",
            "basic transmission loss"
        )]);
        all
    }

    fn list_air(&self) -> Vec<Term> {
        let (h, g, l) = (&self.path.horizons, &self.gases, &self.line_of_sight);
        terms![
            (
                "stim_m_per_km",
                h.stim_m_per_km,
                "m/km",
                "steepest line from the transmitter to the ground"
            ),
            (
                "str_m_per_km",
                h.str_m_per_km,
                "m/km",
                "line from the transmitter to the receiver"
            ),
            (
                "gamma_o_dbkm",
                g.path.oxygen_db_per_km,
                "dB/km",
                "dry air on the path"
            ),
            (
                "gamma_w_dbkm",
                g.path.vapour_db_per_km,
                "dB/km",
                "water vapour on the path"
            ),
            (
                "gamma_scatter_dbkm",
                g.scatter.total_db_per_km(),
                "dB/km",
                "gases where troposcatter happens"
            ),
            ("ag_db", l.gas_db, "dB", "gases on the slant path"),
            ("lbfsg_db", l.lbfsg_db(), "dB", "free-space loss with gases"),
            (
                "ag_scatter_db",
                self.troposcatter.gas_db,
                "dB",
                "gases, troposcatter"
            ),
            ("ag_ducting_db", self.ducting.gas_db, "dB", "gases, ducting"),
        ]
    }
}

impl Troposcatter {
    fn list(&self) -> Vec<Term> {
        terms![
            ("lf_db", self.lf_db, "dB", "troposcatter, part of frequency"),
            (
                "lc_db",
                self.lc_db,
                "dB",
                "troposcatter, coupling of the antennas"
            ),
            ("lbs_db", self.lbs_db, "dB", "troposcatter loss"),
        ]
    }
}
