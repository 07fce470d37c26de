//! Walking over profile points four at a time.
//!
//! The compiler turns the four lanes into vector instructions; a running
//! maximum over one accumulator it may not reorder. Results do not depend on
//! the number of lanes, because a maximum does not depend on order.

/// Points handled together.
pub(crate) const LANES: usize = 4;

/// One value for each of [`LANES`] points.
pub(crate) type Lane = [f64; LANES];

/// Nothing seen yet.
pub(crate) const NONE: Lane = [f64::NEG_INFINITY; LANES];

/// Calls `f(block, values)` for blocks of [`LANES`] points of several slices of
/// one length. The last block is filled up by repeating its last point, which
/// changes no maximum.
#[inline(always)]
pub(crate) fn for_blocks<const K: usize>(slices: [&[f64]; K], mut f: impl FnMut(usize, [Lane; K])) {
    let blocks = slices.map(|s| s.as_chunks::<LANES>());
    let full = blocks.iter().map(|b| b.0.len()).min().unwrap_or(0);
    let heads = blocks.map(|b| &b.0[..full]);
    let rest = blocks.map(|b| match b.1.len() {
        0 => [0.0; LANES],
        n => std::array::from_fn(|l| b.1[l.min(n - 1)]),
    });
    let total = full + usize::from(blocks.iter().all(|b| !b.1.is_empty()));
    // One call of `f`, so that the compiler puts it into the loop.
    for block in 0..total {
        f(
            block,
            if block < full {
                heads.map(|h| h[block])
            } else {
                rest
            },
        );
    }
}

/// Lane by lane, the greater of the two.
#[inline(always)]
pub(crate) fn raise(best: &mut Lane, value: Lane) {
    for l in 0..LANES {
        best[l] = if value[l] > best[l] {
            value[l]
        } else {
            best[l]
        };
    }
}

/// Greatest of the lanes.
#[inline(always)]
pub(crate) fn greatest(lane: &Lane) -> f64 {
    lane.iter()
        .copied()
        .fold(f64::NEG_INFINITY, |a, b| if b > a { b } else { a })
}

/// Applies `f` in every lane.
#[inline(always)]
pub(crate) fn each(f: impl Fn(usize) -> f64) -> Lane {
    std::array::from_fn(f)
}
