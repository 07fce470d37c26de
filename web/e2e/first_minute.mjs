// The first minute: an empty folder, the guided start, a study at the end.

import assert from "node:assert/strict";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { counts, part, ready, state, total } from "./acts.mjs";
import { folder, sharedPath } from "./stage.mjs";

export const project = () => folder("first-network");

const MAST = { lon: 8.55, lat: 48.45 };

/** One degree of ground as `.hgt` keeps it: the real Black Forest where the shared data is here, invented hills else. */
function ground() {
  const real = sharedPath() && join(sharedPath(), "geodata/black-forest/N48E008.hgt");
  if (real && existsSync(real)) return { kind: "real", bytes: readFileSync(real) };
  const side = 1201;
  const bytes = Buffer.alloc(side * side * 2);
  for (let row = 0; row < side; row++) {
    for (let column = 0; column < side; column++) {
      bytes.writeInt16BE(Math.round(500 + 150 * Math.sin(row / 60) * Math.cos(column / 45)), 2 * (row * side + column));
    }
  }
  return { kind: "invented", bytes };
}

async function guides({ page }) {
  await page.getByRole("heading", { name: "A new network" }).waitFor();
  await state(page, "start-1-empty");
}

async function begins({ page, dir, figure }) {
  const began = performance.now();
  const { kind, bytes } = ground();
  console.log(`     the ground is ${kind}`);
  await page.getByLabel("Name of the project").fill("First network");
  await page.getByLabel("Middle of the first channel").fill("3600");
  await page.getByLabel("Rule set").selectOption({ value: "demo-lightly-licensed-3600" });
  await page.getByLabel("Terrain files").setInputFiles({ name: "N48E008.hgt", mimeType: "application/octet-stream", buffer: bytes });
  await page.getByText("N48E008.hgt").waitFor();
  await page.getByLabel("Longitude").fill(String(MAST.lon));
  await page.getByLabel("Latitude").fill(String(MAST.lat));
  await state(page, "start-2-filled");
  await page.getByRole("button", { name: "Begin" }).click();
  await page.waitForSelector(".map[data-ready=true]");
  await page.getByRole("button", { name: /^Mast / }).waitFor();
  figure("first minute, from the empty folder to the map, by machine", `${((performance.now() - began) / 1000).toFixed(1)} s`);
  assert.ok(existsSync(join(dir, "mastwright.toml")), "the design is on disk");
  await state(page, "start-3-map");
}

async function studies({ page, dir }) {
  await part(page, "Bring in");
  const rows = Array.from({ length: 24 }, (_, i) => `home-${i + 1},${MAST.lon + 0.01 * ((i % 6) - 2.5)},${MAST.lat + 0.01 * (Math.floor(i / 6) - 1.5)}`);
  const file = join(dir, "../homes.csv");
  writeFileSync(file, `id,lon,lat\n${rows.join("\n")}\n`);
  await page.locator("input[type=file]").setInputFiles(file);
  await page.getByRole("button", { name: "Bring in 24 premises" }).click();
  await page.getByText("24 premises brought in").waitFor();
  await ready(page);
  await page.waitForFunction(() => [...document.querySelectorAll("[data-count]")].reduce((sum, e) => sum + Number(e.textContent.replace(/\D/g, "")), 0) === 24);
  const all = await counts(page);
  assert.equal(total(all), 24);
  assert.ok(all.served > 0, `nobody is served: ${JSON.stringify(all)}`);
  await state(page, "start-4-studied");
}

export const tests = [
  { name: "an empty folder opens on the guided start", act: guides },
  { name: "band, rules, terrain and a first mast make a design", act: begins },
  { name: "premises are brought in and a study stands", act: studies },
];
