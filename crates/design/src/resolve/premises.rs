//! Premises.

use std::collections::BTreeMap;
use std::sync::Arc;

use geodesy::{LonLat, LonLatBox};
use model::{
    Finding, Mounting, PlaceDefaults, PlanId, Premises, PremisesId, Sector, SectorId, ServicePlan,
    Severity, Subject, Terminal,
};

use super::{Context, given, lookup};
use crate::check::Places;
use crate::premises_table::{PremisesRow, PremisesTable};
use crate::text::{shorten, suggestion};
use crate::written::At;

/// What premises are resolved against.
pub(super) struct Rows<'a> {
    pub(super) plans: &'a BTreeMap<PlanId, Arc<ServicePlan>>,
    pub(super) sectors: &'a [Sector],
    pub(super) mast_box: Option<LonLatBox>,
}

/// Premises, in the order of their file.
pub(super) fn resolve(
    rows: &Rows<'_>,
    context: &Context<'_>,
    places: &mut Places,
    findings: &mut Vec<Finding>,
) -> Vec<Premises> {
    let Some(table) = &context.sources.premises else {
        findings.push(
            Finding::new(
                Severity::Warning,
                "no-premises",
                "the folder has no premises",
            )
            .hint("add `premises.csv` with the columns `id`, `lon`, `lat`, `name`, `plan`"),
        );
        return Vec::new();
    };
    let defaults = &context.defaults;
    let terminals = &context.catalogue.terminals;
    let resolver = RowResolver {
        rows,
        context,
        table,
        default_plan: default_plan(rows, context, findings),
        default_terminal: lookup(terminals, defaults.terminal.as_ref(), "terminal", findings),
    };
    let mut premises = Vec::with_capacity(table.rows.len());
    let mut seen: BTreeMap<String, &PremisesRow> = BTreeMap::new();
    for row in table.rows.iter() {
        let Some(one) = resolver.premises(row, findings) else {
            continue;
        };
        if let Some(first) = seen.get(one.id.as_str()) {
            findings.push(resolver.duplicate(&one.id, row, first));
            continue;
        }
        seen.insert(one.id.as_str().to_owned(), row);
        let id = one.id.as_str();
        places.note_at(
            &Subject::Premises(one.id.clone()),
            "id",
            table.place(row, id),
        );
        premises.push(one);
    }
    premises
}

/// What would stand at a place that is no premises: the design's defaults,
/// else what the first premises has.
pub(super) fn place_defaults(
    rows: &Rows<'_>,
    context: &Context<'_>,
    premises: &[Premises],
) -> Option<PlaceDefaults> {
    // A default that does not exist was told when the premises were resolved.
    let mut told = Vec::new();
    let written = context.defaults.terminal.as_ref();
    let terminal = lookup(&context.catalogue.terminals, written, "terminal", &mut told);
    let first = premises.first();
    Some(PlaceDefaults {
        terminal: terminal.or_else(|| first.map(|p| Arc::clone(&p.terminal)))?,
        plan: default_plan(rows, context, &mut told)
            .or_else(|| first.map(|p| Arc::clone(&p.plan)))?,
    })
}

fn holds(known: &LonLatBox, lon: f64, lat: f64) -> bool {
    LonLat::new(lon, lat).is_ok_and(|place| known.contains(place))
}

fn default_plan(
    rows: &Rows<'_>,
    context: &Context<'_>,
    findings: &mut Vec<Finding>,
) -> Option<Arc<ServicePlan>> {
    let Some(written) = &context.defaults.plan else {
        let only = rows.plans.values().next().filter(|_| rows.plans.len() == 1);
        return only.cloned();
    };
    find_plan(rows.plans, &written.value).or_else(|| {
        let finding = unknown("plan", &written.value, plan_names(rows.plans));
        findings.push(written.pin(finding));
        None
    })
}

fn find_plan(plans: &BTreeMap<PlanId, Arc<ServicePlan>>, id: &str) -> Option<Arc<ServicePlan>> {
    plans.get(&PlanId::new(id)).cloned()
}

fn plan_names(plans: &BTreeMap<PlanId, Arc<ServicePlan>>) -> Vec<&str> {
    plans.keys().map(PlanId::as_str).collect()
}

fn unknown(kind: &str, written: &str, known: Vec<&str>) -> Finding {
    Finding::new(
        Severity::Error,
        "unknown-reference",
        format!("there is no {kind} `{}`", shorten(written)),
    )
    .hint(suggestion(written, known))
}

struct RowResolver<'a> {
    rows: &'a Rows<'a>,
    context: &'a Context<'a>,
    table: &'a PremisesTable,
    default_plan: Option<Arc<ServicePlan>>,
    default_terminal: Option<Arc<Terminal>>,
}

impl RowResolver<'_> {
    fn cell<'r>(&self, row: &'r PremisesRow, column: &str) -> &'r str {
        self.table
            .column(column)
            .and_then(|index| row.cells.get(index))
            .map_or("", String::as_str)
    }

    fn premises(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<Premises> {
        let id = self.cell(row, "id");
        if id.is_empty() {
            if self.table.column("id").is_some() {
                let text = row.cells.join(",");
                let finding = Finding::new(Severity::Error, "missing-cell", "the row has no `id`");
                findings.push(
                    self.at(row, &text, finding)
                        .hint("give every premises its own id"),
                );
            }
            return None;
        }
        let id = PremisesId::new(id);
        let mut faults = Vec::new();
        let position = self.position(row, &mut faults);
        let plan = self.plan(row, &mut faults);
        let terminal = self.terminal(row, &mut faults);
        let mount_height_agl_m = self.mount_height_agl_m(row, &mut faults);
        let priority = self.priority(row, &mut faults);
        let fixed_sector = self.fixed_sector(row, &mut faults);
        let mounting = self.mounting(row, &mut faults);
        let people = self.people(row, &mut faults);
        let subject = Subject::Premises(id.clone());
        findings.extend(
            faults
                .into_iter()
                .map(|finding| finding.about(subject.clone())),
        );
        Some(Premises {
            id,
            name: self.cell(row, "name").to_owned(),
            position: position?,
            mount_height_agl_m: mount_height_agl_m?,
            mounting: mounting?,
            plan: plan?,
            terminal: terminal?,
            priority: priority?,
            fixed_sector,
            people: people?,
        })
    }

    fn at(&self, row: &PremisesRow, text: &str, finding: Finding) -> Finding {
        finding.at(self.table.place(row, text))
    }

    /// A number in a cell, within a range; `None` with a finding otherwise.
    fn number(
        &self,
        row: &PremisesRow,
        column: &str,
        (min, max): (f64, f64),
        findings: &mut Vec<Finding>,
    ) -> Option<f64> {
        let cell = self.cell(row, column);
        let unit = crate::unit::of_key(column);
        let parsed = cell.parse::<f64>().ok();
        let (code, hint) = match parsed {
            Some(value) if (min..=max).contains(&value) => return Some(value),
            Some(value) if !value.is_finite() => ("not-finite", "write a number".to_owned()),
            Some(_) => (
                "out-of-range",
                format!("write a value between {min} and {max} {unit}"),
            ),
            None if cell.replace(',', ".").parse::<f64>().is_ok() => (
                "decimal-comma",
                format!(
                    "write the decimal point as `.`: `{}`",
                    cell.replace(',', ".")
                ),
            ),
            None if cell.is_empty() => ("missing-cell", format!("write a number in {unit}")),
            None => ("wrong-type", format!("write a number in {unit}")),
        };
        let message = match code {
            "missing-cell" => format!("the row has no `{column}`"),
            "out-of-range" => format!("`{column}` is `{}`, outside {min} to {max}", shorten(cell)),
            _ => format!("`{column}` is `{}`, not a number", shorten(cell)),
        };
        findings.push(
            self.at(row, cell, Finding::new(Severity::Error, code, message))
                .hint(hint),
        );
        None
    }

    fn position(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<LonLat> {
        if self.table.column("lon").is_none() || self.table.column("lat").is_none() {
            return None;
        }
        let value = |column| self.cell(row, column).parse::<f64>().ok();
        if let (Some(lon), Some(lat)) = (value("lon"), value("lat")) {
            let looks_swapped = match self.rows.mast_box {
                Some(known) => holds(&known, lat, lon) && !holds(&known, lon, lat),
                None => lat.abs() > 90.0 && lon.abs() <= 90.0,
            };
            if looks_swapped {
                let text = format!("{lon},{lat}");
                let finding = Finding::new(
                    Severity::Error,
                    "swapped-lonlat",
                    format!("longitude `{lon}` and latitude `{lat}` look swapped"),
                );
                findings.push(
                    self.at(row, &text, finding)
                        .hint("`lon` is east-west, `lat` north-south; exchange the two columns"),
                );
                return None;
            }
        }
        let lon = self.number(row, "lon", (-180.0, 180.0), findings);
        let lat = self.number(row, "lat", (-90.0, 90.0), findings);
        LonLat::new(lon?, lat?).ok()
    }

    fn mounting(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<Mounting> {
        let cell = self.cell(row, "mounting");
        if cell.is_empty() {
            return Some(Mounting::default());
        }
        let known = Mounting::NAMES.iter().find(|(name, _)| *name == cell);
        if known.is_none() {
            let names = Mounting::NAMES.iter().map(|(name, _)| *name);
            let message = format!("`{}` is not a choice for `mounting`", shorten(cell));
            let finding = Finding::new(Severity::Error, "unknown-choice", message);
            findings.push(self.at(row, cell, finding).hint(suggestion(cell, names)));
        }
        known.map(|(_, mounting)| *mounting)
    }

    fn plan(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<Arc<ServicePlan>> {
        let cell = self.cell(row, "plan");
        if cell.is_empty() {
            if self.default_plan.is_none() && self.context.defaults.plan.is_none() {
                let finding =
                    Finding::new(Severity::Error, "missing-cell", "the row has no `plan`");
                findings.push(
                    self.at(row, "", finding)
                        .hint("name a plan in the row, or one for all under `[defaults] plan`"),
                );
            }
            return self.default_plan.clone();
        }
        find_plan(self.rows.plans, cell).or_else(|| {
            let finding = unknown("plan", cell, plan_names(self.rows.plans));
            findings.push(self.at(row, cell, finding));
            None
        })
    }

    fn terminal(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<Arc<Terminal>> {
        let cell = self.cell(row, "terminal");
        if cell.is_empty() {
            if self.default_terminal.is_none() && self.context.defaults.terminal.is_none() {
                let finding =
                    Finding::new(Severity::Error, "missing-cell", "the row has no `terminal`");
                findings.push(self.at(row, "", finding).hint(
                    "name a terminal in the row, or one for all under `[defaults] terminal`",
                ));
            }
            return self.default_terminal.clone();
        }
        let written = At {
            value: cell.to_owned(),
            place: Some(self.table.place(row, cell)),
        };
        lookup(
            &self.context.catalogue.terminals,
            Some(&written),
            "terminal",
            findings,
        )
    }

    fn mount_height_agl_m(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<f64> {
        if self.cell(row, "mount_height_agl_m").is_empty() {
            return Some(given(&self.context.defaults.mount_height_agl_m));
        }
        self.number(row, "mount_height_agl_m", (0.5, 100.0), findings)
    }

    /// How many people; an empty cell is nobody's count, which is not nobody.
    #[expect(
        clippy::option_option,
        reason = "outside is whether the cell can be read, inside what it says"
    )]
    fn people(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<Option<f64>> {
        if self.cell(row, "people").is_empty() {
            return Some(None);
        }
        self.number(row, "people", (0.0, 1e6), findings).map(Some)
    }

    fn priority(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<i32> {
        let cell = self.cell(row, "priority");
        if cell.is_empty() {
            return Some(0);
        }
        cell.parse().ok().or_else(|| {
            let message = format!("`priority` is `{}`, not a whole number", shorten(cell));
            let finding = Finding::new(Severity::Error, "wrong-type", message);
            findings.push(
                self.at(row, cell, finding)
                    .hint("write a whole number; higher is kept first"),
            );
            None
        })
    }

    /// A sector that does not exist binds nobody: the premises stays, unbound, with the finding.
    fn fixed_sector(&self, row: &PremisesRow, findings: &mut Vec<Finding>) -> Option<SectorId> {
        let cell = self.cell(row, "sector");
        if cell.is_empty() {
            return None;
        }
        let known = self
            .rows
            .sectors
            .iter()
            .find(|sector| sector.id.as_str() == cell);
        if known.is_none() {
            let names = self
                .rows
                .sectors
                .iter()
                .map(|sector| sector.id.as_str())
                .collect();
            findings.push(self.at(row, cell, unknown("sector", cell, names)));
        }
        known.map(|sector| sector.id.clone())
    }

    fn duplicate(&self, id: &PremisesId, row: &PremisesRow, first: &PremisesRow) -> Finding {
        let finding = Finding::new(
            Severity::Error,
            "duplicate-id",
            format!("there are two premises with the id `{id}`"),
        );
        let first = match first.label.as_str() {
            "" => format!("line {}", first.line),
            label => label.to_owned(),
        };
        self.at(row, id.as_str(), finding)
            .about(Subject::Premises(id.clone()))
            .hint(format!(
                "the first is {first} and is kept; give this one its own id"
            ))
    }
}
