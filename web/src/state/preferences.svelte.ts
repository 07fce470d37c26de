// What a person prefers, kept by the browser and nowhere else.

import type { Units } from "../format";

const KEY = "mastwright.units";

class Preferences {
  units = $state<Units>(localStorage.getItem(KEY) === "imperial" ? "imperial" : "metric");

  setUnits(units: Units): void {
    this.units = units;
    localStorage.setItem(KEY, units);
  }
}

export const preferences = new Preferences();
