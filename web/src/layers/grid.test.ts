import { describe, expect, it } from "vitest";
import type { Grid } from "../api/client";
import { azimuthTo, classOf, distance_m, placeAt, valueAt } from "./grid";

const quantity = {
  name: "rsl_dbm", title: "", unit: "dBm", shown_unit: "dBm", is_named: false, best_first: [1, 0],
  classes: [
    { from: null, to: -80, label: "", colour: "#000000" },
    { from: -80, to: null, label: "", colour: "#ffffff" },
  ],
};
const grid = {
  head: { width: 2, height: 2, bounds: { west_deg: 0, east_deg: 2, south_deg: -1, north_deg: 1 }, quantity },
  values: new Float32Array([1, 2, 3, Number.NaN]),
} as unknown as Grid;

describe("a coverage grid", () => {
  it("starts in the north-west", () => expect(valueAt(grid, 0.5, 0.5)).toBe(1));
  it("goes row by row southwards", () => expect(valueAt(grid, 0.5, -0.5)).toBe(3));
  it("has no value where there is no data", () => expect(valueAt(grid, 1.5, -0.5)).toBeNull());
  it("has no value beyond its edge", () => expect(valueAt(grid, 2.5, 0)).toBeNull());
  it("puts a limit into the class above", () => expect(classOf(quantity, -80)).toBe(1));
});

describe("directions", () => {
  const mast = { lon_deg: 10, lat_deg: 46 };
  it("go there and back", () => {
    for (const azimuth of [1, 89, 181, 359]) {
      const [lon, lat] = placeAt(mast, azimuth, 5000);
      expect(azimuthTo(mast, lon, lat)).toBeCloseTo(azimuth, 6);
      expect(Math.abs(distance_m(mast, { lon_deg: lon, lat_deg: lat }) - 5000)).toBeLessThan(5);
    }
  });
});
