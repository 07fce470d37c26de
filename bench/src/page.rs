//! `docs/PERFORMANCE.md` from `bench/results.json`.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::Figure;

const INTRODUCTION: &str = "\
# Performance

`make bench` measures, prints, and writes `bench/results.json` and this page; `make bench-model` \
(or another area) measures that area alone and keeps the other figures. The figures are those of the last \
measurement, on whatever machine and beside whatever else it was doing; they are not promises. \
Goals that were missed are shown as such.
";

/// What the figures of an area are; an area without a line is shown all the same.
const AREAS: [(&str, &str); 10] = [
    (
        "path",
        "Paths per second of one core over real rasters: profile read from terrain and land cover at 30 m, then P.1812 \
         with every term; and the profile alone.",
    ),
    (
        "study",
        "A whole study of 1000 premises and 16 sectors, rasters read included.",
    ),
    (
        "coverage",
        "Coverage of a circle from one mast. `shared_2`: cells share two radials for each cell of the rim, nothing else; \
         the goal of speed is of this. `default`: one radial for each cell of the rim, the last sixteen samples of each \
         path on the cell's own bearing; the goal of exactness is of this. `own_bearing`: the path drawn to each cell's \
         own centre, as a study draws it. What the default and shared radials of several densities (`per_rim_cell`) \
         are from own bearings, over bare ground and with land cover: everything that sets them apart, sampling points too. \
         `from_alike`: from radials through every centre that are sampled alike, which leaves out the choice of sampling points.",
    ),
    (
        "composite",
        "Networks cell by cell at 30 m on two cores. `36_sectors`: twelve masts of three sectors over 44 × 44 km, three \
         channels, rasters read, losses at 50 % of the time as far as a sector serves and at 10 % as far as it disturbs \
         (`heard_everywhere`: that is 60 km; `36_channels`: every sector of a mast on a channel of its own, which \
         triples the sweeps), every layer, and the most memory in use. `three_sectors_over_one`: CPU time, losses \
         for both at one share of time. `recolour`: from an edit to its cells with losses kept, the best of eight; \
         `level` is one sector's received level, the others received level, best server, SINR, modulation and rate.",
    ),
    (
        "territory",
        "A made-up territory of 200 × 200 km at 30 m with 100 masts of three sectors, losses as far as 15 km at 50 % and 30 km at \
         10 %: two quantities as rasters, pictures and figures by the program itself, from nothing (`first`) and with \
         every loss and tile in its cache (`kept`), two cores; the most memory in use, and what the cache holds.",
    ),
    (
        "peers",
        "The sweep (ITU-R P.1812, 50 %, two radials a rim cell, one thread) beside general-purpose libraries: same bare terrain, \
         mast and radius of 20 km, same machine and run, CPU time (`make bench-peers`). pycraf (PyPI): its compiled fast \
         map of ITU-R P.452 over profiles of 30 m, attenuation alone and with the profiles. GDAL: its viewshed at 30 m, \
         which tells only what is seen, net of what a GDAL program takes to start.",
    ),
    (
        "gpu",
        "Own bearings of 1.4 million cells, 20 km at 30 m over real terrain, on one NVIDIA H200 with 16 processor \
         cores beside it (`make measure-gpu`; entered from what it prints, the worst of three runs; kept when other \
         areas are measured). From request to layers in memory: preparation, terrain and land cover sent, answers \
         fetched; making the program, once for each kind of request, left out. `cells_per_s` is the middle of twelve \
         sweeps, `at_best` the fastest; `covered`: with land cover; `1pct`: at 1 % of the time; `most_apart`: from \
         the processor's double precision, of all cells.",
    ),
    (
        "model",
        "Microseconds of one path of 10 km over hills, and (`_los`) in sight, by model and number of profile points, on one \
         core, best of 40 measurements; gases are prepared once per frequency, as a study does \
         (`gas_prepared`; `gas_summed` is a path for which they were not). The goals: the Irregular Terrain Model \
         no slower than its reference program, P.1812 and P.452 four times as fast as a reference program of P.452, \
         each on a comparable core. Then single calls of short formulas.",
    ),
    (
        "simulator",
        "A busy hour of a sector of 200 premises, 720,000 frames of 5 ms: web, telephones, video and circuits in \
         both directions over fading links, all five classes; one core, processor time, best of three.",
    ),
    (
        "workspace",
        "From a question to its answer, read whole over a loopback connection by another thread, two cores, the middle \
         of 21. `demo`: the example island. `1_4m_cells`: three sectors on one mast that serve 20 km, cells of 30 m, 400 \
         premises. `aim`, `tilt`, `power`: a drag's picture of the rate (`level`: of the received level) and the counts. \
         `first_preview`: the same in a folder that was never opened, `when_kept` in one that was, `when_prepared` after \
         the page has been open for as long as losses take. `edit_acknowledged`: an aim on disk and its consequence told; \
         `mount`: a mount height. `50000_premises`: that many around the one mast.",
    ),
];

/// The page of all figures.
pub(crate) fn page(by_name: &BTreeMap<String, Figure>) -> String {
    let mut text = INTRODUCTION.to_owned();
    let known = |name: &str| AREAS.iter().position(|(area, _)| name.starts_with(area));
    for (i, (area, meaning)) in AREAS.iter().enumerate() {
        let figures: Vec<&Figure> = by_name
            .values()
            .filter(|f| known(&f.name) == Some(i))
            .collect();
        if !figures.is_empty() {
            let _ = writeln!(
                text,
                "\n## {area}\n\n{meaning}\n\n{}",
                tables(figures).trim_end()
            );
        }
    }
    let others: Vec<&Figure> = by_name
        .values()
        .filter(|f| known(&f.name).is_none())
        .collect();
    if !others.is_empty() {
        let _ = writeln!(text, "\n## other\n\n{}", table(others).trim_end());
    }
    text
}

/// Ends of the names that tell how two answers differ over many cells, in reading order.
const DIFFERENCES: [(&str, &str); 5] = [
    ("_median_db", "median"),
    ("_rms_db", "rms"),
    ("_95pct_db", "95 %"),
    ("_99pct_db", "99 %"),
    ("_most_db", "most"),
];

/// The figures, and one line for each set of differences.
fn tables(figures: Vec<&Figure>) -> String {
    let stem = |f: &Figure| {
        DIFFERENCES
            .iter()
            .find_map(|(end, _)| f.name.strip_suffix(end).map(str::to_owned))
    };
    let whole = |stem: &str| {
        let named = DIFFERENCES.map(|(end, _)| format!("{stem}{end}"));
        let found = named.map(|name| figures.iter().find(|f| f.name == name).copied());
        let [Some(a), Some(b), Some(c), Some(d), Some(e)] = found else {
            return None;
        };
        Some([a, b, c, d, e])
    };
    let mut sets: Vec<(String, [&Figure; 5])> = Vec::new();
    let mut rest: Vec<&Figure> = Vec::new();
    for figure in &figures {
        match stem(figure).and_then(|stem| whole(&stem).map(|set| (stem, set))) {
            Some((stem, _)) if sets.iter().any(|(known, _)| *known == stem) => {}
            Some(found) => sets.push(found),
            None => rest.push(figure),
        }
    }
    let mut text = table(rest);
    if !sets.is_empty() {
        text.push('\n');
        text.push_str(&differences(sets));
    }
    text
}

fn differences(mut sets: Vec<(String, [&Figure; 5])>) -> String {
    sets.sort_by_key(|(stem, _)| in_number_order(stem));
    let heads = DIFFERENCES.map(|(_, head)| head).join(" | ");
    let mut text = format!(
        "| difference, dB | {heads} | goal, rms | |\n|---|---:|---:|---:|---:|---:|---:|---|\n"
    );
    for (stem, set) in sets {
        let values = set.map(|f| digits(f.value)).join(" | ");
        let _ = writeln!(text, "| `{stem}` | {values} | {} |", verdict(set[1]));
    }
    text
}

/// The goal of a figure, and whether it is met.
fn verdict(figure: &Figure) -> String {
    let goal = figure.target.map_or(String::new(), |t| t.to_string());
    let met = match figure.met {
        Some(true) => "met",
        Some(false) => "**missed**",
        None => "",
    };
    format!("{goal} | {met}")
}

fn table(mut figures: Vec<&Figure>) -> String {
    figures.sort_by_key(|f| in_number_order(&f.name));
    let mut text = "| figure | measured | unit | goal | |\n|---|---:|---|---:|---|\n".to_owned();
    for f in figures {
        let _ = writeln!(
            text,
            "| `{}` | {} | {} | {} |",
            f.name,
            digits(f.value),
            f.unit,
            verdict(f)
        );
    }
    text
}

/// Three digits are all that a measurement is good for; counts are whole.
fn digits(value: f64) -> String {
    match value.abs() {
        v if v < 1.0 => format!("{value:.3}"),
        v if v < 10.0 => format!("{value:.2}"),
        v if v < 100.0 => format!("{value:.1}"),
        _ => format!("{value:.0}"),
    }
}

/// A name with its numbers filled up, so that 301 stands before 1001.
fn in_number_order(name: &str) -> String {
    let parts = name.split('_').map(|part| match part.parse::<u64>() {
        Ok(number) => format!("{number:09}"),
        Err(_) => part.to_owned(),
    });
    parts.collect::<Vec<_>>().join("_")
}

#[cfg(test)]
mod tests {
    use crate::Results;

    /// Timings vary, but the page is that of the figures beside it.
    #[test]
    fn gold_the_page_is_of_the_figures_in_the_tree() {
        let results = Results::read().expect("bench/results.json");
        let there = std::fs::read_to_string(Results::page_path()).expect("docs/PERFORMANCE.md");
        assert_eq!(
            there,
            super::page(&results.by_name),
            "stale; hint: make bench"
        );
    }
}
