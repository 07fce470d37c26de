// Real ground: 30 m terrain and land cover of the Santa Ana Mountains
// (LANDFIRE, public domain) from the shared reference data; the network on it
// is invented here.

import assert from "node:assert/strict";
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { answers_ms, CONSEQUENCE, choosePremises, closeSheet, counts, forgetAnswers, ledgerRows, part, ready, SECTION, settled, state, told, total, tried, waited_ms } from "./acts.mjs";
import { folder, isOptimised, sharedPath } from "./stage.mjs";

export const missing = () => (sharedPath() ? null : "the shared reference data is not here");
export const size = { width: 1440, height: 900 };

const MASTS = [["ridge", "Ridge", -117.54375, 33.773975], ["basin", "Basin", -117.450443, 33.836583], ["lake", "Lake", -117.35, 33.69], ["north", "North", -117.6, 33.9]];
const PREMISES = 400;

const HEAD = `# Real terrain and land cover, invented network.
[project]
name = "Ridge and basin"

[territory]
south_west = [-117.72, 33.62]
north_east = [-117.29, 33.97]

[spectrum]
rule_set = "demo-lightly-licensed-3600"
air_interface = "ofdma-10"

[ground]
terrain = ["terrain/dem.tif"]
land_cover = ["landcover/fbfm40.tif"]
legend = "fbfm40"

[propagation]
reach_km = 20

[defaults]
antenna = "sector-90-3500"
base_station = "base-2x2-3500"
terminal = "terminal-panel-18-3500"
mount_height_agl_m = 6
# One symbol less than the frame holds lengthens the gap: cells of 23 km.
split = [28, 18]
`;

const PLANS = `[[plan]]
id = "home"
name = "Home 10/1"
scheduling_class = "BE"
downlink_mbps = 10
uplink_mbps = 1
busy_hour_downlink_mbps = 0.25
busy_hour_uplink_mbps = 0.03
target_probability_frac = 0.9

[[plan]]
id = "office"
name = "Office 15/2"
scheduling_class = "rtPS"
downlink_mbps = 15
uplink_mbps = 2
guaranteed_downlink_mbps = 0.3
guaranteed_uplink_mbps = 0.1
busy_hour_downlink_mbps = 0.4
busy_hour_uplink_mbps = 0.08
target_probability_frac = 0.95
`;

function design() {
  const masts = MASTS.map(([id, name, lon, lat], m) => {
    const mast = `\n[[mast]]\nid = "${id}"\nname = "${name}"\nlon = ${lon}\nlat = ${lat}\nheight_agl_m = 30\n`;
    const sectors = [0, 90, 180, 270].map(
      (azimuth, i) =>
        `\n[[sector]]\nid = "${id}-${azimuth}"\nmast = "${id}"\nazimuth_deg = ${azimuth}\nmechanical_downtilt_deg = 1\nheight_agl_m = 28\nchannel_mhz = ${3560 + 20 * ((4 * m + i) % 10)}\n`,
    );
    return mast + sectors.join("");
  });
  // The first drag waits for the losses of all cells in reach: minutes, where the program is not optimised.
  const head = isOptimised() ? HEAD : HEAD.replace("reach_km = 20", "reach_km = 9");
  return head + masts.join("");
}

/** Premises on sunflower spirals around the masts: the same in every run, and nowhere crowded. */
function premises() {
  const rows = Array.from({ length: PREMISES }, (_, i) => {
    const [, , lon, lat] = MASTS[i % MASTS.length];
    const turn_rad = i * Math.PI * (3 - Math.sqrt(5));
    const away_deg = 0.075 * Math.sqrt((i + 0.5) / PREMISES);
    const at = [lon + (away_deg * Math.sin(turn_rad)) / 0.83, lat + away_deg * Math.cos(turn_rad)];
    return `p${String(i).padStart(3, "0")},${at[0].toFixed(6)},${at[1].toFixed(6)},${i % 5 === 0 ? "office" : "home"},${4 + (i % 7)}`;
  });
  return `id,lon,lat,plan,mount_height_agl_m\n${rows.join("\n")}\n`;
}

export function project() {
  const dir = folder("ridge");
  for (const [at, file] of [["terrain", "dem.tif"], ["landcover", "fbfm40.tif"]]) {
    mkdirSync(join(dir, at));
    copyFileSync(join(sharedPath(), "geodata/santa-ana", file), join(dir, at, file));
  }
  writeFileSync(join(dir, "mastwright.toml"), design());
  writeFileSync(join(dir, "plans.toml"), PLANS);
  writeFileSync(join(dir, "premises.csv"), premises());
  return dir;
}

async function opens({ page }) {
  await ready(page);
  assert.equal(total(await counts(page)), PREMISES);
  await state(page, "ridge-1-open");
}

async function saysWhy({ page, figure }) {
  const times = [];
  await forgetAnswers(page);
  for (const id of ["p010", "p111", "p212", "p313", "p399"]) {
    await part(page, "Ledger");
    await page.getByRole("searchbox").fill(id);
    await page.waitForFunction(() => document.querySelectorAll("[role=rowgroup] [role=row]").length === 1);
    times.push(await waited_ms(page, () => ledgerRows(page).first().getByRole("button").click(), SECTION));
  }
  figure("real ground, why, from the click to the drawing", `${told(times)}; the answer: ${told(await answers_ms(page, "/api/why", times.length))}`);
  await page.getByRole("heading", { name: "Link budget" }).waitFor();
  assert.ok((await page.getByRole("table").last().getByRole("row").count()) > 10, "the budget has its terms");
  await state(page, "ridge-2-why");
}

async function asksASpot({ page, figure }) {
  await closeSheet(page);
  await settled(page);
  const map = await page.locator(".map").boundingBox();
  const wait_ms = await waited_ms(page, () => page.mouse.click(map.x + map.width * 0.3, map.y + map.height * 0.72), SECTION);
  figure("real ground, a spot on the map, from the click to the drawing", `${wait_ms.toFixed(0)} ms`);
  await page.getByRole("heading", { name: "This place" }).waitFor();
  await state(page, "ridge-3-spot");
}

async function whatIf({ page, figure }) {
  await choosePremises(page, "p313");
  const height = page.getByLabel("Mount height");
  const before = Number(await height.inputValue());
  const times = [];
  await forgetAnswers(page);
  for (const more of [2, 4, 6, 8, 10]) {
    times.push(await waited_ms(page, () => height.fill(String(before + more)), CONSEQUENCE));
  }
  figure("real ground, what-if, from the figure to its consequence", `${told(times)}, a pause of 250 ms in it; the answer: ${told(await answers_ms(page, "/api/what-if", times.length))}`);
  await state(page, "ridge-4-what-if");
  await page.getByRole("button", { name: "Leave as it is" }).click();
}

/** Drags the handle on a circle around the mast, a step at a time. */
async function drag(page, sector, steps) {
  const handle = page.getByRole("button", { name: `Aim of ${sector}` });
  const box = await handle.boundingBox();
  const tip = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  const foot = await page.getByRole("button", { name: "Mast Ridge", exact: true }).boundingBox();
  const mast = { x: foot.x + foot.width / 2, y: foot.y + foot.height / 2 };
  const from_rad = Math.atan2(tip.y - mast.y, tip.x - mast.x);
  const away = Math.hypot(tip.x - mast.x, tip.y - mast.y);
  await page.mouse.move(tip.x, tip.y);
  await page.mouse.down();
  const times = [];
  for (let i = 1; i <= steps; i++) {
    const angle_rad = from_rad + (i * 5 * Math.PI) / 180;
    times.push(await tried(page, () => page.mouse.move(mast.x + away * Math.cos(angle_rad), mast.y + away * Math.sin(angle_rad))));
  }
  return times;
}

async function dragsAnAim({ page, figure }) {
  await page.getByRole("button", { name: "Mast Ridge", exact: true }).click();
  await page.getByRole("button", { name: "ridge-90", exact: true }).click();
  await page.getByRole("button", { name: /^Aim of ridge-90/ }).waitFor();
  if (isOptimised()) await showCoverage({ page, figure });
  else console.log("     the program is not optimised: the aim is dragged without coverage over the map");
  await settled(page);
  const before = await counts(page);
  await forgetAnswers(page);
  const times = await drag(page, "ridge-90", 14);
  figure("real ground, aim, from the pointer to coverage and counts", `${told(times)}; the answer: ${told(await answers_ms(page, "/api/preview", times.length))}`);
  await state(page, "ridge-5-aim");
  assert.notDeepEqual(await counts(page), before, "a sector turned by 70 degrees leaves all as before");
  return before;
}

async function showCoverage({ page, figure }) {
  const began = performance.now();
  await page.getByLabel("Coverage").selectOption({ label: "Received level, downlink" });
  await page.waitForSelector(".legend[aria-busy=false]:not([data-shows=none])");
  const cells = await page.evaluate(() => performance.getEntriesByType("resource").filter((e) => e.name.includes("/api/coverage/")).at(-1)?.decodedBodySize / 4);
  figure("real ground, coverage read for the first time", `${((performance.now() - began) / 1000).toFixed(1)} s, ${(cells / 1e6).toFixed(2)} million cells`);
}

async function dragIsAcceptedAndUndone(scene) {
  const { page, dir } = scene;
  const design = () => readFileSync(join(dir, "mastwright.toml"), "utf8");
  const text = design();
  const before = await dragsAnAim(scene);
  await page.mouse.up();
  await page.waitForFunction(() => !document.querySelector(".counts.trial"));
  await page.getByRole("button", { name: "Undo" }).and(page.locator(":enabled")).waitFor();
  assert.notEqual(design(), text, "an aim that was let go stands in the design");
  await page.getByRole("button", { name: "Undo" }).click();
  await page.getByRole("button", { name: "Redo" }).and(page.locator(":enabled")).waitFor();
  await page.waitForFunction((served) => Number(document.querySelector("[data-count=served]").textContent.replace(/\D/g, "")) === served, before.served);
  assert.deepEqual(await counts(page), before);
  assert.equal(design(), text, "undo restores the design to the byte");
}

export const tests = [
  { name: "a project on real ground opens and is studied", act: opens },
  { name: "a premises says why", act: saysWhy },
  { name: "any spot on the map says why", act: asksASpot },
  { name: "a what-if shows its consequence", act: whatIf },
  { name: "an aim is dragged, the counts follow, and it is taken back", act: dragIsAcceptedAndUndone },
];
