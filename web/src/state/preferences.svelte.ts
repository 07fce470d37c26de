// What a person prefers, kept by the browser and nowhere else.

import type { Units } from "../format";

function kept(name: string): string | null {
  return localStorage.getItem(`mastwright.${name}`);
}

function keep(name: string, value: string): void {
  localStorage.setItem(`mastwright.${name}`, value);
}

class Preferences {
  units = $state<Units>(kept("units") === "imperial" ? "imperial" : "metric");
  showsContours = $state(kept("contours") !== "no");
  showsLandCover = $state(kept("land_cover") === "yes");

  showsStory = $state(kept("story") !== "no");

  endStory(): void {
    this.showsStory = false;
    keep("story", "no");
  }

  setUnits(units: Units): void {
    this.units = units;
    keep("units", units);
  }

  setContours(shows: boolean): void {
    this.showsContours = shows;
    keep("contours", shows ? "yes" : "no");
  }

  setLandCover(shows: boolean): void {
    this.showsLandCover = shows;
    keep("land_cover", shows ? "yes" : "no");
  }
}

export const preferences = new Preferences();
