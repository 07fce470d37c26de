//! Every quantity of one computation, its flags and its list for a person.

use super::reference::PropagationMode;
use super::settings::{Link, Settings};
use super::variability::Spread;
use crate::path_loss::term::terms;
use crate::path_loss::{Term, Warning};

/// Every intermediate quantity. Pairs are transmitter and receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Terms {
    /// What was asked.
    pub link: Link,
    /// With what settings.
    pub settings: Settings,
    /// Path length. \[km\]
    pub d_km: f64,
    /// Surface refractivity at the mean height of the ground. \[N-units\]
    pub n_s: f64,
    /// Effective Earth radius. \[km\]
    pub ae_km: f64,
    /// Transfer impedance of the ground, real and imaginary part.
    pub z_g: (f64, f64),
    /// Terrain irregularity. \[m\]
    pub delta_h_m: f64,
    /// Elevations in which the rays leave the two antennas. \[rad\]
    pub departure_rad: [f64; 2],
    /// True where the profile hides one end from the other.
    pub transhorizon: bool,
    /// Horizon elevations the model computes with. \[rad\]
    pub theta_hzn_rad: [f64; 2],
    /// Horizon distances the model computes with. \[m\]
    pub d_hzn_m: [f64; 2],
    /// Horizon distances over a smooth Earth. \[m\]
    pub d_hzn_smooth_m: [f64; 2],
    /// Effective antenna heights. \[m\]
    pub h_e_m: [f64; 2],
    /// Which region the path lies in.
    pub prop_mode: PropagationMode,
    /// Reference attenuation: median loss beyond free space. \[dB\]
    pub a_ref_db: f64,
    /// Free-space loss with the model's constant, 32.45. \[dB\]
    pub a_fs_db: f64,
    /// From the reference attenuation to the one asked for.
    pub spread: Spread,
    /// Basic transmission loss. \[dB\]
    pub a_db: f64,
}

/// A quantity with its range and its flag in the reference program.
struct Check {
    /// 0 where the reference program refuses to compute instead.
    flag: u32,
    quantity: &'static str,
    value: f64,
    min: f64,
    max: f64,
}

fn check(flag: u32, quantity: &'static str, value: f64, (min, max): (f64, f64)) -> Check {
    Check {
        flag,
        quantity,
        value,
        min,
        max,
    }
}

const NO_MORE: f64 = f64::INFINITY;
const NO_LESS: f64 = f64::NEG_INFINITY;

/// Deviates beyond this rest on no measurements.
const MOST_DEVIATE: f64 = 3.10;

impl Terms {
    /// Flags of the reference program, one bit each: 0x1 and 0x2 antenna
    /// heights, 0x4 frequency, 0x8 and 0x10 path too long, 0x20 and 0x40 too
    /// short, 0x80 and 0x100 horizon elevations, 0x200 and 0x400 horizons too
    /// near, 0x800 and 0x1000 too far, 0x2000 percentages, 0x4000 refractivity.
    #[must_use]
    pub fn flags(&self) -> u32 {
        let broken = self.checks().filter(Check::is_broken);
        broken.fold(0, |flags, c| flags | c.flag)
    }

    /// Where the case leaves the range the model was made for. Ranges beyond
    /// which the reference program refuses to compute are among them.
    #[must_use]
    pub fn warnings(&self) -> Vec<Warning> {
        let broken = self.checks().filter(Check::is_broken);
        broken
            .map(|c| Warning::OutOfRange {
                quantity: c.quantity,
                value: c.value,
                min: c.min,
                max: c.max,
            })
            .collect()
    }

    fn checks(&self) -> impl Iterator<Item = Check> {
        self.input_checks().into_iter().chain(self.path_checks())
    }

    fn input_checks(&self) -> [Check; 9] {
        let (l, s) = (&self.link, &self.settings);
        let percentages = (f64::MIN_POSITIVE, 100.0 - 1e-12);
        [
            check(0x1, "tx_agl_m", l.tx_agl_m, (1.0, 1000.0)),
            check(0x2, "rx_agl_m", l.rx_agl_m, (1.0, 1000.0)),
            check(0x4, "f_mhz", l.f_mhz, (40.0, 10_000.0)),
            check(0, "n0", l.n0, (250.0, 400.0)),
            check(0, "time_pct", l.time_pct, percentages),
            check(0, "location_pct", l.location_pct, percentages),
            check(0, "situation_pct", s.situation_pct, percentages),
            check(0, "permittivity", s.ground.permittivity, (1.0, NO_MORE)),
            check(
                0,
                "conductivity_s_per_m",
                s.ground.conductivity_s_per_m,
                (f64::MIN_POSITIVE, NO_MORE),
            ),
        ]
    }

    fn path_checks(&self) -> [Check; 17] {
        let d = self.d_km;
        let [he1, he2] = self.h_e_m;
        let steep_km = (he1 - he2).abs() / 200e-3 / 1e3;
        let [t1, t2] = self.theta_hzn_rad;
        let [d1, d2] = self.d_hzn_m;
        let [s1, s2] = self.d_hzn_smooth_m;
        let farthest = self.spread.deviates.map(f64::abs);
        let deviate = farthest.into_iter().fold(0.0, f64::max);
        [
            check(0x8, "d_km", d, (NO_LESS, 1000.0)),
            check(0x10, "d_km", d, (NO_LESS, 2000.0)),
            check(0x20, "d_km", d, (steep_km, NO_MORE)),
            check(0x40, "d_km", d, (1.0, NO_MORE)),
            check(0x80, "theta_hzn_tx_rad", t1, (-0.2, 0.2)),
            check(0x100, "theta_hzn_rx_rad", t2, (-0.2, 0.2)),
            check(0x200, "d_hzn_tx_m", d1, (0.1 * s1, NO_MORE)),
            check(0x400, "d_hzn_rx_m", d2, (0.1 * s2, NO_MORE)),
            check(0x800, "d_hzn_tx_m", d1, (NO_LESS, 3.0 * s1)),
            check(0x1000, "d_hzn_rx_m", d2, (NO_LESS, 3.0 * s2)),
            check(0x2000, "deviate", deviate, (NO_LESS, MOST_DEVIATE)),
            check(0x4000, "n_s", self.n_s, (250.0, NO_MORE)),
            check(0, "n_s", self.n_s, (150.0, 400.0)),
            check(0, "ae_km", self.ae_km, (4000.0, 13_333.333)),
            check(0, "z_g", self.z_g.0, (self.z_g.1.abs(), NO_MORE)),
            check(0, "tx_agl_m", self.link.tx_agl_m, (0.5, 3000.0)),
            check(0, "rx_agl_m", self.link.rx_agl_m, (0.5, 3000.0)),
        ]
    }
}

impl Check {
    fn is_broken(&self) -> bool {
        !(self.min..=self.max).contains(&self.value)
    }
}

impl Terms {
    /// Every term with the column name of the reference data, in the order of
    /// the computation.
    #[must_use]
    pub fn list(&self) -> Vec<Term> {
        let mut all = self.list_path();
        all.extend(self.list_loss());
        all
    }

    fn list_path(&self) -> Vec<Term> {
        let [theta_tx, theta_rx] = self.theta_hzn_rad;
        let [d_tx, d_rx] = self.d_hzn_m;
        let [smooth_tx, smooth_rx] = self.d_hzn_smooth_m;
        let [he_tx, he_rx] = self.h_e_m;
        terms![
            ("d_km", self.d_km, "km", "path length"),
            ("n_s", self.n_s, "N", "refractivity at the mean height"),
            ("ae_km", self.ae_km, "km", "effective Earth radius"),
            ("z_g_re", self.z_g.0, "", "ground impedance, real part"),
            ("z_g_im", self.z_g.1, "", "ground impedance, imaginary part"),
            ("delta_h_m", self.delta_h_m, "m", "terrain irregularity"),
            (
                "theta_hzn_tx_rad",
                theta_tx,
                "rad",
                "horizon elevation at the transmitter"
            ),
            (
                "theta_hzn_rx_rad",
                theta_rx,
                "rad",
                "horizon elevation at the receiver"
            ),
            ("d_hzn_tx_m", d_tx, "m", "transmitter to its horizon"),
            ("d_hzn_rx_m", d_rx, "m", "receiver to its horizon"),
            (
                "d_hzn_smooth_tx_m",
                smooth_tx,
                "m",
                "the same over a smooth Earth"
            ),
            (
                "d_hzn_smooth_rx_m",
                smooth_rx,
                "m",
                "the same over a smooth Earth"
            ),
            (
                "h_e_tx_m",
                he_tx,
                "m",
                "effective height of the transmitting antenna"
            ),
            (
                "h_e_rx_m",
                he_rx,
                "m",
                "effective height of the receiving antenna"
            ),
        ]
    }

    fn list_loss(&self) -> Vec<Term> {
        let s = &self.spread;
        let [z_t, z_l, z_s] = s.deviates;
        terms![
            (
                "a_ref_db",
                self.a_ref_db,
                "dB",
                "reference attenuation, median beyond free space"
            ),
            ("a_fs_db", self.a_fs_db, "dB", "free-space loss"),
            ("z_t", z_t, "", "deviate of time"),
            ("z_l", z_l, "", "deviate of location"),
            ("z_s", z_s, "", "deviate of situation"),
            ("de_km", s.de_km, "km", "effective distance"),
            (
                "v_med_db",
                s.v_med_db,
                "dB",
                "all-year median against the reference"
            ),
            (
                "sigma_t_db",
                s.sigma_t_db,
                "dB",
                "standard deviation over time"
            ),
            (
                "sigma_l_db",
                s.sigma_l_db,
                "dB",
                "standard deviation over locations"
            ),
            (
                "sigma_s_db",
                s.sigma_s_db,
                "dB",
                "standard deviation between situations"
            ),
            ("y_r_db", s.y_r_db, "dB", "deviation by itself"),
            ("y_s_db", s.y_s_db, "dB", "deviation with the situation"),
            (
                "attenuation_db",
                s.attenuation_db,
                "dB",
                "attenuation beyond free space"
            ),
            ("a_db", self.a_db, "dB", "basic transmission loss"),
        ]
    }
}
