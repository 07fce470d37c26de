// The loss of the path to each cell's own centre: ITU-R P.1812-8, equation
// numbers as in `physics::path_loss`. One invocation walks one path once, and
// the part between its horizons again where ducting may count.
//
// Single precision is enough because nothing large is ever subtracted from
// something nearly as large: heights stand over the mast's antenna, then over
// the straight line between the antennas, in which every slope, clearance and
// surface of the Recommendation can be put; and where a sample lies is told in cells from
// the mast, in two numbers of which the first is exact. What that takes is
// worked out once a path in double precision.

override WITH_COVER: bool = false;
// Land cover lies on a lattice of its own.
override OWN_LATTICE: bool = false;
// Some class of land cover is not inland.
override WITH_ZONES: bool = false;
// Another share of the time than one half.
override ANY_TIME: bool = false;
// Words for a cell: loss, elevation with sight in its last bit; then the
// deviation over locations; then the clearance.
override WORDS: u32 = 2u;
// Terms of a row of cells.
override ROW_TERMS: u32 = 28u;
override SIDE_X: u32 = 8u;
override SIDE_Y: u32 = 8u;

struct Request {
    // Cells.
    first_column: u32,
    columns: u32,
    first_row: u32,
    least_steps: u32,
    // Rasters: where the mast is in the part that is here, in whole cells.
    elevation_column: f32,
    elevation_row: f32,
    cover_column: f32,
    cover_row: f32,
    // One over the size of the part of the elevation that is here.
    per_width: f32,
    per_height: f32,
    cover_width: i32,
    cover_height: i32,
    // 2 to the number of binary places of a step's exact part.
    split: f32,
    split_inverse: f32,
    // Heights: mast antenna as the nearest single-precision number above sea
    // level and what is left; antennas above ground.
    mast_amsl: f32,
    mast_amsl_rest: f32,
    receiver_agl: f32,
    // Ground at the mast over its antenna.
    mast_ground: f32,
    // The ray.
    bulge: f32, // 500 over the effective Earth radius
    bulge_beta: f32,
    radius: f32,
    radius_beta: f32,
    // Carrier and time.
    f_ghz: f32,
    lambda: f32,
    free_space_db: f32, // 92.4 and the carrier's part of (8)
    scatter_db: f32, // constant part of (44)
    duct_db: f32, // constant part of (47)
    gamma_d: f32, // (51)
    root_f: f32, // cube root of the carrier
    time_pct: f32,
    log_time: f32, // of the percentage
    deviation: f32, // I(p) of (40)
    // K of (29) for a radius of 1 km.
    admittance_land: f32,
    admittance_sea: f32,
    // Latitude of the mast, and half a kilometre as degrees on the sphere.
    latitude: f32,
    half_km_deg: f32,
    // Half of the same squared, times the tangent of the latitude.
    bend_deg: f32,
    // Deviation over locations at clutter height.
    sigma_db: f32,
    // 1 / (1000 λ), with the exact speed of light.
    per_zone: f32,
    mast_zone: u32,
}

// Rows of this dispatch.
struct Band {
    first: u32,
    rows: u32,
}

// Where a sample x lies along one axis: x·hi is exact, the rest is small.
struct Axis {
    hi: f32,
    lo: f32,
    start: f32,
    c2: f32,
    c3: f32,
    c4: f32,
}

@group(0) @binding(0) var<uniform> q: Request;
// Radius, longest step, scale of the elevation's rays, middle and scale of the
// columns, least length, scale of the cover's rays, nothing; then the terms of
// the rays of both.
@group(0) @binding(1) var<storage, read> fixed: array<f64>;
// By row: the polynomials of its columns, seven terms each.
@group(0) @binding(2) var<storage, read> by_row: array<f64>;
@group(0) @binding(3) var elevation: texture_2d<f32>;
@group(0) @binding(4) var corners: sampler;
@group(0) @binding(5) var cover: texture_2d<u32>;
@group(0) @binding(6) var<storage, read_write> cells: array<u32>;
@group(1) @binding(0) var<uniform> band: Band;

const NODES = 7u;
const RAY_TERMS = 5u;
// Numbers of one way to cells in `fixed`: terms of two functions up to degree four.
const RAY = 30u;
const RAYS_AT = 8u;

const UNKNOWN = 0x7fc00000u;
const NOTHING = -3e38;
// Taken off the floor under ducting, against rounding.
const FLOOR_MARGIN_DB = 0.01;
const INLAND = 0u;
const SEA = 2u;

fn log10(x: f32) -> f32 {
    return log2(x) * 0.30102999566;
}

fn ten_to(x: f32) -> f32 {
    return exp2(x * 3.32192809489);
}

fn is_unknown(x: f32) -> bool {
    return (bitcast<u32>(x) & 0x7fffffffu) > 0x7f800000u;
}

// Arc tangent, good to some 1e-7 of it.
fn arc_tangent(x: f32) -> f32 {
    let steep = abs(x);
    // Turned by π/2, or by π/8, what is left is small.
    let over = steep > 1.0;
    let a = select(steep, 1.0 / max(steep, 1e-30), over);
    let turned = a > 0.2;
    let t = select(0.0, 0.41421356237, turned);
    let r = (a - t) / (1.0 + t * a);
    let s = r * r;
    let series = r - r * s * (1.0 / 3.0 - s * (0.2 - s * (1.0 / 7.0 - s * (1.0 / 9.0 - s / 11.0))));
    let part = series + select(0.0, 0.39269908170, turned);
    return sign(x) * select(part, 1.57079632679 - part, over);
}

// One of the functions of a row's columns.
fn along_row(at: u32, u: f64) -> f64 {
    var sum = by_row[at + NODES - 1u];
    for (var k = 2u; k <= NODES; k++) {
        sum = sum * u + by_row[at + NODES - k];
    }
    return sum;
}

// The place of samples along one axis, from the terms that begin at `at`; x
// and y are a step in the scale of the ray.
fn axis(at: u32, x: f64, y: f64, whole: f32, half: f64) -> Axis {
    var terms: array<f64, 5>;
    // Terms come by degree n, and in it by the power of x.
    var k = at;
    var xs = array<f64, 5>(1.0lf, x, x * x, x * x * x, x * x * x * x);
    var ys = array<f64, 5>(1.0lf, y, y * y, y * y * y, y * y * y * y);
    for (var n = 0u; n < RAY_TERMS; n++) {
        var sum = 0.0lf;
        for (var i = 0u; i <= n; i++) {
            sum += fixed[k] * xs[i] * ys[n - i];
            k++;
        }
        terms[n] = sum;
    }
    let hi = round(f32(terms[1]) * q.split) * q.split_inverse;
    return Axis(
        hi,
        f32(terms[1] - f64(hi)),
        f32(terms[0] - half - f64(whole)),
        f32(terms[2]),
        f32(terms[3]),
        f32(terms[4]),
    );
}

// Whole cells from the mast's, and the share of one beyond them.
fn place(a: Axis, x: f32) -> vec2<f32> {
    let rest = a.start + x * (a.lo + x * (a.c2 + x * (a.c3 + x * a.c4)));
    let whole = floor(x * a.hi + rest);
    return vec2<f32>(whole, (x * a.hi - whole) + rest);
}

// Ground over the mast's antenna, between four cells.
fn ground(column: vec2<f32>, row: vec2<f32>) -> f32 {
    // Where the four meet, each is gathered whatever the rounding.
    let at = vec2<f32>(
        (column.x + q.elevation_column + 1.0) * q.per_width,
        (row.x + q.elevation_row + 1.0) * q.per_height,
    );
    // Lower left, lower right, upper right, upper left.
    let four = textureGather(0, elevation, corners, at) - q.mast_amsl;
    let upper = four.w + (four.z - four.w) * column.y;
    let lower = four.x + (four.y - four.x) * column.y;
    return upper + (lower - upper) * row.y;
}

// Ground over the mast's antenna along a row of cells; a cell without weight
// is not looked at.
fn ground_in_row(column: i32, row: i32, share: f32) -> f32 {
    let first = textureLoad(elevation, vec2<i32>(column, row), 0).x - q.mast_amsl;
    if share == 0.0 {
        return first;
    }
    let second = textureLoad(elevation, vec2<i32>(column + 1, row), 0).x - q.mast_amsl;
    return first + (second - first) * share;
}

// The whole part and the rest, which is 0 on a cell's centre.
fn whole_and_share(x: f64) -> vec2<f32> {
    let nearest = floor(x + 0.5lf);
    if abs(x - nearest) < 1e-6lf {
        return vec2<f32>(f32(nearest), 0.0);
    }
    let whole = floor(x);
    return vec2<f32>(f32(whole), f32(x - whole));
}

// Ground at a cell's centre over the mast's antenna.
fn own_ground(column: f64, row: f64) -> f32 {
    let c = whole_and_share(column - 0.5lf);
    let r = whole_and_share(row - 0.5lf);
    let size = vec2<i32>(textureDimensions(elevation));
    let corner = vec2<i32>(i32(c.x), i32(r.x));
    let is_here = all(corner >= vec2<i32>(0)) && all(corner <= size - 2);
    // The border of what is here is unknown ground.
    let at = select(vec2<i32>(0), corner, is_here);
    let upper = ground_in_row(at.x, at.y, c.y);
    if r.y == 0.0 {
        return upper;
    }
    let lower = ground_in_row(at.x, at.y + 1, c.y);
    return upper + (lower - upper) * r.y;
}

// What covers a cell of the part that is here: height, with the zone in the last two bits.
fn cover_at(column: f32, row: f32) -> u32 {
    let at = vec2<i32>(i32(column), i32(row));
    let most = vec2<i32>(q.cover_width - 1, q.cover_height - 1);
    return textureLoad(cover, clamp(at, vec2<i32>(0), most), 0).x;
}

fn clutter_of(code: u32) -> f32 {
    return bitcast<f32>(code & 0xfffffffcu);
}

// Single edge (12), with the empirical part of (21).
fn edge_db(nu: f32, dt: f32) -> f32 {
    if nu <= -0.78 {
        return 0.0;
    }
    let v = nu - 0.1;
    // √(v²+1) + v of negative v is one over that of −v.
    let root = sqrt(v * v + 1.0) + abs(v);
    let luc = 6.9 + 20.0 * log10(root) * select(-1.0, 1.0, v >= 0.0);
    return select(0.0, luc + (1.0 - exp(-luc / 6.0)) * (10.0 + 0.02 * dt), luc > 0.0);
}

// ν where the steepest rays meet, (18) and (19): slopes over the straight line.
fn meeting_nu(stim: f32, srim: f32, dt: f32) -> f32 {
    let sum = stim + srim;
    if !(sum > 0.0 && stim > 0.0 && srim > 0.0) {
        return 0.0;
    }
    let db = srim * dt / sum;
    let rest = stim * dt / sum;
    return stim * db * sqrt(0.002 * dt / (q.lambda * db * rest));
}

fn nu_of_key(key: f32, dt: f32) -> f32 {
    return sign(key) * sqrt(abs(key) * 0.002 * dt / q.lambda);
}

// Height gain (34), (35).
fn gain_db(b: f32, floor_db: f32) -> f32 {
    if b > 2.0 {
        return max(17.6 * sqrt(b - 1.1) - 5.0 * log10(b - 1.1) - 8.0, floor_db);
    }
    return max(20.0 * log10(max(b + 0.1 * b * b * b, 1e-30)), floor_db);
}

// First term over one kind of ground (29) to (36).
fn first_term_db(admittance: f32, radius: f32, dt: f32, heights: vec2<f32>) -> f32 {
    let per_cube = pow(radius, -1.0 / 3.0);
    let k = admittance * per_cube;
    let k2 = k * k;
    let bt = (1.0 + 1.6 * k2 + 0.67 * k2 * k2) / (1.0 + 4.5 * k2 + 1.53 * k2 * k2); // (30)
    let x = 21.88 * bt * q.root_f * per_cube * per_cube * dt; // (31)
    let y = 0.9575 * bt * q.root_f * q.root_f * per_cube; // (32)
    let floor_db = 2.0 + 20.0 * log10(k);
    var distance_db = 11.0 + 10.0 * log10(x) - 17.6 * x;
    if x < 1.6 {
        distance_db = -20.0 * log10(x) - 5.6488 * pow(x, 1.425);
    } // (33)
    return -distance_db - gain_db(bt * y * heights.x, floor_db) - gain_db(bt * y * heights.y, floor_db);
}

fn mixed_first_term_db(omega: f32, radius: f32, dt: f32, heights: vec2<f32>) -> f32 {
    var sum = 0.0;
    if omega > 0.0 {
        sum += omega * first_term_db(q.admittance_sea, radius, dt, heights);
    }
    if omega < 1.0 {
        sum += (1.0 - omega) * first_term_db(q.admittance_land, radius, dt, heights);
    }
    return sum; // (28)
}

// Smooth Earth (22) to (28).
fn sphere_db(omega: f32, radius: f32, dt: f32, h: vec2<f32>) -> f32 {
    let roots = sqrt(max(h.x, 0.0)) + sqrt(max(h.y, 0.0));
    let marginal = sqrt(0.002 * radius) * roots; // (22)
    if dt >= marginal {
        return mixed_first_term_db(omega, radius, dt, h);
    }
    let c = (h.x - h.y) / (h.x + h.y); // (24d)
    let m = 250.0 * dt * dt / (radius * (h.x + h.y)); // (24e)
    let m1 = m + 1.0;
    let cosine = clamp(1.5 * c * sqrt(3.0 * m / (m1 * m1 * m1)), -1.0, 1.0);
    let angle = 1.57079632679 - arc_tangent(cosine / sqrt(max(1.0 - cosine * cosine, 1e-12)));
    let b = 2.0 * sqrt(m1 / (3.0 * m)) * cos(1.04719755120 + angle / 3.0); // (24c)
    let near = 0.5 * dt * (1.0 + b); // (24a)
    let far = dt - near;
    let bend = 500.0 / radius;
    let clear = (h.x * far + h.y * near) / dt - bend * near * far; // (23)
    let asked = 17.456 * sqrt(max(near * far * q.lambda / dt, 0.0)); // (25)
    if clear > asked {
        return 0.0;
    }
    let reach = dt / roots;
    let touching_db = mixed_first_term_db(omega, 500.0 * reach * reach, dt, h); // (26)
    let share = select(1.0, 1.0 - clear / asked, asked > 0.0);
    return share * max(touching_db, 0.0); // (27)
}

// Height over the smooth Earth's ray at a share of the path, signed square over d·(dt−d).
fn smooth_key(h: vec2<f32>, c: f32, dt: f32, n: f32, i: i32) -> f32 {
    let x = f32(i) / n;
    let y = c * dt * dt * x * (1.0 - x) - (h.x * (1.0 - x) + h.y * x);
    return y * abs(y) / (x * (1.0 - x) * dt * dt);
}

// Slope over the straight line from one end to the smooth Earth, at a sample.
fn smooth_slope(near: f32, far: f32, c: f32, dt: f32, x: f32) -> f32 {
    return c * dt * (1.0 - x) - near / (dt * x) + (near - far) / dt;
}

// Greatest of them: beside the tangent point.
fn steepest_smooth(near: f32, far: f32, c: f32, dt: f32, n: u32) -> f32 {
    let at = sqrt(max(near, 0.0) / c) / dt * f32(n);
    let after = clamp(i32(ceil(at)), 1, i32(n) - 1);
    let before = max(after - 1, 1);
    return max(
        smooth_slope(near, far, c, dt, f32(after) / f32(n)),
        smooth_slope(near, far, c, dt, f32(before) / f32(n)),
    );
}

// Bullington loss of the smooth profile.
fn smooth_bullington_db(h: vec2<f32>, radius: f32, dt: f32, n: u32) -> f32 {
    let c = 500.0 / radius;
    let stim = steepest_smooth(h.x, h.y, c, dt, n);
    if stim >= 0.0 {
        return edge_db(meeting_nu(stim, steepest_smooth(h.y, h.x, c, dt, n), dt), dt);
    }
    let most = 0.5 * c * dt - 2.0 * sqrt(max(h.x * h.y, 0.0)) / dt;
    if most * sqrt(0.002 * dt / q.lambda) < -0.79 {
        return 0.0;
    }
    // The key rises and then falls along the path.
    var low = 1;
    var high = i32(n) - 1;
    while high - low > 4 {
        let middle = (low + high) / 2;
        if smooth_key(h, c, dt, f32(n), middle) < smooth_key(h, c, dt, f32(n), middle + 1) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    var key = NOTHING;
    for (var i = low; i <= high; i++) {
        key = max(key, smooth_key(h, c, dt, f32(n), i));
    }
    return edge_db(nu_of_key(key, dt), dt);
}

// Whether the ray is certain to stand clear of the smooth Earth.
fn stands_clear(h: vec2<f32>, radius: f32, dt: f32) -> bool {
    let least = min(h.x, h.y) - 125.0 * dt * dt / radius;
    return least > 0.0 && least * least > 76.3 * dt * q.lambda;
}

// What the walk along a path finds of one surface: greatest slopes over the
// straight line from the two ends, greatest signed square.
struct Rays {
    t: f32,
    r: f32,
    key: f32,
}

// Delta-Bullington loss (39).
fn diffraction_db(rays: Rays, h: vec2<f32>, omega: f32, radius: f32, dt: f32, n: u32) -> f32 {
    var nu = 0.0;
    let step = dt / f32(n);
    if rays.t < 0.0 {
        nu = nu_of_key(rays.key / (step * step), dt); // (15)
    } else {
        nu = meeting_nu(rays.t / step, rays.r / step, dt);
    }
    let actual_db = edge_db(nu, dt);
    if stands_clear(h, radius, dt) {
        return actual_db;
    }
    let sphere = sphere_db(omega, radius, dt, h);
    if sphere <= 0.0 {
        return actual_db;
    }
    return actual_db + max(sphere - smooth_bullington_db(h, radius, dt, n), 0.0);
}

// Zones along the path and the incidence of ducting.
struct Climate {
    omega: f32,
    tau: f32,
    log_b0: f32,
}

fn climate_of(dt: f32, sea: f32, land: f32, inland: f32, north: f32) -> Climate {
    let tau = 1.0 - exp(-4.12e-4 * pow(max(inland, 1e-9), 2.41)); // (3)
    let sum = ten_to(-land / (16.0 - 6.6 * tau)) + ten_to(-5.0 * (0.496 + 0.354 * tau));
    let log_mu1 = min(0.2 * log10(sum), 0.0); // (2)
    let half = q.half_km_deg * dt;
    let latitude = abs(q.latitude + half * north - q.bend_deg * dt * dt * (1.0 - north * north));
    var log_b0 = 1.67 - 0.015 * latitude + log_mu1 * (0.065 + 0.0176 * latitude);
    if latitude > 70.0 {
        log_b0 = 0.620136 + 1.3 * log_mu1;
    } // (4), (5)
    return Climate(sea / dt, tau, log_b0);
}

// I(x) of (96), of x below one half.
fn upper_tail(x: f32) -> f32 {
    let t = sqrt(-2.0 * log(max(x, 1e-6)));
    let above = (0.010328 * t + 0.802853) * t + 2.515516698;
    let below = ((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0;
    return t - above / below;
}

fn shielding_db(theta: f32, dl: f32) -> f32 {
    let over = theta - 0.1 * dl; // (48a)
    if over <= 0.0 {
        return 0.0;
    }
    return 20.0 * log10(1.0 + 0.361 * over * sqrt(q.f_ghz * dl)) + 0.264 * over * q.root_f; // (48)
}

fn sea_coupling_db(zone: u32, omega: f32, amsl: f32) -> f32 {
    // Ends that are not at sea have no coast near.
    if zone != SEA || omega < 0.75 {
        return 0.0;
    }
    return -3.0 * (1.0 + tanh(clamp(0.07 * (50.0 - amsl), -20.0, 20.0))); // (49)
}

// Variability in time (53), (53a), by the logarithm of β.
fn variability_db(log_beta: f32, dt: f32) -> f32 {
    let gamma = 1.076 / pow(2.0058 - log_beta, 1.012)
        * exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta * log_beta) * 1e-6 * pow(dt, 1.13));
    let rarity = q.log_time - log_beta;
    return -12.0 + (1.2 + 3.7e-3 * dt) * rarity + 12.0 * ten_to(gamma * rarity);
}

// What one walk along a path finds. Heights stand over the straight line
// between the antennas; slopes are by step, not by kilometre.
struct Walk {
    // Bare ground on the median Earth, and where it was found.
    bare: Rays,
    horizon_t: u32,
    horizon_r: u32,
    nearest: u32,
    // Bare ground without the Earth's bulge.
    top: f32,
    top_t: f32,
    top_r: f32,
    // Sums of heights, and of sample times height by step.
    sum: f32,
    moment: f32,
    // With clutter, on the two Earths.
    median: Rays,
    beta: Rays,
    // Steps over sea, longest over land, longest inland.
    sea: f32,
    land: f32,
    inland: f32,
}

const NO_RAYS = Rays(NOTHING, NOTHING, NOTHING);

fn raised(rays: Rays, y: f32, per_near: f32, per_far: f32) -> Rays {
    let t = y * per_near;
    let r = y * per_far;
    return Rays(max(rays.t, t), max(rays.r, r), max(rays.key, t * abs(r)));
}

// A path as it is walked.
struct Path {
    columns: Axis,
    rows: Axis,
    cover_columns: Axis,
    cover_rows: Axis,
    n: u32,
    // Rise of the straight line by step.
    rise: f32,
}

// Height of a sample over the straight line, and what covers it.
fn sample_height(path: Path, x: f32) -> f32 {
    return ground(place(path.columns, x), place(path.rows, x)) - (q.mast_amsl_rest + path.rise * x);
}

// Samples summed together, so that sums stay exact.
const BLOCK = 32u;

fn walk(path: Path, bulge: f32, bulge_beta: f32, own_zone: u32) -> Walk {
    var w = Walk(NO_RAYS, 1u, 1u, 1u, NOTHING, NOTHING, NOTHING, 0.0, 0.0, NO_RAYS, NO_RAYS, 0.0, 0.0, 0.0);
    let n = path.n;
    let per_n = 1.0 / f32(n);
    var land_run = select(0.5, 0.0, q.mast_zone == SEA);
    var inland_run = select(0.0, 0.5, q.mast_zone == INLAND);
    w.sea = 0.5 - land_run;
    for (var start = 1u; start < n; start += BLOCK) {
        let end = min(start + BLOCK, n);
        var sum = 0.0;
        var moment = 0.0;
        for (var i = start; i < end; i++) {
            let x = f32(i);
            let far = f32(n - i);
            let column = place(path.columns, x);
            let row = place(path.rows, x);
            let over = ground(column, row) - (q.mast_amsl_rest + path.rise * x);
            let square = x * far;
            let per_near = 1.0 / x;
            let per_far = 1.0 / far;
            sum += over;
            moment += f32(i - start) * over;
            w.top = max(w.top, over);
            w.top_t = max(w.top_t, over * per_near);
            w.top_r = max(w.top_r, over * per_far);
            let y = over + bulge * square;
            let t = y * per_near;
            let r = y * per_far;
            let key = t * abs(r);
            // Of equals the first counts from the mast, else the last.
            w.horizon_t = select(w.horizon_t, i, t > w.bare.t);
            w.bare.t = max(w.bare.t, t);
            w.horizon_r = select(w.horizon_r, i, r >= w.bare.r);
            w.bare.r = max(w.bare.r, r);
            w.nearest = select(w.nearest, i, key >= w.bare.key);
            w.bare.key = max(w.bare.key, key);
            var clutter = 0.0;
            if WITH_COVER {
                var code = 0u;
                if OWN_LATTICE {
                    code = cover_at(
                        place(path.cover_columns, x).x + q.cover_column,
                        place(path.cover_rows, x).x + q.cover_row,
                    );
                } else {
                    // Centres of cells are half a cell from their borders.
                    code = cover_at(
                        column.x + q.elevation_column + select(0.0, 1.0, column.y >= 0.5),
                        row.x + q.elevation_row + select(0.0, 1.0, row.y >= 0.5),
                    );
                }
                clutter = clutter_of(code);
                w.median = raised(w.median, y + clutter, per_near, per_far);
                if WITH_ZONES {
                    let zone = code & 3u;
                    w.sea += select(0.0, 1.0, zone == SEA);
                    land_run = select(land_run + 1.0, 0.0, zone == SEA);
                    inland_run = select(0.0, inland_run + 1.0, zone == INLAND);
                    w.land = max(w.land, land_run);
                    w.inland = max(w.inland, inland_run);
                }
            }
            if ANY_TIME {
                w.beta = raised(w.beta, over + clutter + bulge_beta * square, per_near, per_far);
            }
        }
        w.sum += sum;
        w.moment += (moment + f32(start) * sum) * per_n;
    }
    if !WITH_COVER {
        w.median = w.bare;
    }
    if WITH_ZONES {
        w.sea += select(0.0, 0.5, own_zone == SEA);
        land_run = select(land_run + 0.5, 0.0, own_zone == SEA);
        inland_run = select(0.0, inland_run + 0.5, own_zone == INLAND);
        w.land = max(w.land, land_run);
        w.inland = max(w.inland, inland_run);
    } else {
        w.land = f32(n);
        w.inland = f32(n);
    }
    return w;
}

// Greatest height over the smooth surface between two samples (95).
fn roughness(path: Path, from_sample: u32, to_sample: u32, surface: vec2<f32>) -> f32 {
    var most = NOTHING;
    let per_n = 1.0 / f32(path.n);
    for (var i = from_sample; i <= to_sample; i++) {
        let x = f32(i);
        let share = x * per_n;
        most = max(most, sample_height(path, x) - (surface.x + (surface.y - surface.x) * share));
    }
    return most;
}

struct Answer {
    loss_db: f32,
    // Tangent of the elevation at the mast.
    slope: f32,
}

// The whole of the Recommendation, once a path is walked.
fn loss(path: Path, w: Walk, dt: f32, north: f32, own_zone: u32) -> Answer {
    let n = path.n;
    let steps = f32(n);
    let step = dt / steps;
    let rise = path.rise * steps;
    let line = rise / dt;
    let sag = q.bulge * dt;
    // Horizons (76) to (84); in sight they are the other end.
    let is_beyond = w.bare.t > 0.0;
    let slope_t = 1e-3 * (select(0.0, w.bare.t / step, is_beyond) + line - sag);
    let slope_r = 1e-3 * (select(0.0, w.bare.r / step, is_beyond) - line - sag);
    let theta_t = 1e3 * arc_tangent(slope_t);
    let theta_r = 1e3 * arc_tangent(slope_r);
    let theta = 2.0 * sag + theta_t + theta_r;
    let sample_t = select(w.nearest, w.horizon_t, is_beyond);
    let sample_r = select(w.nearest, w.horizon_r, is_beyond);
    let dlt = f32(sample_t) * step;
    let dlr = f32(n - sample_r) * step;

    // Smooth surface (85) to (88) over the straight line, by trapezoids.
    let at_mast = q.mast_ground;
    let at_end = -q.receiver_agl;
    let v1 = (2.0 * w.sum + at_mast + at_end) / steps;
    let v2 = (6.0 * w.moment + at_mast / steps + at_end * (3.0 - 1.0 / steps)) / steps;
    let fitted = vec2<f32>(2.0 * v1 - v2, v2 - v1);
    let ends = vec2<f32>(at_mast, at_end);
    let duct_surface = min(fitted, ends); // (92)
    var lowered = fitted;
    if w.top > 0.0 {
        let slopes = vec2<f32>(w.top_t, w.top_r);
        lowered -= w.top * slopes / (slopes.x + slopes.y); // (90)
    }
    let heights = -min(lowered, ends); // (91), (37), (38)

    var area = Climate(0.0, 0.0, 0.0);
    area = climate_of(dt, w.sea * step, w.land * step, w.inland * step, north);
    let omega = area.omega;

    // Free space (8), multipath (9), diffraction (39) to (43).
    let rise_km = 1e-3 * rise;
    let free_db = q.free_space_db + 10.0 * log10(dt * dt + rise_km * rise_km);
    let median_db = diffraction_db(w.median, heights, omega, q.radius, dt, n);
    var lb0p = free_db;
    var ldp = median_db;
    if ANY_TIME {
        let spread = 2.6 * (1.0 - exp(-0.1 * (dlt + dlr)));
        lb0p += spread * (q.log_time - 1.69897000434);
    }
    var lminb0p = free_db + median_db;
    if ANY_TIME {
        let beta_db = diffraction_db(w.beta, heights, omega, q.radius_beta, dt, n);
        let b0 = ten_to(area.log_b0);
        let is_rare = q.time_pct > b0;
        var fi = 1.0;
        if is_rare {
            fi = q.deviation / upper_tail(0.01 * b0); // (40)
        }
        ldp = median_db + fi * (beta_db - median_db); // (41)
        let spread = 2.6 * (1.0 - exp(-0.1 * (dlt + dlr)));
        let lb0b = free_db + spread * (area.log_b0 - 1.69897000434); // (9b), (11)
        let over_land = (1.0 - omega) * ldp;
        if q.time_pct < b0 {
            lminb0p = lb0p + over_land;
        } else {
            let lbd50 = free_db + median_db;
            lminb0p = lbd50 + (lb0b + over_land - lbd50) * fi;
        } // (59)
    }
    let lbd = lb0p + ldp; // (43)

    // Ducting (46) to (56). It counts where it costs less than diffraction;
    // time varies the loss least where the ground is not rough.
    let theta1 = 2.0 * sag + min(theta_t, 0.1 * dlt) + min(theta_r, 0.1 * dlr); // (52)
    let fixed_db = q.duct_db + 20.0 * log10(dlt + dlr)
        + shielding_db(theta_t, dlt) + shielding_db(theta_r, dlr)
        + sea_coupling_db(q.mast_zone, omega, q.mast_amsl)
        + sea_coupling_db(own_zone, omega, q.mast_amsl + rise)
        + q.gamma_d * theta1;
    let alpha = max(-0.6 - 3.5e-9 * pow(dt, 3.1) * area.tau, -3.4); // (55a)
    let over_surface = sqrt(max(-duct_surface, vec2<f32>(0.0)));
    let roots = over_surface.x + over_surface.y;
    let ratio = 500.0 * dt * dt / (q.radius * max(roots * roots, 1e-30));
    let smooth_beta = area.log_b0 + min(alpha * log10(ratio), 0.0); // (54), (55)
    var lbda = lbd;
    if fixed_db + variability_db(max(smooth_beta, -300.0), dt) - FLOOR_MARGIN_DB <= lbd {
        let low = min(sample_t, sample_r);
        let high = max(sample_t, sample_r);
        let rough = roughness(path, low, high, duct_surface);
        let apart = min(dt - dlt - dlr, 40.0); // (56a)
        var log_beta = smooth_beta;
        if rough > 10.0 {
            log_beta -= 0.43429448190 * 4.6e-5 * (rough - 10.0) * (43.0 + 6.0 * apart); // (56)
        }
        let lba = fixed_db + variability_db(max(log_beta, -300.0), dt); // (46)
        let soft = max(lba, lb0p) + 2.5 * log(1.0 + exp(-abs(lba - lb0p) / 2.5)); // (60)
        let fk = 0.5 - 0.5 * tanh(clamp(1.5 * (dt - 20.0) / 20.0, -20.0, 20.0)); // (58)
        if soft <= lbd {
            lbda = soft + (lbd - soft) * fk;
        } // (61)
    }
    let fj = 1.0 / (1.0 + exp(16.0 * (min(theta, 5.0) - 0.3))); // (57)
    let lbam = lbda + (lminb0p - lbda) * fj; // (62)
    let lbs = q.scatter_db + 20.0 * log10(dt) + 0.573 * theta; // (44)
    let joined = min(lbs, lbam) - 5.0 * log10(1.0 + ten_to(-0.2 * abs(lbs - lbam))); // (63)
    return Answer(max(lb0p, joined), slope_t);
}

@compute @workgroup_size(SIDE_X, SIDE_Y)
fn own_bearing(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= q.columns || id.y >= band.rows {
        return;
    }
    let out = (id.y * q.columns + id.x) * WORDS;
    for (var k = 0u; k < WORDS; k++) {
        cells[out + k] = UNKNOWN;
    }
    // Where the cell is.
    let row = (band.first + id.y) * ROW_TERMS;
    let u = (f64(q.first_column + id.x) + 0.5lf - fixed[3]) * fixed[4];
    let east = along_row(row, u);
    let north = along_row(row + NODES, u);
    let square = east * east + north * north;
    let length = sqrt(square);
    if square > fixed[0] * fixed[0] || length < fixed[5] {
        return;
    }
    let n = max(u32(f32(ceil(length / fixed[1] - 1e-9lf))), q.least_steps);
    let dt = f32(length);

    let own_column = along_row(row + 2u * NODES, u);
    let own_row = along_row(row + 3u * NODES, u);
    let own = own_ground(own_column, own_row);
    if is_unknown(own) {
        return;
    }
    var own_code = 0u;
    var cover_columns: Axis;
    var cover_rows: Axis;
    if WITH_COVER {
        if OWN_LATTICE {
            let column = floor(along_row(row + 4u * NODES, u));
            let row = floor(along_row(row + 5u * NODES, u));
            own_code = cover_at(f32(column), f32(row));
            let x = east * fixed[6] / f64(n);
            let y = north * fixed[6] / f64(n);
            cover_columns = axis(RAYS_AT + RAY, x, y, q.cover_column, 0.0lf);
            cover_rows = axis(RAYS_AT + RAY + RAY / 2u, x, y, q.cover_row, 0.0lf);
        } else {
            own_code = cover_at(f32(floor(own_column)), f32(floor(own_row)));
        }
    }
    let x = east * fixed[2] / f64(n);
    let y = north * fixed[2] / f64(n);
    let path = Path(
        axis(RAYS_AT, x, y, q.elevation_column, 0.5lf),
        axis(RAYS_AT + RAY / 2u, x, y, q.elevation_row, 0.5lf),
        cover_columns,
        cover_rows,
        n,
        (own - q.mast_amsl_rest + q.receiver_agl) / f32(n),
    );
    let own_zone = own_code & 3u;
    let step = dt / f32(n);
    let w = walk(path, q.bulge * step * step, q.bulge_beta * step * step, own_zone);
    if is_unknown(w.sum) {
        return;
    }
    let answer = loss(path, w, dt, f32(north / length), own_zone);
    let elevation_deg = 57.2957795131 * arc_tangent(answer.slope);
    let in_sight = select(0u, 1u, w.median.t < 0.0);
    cells[out] = bitcast<u32>(answer.loss_db);
    cells[out + 1u] = (bitcast<u32>(elevation_deg) & 0xfffffffeu) | in_sight;
    if WORDS > 2u {
        let spread = clamp(1.0 - (q.receiver_agl - clutter_of(own_code)) / 10.0, 0.0, 1.0);
        cells[out + 2u] = bitcast<u32>(q.sigma_db * spread);
    }
    if WORDS > 3u {
        let key = w.median.key / (step * step);
        cells[out + 3u] = bitcast<u32>(-sign(key) * sqrt(abs(key) * dt * q.per_zone));
    }
}
