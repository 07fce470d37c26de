//! The modulation steps of a hop: margin, outage, and the time spent in each.

use model::backhaul::{Hop, HopModulation, HopStep, HopThreshold};
use physics::hop::RainFade;
use physics::{levels, noise};
use serde::Serialize;

use crate::hop::fading::{Fading, Outage};

/// What becomes of one modulation step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepResult {
    /// Name on the radio's card.
    pub name: String,
    /// Rate at the Ethernet port, each direction.
    pub rate_mbps: f64,
    /// Power at this step after the rules, at the weaker end.
    pub tx_power_dbm: f64,
    /// Received level in clear air, in the weaker direction.
    pub rsl_dbm: f64,
    /// Level needed at a bit error ratio of 1e-6.
    pub threshold_dbm: f64,
    /// Received level less threshold.
    pub fade_margin_db: f64,
    /// Shares of the time in which this step does not hold.
    pub outage: Outage,
    /// Whether rain's share of the year is only known as a bound: it is at most
    /// 0.001 %, the rarest the method tells, and may be far less.
    pub rain_is_bound: bool,
    /// Share of an average year in which the hop works at this step.
    pub time_year_pct: f64,
    /// Share of an average worst month in which the hop works at this step.
    pub time_worst_month_pct: f64,
}

impl StepResult {
    /// Outage over the year that is told against a target: rain counts where
    /// the method knows it, not where it only says "at most". \[%\]
    pub fn known_outage_year_pct(&self) -> f64 {
        if self.rain_is_bound {
            self.outage.multipath_year_pct
        } else {
            self.outage.year_pct
        }
    }
}

/// Noise of the receiver over the channel, noise figure included.
pub fn noise_dbm(hop: &Hop) -> f64 {
    noise::noise_floor_dbm(hop.channel.width_mhz, hop.radio.noise_figure_db)
}

/// The steps that the radio uses, in rising order of rate.
///
/// * `allowed_dbm`: power that equipment and rules leave at the two ends.
/// * `gain_db`: received level less power, from either end.
pub fn steps(hop: &Hop, allowed_dbm: [f64; 2], gain_db: f64, fading: &Fading) -> Vec<StepResult> {
    let in_use: &[HopStep] = match hop.modulation {
        HopModulation::Adaptive => &hop.radio.steps,
        HopModulation::Fixed(index) => &hop.radio.steps[index..=index],
    };
    let mut steps: Vec<StepResult> = in_use
        .iter()
        .map(|step| {
            let tx_power_dbm = step
                .max_tx_power_dbm
                .min(allowed_dbm[0])
                .min(allowed_dbm[1]);
            let rsl_dbm = tx_power_dbm + gain_db;
            let threshold_dbm = threshold_dbm(hop, step);
            let fade_margin_db = rsl_dbm - threshold_dbm;
            let outage = fading.outage(fade_margin_db);
            StepResult {
                name: step.name.clone(),
                rate_mbps: step.rate_mbps_per_mhz * hop.channel.width_mhz,
                tx_power_dbm,
                rsl_dbm,
                threshold_dbm,
                fade_margin_db,
                outage,
                rain_is_bound: outage.rain_year_pct == RainFade::LEAST_PCT,
                time_year_pct: 0.0,
                time_worst_month_pct: 0.0,
            }
        })
        .collect();
    share_time(&mut steps);
    steps
}

fn threshold_dbm(hop: &Hop, step: &HopStep) -> f64 {
    match step.threshold {
        HopThreshold::Snr { required_snr_db } => {
            noise::sensitivity_dbm(noise_dbm(hop), required_snr_db)
        }
        HopThreshold::Level {
            threshold_dbm,
            threshold_width_mhz,
        } => threshold_dbm + levels::ratio_to_db(hop.channel.width_mhz / threshold_width_mhz),
    }
}

/// Shares out the time: the radio works at the fastest step that holds.
fn share_time(steps: &mut [StepResult]) {
    let mut faster = (100.0, 100.0);
    for step in steps.iter_mut().rev() {
        let out = (step.outage.year_pct, step.outage.worst_month_pct);
        step.time_year_pct = (faster.0 - out.0).max(0.0);
        step.time_worst_month_pct = (faster.1 - out.1).max(0.0);
        faster = (out.0.min(faster.0), out.1.min(faster.1));
    }
}

/// Shares of the average year and the average worst month in which no step holds. \[%\]
pub fn outage_pct(steps: &[StepResult]) -> (f64, f64) {
    let down = |time: fn(&StepResult) -> f64, out: fn(&StepResult) -> f64| {
        let least = steps.iter().map(out).fold(100.0, f64::min);
        // The least outage is exact where the sum of the shares is rounded.
        debug_assert!((100.0 - steps.iter().map(time).sum::<f64>() - least).abs() < 1e-9);
        least
    };
    (
        down(|s| s.time_year_pct, |s| s.outage.year_pct),
        down(|s| s.time_worst_month_pct, |s| s.outage.worst_month_pct),
    )
}

/// Mean rate over an average year, each direction. \[Mb/s\]
pub fn mean_mbps(steps: &[StepResult]) -> f64 {
    steps
        .iter()
        .map(|s| s.rate_mbps * s.time_year_pct / 100.0)
        .sum()
}

/// Rate that is there, at this step or a faster one, for a share of an average year; 0 where none is. \[Mb/s\]
///
/// A step whose rain is only bounded meets any share that its multipath leaves.
pub fn rate_for_mbps(steps: &[StepResult], availability_pct: f64) -> f64 {
    let mut least_pct = 100.0f64;
    for step in steps.iter().rev() {
        least_pct = least_pct.min(step.known_outage_year_pct());
        if 100.0 - least_pct >= availability_pct {
            return step.rate_mbps;
        }
    }
    0.0
}
