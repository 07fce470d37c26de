//! The lines of a hop's budget, top to bottom.

use model::backhaul::{Hop, HopEnd};

use crate::compliance::AllowedPower;
use crate::explain::BudgetTerm;
use crate::explain::budget::{sum, term};
use crate::hop::path::HopPath;
use crate::hop::steps::{StepResult, noise_dbm};

/// One direction of a hop.
pub struct Direction<'a> {
    /// The end that transmits, and its power after the rules.
    pub sender: (&'a HopEnd, &'a AllowedPower),
    /// The end that receives.
    pub receiver: &'a HopEnd,
    /// Gain that each antenna loses because it is not aimed exactly, sender first.
    pub pointing_loss_db: [f64; 2],
    /// Loss of the path.
    pub path: &'a HopPath,
}

impl Direction<'_> {
    /// Received level less power.
    pub fn gain_db(&self) -> f64 {
        let [tx_off_db, rx_off_db] = self.pointing_loss_db;
        let (sender, receiver) = (self.sender.0, self.receiver);
        sender.antenna.gain_dbi - sender.feeder_loss_db - tx_off_db - self.path.clear_air_loss_db()
            + receiver.antenna.gain_dbi
            - receiver.feeder_loss_db
            - rx_off_db
    }

    /// The lines, at the step that carries least and lasts longest.
    pub fn budget(&self, hop: &Hop, step: &StepResult) -> Vec<BudgetTerm> {
        let tx_power_dbm = self.sender.1.per_chain_dbm.min(
            hop.radio
                .steps
                .iter()
                .find(|s| s.name == step.name)
                .map_or(f64::INFINITY, |s| s.max_tx_power_dbm),
        );
        let rsl_dbm = tx_power_dbm + self.gain_db();
        let mut lines = self.level_lines(hop, tx_power_dbm);
        lines.push(sum(
            "rsl_dbm",
            "received level in clear air",
            (rsl_dbm, "dBm"),
        ));
        lines.push(term(
            "noise_dbm",
            "receiver noise",
            (noise_dbm(hop), "dBm"),
            format!(
                "kTB over the channel, noise figure of radio `{}`",
                hop.radio.id
            ),
        ));
        lines.push(term(
            "threshold_dbm",
            "level needed at a bit error ratio of 1e-6",
            (step.threshold_dbm, "dBm"),
            format!("step `{}` of radio `{}`", step.name, hop.radio.id),
        ));
        lines.push(sum(
            "fade_margin_db",
            "fade margin",
            (rsl_dbm - step.threshold_dbm, "dB"),
        ));
        lines
    }

    fn level_lines(&self, hop: &Hop, tx_power_dbm: f64) -> Vec<BudgetTerm> {
        let (sender, power) = self.sender;
        let asked_by = match &power.bound_by {
            Some(rule) => format!(
                "rule `{rule}`; the design asks for {:.1} dBm",
                hop.tx_power_dbm
            ),
            None => format!("the design, within radio `{}`", hop.radio.id),
        };
        let antenna = |end: &HopEnd| format!("antenna `{}` on mast `{}`", end.antenna.id, end.mast);
        let aim = format!("aimed {:.1}° off", hop.pointing_error_deg);
        let db = |name, label, loss_db: f64, source: &str| {
            term(name, label, (-loss_db, "dB"), source.to_owned())
        };
        let dbi = |name, label, end: &HopEnd| {
            term(name, label, (end.antenna.gain_dbi, "dBi"), antenna(end))
        };
        let [tx_off_db, rx_off_db] = self.pointing_loss_db;
        let path = self.path;
        vec![
            term(
                "tx_power_dbm",
                "transmit power",
                (tx_power_dbm, "dBm"),
                asked_by,
            ),
            db(
                "tx_feeder_loss_db",
                "transmit feeder",
                sender.feeder_loss_db,
                "the design",
            ),
            dbi("tx_gain_dbi", "transmit antenna", sender),
            db(
                "tx_pointing_loss_db",
                "transmit antenna's aim",
                tx_off_db,
                &aim,
            ),
            db(
                "free_space_loss_db",
                "free space",
                path.free_space_loss_db,
                "ITU-R P.525-4",
            ),
            db(
                "gas_loss_db",
                "gases of the air",
                path.gas_loss_db,
                "ITU-R P.676-13, reference atmosphere",
            ),
            db(
                "diffraction_loss_db",
                "diffraction at k = 4/3",
                path.diffraction_loss_db,
                "ITU-R P.526-15, delta-Bullington method",
            ),
            dbi("rx_gain_dbi", "receive antenna", self.receiver),
            db(
                "rx_pointing_loss_db",
                "receive antenna's aim",
                rx_off_db,
                &aim,
            ),
            db(
                "rx_feeder_loss_db",
                "receive feeder",
                self.receiver.feeder_loss_db,
                "the design",
            ),
        ]
    }
}
