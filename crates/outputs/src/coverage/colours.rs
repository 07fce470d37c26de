//! Colours that most people can tell apart, in print and in grey too.

/// Red, green, blue.
pub(super) type Rgb = [u8; 3];

/// What is written and ruled with.
pub(super) const INK: Rgb = [29, 42, 48];
/// Secondary text.
pub(super) const QUIET: Rgb = [83, 100, 108];
pub(super) const PAPER: Rgb = [255, 255, 255];

/// `count` colours in order, the palest first: from a yellow near that of
/// paper by green to dark blue, so that what is not covered steps back and
/// the best coverage stands out, on paper and on a pale map.
///
/// Source: C. Brewer, M. Harrower, A. W. Woodruff, ColorBrewer 2.0,
/// "YlGnBu", which keeps its order for colour-blind eyes and in grey.
pub(super) fn ramp(count: usize) -> Vec<Rgb> {
    // Of 256 shades from the first that nobody takes for paper on, those
    // whose lightness comes closest to equal steps.
    let at = |i: usize| 0.05 + 0.95 * i as f64 / 255.0;
    let shades = (0..256).map(|i| {
        colorous::YELLOW_GREEN_BLUE
            .eval_continuous(at(i))
            .as_array()
    });
    let shades: Vec<(f64, Rgb)> = shades.map(|s| (lightness(s.map(linear)), s)).collect();
    let (pale, dark) = (shades[0].0, shades[255].0);
    let last = count.saturating_sub(1).max(1) as f64;
    (0..count)
        .map(|i| pale + (dark - pale) * i as f64 / last)
        .map(|wanted| {
            let past = shades.partition_point(|(light, _)| *light > wanted);
            shades[past.min(255)].1
        })
        .collect()
}

/// Linear light of a channel. Source: IEC 61966-2-1.
fn linear(channel: u8) -> f64 {
    let c = f64::from(channel) / 255.0;
    if c <= 0.040_45 {
        c / 12.92
    } else {
        ((c + 0.055) / 1.055).powf(2.4)
    }
}

/// Lightness of linear light, 0 to 100. Source: CIE 1976 L*.
fn lightness([r, g, b]: [f64; 3]) -> f64 {
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    if y > 0.008_856 {
        116.0 * y.cbrt() - 16.0
    } else {
        903.3 * y
    }
}

/// Colours without an order.
///
/// Source: M. Okabe, K. Ito, "Color Universal Design", 2008, without black;
/// beyond seven the same paler, then darker, then again from the start.
pub(super) fn distinct(count: usize) -> Vec<Rgb> {
    const SEVEN: [Rgb; 7] = [
        [0, 114, 178],
        [230, 159, 0],
        [0, 158, 115],
        [204, 121, 167],
        [86, 180, 233],
        [213, 94, 0],
        [240, 228, 66],
    ];
    (0..count)
        .map(|i| match i / SEVEN.len() % 3 {
            0 => SEVEN[i % 7],
            1 => mix(SEVEN[i % 7], PAPER, 0.5),
            _ => mix(SEVEN[i % 7], INK, 0.45),
        })
        .collect()
}

/// A share of the way from one colour to another.
pub(super) fn mix(from: Rgb, to: Rgb, share: f64) -> Rgb {
    std::array::from_fn(|i| {
        let (from, to) = (f64::from(from[i]), f64::from(to[i]));
        (from + (to - from) * share).round().clamp(0.0, 255.0) as u8
    })
}

/// `#rrggbb`.
pub(super) fn hex([r, g, b]: Rgb) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As seen without the long or without the middle cones.
    ///
    /// Source: F. Viénot, H. Brettel, J. D. Mollon, "Digital video
    /// colourmaps for checking the legibility of displays by dichromats",
    /// Color Research and Application 24(4), 1999 (the two matrices in
    /// linear RGB; from memory).
    fn dichromats([r, g, b]: [f64; 3]) -> [[f64; 3]; 2] {
        let protan = 0.112_38 * r + 0.887_62 * g;
        let deutan = 0.292_75 * r + 0.707_25 * g;
        [
            [protan, protan, 0.004_01 * r - 0.004_01 * g + b],
            [deutan, deutan, -0.022_34 * r + 0.022_34 * g + b],
        ]
    }

    #[test]
    fn exact_ramp_darkens_step_by_step_for_every_eye() {
        for count in [2, 5, 8, 10, 12] {
            let ramp = ramp(count);
            let eyes = |colour: &Rgb| {
                let light = colour.map(linear);
                let [protan, deutan] = dichromats(light);
                [light, protan, deutan].map(lightness)
            };
            for pair in ramp.windows(2) {
                let (paler, darker) = (eyes(&pair[0]), eyes(&pair[1]));
                for eye in 0..3 {
                    assert!(
                        paler[eye] - darker[eye] > 55.0 / count as f64,
                        "{count}: {pair:?} {paler:?} {darker:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn exact_first_twenty_one_colours_differ() {
        let colours = distinct(21);
        for (i, a) in colours.iter().enumerate() {
            for b in &colours[..i] {
                let apart: i32 = (0..3)
                    .map(|c| (i32::from(a[c]) - i32::from(b[c])).abs())
                    .sum();
                assert!(apart > 40, "{a:?} and {b:?}");
            }
        }
        assert_eq!(hex([0, 114, 255]), "#0072ff");
    }
}
