// Fifty thousand premises: the ledger stays smooth.

import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { accessible, closeSheet, ledgerRows, part, picture, ready, told } from "./acts.mjs";
import { folder, programPath } from "./stage.mjs";

const PREMISES = 50_000;

/** The island, settled as densely as a city; sectors reach less far, so that the study ends soon. */
export function project() {
  const dir = join(folder("projects"), "crowd");
  const made = spawnSync(programPath(), ["demo", dir, "--no-open", "--quiet"], { encoding: "utf8" });
  if (![0, 1].includes(made.status)) throw new Error(`no example project: ${made.stderr}`);
  const [head, ...rows] = readFileSync(join(dir, "premises.csv"), "utf8").trim().split("\n");
  const names = head.split(",");
  const places = rows.map((row) => row.split(",")).map((row) => [Number(row[names.indexOf("lon")]), Number(row[names.indexOf("lat")])]);
  const made_up = Array.from({ length: PREMISES }, (_, i) => {
    const [lon, lat] = places[i % places.length];
    const turn_rad = i * 2.399963;
    const away_deg = 0.00002 * Math.sqrt(i);
    return `h${i + 1},${(lon + away_deg * Math.sin(turn_rad)).toFixed(6)},${(lat + away_deg * Math.cos(turn_rad)).toFixed(6)},House ${(i * 7919) % PREMISES}`;
  });
  writeFileSync(join(dir, "premises.csv"), `id,lon,lat,name\n${made_up.join("\n")}\n`);
  const design = readFileSync(join(dir, "mastwright.toml"), "utf8");
  assert.match(design, /^reach_km = /m);
  writeFileSync(join(dir, "mastwright.toml"), design.replace(/^reach_km = .*$/m, "reach_km = 1"));
  return dir;
}

async function opensTheLedger({ page, figure }) {
  await ready(page);
  const began = performance.now();
  await part(page, "Ledger");
  await page.waitForFunction(() => document.querySelectorAll("[role=rowgroup] [role=row]").length > 5);
  figure("50,000 premises, the ledger opens", `${((performance.now() - began) / 1000).toFixed(1)} s`);
  await accessible(page);
}

/** The map with all its marks takes a while to draw without a graphics adapter. */
async function drawsTheMap({ page, figure }) {
  await closeSheet(page);
  const began = performance.now();
  await picture(page, "many-1-map");
  figure("50,000 premises, until the map is drawn", `${((performance.now() - began) / 1000).toFixed(1)} s`);
}

async function scrolls({ page, figure }) {
  const { times, most } = await page.evaluate(async () => {
    const area = document.querySelector("[role=rowgroup]");
    const frame = () => new Promise((drawn) => requestAnimationFrame(drawn));
    const times = [];
    let [before, most] = [await frame(), 0];
    for (let i = 0; i < 120; i++) {
      area.scrollTop += 600;
      const now = await frame();
      times.push(now - before);
      before = now;
      most = Math.max(most, area.querySelectorAll("[role=row]").length);
    }
    area.scrollTop = area.scrollHeight;
    await frame();
    await frame();
    return { times, most };
  });
  figure("50,000 premises, a frame while scrolling", told(times));
  assert.ok(most < 100, `${most} rows are in the page at once`);
  await page.locator(`[role=row][aria-rowindex="${PREMISES + 1}"]`).waitFor();
}

/** From an event in the page until its rows are drawn. */
const drawn_ms = (page, act, argument) =>
  page.evaluate(
    async ([source, argument]) => {
      const began = performance.now();
      const area = document.querySelector("[role=rowgroup]");
      if (source === "search") {
        const box = document.querySelector("input[type=search]");
        box.value = argument;
        box.dispatchEvent(new Event("input", { bubbles: true }));
      } else {
        [...document.querySelectorAll("[role=columnheader] button")].find((b) => b.textContent.startsWith(argument)).click();
      }
      await new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)));
      return { ms: performance.now() - began, rows: area.querySelectorAll("[role=row]").length };
    },
    [act, argument],
  );

async function searchesAndSorts({ page, figure }) {
  const searches = [];
  for (const word of ["h4", "h49", "h499", "h4999", "h49999", "house 12", ""]) searches.push((await drawn_ms(page, "search", word)).ms);
  figure("50,000 premises, a search", told(searches));
  const sorts = [];
  for (const column of ["Name", "Name", "Margin", "Sector", "Plan", "Id"]) sorts.push((await drawn_ms(page, "sort", column)).ms);
  figure("50,000 premises, a sort", told(sorts));
  await page.getByRole("searchbox").fill("h49999");
  await page.waitForFunction(() => document.querySelectorAll("[role=rowgroup] [role=row]").length === 1);
  assert.match(await ledgerRows(page).first().innerText(), /h49999/);
}

export const tests = [
  { name: "fifty thousand premises open in the ledger", act: opensTheLedger },
  { name: "they scroll with few rows in the page", act: scrolls },
  { name: "they are searched and sorted", act: searchesAndSorts },
  { name: "they are drawn on the map", act: drawsTheMap },
];
