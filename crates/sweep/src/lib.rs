//! The loss from a mast to every cell of a raster: the whole of ITU-R P.1812-8,
//! in nearly constant time per cell.
//!
//! [`CoverageGrid`] is the request, [`Coverage`] the answer; [`Kernel`] is the
//! part that knows one radial, [`Radial::reference`] what its answers mean.
//! Nothing here knows a network, an antenna pattern or a file.
//!
//! # What a cell is given
//!
//! Radials leave the mast at equal true azimuths and are sampled every step
//! (the terrain's own spacing). A cell is taken from its nearest radial: its
//! path has the radial's samples up to the last one that is at least half a
//! step before it ([`Radial::last_inside`]), and then its own point: its own
//! geodesic distance, its own bilinear ground, its own clutter class, which
//! spreads the loss over locations but does not stand in the way. So a path ends
//! with a stretch of half a step to one and a half, whatever the cell
//! ([`Bearings::Shared`]).
//!
//! With [`Bearings::Own`] the path is drawn to the cell's own centre and divided into
//! equal steps, four or more, as a study divides it. [`Bearings::OwnEnds`], the default, takes
//! of that path the last sixteen samples ([`OwnEnd`]) and of the nearest radial those that
//! lie at least half a step before them: what stands near a receiver decides most about
//! its loss, and is its own; what stands far away is nearly the same for its neighbours.
//! Cells with fewer than five samples of their radial always have the path to their own centre.
//!
//! The scalar model on that path, [`physics::path_loss::p1812::predict`], is the
//! meaning of the answer. [`Kernel`] agrees with it to 1e-9 dB on every
//! radial tried: flat, ramps, stairs with ties, ridges, spikes, noise, sea and
//! islands, ground that ties everywhere, 48 km of real mountains.
//!
//! # Why it need not walk the path
//!
//! Write d for the distance of a sample, D for the receiver's, h₁ and h₂ for
//! the antennas above sea level, c = 500/a for an effective Earth radius a, and
//! fold the heights: `g = h − c·d²`. The height of a sample over the straight
//! ray, bulge included, is then its height over a straight line in the folded
//! picture, for every D at once:
//!
//! `h + c·d·(D−d) − [h₁ + (h₂−h₁)·d/D] = g − [h₁ + t·d]`, `t = (h₂−h₁)/D − c·D`.
//!
//! * **Steepest slope from the mast** (13), (76): `(h−h₁)/d + c·(D−d)` is
//!   `(g−h₁)/d + c·D`, a running maximum plus a constant.
//! * **Steepest slope from the receiver** (17), (82): `(h−h₂)/(D−d) + c·d` is
//!   the slope from (D, h₂ − c·D²) to (d, g), less a constant. It is greatest where
//!   a tangent from the receiver touches the upper hull of the folded samples. The hull
//!   is a stack: a sample pops what it overtops and is pushed, O(1) amortized; the
//!   tangent is found by halving, for the slope to the receiver falls and
//!   then rises along the hull. Samples below the chord of
//!   any two of the four before and the four behind them never reach the stack;
//!   so that this may be asked of a sample, the last four of a path are
//!   not on it but looked at for themselves.
//! * **Greatest height over the chord** (89) and the steepest unfolded slopes: folding
//!   raises a sample over the chord of any two others, so whatever is extreme in
//!   the unfolded picture is a vertex of the folded hull. Its vertices are looked
//!   through, five on average among mountains, and only where ground stands above the chord and
//!   the path does not stand clear of the smooth Earth without that.
//! * **Greatest ν in line of sight** (15). All samples lie below the ray,
//!   `y = d·(s−t)` with s the sample's folded slope from the mast, s < t. A
//!   sample j behind i with s_j ≤ s_i is never nearer to the ray in Fresnel
//!   zones: |ν_j/ν_i| ≥ √(d_j·(D−d_i)/(d_i·(D−d_j))) > 1. So only samples
//!   that set a new running maximum count. Nor do those with ν ≤ −0.78, which cost
//!   nothing: `(t−s)² < 0.78²·λ·(D−d)/(0.002·d·D)` asks for
//!   `t < s + √(0.78²·λ/(0.002·d))`, and the running maximum of the right side
//!   rules nearly every receiver out with one comparison. The rest look at records in
//!   blocks of sixteen from the receiver backwards, a block only where its last slope at
//!   its first distance could beat what is found.
//! * **Smooth surface** (85)–(88): prefix sums, and one segment to the receiver.
//! * **Smooth-Earth profile** (38)–(39): steepest slopes stand beside the two tangent
//!   points. In sight, with `u = d/(D−d)`, the key of ν is
//!   `c·D·√u/(1+u) − (h₁/√u + h₂·√u)/D`; u times its derivative falls strictly for
//!   u > 1/3, and by symmetry so it does the other way for u < 3, so there is one
//!   maximum, found by halving. All of this is left out where the ray stands clear of the
//!   smooth Earth by more than the greatest clearance that equation (25) can ask for.
//! * **Zones**: runs of equal zones; a path that is inland throughout needs none.
//!
//! # Own ends
//!
//! The sixteen samples of an own end are on no hull and in no prefix. Every quantity above
//! is a maximum or a sum over the samples of a path, so it is that of the radial's part,
//! found as before, joined with that of the own end, found by a walk over sixteen numbers in
//! vector registers: steepest slopes from both ends to ground and clutter and to bare ground,
//! the least clearance in sight, the straight slope of (89b), Σh and Σi·h for the trapezoids.
//! What is rarely asked (obstructions above the chord, roughness, the point of least clearance) walks
//! them when it is asked. The smooth profile looks beside its tangent points in both
//! parts; zones are runs of the radial followed by sixteen of one sample.
//!
//! All samples of the radial lie under the line of the steepest slope from the mast, and
//! seen from the receiver that line is steepest at one of its ends. Where the own end is steeper
//! than both, the hull need not be asked for its tangent.
//!
//! # What is walked, and when
//!
//! Ducting (46) joins by a maximum (61): it counts only where its loss can be below that
//! of diffraction. At 50 % of the time a floor under it, which is some comparisons, rules it out
//! for about nine cells in ten even among mountains. Where it does not, terrain roughness
//! (95) is a maximum between two horizons, walked in blocks of sixteen with a bound on
//! each; and the horizon of a path in sight is its point of least clearance,
//! which is walked. At other percentages of time both are walked for every
//! cell. These two are the parts without a bound that is nearly constant.
//!
//! # Batches
//!
//! Running maxima along a radial change at few samples: these are listed when it starts, blocks of
//! sixteen that hold none passed over, and the lists followed from receiver to receiver. What
//! needs the hulls as they are at a receiver is done one receiver after the
//! other; the arithmetic (slopes, smooth surface, ν and its loss, angles, free space,
//! troposcatter, the floor under ducting, the joins) for 64 at a time in short loops of plain
//! arrays, compiled for the widest vector instructions that the machine has. Receivers whose path is not inland,
//! near the smooth Earth or above the floor are then worked out alone.
//!
//! # Own bearings
//!
//! A path to a cell's own centre shares nothing with its neighbour's: it is walked, some
//! 450 samples at 20 km. Samples fall where polynomials put them, 64 at a time; the four
//! heights around each are one load, for a raster is laid out once as every cell with
//! the one below it. Equal steps make one table of reciprocals serve every path, and the
//! trapezoids of the smooth surface two sums, Σh and Σi·h. A first walk finds these and how high
//! each 64 samples stand; the steepest slopes, the least clearance and the horizons
//! are then sought only in the few chunks that stand high enough to hold them. The
//! loops are vector instructions of the machine's own width; no result depends on it.
//!
//! Heights are those of the general profile tracer to some 1e-4 m, losses on them the
//! scalar model's to 1e-9 dB. Where zones other than inland, another share of
//! time than half, overlapping rasters or the border of one come in, the scalar model
//! itself walks the path.
//!
//! # Ties
//!
//! Horizon distances jump when two samples tie for the horizon. The
//! scalar model looks at four samples at a time and takes the first block that
//! holds the steepest, or the last as seen from the receiver, then picks within it. The mast's
//! horizon is carried along with exactly that rule and the same roundings, into an own end
//! where that comes near to it; at the
//! receiver's, vertices within 1e-8 m/km of the tangent are judged by it, for which
//! the hull keeps samples that lie below it by rounding only.
//!
//! # Arithmetic
//!
//! Everything is f64, but for the rise of an own bearing's samples over the nearest cell
//! and clutter heights, which are f32; layers are rounded to f32 at the end. Logarithm, exponential and
//! arc tangent are in line, exact to some 1e-15; two losses more than 50 dB apart are joined
//! as the lesser (2.2e-10 dB). Places along radials come from
//! polynomials through exact geodesics, good to some millimetres.
//!
//! Results depend neither on the number of threads nor on the machine's vectors: no sum is
//! reordered, no product and sum share a rounding. The circle is cut into sectors of at most
//! 64 radials; each finds its own cells between its two borders, every cell belongs to exactly
//! one, and nothing is summed across them. Beside the layers, memory is some hundred bytes for
//! each row and what one sector needs on each thread, under a megabyte at 20 km.

mod at_cells;
mod azimuthal;
mod conditions;
pub mod coverage;
mod fast;
mod ground;
mod hull;
pub mod kernel;
mod radial;
mod sampling;
mod sweeper;
mod watch;
mod wide;

pub use azimuthal::OutOfMap;
pub use conditions::Conditions;
pub use coverage::tables;
pub use coverage::{Bearings, Clearance, Coverage, CoverageGrid, Sight, SweepError, Target};
pub use ground::{Cover, CoverClasses, Ground};
pub use kernel::{Follow, Kernel, Reception};
pub use radial::{CentreLatitude, OWN_SAMPLES, OwnEnd, Radial, Receiver};
pub use sweeper::{GridSweeper, Processor};
pub use watch::{Unwatched, Watch};
