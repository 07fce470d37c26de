// The example island: every question of the trade, from its story to a tablet.

import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { answers_ms, CONSEQUENCE, closeSheet, count, counts, forgetAnswers, ledgerRows, part, ready, SECTION, settled, state, told, tried, waited_ms } from "./acts.mjs";
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
  const wait_ms = await waited_ms(page, () => ledgerRows(page).nth(3).getByRole("button").first().click(), SECTION);
  figure("island, why, from the click to the drawing", `${wait_ms.toFixed(0)} ms`);
  await page.getByRole("heading", { name: "Link budget" }).waitFor();
  await state(page, "island-3-why");
}

async function whatIf({ page, figure }) {
  const before = Number(await mountHeight(page).inputValue());
  const wait_ms = await waited_ms(page, () => mountHeight(page).fill(String(before + 6)), CONSEQUENCE);
  figure("island, what-if, from the figure to its consequence", `${wait_ms.toFixed(0)} ms, a pause of 250 ms in it`);
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

async function movesAPremises({ page }) {
  await closeSheet(page);
  await part(page, "Ledger");
  await ledgerRows(page).nth(3).getByRole("button").first().click();
  await page.getByRole("button", { name: "Move on the map" }).click();
  const handle = page.getByRole("button", { name: /^New place of/ });
  await handle.waitFor();
  for (let i = 0; i < 3; i++) await page.keyboard.press("Shift+ArrowUp");
  await page.getByText("300 m away").waitFor();
  const accept = page.getByRole("button", { name: "Accept" });
  await accept.waitFor();
  await state(page, "island-11-move");
  // Dragged as well as moved by keys: the distance follows.
  const box = await handle.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + 60, box.y + 40, { steps: 4 });
  await page.mouse.up();
  await page.getByText("300 m away").waitFor({ state: "detached" });
  const place = async () => page.evaluate(async () => (await (await fetch("/api/network")).json()).premises.lat_deg);
  const before = await place();
  await accept.click();
  await handle.waitFor({ state: "detached" });
  assert.notDeepEqual(await place(), before, "an accepted move moves");
  await undone(page);
  assert.deepEqual(await place(), before);
}

/** Takes the last step back and waits until that stands. */
async function undone(page) {
  await page.getByRole("button", { name: "Undo" }).click();
  await page.getByRole("button", { name: "Redo" }).and(page.locator(":enabled")).waitFor();
}

async function takesAMastAway({ page }) {
  await closeSheet(page);
  const masts = page.getByRole("button", { name: /^Mast / });
  await masts.first().waitFor();
  const before = [await masts.count(), await counts(page)];
  await masts.first().dispatchEvent("click"); // wherever the map looks
  await page.getByRole("button", { name: /^Take this mast and its \d+ sectors away/ }).click();
  const accept = page.getByRole("button", { name: "Accept" });
  await accept.waitFor();
  await state(page, "island-12-take-away");
  await accept.click();
  await page.waitForFunction((n) => document.querySelectorAll(".mast-mark").length === n - 1, before[0]);
  assert.ok((await count(page, "served")) < before[1].served, "a mast less serves less");
  await undone(page);
  await page.waitForFunction((n) => document.querySelectorAll(".mast-mark").length === n, before[0]);
  assert.deepEqual(await counts(page), before[1]);
}

async function runsABusyHour({ page, figure }) {
  await page.getByRole("button", { name: /^Mast / }).first().dispatchEvent("click");
  await page.getByRole("table").getByRole("button").first().click();
  const run = page.getByRole("button", { name: "Run it" });
  await page.getByLabel("Time to run").selectOption({ label: "the whole hour" });
  await run.click();
  await page.getByRole("button", { name: "Stop" }).first().waitFor();
  await page.getByRole("button", { name: "Stop" }).first().click();
  await run.waitFor();
  assert.equal(await page.getByRole("columnheader", { name: "Jitter" }).count(), 0, "what was stopped has no outcome");
  await page.getByLabel("Time to run").selectOption({ label: "1 minute" });
  const wait_ms = await waited_ms(page, () => run.click(), { shown: "[role=region] table" });
  figure("island, a minute of a sector's busy hour, frame by frame", `${wait_ms.toFixed(0)} ms`);
  await page.getByRole("columnheader", { name: "Jitter" }).scrollIntoViewIfNeeded();
  await state(page, "island-13-busy-hour");
}

async function findingsAndOutputs({ page }) {
  await part(page, "Findings");
  await page.getByRole("heading", { name: "Findings" }).waitFor();
  await state(page, "island-8-findings");
  await part(page, "Take out");
  await page.getByRole("button", { name: "Write all files anew" }).click();
  await page.getByRole("link", { name: "network.gpkg" }).waitFor();
  await page.getByText("Coverage as files").click();
  await page.getByRole("button", { name: "Write coverage" }).click();
  await page.getByRole("link", { name: /^coverage\// }).first().waitFor();
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
  { name: "a premises is moved on the map, by keys and by dragging, and taken back", act: movesAPremises },
  { name: "a mast is taken away with its sectors, and taken back", act: takesAMastAway },
  { name: "a sector's busy hour is run, and can be stopped", act: runsABusyHour },
  { name: "findings and outputs open without a fault", act: findingsAndOutputs },
  { name: "a tablet shows all of it", act: showsAllOnATablet },
];
