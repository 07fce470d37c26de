//! Rules over the hops of a network.

use model::backhaul::{Hop, HopEnd};
use model::{Finding, Network, Role, Severity, Subject};

use super::{Tell, bands};

pub(super) fn hops(network: &Network, tell: &mut Tell<'_>) {
    for (index, hop) in network.backhaul.hops.iter().enumerate() {
        height(network, (hop, &hop.from), "from_height_agl_m", tell);
        height(network, (hop, &hop.to), "to_height_agl_m", tell);
        spectrum(hop, tell);
        tuning(hop, tell);
        power(hop, tell);
        twins(&network.backhaul.hops[..index], hop, tell);
    }
}

fn subject(hop: &Hop) -> Subject {
    Subject::Hop(hop.id.clone())
}

fn height(network: &Network, (hop, end): (&Hop, &HopEnd), key: &'static str, tell: &mut Tell<'_>) {
    let Some(mast) = network.mast(&end.mast) else {
        return;
    };
    if end.height_agl_m > mast.height_agl_m {
        let message = format!(
            "hop `{}` ends at `{}` m, above the top of mast `{}` at `{}` m",
            hop.id, end.height_agl_m, mast.id, mast.height_agl_m
        );
        tell(
            Finding::new(Severity::Error, "above-mast", message).hint(format!(
                "lower `{key}`, or correct the mast's height; extending a structure is a matter for its engineer"
            )),
            subject(hop),
            key,
        );
    }
}

fn spectrum(hop: &Hop, tell: &mut Tell<'_>) {
    let (lower, upper) = (hop.channel.lower_mhz(), hop.channel.upper_mhz());
    let role = Role::PointToPoint;
    if hop.rule_set.covers(role, lower, upper) {
        return;
    }
    let hint = bands(&hop.rule_set, role, "point-to-point links");
    tell(
        Finding::new(
            Severity::Error,
            "channel-outside-rules",
            format!(
                "channel `{lower}` to `{upper}` MHz of hop `{}` lies outside the rules for point-to-point links",
                hop.id
            ),
        )
        .hint(format!(
            "{hint}; move the channel, or name another `rule_set` in the hop or under `[backhaul]`, for no limit can be applied here"
        )),
        subject(hop),
        "channel_mhz",
    );
}

fn tuning(hop: &Hop, tell: &mut Tell<'_>) {
    let radio = &hop.radio;
    let (lower, upper) = (hop.channel.lower_mhz(), hop.channel.upper_mhz());
    if lower >= radio.lower_mhz && upper <= radio.upper_mhz {
        return;
    }
    let message = format!(
        "channel `{lower}` to `{upper}` MHz of hop `{}` lies outside the `{}` to `{}` MHz of radio `{}`",
        hop.id, radio.lower_mhz, radio.upper_mhz, radio.id
    );
    tell(
        Finding::new(Severity::Error, "outside-radio", message)
            .hint("move the channel, or name a radio that tunes to it"),
        subject(hop),
        "channel_mhz",
    );
}

fn power(hop: &Hop, tell: &mut Tell<'_>) {
    let most_dbm = hop.radio.max_tx_power_dbm();
    if hop.tx_power_dbm <= most_dbm {
        return;
    }
    let message = format!(
        "hop `{}` asks for `{}` dBm; radio `{}` gives at most `{most_dbm}` dBm",
        hop.id, hop.tx_power_dbm, hop.radio.id
    );
    tell(
        Finding::new(Severity::Warning, "equipment-power", message)
            .hint("lower `tx_power_dbm`, or remove it to take the radio's highest"),
        subject(hop),
        "tx_power_dbm",
    );
}

/// Two hops between the same masts on one channel hear each other.
fn twins(before: &[Hop], hop: &Hop, tell: &mut Tell<'_>) {
    let twin = before.iter().find(|other| {
        other.touches(&hop.from.mast)
            && other.touches(&hop.to.mast)
            && other.channel.overlap_mhz(&hop.channel) > 0.0
            && other.polarization == hop.polarization
    });
    if let Some(twin) = twin {
        let message = format!(
            "hops `{}` and `{}` run beside each other on one channel and polarization",
            twin.id, hop.id
        );
        tell(
            Finding::new(Severity::Warning, "same-channel", message)
                .hint("move one channel, or turn one of them by 90 degrees"),
            subject(hop),
            "channel_mhz",
        );
    }
}
