//! `cover --gpu`: the grid of an adapter beside the processor's, and what is
//! said where there is none.

use std::fs::File;
use std::io::BufReader;

use serde_json::Value;
use tiff::decoder::{Decoder, DecodingResult};

use crate::program::{Project, mastwright};

/// Covers coarsely with more arguments: the JSON and the cells of the loss.
fn cover(project: &Project, more: &[&str]) -> (Value, Vec<f32>) {
    let usual = [
        "cover",
        project.dir(),
        "--cell-m",
        "200",
        "--what",
        "loss",
        "--json",
        "--quiet",
    ];
    let ran = mastwright(&[&usual[..], more].concat());
    // The example asks for more power than its rules allow.
    assert_eq!(ran.code, 1, "{}", ran.all());
    let file = File::open(project.path("results/coverage/path_loss_db.tif")).unwrap();
    let mut decoder = Decoder::new(BufReader::new(file)).unwrap();
    let DecodingResult::F32(cells) = decoder.read_image().unwrap() else {
        panic!("losses are numbers of single precision");
    };
    (ran.json(), cells)
}

#[test]
#[cfg(feature = "gpu")]
fn exact_an_adapter_agrees_with_the_processor_through_the_whole_program() {
    const BOUND_DB: f32 = 0.05;
    // A sample on the border of two classes of land cover may fall either way.
    const TIES: f64 = 1e-4;
    let project = Project::example();
    let (told, there) = cover(&project, &["--gpu=software"]);
    let by = &told["losses_by"];
    let Some(name) = by["graphics_adapter"].as_str() else {
        println!("skipped: {}", by["processor_because"]);
        return;
    };
    assert_eq!(by["processor_because"], Value::Null, "{by}");
    // What the adapter has kept is not taken for the processor's.
    let (told, here) = cover(&project, &["--own-bearing"]);
    assert_eq!(told["losses_by"]["graphics_adapter"], Value::Null);
    let reuse = &told["reuse"];
    assert_eq!(reuse["swept_launch_points"], reuse["launch_points"]);
    let (again, _) = cover(&project, &["--gpu=software"]);
    assert_eq!(again["reuse"]["swept_launch_points"], 0);
    assert_eq!(here.len(), there.len());
    let apart = || {
        let pairs = here.iter().zip(&there);
        pairs.filter(|(a, b)| !a.is_nan() || !b.is_nan())
    };
    // Unknown in one alone is NaN, and counts.
    let beyond = apart()
        .filter(|(a, b)| (*a - *b).abs().partial_cmp(&BOUND_DB) != Some(std::cmp::Ordering::Less));
    let (cells, beyond) = (apart().count(), beyond.count());
    let most = apart().map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
    println!("on {name}: {cells} cells, at most {most:.4} dB, {beyond} beyond {BOUND_DB} dB");
    assert!(cells > 5_000 && most > 0.0, "{cells} cells, {most} dB");
    assert!(beyond as f64 <= TIES * cells as f64, "{beyond} of {cells}");
}

#[test]
#[cfg(not(feature = "gpu"))]
fn exact_without_graphics_processors_the_processor_stands_in() {
    let project = Project::example();
    let (told, asked) = cover(&project, &["--gpu"]);
    let why = told["losses_by"]["processor_because"].as_str().unwrap();
    assert!(why.contains("--features gpu"), "{why}");
    let (told, own) = cover(&project, &["--own-bearing", "--no-cache"]);
    assert_eq!(told["losses_by"]["processor_because"], Value::Null);
    let bits = |cells: &[f32]| cells.iter().map(|c| c.to_bits()).collect::<Vec<_>>();
    assert!(bits(&asked) == bits(&own));
}
