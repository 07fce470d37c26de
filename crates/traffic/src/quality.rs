//! How a voice path sounds: the E-model of ITU-T G.107 with all values at
//! their defaults but delay, codec and loss.

use crate::voice::Codec;

/// Rating of a path without delay, codec impairment and loss. Source: ITU-T G.107 (2015), Table 2.
pub const BEST_RATING: f64 = 93.2;

/// One-way delay from mouth to ear that suits most uses. Source: ITU-T G.114 (2003), from memory. \[ms\]
pub const GOOD_DELAY_MS: f64 = 150.0;

/// One-way delay that planning never exceeds. Source: as [`GOOD_DELAY_MS`]. \[ms\]
pub const MOST_DELAY_MS: f64 = 400.0;

/// What a codec does to the rating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Impairment {
    /// Impairment without loss.
    pub equipment: f64,
    /// How well the codec bears lost packets. \[%\]
    pub loss_robustness_pct: f64,
}

/// G.711 whose receiver fills gaps with silence. Source: ITU-T G.113, appendix I; from memory.
pub const G711_WITHOUT_CONCEALMENT: Impairment = Impairment {
    equipment: 0.0,
    loss_robustness_pct: 4.3,
};

/// What a codec does to the rating, gaps concealed; `None` where G.113 has
/// no pair of values on the narrow-band scale.
///
/// Source: ITU-T G.113, appendix I; from memory.
pub fn impairment(codec: Codec) -> Option<Impairment> {
    let (equipment, loss_robustness_pct) = match codec {
        Codec::G711 => (0.0, 25.1),
        Codec::G729 => (11.0, 19.0),
        Codec::G723At6 => (15.0, 16.1),
        Codec::G722 | Codec::G723At5 | Codec::G726At32 => return None,
    };
    Some(Impairment {
        equipment,
        loss_robustness_pct,
    })
}

/// Impairment by delay alone, echo being perfectly cancelled.
///
/// `Id = 0.024·d + 0.11·(d − 177.3)·H(d − 177.3)`
///
/// * `delay_ms`: one way, mouth to ear, 0 to 400.
///
/// Source: the simplified form of ITU-T G.107 (R. G. Cole and J. H. Rosenbluth, 2001).
pub fn delay_impairment(delay_ms: f64) -> f64 {
    0.024 * delay_ms + 0.11 * (delay_ms - 177.3).max(0.0)
}

/// Impairment by codec and lost packets.
///
/// `Ie,eff = Ie + (95 − Ie)·Ppl / (Ppl/BurstR + Bpl)`
///
/// * `loss_pct`: 0 to 100. `burst_ratio`: 1 for losses at random, above for bursts.
///
/// Source: ITU-T G.107 (2015), equation 7-29.
pub fn effective_impairment(codec: Impairment, loss_pct: f64, burst_ratio: f64) -> f64 {
    let spread = loss_pct / burst_ratio + codec.loss_robustness_pct;
    codec.equipment + (95.0 - codec.equipment) * loss_pct / spread
}

/// Rating of a path, losses at random: 0 to 93.2.
///
/// `R = 93.2 − Id − Ie,eff`
pub fn rating(codec: Impairment, delay_ms: f64, loss_pct: f64) -> f64 {
    let impaired = delay_impairment(delay_ms) + effective_impairment(codec, loss_pct, 1.0);
    (BEST_RATING - impaired).max(0.0)
}

/// Mean opinion of a rating: 1 to 4.5.
///
/// `1 + 0.035·R + 7·10⁻⁶·R·(R − 60)·(100 − R)`; the curve dips below 1
/// under a rating of 6.5 and is held at 1 there.
///
/// Source: ITU-T G.107 (2015), annex B.
pub fn mean_opinion(rating: f64) -> f64 {
    if rating >= 100.0 {
        return 4.5;
    }
    let r = rating.max(0.0);
    (1.0 + 0.035 * r + 7e-6 * r * (r - 60.0) * (100.0 - r)).max(1.0)
}

/// What users make of a rating.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Category {
    /// Below 50: not recommended.
    NotRecommended,
    /// 50 to 60: nearly all users dissatisfied.
    Poor,
    /// 60 to 70: many dissatisfied.
    Low,
    /// 70 to 80: some dissatisfied.
    Medium,
    /// 80 to 90: satisfied.
    High,
    /// 90 and above: very satisfied.
    Best,
}

/// Category of a rating. Source: ITU-T G.109 (1999), Table 1; from memory.
pub fn category(rating: f64) -> Category {
    match rating {
        r if r >= 90.0 => Category::Best,
        r if r >= 80.0 => Category::High,
        r if r >= 70.0 => Category::Medium,
        r if r >= 60.0 => Category::Low,
        r if r >= 50.0 => Category::Poor,
        _ => Category::NotRecommended,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ITU-T G.107, annex B, evaluated in another program to three digits.
    #[test]
    fn ref_mean_opinion_by_rating() {
        let rows = [
            (93.2, 4.409),
            (90.0, 4.339),
            (80.0, 4.024),
            (70.0, 3.597),
            (60.0, 3.100),
            (50.0, 2.575),
        ];
        for (rating, mos) in rows {
            assert!((mean_opinion(rating) - mos).abs() < 5.1e-4, "{rating}");
        }
        assert_eq!(mean_opinion(-3.0), 1.0);
        assert_eq!(mean_opinion(4.0), 1.0);
        assert_eq!(mean_opinion(120.0), 4.5);
    }

    /// The simplified E-model in another program.
    #[test]
    fn ref_ratings_of_paths() {
        let g711 = impairment(Codec::G711).unwrap();
        let g729 = impairment(Codec::G729).unwrap();
        let bare = G711_WITHOUT_CONCEALMENT;
        let rows = [
            (g711, 150.0, 0.0, 89.60, 4.33),
            (bare, 150.0, 1.0, 71.68, 3.67),
            (g711, 150.0, 1.0, 85.96, 4.23),
            (g729, 150.0, 0.0, 78.60, 3.97),
            (g729, 150.0, 1.0, 74.40, 3.80),
            (g711, 250.0, 0.0, 79.20, 3.99),
        ];
        for (codec, delay_ms, loss_pct, r, mos) in rows {
            let got = rating(codec, delay_ms, loss_pct);
            assert!((got - r).abs() < 0.0051, "{codec:?}: {got}, not {r}");
            assert!((mean_opinion(got) - mos).abs() < 0.0051);
        }
        assert!((delay_impairment(250.0) - 13.997).abs() < 5e-4);
        assert_eq!(rating(g711, 0.0, 0.0), 93.2);
    }

    #[test]
    fn exact_categories_begin_at_their_bounds() {
        assert_eq!(category(90.0), Category::Best);
        assert_eq!(category(89.99), Category::High);
        assert_eq!(category(49.0), Category::NotRecommended);
        assert!(Category::High > Category::Low);
    }

    #[test]
    fn exact_bursts_hurt_more() {
        let g729 = impairment(Codec::G729).unwrap();
        assert!(effective_impairment(g729, 2.0, 2.0) > effective_impairment(g729, 2.0, 1.0));
    }
}
