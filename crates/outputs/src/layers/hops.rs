//! Hops as lines between their masts.

use engine::hop::steps::StepResult;
use engine::hop::{HopEvaluation, HopResult};

use super::{Cell, Column, Field, Kind, Layer, Row, Shape, columns};
use crate::handout::Handout;

fn of<T>(h: &HopResult, value: impl Fn(&HopEvaluation) -> T) -> Option<T> {
    h.evaluation.as_ref().map(value)
}

/// A figure of the step that lasts longest.
fn lowest(h: &HopResult, value: impl Fn(&StepResult) -> f64) -> Option<f64> {
    h.evaluation.as_ref()?.steps.first().map(value)
}

fields! { HOPS: HopResult;
    Text "id" "hop id" = |h| h.id.as_str();
    Text "from" "mast at one end" = |h| h.from.as_str();
    Text "to" "mast at the other end" = |h| h.to.as_str();
    Number "channel_centre_mhz" "middle of the channel" = |h| h.channel.centre_mhz;
    Number "channel_width_mhz" "width of the channel" = |h| h.channel.width_mhz;
    Text "polarization" "vertical or horizontal" = |h| h.polarization.name();
    Text "radio" "hop radio card" = |h| h.radio.as_str();
    Number "from_power_eirp_dbm" "EIRP at the from end after equipment and rules" = |h| h.from_power.eirp_dbm;
    Number "to_power_eirp_dbm" "EIRP at the to end after equipment and rules" = |h| h.to_power.eirp_dbm;
    Number "distance_m" "length of the path along the ground" = |h| of(h, |e| e.path.distance_m);
    Number "azimuth_deg" "true azimuth at the from end" = |h| of(h, |e| e.path.azimuth_deg);
    Number "back_azimuth_deg" "true azimuth at the to end" = |h| of(h, |e| e.path.back_azimuth_deg);
    Number "clearance_ratio" "least clearance at k = 4/3 as a share of the first Fresnel zone; negative when blocked" = |h| of(h, |e| e.path.clearances[0].clearance_ratio);
    Number "low_k_clearance_ratio" "the same at k = 2/3" = |h| of(h, |e| e.path.clearances[1].clearance_ratio);
    Number "least_k" "effective Earth radius factor that 99.9 % of the worst month exceeds on a path of this length" = |h| of(h, |e| e.path.clearances[2].k);
    Number "least_k_clearance_ratio" "the same at that factor, by which the hop is judged" = |h| of(h, |e| e.path.clearances[2].clearance_ratio);
    Number "free_space_loss_db" "free-space loss" = |h| of(h, |e| e.path.free_space_loss_db);
    Number "gas_loss_db" "loss by the gases of the air" = |h| of(h, |e| e.path.gas_loss_db);
    Number "diffraction_loss_db" "diffraction loss at k = 4/3" = |h| of(h, |e| e.path.diffraction_loss_db);
    Number "rsl_dbm" "received level in clear air at the lowest step" = |h| lowest(h, |s| s.rsl_dbm);
    Number "fade_margin_db" "margin of the lowest step" = |h| lowest(h, |s| s.fade_margin_db);
    Number "availability_year_pct" "share of an average year in which the hop is up, by propagation alone" = |h| of(h, |e| e.availability_year_pct);
    Number "availability_worst_month_pct" "share of an average worst month in which the hop is up" = |h| of(h, |e| e.availability_worst_month_pct);
    Flag "availability_is_bound" "whether both are only known as at least" = |h| of(h, |e| e.availability_is_bound);
    Number "availability_target_pct" "share of an average year that the design asks for" = |h| of(h, |e| e.availability_target_pct);
    Number "guaranteed_mbps" "rate that is there for that share of the year, each direction" = |h| of(h, |e| e.guaranteed_mbps);
    Number "mean_mbps" "mean rate over an average year, each direction" = |h| of(h, |e| e.mean_mbps);
    Number "load_downlink_mbps" "load away from the core at the busy hour" = |h| h.load.downlink_mbps;
    Number "busy_frac" "share of the guaranteed rate that the busier direction asks for at the busy hour" = |h| h.busy_frac.filter(|share| share.is_finite());
    Number "load_uplink_mbps" "load towards the core at the busy hour" = |h| h.load.uplink_mbps;
}

/// Hops as lines from mast to mast.
pub fn hops(handout: &Handout<'_>) -> Layer {
    let row = |h: &HopResult| Row {
        shape: Shape::Line([h.from_position, h.to_position]),
        cells: HOPS.iter().map(|f| (f.value)(h)).collect(),
    };
    Layer {
        name: "hops",
        title: "Hops between masts with capacity and availability",
        columns: columns(HOPS),
        rows: handout.study.backhaul.hops.iter().map(row).collect(),
    }
}
