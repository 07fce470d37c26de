//! Zones along the path and the incidence of ducting (sections 3.2 to 3.5 of
//! the Recommendation), from the runs of equal zones of a radial.

use physics::path_loss::{PathInput, Zone};

use super::end::End;
use crate::fast::{decades, exp, power, ten_to};
use crate::radial::Receiver;

/// Samples of one zone without a break.
#[derive(Debug, Clone, Copy)]
struct Run {
    zone: Zone,
    first: usize,
    last: usize,
}

/// The zones of a radial as runs.
#[derive(Debug, Clone, Default)]
pub(super) struct Zones {
    runs: Vec<Run>,
    /// Samples before the first that is not inland.
    inland: usize,
}

/// Lengths of the zones of a path, and what follows from them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Climate {
    pub(super) omega: f64,
    pub(super) tau: f64,
    /// Time for which ducting is to be expected, β0, equation (5). \[%\]
    pub(super) b0_pct: f64,
    pub(super) dct_km: f64,
    pub(super) dcr_km: f64,
}

impl Zones {
    pub(super) fn begin(&mut self, zone: &[Zone]) {
        self.runs.clear();
        self.inland = zone.len();
        for (i, zone) in zone.iter().copied().enumerate() {
            if zone != Zone::Inland && self.inland > i {
                self.inland = i;
            }
            match self.runs.last_mut() {
                Some(run) if run.zone == zone => run.last = i,
                _ => self.runs.push(Run {
                    zone,
                    first: i,
                    last: i,
                }),
            }
        }
    }

    /// Whether the path lies inland from end to end.
    #[inline]
    pub(super) fn is_inland(&self, end: &End<'_>, receiver: &Receiver) -> bool {
        end.last < self.inland
            && receiver.zone == Zone::Inland
            && end.own.is_none_or(|own| own.samples.is_inland())
    }

    /// Fraction of the path over sea.
    pub(super) fn omega(&self, d: &[f64], end: &End<'_>, receiver: &Receiver) -> f64 {
        self.lengths(d, end, receiver).0 / receiver.d_km
    }

    /// Climate of the path to a receiver.
    pub(super) fn climate(
        &self,
        d: &[f64],
        end: &End<'_>,
        receiver: &Receiver,
        centre_lat_deg: f64,
    ) -> Climate {
        let dt = receiver.d_km;
        let (sea, land, inland) = if self.is_inland(end, receiver) {
            (0.0, dt, dt)
        } else {
            self.lengths(d, end, receiver)
        };
        let tau = tau(inland);
        let mu1 = mu1(land, tau);
        let phi = centre_lat_deg.abs();
        let (mu4, at_latitude) = if phi <= 70.0 {
            (
                power(mu1, -0.935 + 0.0176 * phi),
                ten_to(-0.015 * phi + 1.67),
            ) // (4), (5)
        } else {
            (power(mu1, 0.3), 4.17)
        };
        let coast = |zone| {
            if zone == Zone::Sea {
                0.0
            } else {
                PathInput::NO_COAST_KM
            }
        };
        Climate {
            omega: sea / dt,
            tau,
            b0_pct: at_latitude * mu1 * mu4,
            dct_km: coast(self.runs[0].zone),
            dcr_km: coast(receiver.zone),
        }
    }

    /// Sum over sea, longest run over land, longest run inland. \[km\]
    ///
    /// Summed as the scalar model sums them, so that a path of exactly three
    /// quarters sea falls on the same side of equation (49).
    fn lengths(&self, d: &[f64], end: &End<'_>, receiver: &Receiver) -> (f64, f64, f64) {
        let (dt, last) = (receiver.d_km, end.last);
        let points = end.last_of_all() + 2;
        let at = |i: usize| if i + 1 == points { dt } else { end.d(d, i) };
        let length = |first: usize, past: usize| {
            let after = if past < points {
                0.5 * (at(past) - at(past - 1))
            } else {
                0.0
            };
            let before = if first > 0 {
                0.5 * (at(first) - at(first - 1))
            } else {
                0.0
            };
            at(past - 1) - at(first) + after + before
        };
        let clipped = self.runs.iter().filter(|run| run.first <= last);
        let clipped = clipped.map(|run| (run.zone, run.first, run.last.min(last) + 1));
        let own = end.own.iter().flat_map(|own| own.samples.zone);
        let own = own.chain([receiver.zone]).zip(last + 1..);
        let own = own.map(|(zone, i)| (zone, i, i + 1));
        let all_runs = |of: fn(Zone) -> bool, take: &mut dyn FnMut(f64)| {
            let mut open: Option<(usize, usize)> = None;
            for (zone, first, past) in clipped.clone().chain(own.clone()) {
                match (of(zone), open) {
                    (true, Some((start, _))) => open = Some((start, past)),
                    (true, None) => open = Some((first, past)),
                    (false, Some((start, past))) => {
                        take(length(start, past));
                        open = None;
                    }
                    (false, None) => {}
                }
            }
            if let Some((start, past)) = open {
                take(length(start, past));
            }
        };
        let (mut sea, mut land, mut inland) = (0.0, 0.0_f64, 0.0_f64);
        all_runs(|z| z == Zone::Sea, &mut |x| sea += x);
        all_runs(|z| z != Zone::Sea, &mut |x| land = land.max(x));
        all_runs(|z| z == Zone::Inland, &mut |x| inland = inland.max(x));
        (sea, land, inland)
    }
}

/// Equation (3).
fn tau(inland_km: f64) -> f64 {
    1.0 - exp(-4.12e-4 * power(inland_km.max(1e-9), 2.41))
}

/// Equation (2).
fn mu1(land_km: f64, tau: f64) -> f64 {
    let sum = ten_to(-land_km / (16.0 - 6.6 * tau)) + ten_to(-5.0 * (0.496 + 0.354 * tau));
    power(sum, 0.2).min(1.0)
}

/// The decimal logarithm of μ1 of inland paths, tabulated over distance.
#[derive(Debug, Default)]
pub(super) struct InlandTable {
    log_mu1: Vec<f64>,
}

/// Spacing of the table. \[km\]
const TABLE_STEP_KM: f64 = 0.125;

impl InlandTable {
    pub(super) fn up_to(length_km: f64) -> Self {
        let rows = (length_km / TABLE_STEP_KM).ceil().max(0.0) as usize + 3;
        let log_mu1 = (0..rows).map(|i| decades(inland_mu1(i as f64 * TABLE_STEP_KM)));
        Self {
            log_mu1: log_mu1.collect(),
        }
    }

    /// Logarithm to base ten of β0 in percent of an inland path, within 1e-3.
    #[inline]
    pub(super) fn log_b0(&self, length_km: f64, centre_lat_deg: f64) -> f64 {
        let phi = centre_lat_deg.abs();
        let at = length_km / TABLE_STEP_KM;
        let row = (at as usize).min(self.log_mu1.len() - 2);
        let (low, high) = (self.log_mu1[row], self.log_mu1[row + 1]);
        let log_mu1 = low + (high - low) * (at - row as f64);
        if phi <= 70.0 {
            1.67 - 0.015 * phi + log_mu1 * (0.065 + 0.0176 * phi)
        } else {
            0.620_136 + 1.3 * log_mu1 // of 4.17
        }
    }
}

/// μ1 of a path inland from end to end.
fn inland_mu1(length_km: f64) -> f64 {
    mu1(length_km, tau(length_km))
}
