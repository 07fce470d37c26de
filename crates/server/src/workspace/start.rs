//! The first design of an empty folder.

use std::sync::Arc;

use axum::http::StatusCode;
use pipeline::design::minimal_design;
use pipeline::model::{Role, RuleSet};
use store::on_disk::{self, DesignTexts};
use store::project::{DESIGN_FILE, PREMISES_FILES};

use super::scene::Scene;
use super::{Workspace, held};
use crate::api::finding::Finding;
use crate::api::problem::Problem;
use crate::api::project::Start;

/// A table of premises without any.
const NO_PREMISES: &str = "id,lon,lat,name,plan,mount_height_agl_m\n";

impl Workspace {
    /// Writes the first design. Files that are there stay as they are.
    pub(crate) fn start(self: &Arc<Self>, start: &Start) -> Result<Arc<Scene>, Problem> {
        let _pen = held(&self.pen);
        self.look_with_pen()
            .map_err(|error| Problem::unusable(error.to_string()))?;
        let scene = self.scene();
        if scene.texts.design.is_some() {
            return Err(Problem::new(
                StatusCode::CONFLICT,
                "already-there",
                "the folder has a design already",
            ));
        }
        let design = text(&scene, start)?;
        let next = scene.with_texts(DesignTexts {
            design: Some(design.clone().into_bytes()),
            ..scene.texts.clone()
        });
        // What the files yet to be written leave open is no mistake of the person's.
        let errors: Vec<_> = next.errors_beyond(&scene);
        let of_design = |f: &&pipeline::model::Finding| {
            f.place
                .as_ref()
                .is_some_and(|place| &*place.file == DESIGN_FILE)
        };
        let errors: Vec<_> = errors.iter().filter(of_design).cloned().collect();
        if let Some(first) = errors.first() {
            return Err(
                Problem::unusable(format!("{}\nhint: {}", first.message, first.hint))
                    .with_findings(Finding::list(&errors, None)),
            );
        }
        let mut files: Vec<(String, String)> = minimal_design(&start.name)
            .into_iter()
            .filter(|(file, _)| file != DESIGN_FILE)
            .collect();
        for (file, text) in &mut files {
            if file == PREMISES_FILES[0] {
                NO_PREMISES.clone_into(text);
            }
        }
        // The design last: a folder without it is still an empty one.
        files.push((DESIGN_FILE.to_owned(), design));
        for (file, text) in files {
            if self.folder.join(&file).exists() || has_premises(&scene, &file) {
                continue;
            }
            on_disk::replace(&self.folder, &file, (None, text.as_bytes())).map_err(|error| {
                Problem::new(
                    StatusCode::INTERNAL_SERVER_ERROR,
                    "unwritable",
                    error.to_string(),
                )
            })?;
        }
        self.look_with_pen()
            .map_err(|error| Problem::unusable(error.to_string()))?;
        Ok(self.scene())
    }
}

/// Whether the folder has premises in another format.
fn has_premises(scene: &Scene, file: &str) -> bool {
    let is_other = |stamp: &store::on_disk::Stamp| PREMISES_FILES[1..].contains(&&*stamp.file);
    file == PREMISES_FILES[0] && scene.stamps.iter().any(is_other)
}

/// The commented minimal design with a person's choices in it.
fn text(scene: &Scene, start: &Start) -> Result<String, Problem> {
    let cards = &scene.catalogue;
    let unknown = |kind: &str, id: &str| {
        Problem::unusable(format!(
            "there is no {kind} `{id}`\nhint: see the catalogue"
        ))
    };
    let rules = cards.rule_sets.get(&start.rule_set);
    let rules = rules.ok_or_else(|| unknown("rule set", &start.rule_set))?;
    let air = cards.air_interfaces.get(&start.air_interface);
    let air = air.ok_or_else(|| unknown("air interface", &start.air_interface))?;
    for (kind, id, is_known) in [
        (
            "antenna",
            &start.antenna,
            cards.antennas.contains_key(&start.antenna),
        ),
        (
            "base station",
            &start.base_station,
            cards.base_stations.contains_key(&start.base_station),
        ),
        (
            "terminal",
            &start.terminal,
            cards.terminals.contains_key(&start.terminal),
        ),
    ] {
        if !is_known {
            return Err(unknown(kind, id));
        }
    }
    if !(1..=12).contains(&start.sectors) {
        return Err(Problem::unusable(format!(
            "`sectors` is `{}`, outside 1 to 12",
            start.sectors
        )));
    }
    let is_plain = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
    if start.mast_id.is_empty() || start.mast_id.len() > 60 || !start.mast_id.chars().all(is_plain)
    {
        return Err(Problem::unusable(
            "the id of the mast is empty or not plain\nhint: letters, digits, `-` and `_`",
        ));
    }
    let name: String = start.name.chars().take(120).collect();
    let minimal = minimal_design(&name)
        .into_iter()
        .find(|(file, _)| file == DESIGN_FILE);
    let (_, minimal) = minimal.ok_or_else(|| Problem::fault("no minimal design"))?;
    let head = minimal
        .split("\n# A structure that carries radios")
        .next()
        .unwrap_or_default();
    let mut head = with_choice(head, "rule_set", &start.rule_set);
    for (key, value) in [
        ("air_interface", &start.air_interface),
        ("antenna", &start.antenna),
        ("base_station", &start.base_station),
        ("terminal", &start.terminal),
    ] {
        head = with_choice(&head, key, value);
    }
    if scene
        .stamps
        .iter()
        .any(|stamp| stamp.file.starts_with("terrain/"))
    {
        head = head.replace("# terrain = ", "terrain = ");
    }
    Ok(head + &masts(start, rules, air.channel_width_mhz))
}

/// The text with another value behind a key that stands at the beginning of a line.
fn with_choice(text: &str, key: &str, value: &str) -> String {
    let line = |line: &str| match line.strip_prefix(key) {
        Some(rest) if rest.trim_start().starts_with('=') => format!("{key} = \"{value}\"\n"),
        _ => line.to_owned(),
    };
    text.split_inclusive('\n').map(line).collect()
}

/// The first mast and its sectors, every other one in the next channel where the rules have one.
fn masts(start: &Start, rules: &RuleSet, width_mhz: f64) -> String {
    let id = &start.mast_id;
    let covers = |centre_mhz: f64| {
        let half = width_mhz / 2.0;
        rules.covers(Role::Base, centre_mhz - half, centre_mhz + half)
    };
    let first = start.channel_centre_mhz;
    let mut others = [first + width_mhz, first - width_mhz].into_iter();
    let second = others
        .find(|centre_mhz| covers(*centre_mhz))
        .unwrap_or(first);
    let mut text = format!(
        "\n# A structure that carries radios. Work on structures is for trained people.\n[[mast]]\nid = \"{id}\"\nlon = {}\nlat = {}\nheight_agl_m = {}\n\n# One table for each sector.\n",
        start.mast_position.lon_deg, start.mast_position.lat_deg, start.mast_height_agl_m
    );
    let count = u32::from(start.sectors);
    for index in 0..count {
        let azimuth_deg = (360.0 * f64::from(index) / f64::from(count)).round();
        let channel_mhz = if index % 2 == 0 { first } else { second };
        text.push_str(&format!(
            "[[sector]]\nid = \"{id}-{}\"\nmast = \"{id}\"\nazimuth_deg = {azimuth_deg}\nchannel_mhz = {channel_mhz}\n\n",
            index + 1
        ));
    }
    text.trim_end().to_owned() + "\n"
}
