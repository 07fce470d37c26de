//! The sectors: what they may radiate and how full they are.

use engine::study::SectorResult;
use maud::{Markup, html};

use super::share_bar;
use crate::format;
use crate::handout::Handout;

pub(super) fn sectors(handout: &Handout<'_>) -> Markup {
    let most_frac = handout.network.study.max_airtime_frac;
    html! {
        section {
            h2 { "Sectors" }
            p.quiet {
                "Power is what one transmit chain is left with after the equipment and the rule set. Airtime is the share of the busy hour in use; the mark stands at the "
                (format::percent(most_frac)) " that the design allows. Uplink I/N is interference over noise at one port of the base station."
            }
            div.wide { table {
                thead { tr {
                    th { "Sector" } th { "Aim, true" } th { "Channel" } th.n { "Power per chain" } th.n { "EIRP" }
                    th { "Downlink airtime" } th { "Uplink airtime" } th.n { "Served" } th.n { "Farthest" }
                    th.n { "Uplink I/N" }
                } }
                tbody { @for s in &handout.study.sectors { (row(s, most_frac)) } }
            } }
        }
    }
}

fn row(s: &SectorResult, most_frac: f64) -> Markup {
    html! {
        tr {
            th.whole scope="row" { (format::xml_text(s.id.as_str())) div.quiet { (format::xml_text(s.mast.as_str())) ", " (format::metres(s.height_agl_m)) } }
            td { (format::bearing(s.azimuth_deg)) }
            td.whole { (format::frequency(s.channel.centre_mhz)) div.quiet { (format::frequency(s.channel.width_mhz)) " wide" } }
            td.n { (format::dbm(s.power.per_chain_dbm)) div.quiet { (binding(s)) } }
            td.n { (format::dbm(s.power.eirp_dbm)) }
            td.load { (share_bar(s.load.downlink_airtime_frac, Some(most_frac))) div.quiet { (format::rate(s.load.downlink_mbps)) } }
            td.load { (share_bar(s.load.uplink_airtime_frac, Some(most_frac))) div.quiet { (format::rate(s.load.uplink_mbps)) } }
            td.n { (format::count(s.served)) @if s.doubtful > 0 { div.quiet { "+ " (format::count(s.doubtful)) " doubtful" } } }
            td.n {
                @if s.load.terminals > 0 { (format::distance(s.farthest_served_m)) } @else { "–" }
                div.quiet { "guard " (format::distance(s.guard_range_m)) }
            }
            td.n { (interference(s)) }
        }
    }
}

fn binding(s: &SectorResult) -> String {
    match &s.power.bound_by {
        Some(rule) => format!(
            "rule {} takes {}",
            format::xml_text(rule.as_str()),
            format::db(s.power.reduction_db)
        ),
        None if !s.power.covered => "no rule covers the channel".to_owned(),
        None => "as asked for".to_owned(),
    }
}

fn interference(s: &SectorResult) -> String {
    s.uplink_interference_dbm.map_or_else(
        || "none".to_owned(),
        |level_dbm| format::signed_db(level_dbm - s.uplink_noise_dbm),
    )
}
