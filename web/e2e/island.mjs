// The example island: every question of the trade, from its story to a tablet.

import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { answers_ms, closeSheet, count, counts, forgetAnswers, ledgerRows, part, ready, settled, state, told, tried } from "./acts.mjs";
import { folder, programPath } from "./stage.mjs";

export function project() {
  const dir = join(folder("projects"), "island");
  const made = spawnSync(programPath(), ["demo", dir, "--no-open", "--quiet"], { encoding: "utf8" });
  // 1: done, with findings of the design.
  if (![0, 1].includes(made.status)) throw new Error(`no example project: ${made.stderr}`);
  return dir;
}

const mountHeight = (page) => page.getByLabel("Mount height");
const mountBecomes = (page, height_m) =>
  page.waitForFunction((h) => Number(document.querySelector("#wi-mount")?.value) === h, height_m);

async function opensOnItsStory({ page }) {
  await ready(page);
  assert.ok((await count(page, "served")) > 0);
  await page.getByRole("heading", { name: "An invented island" }).waitFor();
  await state(page, "island-1-open");
}

async function saysWhy({ page, figure }) {
  await part(page, "Ledger");
  await ledgerRows(page).nth(3).waitFor();
  await state(page, "island-2-ledger");
  const began = performance.now();
  await ledgerRows(page).nth(3).getByRole("button").first().click();
  await page.getByRole("img", { name: /Cross-section/ }).waitFor();
  figure("island, why, from the click to the drawing", `${(performance.now() - began).toFixed(0)} ms`);
  await page.getByRole("heading", { name: "Link budget" }).waitFor();
  await state(page, "island-3-why");
}

async function whatIf({ page, figure }) {
  const before = Number(await mountHeight(page).inputValue());
  const began = performance.now();
  await mountHeight(page).fill(String(before + 6));
  await page.getByRole("button", { name: "Accept" }).waitFor();
  figure("island, what-if, from the figure to its consequence", `${(performance.now() - began).toFixed(0)} ms`);
  await state(page, "island-4-what-if");
  await page.getByRole("button", { name: "Accept" }).click();
  await page.getByRole("button", { name: "Accept" }).waitFor({ state: "detached" });
  await mountBecomes(page, before + 6);
  await page.getByRole("button", { name: "Undo" }).click();
  await mountBecomes(page, before);
}

async function aimByKeys({ page, figure }) {
  await closeSheet(page);
  await page.getByLabel("Coverage").selectOption({ index: 1 });
  await page.waitForSelector(".legend[aria-busy=false]:not([data-shows=none])");
  await state(page, "island-5-coverage");
  await page.getByRole("button", { name: /^Mast / }).first().click();
  await page.getByRole("table").getByRole("button").first().click();
  const handle = page.getByRole("button", { name: /^Aim of/ });
  const dial = page.getByRole("slider", { name: "Aim" });
  await handle.focus();
  const [before, aim] = [await counts(page), Number(await dial.inputValue())];
  await forgetAnswers(page);
  const times = [];
  for (let i = 0; i < 12; i++) times.push(await tried(page, () => page.keyboard.press("ArrowRight")));
  figure("island, aim, from the key to coverage and counts", `${told(times)}; the answer: ${told(await answers_ms(page, "/api/preview", times.length))}`);
  await state(page, "island-6-aim");
  assert.notDeepEqual(await counts(page), before, "a sector turned by 60 degrees leaves all as before");
  assert.equal(Number(await dial.inputValue()), Math.round(aim + 60) % 360, "the dial follows the handle");
  await handle.focus();
  await page.keyboard.press("Escape");
  await page.waitForFunction(() => !document.querySelector(".counts.trial"));
  assert.deepEqual(await counts(page), before);
}

async function bringsInATable({ page, dir }) {
  await part(page, "Bring in");
  const { lon, lat } = await page.evaluate(async () => {
    const network = await (await fetch("/api/network")).json();
    return { lon: network.premises.lon_deg[0], lat: network.premises.lat_deg[0] };
  });
  const file = join(dir, "../homes.csv");
  writeFileSync(file, `nr,east,north\nnew-1,${lon + 0.001},${lat}\nnew-2,${lon},north pole\n`);
  await page.locator("input[type=file]").setInputFiles(file);
  await page.getByLabel("Longitude").selectOption("east");
  await page.getByLabel("Latitude").selectOption("north");
  await page.getByLabel("Id", { exact: true }).selectOption("nr");
  await page.getByText("1 mistake").waitFor();
  await state(page, "island-7-bring-in");
  await page.getByRole("button", { name: /^Bring in 1 premises/ }).click();
  await page.getByText("1 premises brought in").waitFor();
}

async function takesTheLedgerOut({ page }) {
  await part(page, "Ledger");
  await page.getByRole("searchbox").fill("new-1");
  await page.waitForFunction(() => document.querySelectorAll("[role=rowgroup] [role=row]").length === 1);
  const waiting = page.waitForEvent("download");
  await page.getByRole("button", { name: /Take out as CSV/ }).click();
  assert.match(readFileSync(await (await waiting).path(), "utf8"), /new-1/);
}

async function findingsAndOutputs({ page }) {
  await part(page, "Findings");
  await page.getByRole("heading", { name: "Findings" }).waitFor();
  await state(page, "island-8-findings");
  await part(page, "Take out");
  await page.getByRole("button", { name: "Write all files anew" }).click();
  await page.getByRole("link", { name: "network.gpkg" }).waitFor();
  await state(page, "island-9-take-out");
}

async function showsAllOnATablet({ page }) {
  await closeSheet(page);
  await page.setViewportSize({ width: 820, height: 1180 });
  await settled(page);
  await state(page, "island-10-tablet");
}

export const tests = [
  { name: "opens on its story, with counts", act: opensOnItsStory },
  { name: "a premises says why, with its cross-section and budget", act: saysWhy },
  { name: "a what-if shows its consequence, is accepted and taken back", act: whatIf },
  { name: "an aim is turned by keys and the counts follow", act: aimByKeys },
  { name: "a table with mistakes is looked at before it is brought in", act: bringsInATable },
  { name: "the ledger is searched and taken out", act: takesTheLedgerOut },
  { name: "findings and outputs open without a fault", act: findingsAndOutputs },
  { name: "a tablet shows all of it", act: showsAllOnATablet },
];
