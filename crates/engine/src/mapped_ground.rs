//! Surroundings read from rasters of elevation and land cover.

use std::sync::Arc;

use geodesy::LonLat;
use model::settings::{ClutterTable, Surface};
use physics::path_loss::Zone;
use raster::{Mosaic, ProfileTracer, Steps};

use crate::buildings::Buildings;
use crate::surroundings::{CrossSection, Surroundings};

/// Elevation and, where there is one, land cover with the clutter it stands for.
#[derive(Debug)]
pub struct MappedGround {
    elevation: Mosaic,
    land_cover: Option<LandCover>,
    canopy: Option<Canopy>,
    buildings: Option<Arc<Buildings>>,
    spacing_m: f64,
}

/// Canopy heights.
#[derive(Debug)]
pub struct Canopy {
    /// Heights above the ground in units of `unit_m`; unknown counts as no trees.
    pub heights: Mosaic,
    /// Metres that one unit stands for.
    pub unit_m: f64,
}

/// A land cover raster and what its classes stand for.
#[derive(Debug)]
pub struct LandCover {
    /// Class codes.
    pub classes: Mosaic,
    /// Clutter by class code.
    pub clutter: ClutterTable,
}

/// Spacing where the terrain names none (no grid at all): every point is unknown anyway.
const FALLBACK_SPACING_M: f64 = 30.0;

impl MappedGround {
    /// Ground from elevation and land cover.
    pub fn new(elevation: Mosaic, land_cover: Option<LandCover>) -> Self {
        let spacing_m = elevation.spacing_m().unwrap_or(FALLBACK_SPACING_M);
        Self {
            elevation,
            land_cover,
            canopy: None,
            buildings: None,
            spacing_m,
        }
    }

    /// The same ground with its trees: their own height takes the place of the
    /// representative clutter of their class.
    #[must_use]
    pub fn with_canopy(self, canopy: Canopy) -> Self {
        Self {
            canopy: Some(canopy),
            ..self
        }
    }

    /// The same ground with its buildings: where a path crosses one, its height
    /// counts in place of a lower clutter. The building that holds an end of
    /// the path does not count: the antenna is on it.
    #[must_use]
    pub fn with_buildings(self, buildings: Arc<Buildings>) -> Self {
        Self {
            buildings: Some(buildings),
            ..self
        }
    }

    /// Buildings, where there are any.
    pub fn buildings(&self) -> Option<&Buildings> {
        self.buildings.as_deref()
    }

    /// The terrain's own spacing.
    pub fn spacing_m(&self) -> f64 {
        self.spacing_m
    }

    /// The elevation rasters.
    pub fn elevation(&self) -> &Mosaic {
        &self.elevation
    }

    /// Land cover, where there is any.
    pub fn land_cover(&self) -> Option<&LandCover> {
        self.land_cover.as_ref()
    }

    /// Canopy, where there is any.
    pub fn canopy(&self) -> Option<&Canopy> {
        self.canopy.as_ref()
    }

    /// Fills clutter, zone and class of a traced section.
    fn cover(&self, section: &mut CrossSection) {
        let points = section.ground_amsl_m.len();
        section.unknown_cover_points = 0;
        let Some(cover) = &self.land_cover else {
            section.clutter_m.resize(points, 0.0);
            section.zone.resize(points, Zone::Inland);
            section.class_code.resize(points, None);
            return;
        };
        // Neighbours mostly share a class, so the last row looked up serves again.
        let mut last: (Option<i32>, f64, Zone, bool) = (None, 0.0, Zone::Inland, false);
        for code in &section.profile.class {
            if *code != last.0 || code.is_none() {
                let class = code.and_then(|c| cover.clutter.class(c));
                last = match class {
                    Some(class) => (*code, class.height_m, zone(class.surface), true),
                    None => (*code, 0.0, Zone::Inland, false),
                };
            }
            let (_, height_m, zone, known) = last;
            section.clutter_m.push(height_m);
            section.zone.push(zone);
            section.class_code.push(*code);
            section.unknown_cover_points += usize::from(!known);
        }
    }
}

impl MappedGround {
    /// Puts the canopy along the section, and its height in place of the clutter's.
    fn trees(&self, from: LonLat, to: LonLat, section: &mut CrossSection) {
        section.canopy_m.clear();
        section.canopy_m.resize(section.points(), 0.0);
        let Some(canopy) = &self.canopy else {
            return;
        };
        let tracer = ProfileTracer::new(&canopy.heights);
        tracer.trace(
            from,
            to,
            Steps::Samples(section.points()),
            &mut section.canopy,
        );
        for (i, units) in section.canopy.elevation_amsl_m.iter().enumerate() {
            let height_m = units * canopy.unit_m;
            // Not a number where no canopy is mapped: no trees.
            if height_m > 0.0 {
                section.canopy_m[i] = height_m;
                section.clutter_m[i] = height_m;
            }
        }
    }
}

impl MappedGround {
    /// Puts the buildings on the inner points of a section: each point has the
    /// tallest that the path crosses within half a step of it, so that none
    /// stands unseen between two points.
    fn houses(&self, from: LonLat, to: LonLat, section: &mut CrossSection) {
        let points = section.points();
        section.building.clear();
        section.building.resize(points, None);
        let Some(buildings) = self.buildings.as_deref().filter(|b| b.count() > 0) else {
            return;
        };
        let own = [buildings.holding(from), buildings.holding(to)].concat();
        let last = points - 1;
        // Points and the middles between them.
        let halves = geodesy::inverse(from, to).points(2 * last + 1);
        for i in 1..last {
            // Nothing stands on the ends themselves: their halves go to the neighbours.
            let start = if i == 1 { 0 } else { 2 * i - 1 };
            let end = if i + 1 == last { 2 * last } else { 2 * i + 1 };
            let stretch = (halves[start], halves[end]);
            if let Some(tallest) = buildings.tallest_across(stretch, &own)
                && tallest.height_m >= section.clutter_m[i]
            {
                section.clutter_m[i] = tallest.height_m;
                section.canopy_m[i] = 0.0;
                section.building[i] = Some(Arc::clone(&tallest.name));
            }
        }
    }
}

pub(crate) fn zone(surface: Surface) -> Zone {
    match surface {
        Surface::Inland => Zone::Inland,
        Surface::Coastal => Zone::CoastalLand,
        Surface::Sea => Zone::Sea,
    }
}

impl Surroundings for MappedGround {
    fn mapped(&self) -> Option<&MappedGround> {
        Some(self)
    }

    fn trace(&self, from: LonLat, to: LonLat, step_m: Option<f64>, section: &mut CrossSection) {
        let tracer = match &self.land_cover {
            Some(cover) => ProfileTracer::new(&self.elevation).with_classes(&cover.classes),
            None => ProfileTracer::new(&self.elevation),
        };
        let steps = Steps::AtMostM(step_m.unwrap_or(self.spacing_m));
        tracer.trace(from, to, steps, &mut section.profile);
        if section.profile.len() < CrossSection::MIN_POINTS {
            let steps = Steps::Samples(CrossSection::MIN_POINTS);
            tracer.trace(from, to, steps, &mut section.profile);
        }
        section.length_m = section.profile.length_m;
        section.azimuth_deg = section.profile.azimuth_deg;
        section.back_azimuth_deg = section.profile.back_azimuth_deg;
        section.ground_amsl_m.clear();
        section.distance_m.clear();
        section.clutter_m.clear();
        section.zone.clear();
        section.class_code.clear();
        section
            .ground_amsl_m
            .extend_from_slice(&section.profile.elevation_amsl_m);
        let spacing_m = section.profile.spacing_m;
        section
            .distance_m
            .extend((0..section.profile.len()).map(|i| i as f64 * spacing_m));
        self.cover(section);
        self.trees(from, to, section);
        self.houses(from, to, section);
    }

    fn ground_amsl_m(&self, at: LonLat) -> Option<f64> {
        let height_m = self.elevation.bilinear(at);
        (!height_m.is_nan()).then_some(height_m)
    }
}
