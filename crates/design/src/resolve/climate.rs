//! Climate: what the design writes, then the maps that it names, then a
//! default by latitude.

use std::cell::RefCell;
use std::collections::BTreeMap;

use geodesy::LonLat;
use model::climate::RAIN_FROM_MHZ;
use model::{FadingClimate, Finding, MultipathMap, Sector, Severity};

use super::table;
use crate::climate_grid::{ClimateQuantity, LaidGrid};
use crate::schema::{ClimateMapText, ClimateText, DesignText};
use crate::sources::ProjectSources;
use crate::unit;
use crate::written::At;

use ClimateQuantity::{
    Gradient1Pct, Gradient75, LogK, Rain001, RefractivityLapse, SurfaceRefractivity,
};

/// Climate of a belt of latitude, for a design that says nothing better.
struct Belt {
    until_deg: f64,
    name: &'static str,
    lapse_n_per_km: f64,
    refractivity_n: f64,
    rain_001_mm_per_h: f64,
    gradient_1pct_n_per_km: f64,
}

/// Common practice, no source, but for its rough agreement with published figures:
/// refractivity 45 N/km and 325 are the customary temperate values, tropical coasts have 50
/// to 70 and 350 to 390; rain rates are rows of the superseded Recommendation ITU-R
/// PN.837-1 at 0.01 %, zones N, L, K and E, from memory; gradients lie amid those of
/// cities in the belt, −70 to −390 in the tropics and −120 to −310 elsewhere.
const BELTS: [Belt; 4] = [
    Belt {
        until_deg: 23.5,
        name: "tropical",
        lapse_n_per_km: 60.0,
        refractivity_n: 370.0,
        rain_001_mm_per_h: 95.0,
        gradient_1pct_n_per_km: -300.0,
    },
    Belt {
        until_deg: 35.0,
        name: "subtropical",
        lapse_n_per_km: 45.0,
        refractivity_n: 325.0,
        rain_001_mm_per_h: 60.0,
        gradient_1pct_n_per_km: -250.0,
    },
    Belt {
        until_deg: 60.0,
        name: "temperate",
        lapse_n_per_km: 45.0,
        refractivity_n: 325.0,
        rain_001_mm_per_h: 42.0,
        gradient_1pct_n_per_km: -200.0,
    },
    Belt {
        until_deg: 90.0,
        name: "polar",
        lapse_n_per_km: 40.0,
        refractivity_n: 315.0,
        rain_001_mm_per_h: 22.0,
        gradient_1pct_n_per_km: -200.0,
    },
];

impl Belt {
    fn of(lat_deg: f64) -> &'static Self {
        let found = BELTS.iter().find(|b| lat_deg.abs() <= b.until_deg);
        found.unwrap_or(&BELTS[3])
    }

    /// Its value; not a number for what is known from the maps alone.
    fn value(&self, quantity: ClimateQuantity) -> f64 {
        match quantity {
            RefractivityLapse => self.lapse_n_per_km,
            SurfaceRefractivity => self.refractivity_n,
            Rain001 => self.rain_001_mm_per_h,
            Gradient1Pct => self.gradient_1pct_n_per_km,
            LogK | Gradient75 => f64::NAN,
        }
    }
}

/// A value of the climate.
pub(super) struct Sourced<'a> {
    pub(super) value: f64,
    origin: Origin<'a>,
}

/// Where a value of the climate comes from.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Origin<'a> {
    Map(&'a str),
    Latitude(&'static str),
    Written,
}

/// What stands above `[climate]` for a path: the keys of a hop or of `[backhaul]`.
#[derive(Default)]
pub(super) struct Overrides<'t> {
    pub(super) rain_001_mm_per_h: Option<&'t At<f64>>,
    pub(super) gradient_1pct_n_per_km: Option<&'t At<f64>>,
    pub(super) log_k: Option<&'t At<f64>>,
    pub(super) gradient_75_n_per_km: Option<&'t At<f64>>,
}

/// The climate of a design, at any place.
pub(super) struct Climate<'a> {
    text: ClimateText,
    maps: BTreeMap<ClimateQuantity, (String, LaidGrid<'a>)>,
    /// Maps that gave a value which cannot be, and where; told at the end.
    unusable: RefCell<Vec<(ClimateQuantity, f64, LonLat)>>,
}

impl<'a> Climate<'a> {
    pub(super) fn new(
        design: &DesignText,
        sources: &'a ProjectSources,
        findings: &mut Vec<Finding>,
    ) -> Self {
        let text = table(&design.climate);
        let mut climate = Self {
            maps: BTreeMap::new(),
            unusable: RefCell::new(Vec::new()),
            text,
        };
        let maps: Vec<At<ClimateMapText>> = climate
            .text
            .map
            .iter()
            .flat_map(|list| list.value.clone())
            .collect();
        for map in &maps {
            climate.take(&map.value, sources, findings);
        }
        climate
    }

    /// Takes a map in, or says why it cannot.
    fn take(
        &mut self,
        map: &ClimateMapText,
        sources: &'a ProjectSources,
        findings: &mut Vec<Finding>,
    ) {
        let (Some(quantity), Some(file), true) = (&map.quantity, &map.file, map.is_sound) else {
            return;
        };
        let quantity = quantity.value;
        if self.maps.contains_key(&quantity) {
            let message = format!("a second map of `{}`", quantity.key());
            findings.push(
                file.pin(Finding::new(Severity::Error, "climate-map", message))
                    .hint("a quantity has one map; remove one of the two"),
            );
            return;
        }
        let grid = match sources.climate_maps.get(&file.value) {
            Some(Some(grid)) => grid,
            // The reader of the folder has told why.
            Some(None) => return,
            None => {
                let message = format!("there is no file `{}`", file.value);
                findings.push(
                    file.pin(Finding::new(Severity::Error, "no-such-file", message))
                        .hint("name your own copy of the map, relative to the project folder or with its whole path; none ships with the program"),
                );
                return;
            }
        };
        let (lat_deg, lon_deg) = quantity.published_first_deg();
        let first_lat_deg = map.first_lat_deg.as_ref().map_or(lat_deg, |at| at.value);
        let first_lon_deg = map.first_lon_deg.as_ref().map_or(lon_deg, |at| at.value);
        match grid.laid_over(first_lat_deg, first_lon_deg) {
            Ok(laid) => {
                self.maps.insert(quantity, (file.value.clone(), laid));
            }
            Err(message) => findings.push(
                file.pin(Finding::new(
                    Severity::Error,
                    "climate-map",
                    format!("`{}`: {message}", file.value),
                ))
                .hint("rows or columns are missing, the last column does not repeat the first, or `first_lat_deg` is another"),
            ),
        }
        if let Some(written) = self.written(quantity) {
            let message = format!(
                "`{}` is written, so the map `{}` is not used for it",
                quantity.key(),
                file.value
            );
            findings.push(
                written
                    .pin(Finding::new(Severity::Note, "climate-map-unused", message))
                    .hint("remove one of the two"),
            );
        }
    }

    fn written(&self, quantity: ClimateQuantity) -> Option<&At<f64>> {
        let text = &self.text;
        match quantity {
            RefractivityLapse => &text.refractivity_lapse_n_per_km,
            SurfaceRefractivity => &text.surface_refractivity_n,
            Rain001 => &text.rain_001_mm_per_h,
            Gradient1Pct => &text.gradient_1pct_n_per_km,
            LogK => &text.log_k,
            Gradient75 => &text.gradient_75_n_per_km,
        }
        .as_ref()
    }

    /// The value of a quantity at a place: written, from a map, or by latitude;
    /// not a number where the last one knows none.
    pub(super) fn value(&self, quantity: ClimateQuantity, place: LonLat) -> Sourced<'_> {
        if let Some(written) = self.written(quantity) {
            return Sourced {
                value: written.value,
                origin: Origin::Written,
            };
        }
        if let Some((file, grid)) = self.maps.get(&quantity) {
            let value = grid.at(place);
            let (least, greatest) = quantity.range();
            if (least..=greatest).contains(&value) {
                return Sourced {
                    value,
                    origin: Origin::Map(file),
                };
            }
            let mut unusable = self.unusable.borrow_mut();
            if !unusable.iter().any(|(told, ..)| *told == quantity) {
                unusable.push((quantity, value, place));
            }
        }
        let belt = Belt::of(place.lat_deg());
        Sourced {
            value: belt.value(quantity),
            origin: Origin::Latitude(belt.name),
        }
    }

    /// What makes signals fade around a place.
    pub(super) fn fading(&self, place: LonLat, over: &Overrides<'_>) -> FadingClimate {
        let value = |own: Option<&At<f64>>, quantity| {
            own.map_or_else(|| self.value(quantity, place).value, |at| at.value)
        };
        let log_k = value(over.log_k, LogK);
        let gradient_75_n_per_km = value(over.gradient_75_n_per_km, Gradient75);
        let both = log_k.is_finite() && gradient_75_n_per_km.is_finite();
        FadingClimate {
            rain_001_mm_per_h: value(over.rain_001_mm_per_h, Rain001),
            gradient_1pct_n_per_km: value(over.gradient_1pct_n_per_km, Gradient1Pct),
            multipath_map: both.then_some(MultipathMap {
                log_k,
                gradient_75_n_per_km,
            }),
        }
    }

    /// Whether a quantity is known better than by latitude.
    fn is_known(&self, quantity: ClimateQuantity) -> bool {
        self.written(quantity).is_some() || self.maps.contains_key(&quantity)
    }

    /// Says where the values come from, and what is wrong with them.
    pub(super) fn tell(
        &self,
        design: &DesignText,
        middle: LonLat,
        sectors: &[Sector],
        findings: &mut Vec<Finding>,
    ) {
        findings.extend(self.half_a_pair(design));
        let origins = self.origins(middle);
        if origins.keys().any(|origin| *origin != Origin::Written) {
            let guessed_rain = !self.is_known(Rain001) && rain_counts(design, sectors);
            findings.push(assumed(design, middle, &origins, guessed_rain));
        }
        for (quantity, value, place) in self.unusable.borrow().iter() {
            findings.extend(self.maps.get(quantity).map(|(file, _)| {
                let message = format!(
                    "`{file}` gives `{value}` for `{}` at `{place}`, which cannot be",
                    quantity.key()
                );
                pinned(
                    design,
                    Finding::new(Severity::Warning, "climate-map", message),
                )
                .hint("another map, or one that starts elsewhere; the default by latitude is taken")
            }));
        }
    }

    /// Values at a place by origin, as a person reads them.
    fn origins(&self, place: LonLat) -> BTreeMap<Origin<'_>, Vec<String>> {
        let paired = self.is_known(LogK) && self.is_known(Gradient75);
        let multipath: &[ClimateQuantity] = match paired {
            true => &[LogK, Gradient75],
            false => &[Gradient1Pct],
        };
        let mut origins: BTreeMap<Origin<'_>, Vec<String>> = BTreeMap::new();
        for quantity in [RefractivityLapse, SurfaceRefractivity, Rain001]
            .iter()
            .chain(multipath)
        {
            let key = quantity.key();
            let Sourced { value, origin } = self.value(*quantity, place);
            let rounded = (value * 100.0).round() / 100.0;
            let shown = format!("{rounded} {}", unit::of_key(key));
            let text = format!("`{key}` is `{}`", shown.trim_end());
            origins.entry(origin).or_default().push(text);
        }
        origins
    }

    /// The two values of the maps of P.530 count together or not at all.
    fn half_a_pair(&self, design: &DesignText) -> Option<Finding> {
        let common = table(&design.backhaul);
        let has = |quantity, over: &Option<At<f64>>| over.is_some() || self.is_known(quantity);
        let has_log_k = has(LogK, &common.log_k);
        let has_gradient = has(Gradient75, &common.gradient_75_n_per_km);
        let at = [&common.log_k, &common.gradient_75_n_per_km]
            .into_iter()
            .chain([&self.text.log_k, &self.text.gradient_75_n_per_km])
            .find_map(Option::as_ref);
        let missing = match (has_log_k, has_gradient) {
            (true, false) => Gradient75.key(),
            (false, true) => LogK.key(),
            _ => return None,
        };
        let finding = Finding::new(
            Severity::Error,
            "missing-key",
            format!(
                "`{missing}` is missing: the two values of the maps of ITU-R P.530 count together"
            ),
        )
        .hint("the maps give both; without them remove both, and `gradient_1pct_n_per_km` is used");
        Some(match at {
            Some(at) => at.pin(finding),
            None => pinned(design, finding),
        })
    }
}

/// A finding about the climate, pinned to its table or to what says where the design lies.
fn pinned(design: &DesignText, finding: Finding) -> Finding {
    match (&design.climate, &design.territory, &design.spectrum) {
        (Some(at), ..) => at.pin(finding),
        (_, Some(at), _) => at.pin(finding),
        (.., Some(at)) => at.pin(finding),
        _ => finding,
    }
}

/// Whether anything that transmits rests on the network's rain rate.
fn rain_counts(design: &DesignText, sectors: &[Sector]) -> bool {
    let common = table(&design.backhaul);
    let mut hops = design.hop.iter().flat_map(|list| &list.value);
    sectors
        .iter()
        .any(|s| s.channel.centre_mhz >= RAIN_FROM_MHZ)
        || common.rain_001_mm_per_h.is_none()
            && hops.any(|hop| {
                let f_mhz = hop.value.channel_mhz.as_ref().map_or(0.0, |at| at.value);
                hop.value.rain_001_mm_per_h.is_none() && f_mhz >= RAIN_FROM_MHZ
            })
}

fn assumed(
    design: &DesignText,
    middle: LonLat,
    origins: &BTreeMap<Origin<'_>, Vec<String>>,
    guessed_rain: bool,
) -> Finding {
    let parts: Vec<String> = origins
        .iter()
        .map(|(origin, values)| {
            let values = values.join(", ");
            match origin {
                Origin::Map(file) => format!("{values} from `{file}`"),
                Origin::Latitude(belt) => format!("{values} by latitude ({belt})"),
                Origin::Written => format!("{values} as written"),
            }
        })
        .collect();
    let severity = match guessed_rain {
        true => Severity::Warning,
        false => Severity::Note,
    };
    let message = format!("climate at `{middle}`: {}", parts.join("; "));
    let hint = match guessed_rain {
        true => {
            "rain decides above 5 GHz: write `rain_001_mm_per_h` from local records under `[climate]`, or name your copy of the map of ITU-R P.837 as `[[climate.map]]`; hops take theirs at their own middle"
        }
        false => {
            "write local values under `[climate]`, or name your own copies of the ITU maps as `[[climate.map]]`; hops take theirs at their own middle"
        }
    };
    pinned(design, Finding::new(severity, "climate-assumed", message)).hint(hint)
}
