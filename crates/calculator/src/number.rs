//! Numbers as result tables show them.

/// Text of a number with 12 significant digits, without trailing zeros.
///
/// Plain from 0.0001 to 999999999999, with an exponent of at least two digits
/// outside (`1.5e-07`), as in the reference tables.
#[must_use]
pub fn twelve_digits(x: f64) -> String {
    if x == 0.0 {
        return "0".to_owned();
    }
    if !x.is_finite() {
        return x.to_string();
    }
    // The exponent after rounding, so that 9.9999999999999 counts as 10.
    let rounded = format!("{x:.11e}");
    let Some((mantissa, exponent)) = rounded.split_once('e') else {
        return rounded;
    };
    let exponent: i32 = exponent.parse().unwrap_or(0);
    if (-4..12).contains(&exponent) {
        let decimals = usize::try_from(11 - exponent).unwrap_or(0);
        trimmed(&format!("{x:.decimals$}")).to_owned()
    } else {
        let sign = if exponent < 0 { '-' } else { '+' };
        format!("{}e{sign}{:02}", trimmed(mantissa), exponent.abs())
    }
}

fn trimmed(text: &str) -> &str {
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::twelve_digits;

    #[test]
    fn exact_twelve_digits() {
        for (x, text) in [
            (0.0, "0"),
            (-0.0, "0"),
            (1.0, "1"),
            (-28.0451319479, "-28.0451319479"),
            (9526.161904761904, "9526.16190476"),
            (8.22352955261e-5, "8.22352955261e-05"),
            (0.00012345678901234, "0.000123456789012"),
            (9.999_999_999_999_9, "10"),
            (1.5e12, "1.5e+12"),
            (123_456_789_012.4, "123456789012"),
            (9.7699626167e-15, "9.7699626167e-15"),
        ] {
            assert_eq!(twelve_digits(x), text);
        }
    }
}
