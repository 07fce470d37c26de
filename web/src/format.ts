// Numbers to text, always with their unit. The only place that knows feet and miles.

export type Units = "metric" | "imperial";

const FEET_PER_M = 1 / 0.3048; // international foot, exact
const MILES_PER_KM = 1 / 1.609344; // international mile, exact
const MISSING = "–";

/** A thin space keeps a number and its unit together. */
function withUnit(text: string, unit: string): string {
  return `${text}\u202f${unit}`;
}

/** A number with so many decimals and a true minus sign. */
export function decimals(value: number | null | undefined, places: number): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return MISSING;
  const text = Math.abs(value).toFixed(places);
  return value < 0 && Number(text) !== 0 ? `\u2212${text}` : text;
}

/** Height above ground or sea. */
export function height(value_m: number | null | undefined, units: Units): string {
  if (value_m === null || value_m === undefined) return MISSING;
  return units === "metric" ? withUnit(decimals(value_m, 1), "m") : withUnit(decimals(value_m * FEET_PER_M, 0), "ft");
}

/** Distance along the ground. */
export function distance(value_m: number | null | undefined, units: Units): string {
  if (value_m === null || value_m === undefined) return MISSING;
  if (units === "metric") {
    return value_m < 1000 ? withUnit(decimals(value_m, 0), "m") : withUnit(decimals(value_m / 1000, 2), "km");
  }
  const miles = (value_m / 1000) * MILES_PER_KM;
  return miles < 0.2 ? withUnit(decimals(value_m * FEET_PER_M, 0), "ft") : withUnit(decimals(miles, 2), "mi");
}

/** Area. */
export function area(value_km2: number | null | undefined, units: Units): string {
  if (value_km2 === null || value_km2 === undefined) return MISSING;
  return units === "metric"
    ? withUnit(decimals(value_km2, 1), "km²")
    : withUnit(decimals(value_km2 * MILES_PER_KM * MILES_PER_KM, 1), "sq mi");
}

export const level = (value_dbm: number | null | undefined): string => withUnit(decimals(value_dbm, 1), "dBm");
export const ratio = (value_db: number | null | undefined): string => withUnit(decimals(value_db, 1), "dB");
export const rate = (value_mbps: number | null | undefined): string =>
  withUnit(decimals(value_mbps, value_mbps !== null && value_mbps !== undefined && value_mbps < 10 ? 2 : 1), "Mb/s");
export const angle = (value_deg: number | null | undefined): string =>
  value_deg === null || value_deg === undefined ? MISSING : `${decimals(value_deg, 1)}°`;
export const frequency = (value_mhz: number | null | undefined): string => withUnit(decimals(value_mhz, 1), "MHz");
export const percent = (value_frac: number | null | undefined, places = 0): string =>
  value_frac === null || value_frac === undefined ? MISSING : withUnit(decimals(value_frac * 100, places), "%");
export const count = (value: number): string => value.toLocaleString("en").replaceAll(",", "\u202f");

/** A value whose unit stands in its name's suffix, as the API names everything. */
export function bySuffix(name: string, value: number | null | undefined, units: Units): string {
  const suffix = name.slice(name.lastIndexOf("_") + 1);
  if (name.endsWith("_agl_m") || name.endsWith("_amsl_m")) return height(value, units);
  switch (suffix) {
    case "m": return distance(value, units);
    case "deg": return angle(value);
    case "dbm": return level(value);
    case "db": return ratio(value);
    case "dbi": return withUnit(decimals(value, 1), "dBi");
    case "mbps": return rate(value);
    case "mhz": return frequency(value);
    case "frac": return percent(value);
    case "pct": return withUnit(decimals(value, 1), "%");
    case "ms": return withUnit(decimals(value, 1), "ms");
    case "km2": return area(value, units);
    default: return decimals(value, 2);
  }
}
