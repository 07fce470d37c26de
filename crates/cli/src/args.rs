//! What was typed.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use clap_complete::Shell;

/// Plans fixed-wireless networks: from a territory, masts, a band and a list of
/// premises to who can be served, by what, how surely, and why not.
#[derive(Debug, Parser)]
#[command(name = "mastwright", version, about, max_term_width = 100)]
#[command(
    after_help = format!("Exit codes: 0 done, 1 done with failing findings (an error, or more power \
than the rules allow), 2 unusable input, 3 a fault of the program, 130 interrupted.\n\n{}", outputs::CAUTION)
)]
pub(crate) struct Typed {
    #[command(flatten)]
    pub(crate) global: Global,
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What every command takes.
#[derive(Debug, Args)]
pub(crate) struct Global {
    /// Print one JSON document instead of text
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// Threads to use; 0 takes every core. The answer never depends on it
    #[arg(long, global = true, value_name = "N", default_value_t = 0,
          value_parser = clap::value_parser!(u16).range(0..=1024))]
    pub(crate) threads: u16,
    /// Print nothing but what was asked for
    #[arg(long, short, global = true)]
    pub(crate) quiet: bool,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    Demo(Demo),
    Init(Init),
    Check(Check),
    Study(Study),
    Open(Open),
    Compare(Compare),
    Cover(Cover),
    Load(Load),
    Path(Path),
    Ground(Ground),
    Model(Model),
    /// Print the JSON Schema of the design file
    Schema,
    /// Print completions for a shell
    Completions {
        /// Which shell
        shell: Shell,
    },
    /// Print the manual page
    Man,
}

/// Write the example project, evaluate it and open its report
#[derive(Debug, Args)]
pub(crate) struct Demo {
    /// Folder for the example
    #[arg(default_value = "island")]
    pub(crate) dir: PathBuf,
    /// Do not open the report
    #[arg(long)]
    pub(crate) no_open: bool,
}

/// Write a commented, minimal design to fill in
#[derive(Debug, Args)]
pub(crate) struct Init {
    /// Folder for the project: new or empty
    pub(crate) dir: PathBuf,
}

/// Report everything that is wrong with a design
#[derive(Debug, Args)]
pub(crate) struct Check {
    /// Project folder
    pub(crate) dir: PathBuf,
}

/// Evaluate a design and write the results
#[derive(Debug, Args)]
pub(crate) struct Study {
    /// Project folder
    pub(crate) dir: PathBuf,
    /// Evaluate the usable part of a design that has errors
    #[arg(long)]
    pub(crate) partial: bool,
}

/// Open the workspace in the browser: see the network, ask why, change it
#[derive(Debug, Args)]
pub(crate) struct Open {
    /// Project folder; an empty one gets a guided start
    pub(crate) dir: PathBuf,
    /// Port on this machine's own address; 0 takes any that is free
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub(crate) port: u16,
    /// Print the address and open no browser
    #[arg(long)]
    pub(crate) no_browser: bool,
    /// Address of map tiles with {z}, {x}, {y}; without it no request leaves this machine
    #[arg(long, value_name = "URL")]
    pub(crate) tiles: Option<String>,
}

/// Compare two designs by consequence: premises gained, lost, degraded, sector load
#[derive(Debug, Args)]
pub(crate) struct Compare {
    /// Project folder, or a git revision of one as FOLDER@REVISION
    #[arg(value_name = "BEFORE")]
    pub(crate) before: String,
    /// The same, changed
    #[arg(value_name = "AFTER")]
    pub(crate) after: String,
    /// Write the consequence as a page
    #[arg(long, value_name = "FILE")]
    pub(crate) html: Option<PathBuf>,
}

/// Cover the territory cell by cell: rasters, pictures, figures
#[derive(Debug, Args)]
pub(crate) struct Cover {
    /// Project folder
    pub(crate) dir: PathBuf,
    /// Let this sector alone serve; the others still disturb it
    #[arg(long, value_name = "SECTOR")]
    pub(crate) sector: Option<String>,
    /// What to write, with commas between; by default everything but `clearance`, which takes longer
    #[arg(long, value_name = "WHAT", value_delimiter = ',', default_value = ALL_LAYERS,
          hide_default_value = true)]
    pub(crate) what: Vec<CoverLayer>,
    /// Side of a cell
    #[arg(long, value_name = "METRES", default_value_t = 30.0)]
    pub(crate) cell_m: f64,
    /// Draw a path to every cell's own centre: exact, and slower
    #[arg(long)]
    pub(crate) own_bearing: bool,
    /// Let a graphics processor draw a path to every cell's own centre, within 0.05 dB of
    /// `--own-bearing`; without one the processor does. `--gpu=software` also takes a
    /// program that plays one, which is slow
    #[arg(long, value_name = "ADAPTER", num_args = 0..=1, require_equals = true,
          default_missing_value = "hardware")]
    pub(crate) gpu: Option<GraphicsAdapter>,
    /// Write overlays for a globe as well
    #[arg(long)]
    pub(crate) kmz: bool,
    /// Write lines of equal value as well
    #[arg(long)]
    pub(crate) contours: bool,
    /// Folder for the files; by default `results/coverage` in the project
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Cover with the usable part of a design that has errors
    #[arg(long)]
    pub(crate) partial: bool,
    /// Keep and use nothing in `results/cache`
    #[arg(long)]
    pub(crate) no_cache: bool,
    /// Largest size of `results/cache`: what was not used for longest goes first
    #[arg(long, value_name = "GB", default_value_t = 10.0)]
    pub(crate) cache_gb: f64,
}

/// Show how full the sectors are: airtime by class, what customers may expect, room and growth
#[derive(Debug, Args)]
pub(crate) struct Load {
    /// Project folder
    pub(crate) dir: PathBuf,
    /// This sector alone
    #[arg(long, value_name = "SECTOR")]
    pub(crate) sector: Option<String>,
    /// Run the busy hour frame by frame as well: delays, jitter, losses, voice quality
    #[arg(long)]
    pub(crate) simulate: bool,
    /// Seed of the run: the same seed gives the same outcome
    #[arg(long, value_name = "N", default_value_t = 1, requires = "simulate")]
    pub(crate) seed: u64,
    /// Time that is simulated and counted
    #[arg(
        long,
        value_name = "SECONDS",
        default_value_t = 3600.0,
        requires = "simulate"
    )]
    pub(crate) busy_s: f64,
    /// Folder for the files; by default `results/load` in the project
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Load of the usable part of a design that has errors
    #[arg(long)]
    pub(crate) partial: bool,
}

/// Every quantity, in the order in which the pages of a map set go.
const ALL_LAYERS: &str =
    "loss,level,server,sinr,mode,mcs,rate-down,rate-up,probability,servers,sight";

/// What coverage tells of a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum CoverLayer {
    /// Path loss
    Loss,
    /// Received level, downlink and uplink
    Level,
    /// Best server
    Server,
    /// Signal over noise and interference, downlink and uplink
    Sinr,
    /// MIMO mode, downlink
    Mode,
    /// Modulation and coding, downlink
    Mcs,
    /// Rate at the Ethernet port, downlink
    RateDown,
    /// Rate at the Ethernet port, uplink
    RateUp,
    /// Probability that the default plan is met
    Probability,
    /// Number of sectors that meet the default plan
    Servers,
    /// Line of sight
    Sight,
    /// Clearance of the first Fresnel zone at the worst point of the path
    Clearance,
}

/// Which graphics processors will do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum GraphicsAdapter {
    /// Real ones
    Hardware,
    /// A program that plays one too
    Software,
}

/// Take one path apart: cross-section and itemised budget
#[derive(Debug, Args)]
pub(crate) struct Path {
    /// Project folder
    pub(crate) dir: PathBuf,
    /// Sector at the near end
    #[arg(long, value_name = "SECTOR")]
    pub(crate) from: String,
    /// Premises at the far end, or any place in degrees
    #[arg(long, value_name = "PREMISES|LON,LAT", allow_hyphen_values = true)]
    pub(crate) to: String,
    /// Leave the rest of the network out: quick, without interference
    #[arg(long)]
    pub(crate) alone: bool,
    /// Compare with another path-loss model, part by part
    #[arg(long, value_name = "MODEL")]
    pub(crate) also: Option<OtherModel>,
    /// Write the cross-section as a drawing
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,
}

/// A path-loss model to compare with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum OtherModel {
    /// ITU-R P.1812
    P1812,
    /// ITU-R P.452
    P452,
    /// Irregular Terrain Model
    Itm,
}

/// Read heights or classes from rasters, at points or along a profile
#[derive(Debug, Args)]
pub(crate) struct Ground {
    /// Raster files, in order of preference: GeoTIFF, .hgt, .asc
    #[arg(required = true)]
    pub(crate) rasters: Vec<PathBuf>,
    /// CSV table with the columns `lon` and `lat`; gets the column `height_m`
    #[arg(long, value_name = "POINTS.csv", required_unless_present = "profile")]
    pub(crate) at: Option<PathBuf>,
    /// The two ends of a profile, in degrees
    #[arg(long, num_args = 2, value_names = ["LON,LAT", "LON,LAT"], allow_hyphen_values = true,
          conflicts_with = "at")]
    pub(crate) profile: Option<Vec<String>>,
    /// Greatest step along the profile
    #[arg(long, value_name = "METRES", default_value_t = 30.0)]
    pub(crate) step_m: f64,
    /// Band to read, counted from 1
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u16).range(1..))]
    pub(crate) band: u16,
    /// Reference system of a file that names none, such as EPSG:32611
    #[arg(long, alias = "assume-crs", value_name = "CRS")]
    pub(crate) assumed_crs: Option<String>,
    /// The raster holds classes, not heights; gives the column `class`
    #[arg(long)]
    pub(crate) classes: bool,
    /// Write the table to a file
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

/// Compute a published model over a table of cases
#[derive(Debug, Clone, Args)]
pub(crate) struct Model {
    /// Name of the model; `p2108` takes whichever of its tables the columns fit
    #[arg(required_unless_present = "list")]
    pub(crate) name: Option<String>,
    /// List the models, or the columns of one
    #[arg(long)]
    pub(crate) list: bool,
    /// CSV table of cases
    #[arg(long, value_name = "FILE.csv", required_unless_present = "list")]
    pub(crate) cases: Option<PathBuf>,
    /// Folder of terrain profiles, NAME.csv each, where the model reads any; without it
    /// `profiles` beside the cases
    #[arg(long, value_name = "DIR")]
    pub(crate) profiles: Option<PathBuf>,
    /// List every term of one case
    #[arg(long, value_name = "CASE")]
    pub(crate) explain: Option<String>,
    /// Write the results to a file
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The option's earlier name still works.
    #[test]
    fn exact_the_reference_system_goes_by_both_names() {
        for option in ["--assumed-crs", "--assume-crs"] {
            let typed = [
                "mastwright",
                "ground",
                "a.asc",
                "--at",
                "p.csv",
                option,
                "EPSG:32611",
            ];
            let Ok(Typed {
                command: Command::Ground(ground),
                ..
            }) = Typed::try_parse_from(typed)
            else {
                panic!("{option} is an option of `ground`");
            };
            assert_eq!(ground.assumed_crs.as_deref(), Some("EPSG:32611"));
        }
    }
}
