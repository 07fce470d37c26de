//! Zones along the path, effective Earth radii, point incidence of ducting.

use super::Case;
use crate::levels::pow10;
use crate::path_loss::Zone;
use crate::refractivity::{EARTH_RADIUS_KM, effective_radius_km};

/// Radio-climatic quantities of a path (section 3.2 to 3.5 of the Recommendation).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Climate {
    /// Fraction of the path over sea. Table 5.
    pub omega: f64,
    /// Longest continuous land (inland or coastal) section. \[km\]
    pub dtm_km: f64,
    /// Longest continuous inland section. \[km\]
    pub dlm_km: f64,
    /// Inland parameter τ, equation (3).
    pub tau: f64,
    /// μ1, equation (2).
    pub mu1: f64,
    /// μ4, equation (4).
    pub mu4: f64,
    /// Time for which ducting is to be expected, β0, equation (5). \[%\]
    pub b0_pct: f64,
    /// Median effective Earth radius, equation (7a). \[km\]
    pub ae_km: f64,
    /// Effective Earth radius exceeded for β0 of the time, equation (7b). \[km\]
    pub abeta_km: f64,
    /// Distance over land from the transmitter to the coast, 0 at sea. \[km\]
    pub dct_km: f64,
    /// Distance over land from the receiver to the coast, 0 at sea. \[km\]
    pub dcr_km: f64,
}

impl Climate {
    pub(crate) fn of(case: &Case<'_>) -> Self {
        let profile = &case.input.profile;
        let zones = profile.zone();
        let lengths = ZoneLengths::of(profile.d_km(), zones);
        let (dtm, dlm) = (lengths.land_km, lengths.inland_km);
        let tau = 1.0 - (-4.12e-4 * dlm.powf(2.41)).exp(); // (3)
        let mu1 = (pow10(-dtm / (16.0 - 6.6 * tau)) + pow10(-5.0 * (0.496 + 0.354 * tau)))
            .powf(0.2)
            .min(1.0); // (2)
        let phi = case.input.path_centre_lat_deg.abs();
        let (mu4, at_latitude) = if phi <= 70.0 {
            (mu1.powf(-0.935 + 0.0176 * phi), pow10(-0.015 * phi + 1.67)) // (4), (5)
        } else {
            (mu1.powf(0.3), 4.17)
        };
        let coast = |end: Option<&Zone>, d_km| if end == Some(&Zone::Sea) { 0.0 } else { d_km };
        Self {
            omega: lengths.sea_km / case.dt,
            dtm_km: dtm,
            dlm_km: dlm,
            tau,
            mu1,
            mu4,
            b0_pct: at_latitude * mu1 * mu4,
            ae_km: effective_radius_km(case.input.delta_n_per_km),
            abeta_km: 3.0 * EARTH_RADIUS_KM,
            dct_km: coast(zones.first(), case.input.tx_coast_km),
            dcr_km: coast(zones.last(), case.input.rx_coast_km),
        }
    }
}

/// Lengths of the zones along a path.
#[derive(Clone, Copy, Default)]
struct ZoneLengths {
    /// Sum over sea. \[km\]
    sea_km: f64,
    /// Longest run over land, coastal or inland. \[km\]
    land_km: f64,
    /// Longest run inland. \[km\]
    inland_km: f64,
}

impl ZoneLengths {
    fn of(d_km: &[f64], zones: &[Zone]) -> Self {
        let Some(first) = zones.first() else {
            return Self::default();
        };
        let dt = d_km.last().copied().unwrap_or(0.0);
        // Nearly every path lies in one zone; this compares bytes, no branches.
        if zones.iter().fold(true, |same, z| same & (z == first)) {
            let land = if *first == Zone::Sea { 0.0 } else { dt };
            let inland = if *first == Zone::Inland { dt } else { 0.0 };
            return Self {
                sea_km: dt - land,
                land_km: land,
                inland_km: inland,
            };
        }
        let longest = |of: fn(Zone) -> bool| runs(d_km, zones, of).fold(0.0, f64::max);
        Self {
            sea_km: runs(d_km, zones, |z| z == Zone::Sea).sum(),
            land_km: longest(|z| z != Zone::Sea),
            inland_km: longest(|z| z == Zone::Inland),
        }
    }
}

/// Lengths of the unbroken runs of points that satisfy `of`, each reaching
/// half way to the neighbouring points.
fn runs(d: &[f64], zones: &[Zone], of: fn(Zone) -> bool) -> impl Iterator<Item = f64> {
    let n = d.len().min(zones.len());
    let mut next = 0;
    std::iter::from_fn(move || {
        let start = (next..n).find(|i| of(zones[*i]))?;
        let end = (start..n).take_while(|i| of(zones[*i])).last()?;
        next = end + 1;
        let after = if end + 1 < n {
            0.5 * (d[end + 1] - d[end])
        } else {
            0.0
        };
        let before = if start > 0 {
            0.5 * (d[start] - d[start - 1])
        } else {
            0.0
        };
        Some(d[end] - d[start] + after + before)
    })
}
