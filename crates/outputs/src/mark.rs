//! How a verdict looks wherever one is drawn: a shape and a colour, so that
//! neither colour vision nor a black-and-white printer matters.
//!
//! Colours: M. Okabe and K. Ito, "Color Universal Design" (2008), the palette
//! made to stay apart under the common kinds of colour blindness.

use engine::verdict::Verdict;
use maud::{Markup, html};

/// The verdicts in the order in which a legend shows them.
pub(crate) const VERDICTS: [Verdict; 3] = [Verdict::Served, Verdict::Doubtful, Verdict::Unserved];

/// Fill colour of a verdict.
pub(crate) fn colour(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Served => "#009e73",
        Verdict::Doubtful => "#f0c541",
        Verdict::Unserved => "#d55e00",
    }
}

/// The shape as a character, where only text can be had.
pub(crate) fn glyph(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Served => "●",
        Verdict::Doubtful => "▲",
        Verdict::Unserved => "■",
    }
}

/// The shape as a drawing of about `2 · size` across, its middle at the origin.
pub(crate) fn path_data(verdict: Verdict, size: f64) -> String {
    let s = size;
    match verdict {
        Verdict::Served => {
            format!(
                "M{:.2},0a{s:.2},{s:.2} 0 1 0 {:.2},0a{s:.2},{s:.2} 0 1 0 {:.2},0z",
                -s,
                2.0 * s,
                -2.0 * s
            )
        }
        Verdict::Doubtful => {
            let (w, top, foot) = (1.16 * s, -1.2 * s, 0.86 * s);
            format!("M0,{top:.2}L{w:.2},{foot:.2}L{:.2},{foot:.2}z", -w)
        }
        Verdict::Unserved => {
            let h = 0.9 * s;
            format!(
                "M{:.2},{:.2}h{:.2}v{:.2}h{:.2}z",
                -h,
                -h,
                2.0 * h,
                2.0 * h,
                -2.0 * h
            )
        }
    }
}

/// The shape as a small picture of its own, in line with text.
pub(crate) fn inline(verdict: Verdict) -> Markup {
    html! {
        svg.mark viewBox="-8 -8 16 16" role="img" aria-label=(verdict.name()) {
            path d=(path_data(verdict, 6.0)) fill=(colour(verdict)) stroke="#1d2a30" stroke-width="1.4" {}
        }
    }
}
