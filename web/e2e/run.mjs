// The workspace used as a person uses it, in a real browser, on a real server.
// Pictures are kept for people to look at; latencies are printed.

import assert from "node:assert/strict";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { browserPath, demoFolder, folder, look, picture, serve } from "./stage.mjs";

if (!browserPath()) {
  console.log("skipped: the workspace in a browser, no Chromium is here (Debian: chromium)");
  process.exit(0);
}

const AXE = readFileSync(join(import.meta.dirname, "../node_modules/axe-core/axe.min.js"), "utf8");
const tests = [];
const test = (name, act) => tests.push({ name, act });

const count = async (page, verdict) => Number((await page.locator(`[data-count=${verdict}]`).innerText()).replace(/\D/g, ""));
const ready = (page) => page.waitForSelector("[data-testid=counts]", { timeout: 120_000 });
const bar = (page, name) => page.getByRole("navigation", { name: "Parts of the project" }).getByRole("button", { name });

/** Serious faults of accessibility, as axe-core finds them. */
async function faults(page) {
  await page.evaluate(AXE);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  return violations
    .filter((v) => ["serious", "critical"].includes(v.impact))
    .map((v) => `${v.id}: ${v.nodes.map((n) => n.target.join(" ")).slice(0, 4).join(", ")}`);
}

test("the example opens on its story, with counts", async ({ page }) => {
  await ready(page);
  assert.ok((await count(page, "served")) > 0);
  await page.getByRole("heading", { name: "An invented island" }).waitFor();
  await picture(page, "1-open");
  assert.deepEqual(await faults(page), []);
});

test("a premises says why, with its cross-section and budget", async ({ page }) => {
  await bar(page, "Ledger").click();
  await page.getByRole("row").nth(3).waitFor();
  await picture(page, "2-ledger");
  assert.deepEqual(await faults(page), []);
  const began = performance.now();
  await page.getByRole("row").nth(3).getByRole("button").first().click();
  await page.getByRole("img", { name: /Cross-section/ }).waitFor();
  console.log(`    why, from the click to the drawing: ${(performance.now() - began).toFixed(0)} ms`);
  await page.getByRole("heading", { name: "Link budget" }).waitFor();
  await picture(page, "3-why");
  assert.deepEqual(await faults(page), []);
});

test("a what-if shows its consequence, is accepted and taken back", async ({ page }) => {
  const height = page.getByLabel("Mount height");
  const before = Number(await height.inputValue());
  await height.fill(String(before + 6));
  const began = performance.now();
  await page.getByRole("button", { name: "Accept" }).waitFor({ timeout: 60_000 });
  console.log(`    what-if, from the figure to its consequence: ${(performance.now() - began).toFixed(0)} ms`);
  await picture(page, "4-what-if");
  await page.getByRole("button", { name: "Accept" }).click();
  await page.waitForFunction((h) => Number(document.querySelector("#wi-mount")?.value) === h, before + 6, { timeout: 60_000 });
  await page.getByRole("button", { name: "Undo" }).click();
  await page.waitForFunction((h) => Number(document.querySelector("#wi-mount")?.value) === h, before, { timeout: 60_000 });
});

test("an aim is dragged and the counts follow", async ({ page }) => {
  await page.getByRole("button", { name: "Close" }).click();
  await page.getByLabel("Coverage").selectOption({ index: 1 });
  await page.waitForTimeout(500);
  await page.waitForFunction(() => !document.querySelector(".here")?.textContent?.includes("Working"), null, { timeout: 120_000 });
  await picture(page, "5-coverage");
  await page.getByRole("button", { name: /^Mast / }).first().click();
  await page.getByRole("table").getByRole("button").first().click();
  const handle = page.getByRole("button", { name: /^Aim of/ });
  await handle.waitFor();
  const all = async () => Promise.all(["served", "doubtful", "unserved"].map((verdict) => count(page, verdict)));
  const before = await all();
  await handle.focus();
  const times = [];
  for (let i = 0; i < 12; i++) {
    const began = performance.now();
    await page.keyboard.press("ArrowRight");
    await page.waitForSelector(".counts.trial", { timeout: 60_000 });
    times.push(performance.now() - began);
  }
  await page.waitForTimeout(1500);
  times.sort((a, b) => a - b);
  console.log(`    aim, from the key to the counts: median ${times[6].toFixed(0)} ms, worst ${times[11].toFixed(0)} ms`);
  await picture(page, "6-aim");
  assert.notDeepEqual(await all(), before, "a sector turned by 60 degrees leaves all as before");
  const dial = page.getByRole("slider", { name: "Aim" });
  assert.notEqual(Number(await dial.inputValue()), 315, "the dial follows the handle");
  await handle.focus();
  await page.keyboard.press("Escape");
  await page.waitForFunction(() => !document.querySelector(".counts.trial"));
  assert.deepEqual(await all(), before);
});

test("a table with mistakes is looked at before it is brought in", async ({ page }) => {
  await bar(page, "Bring in").click();
  const dir = folder("files").replace(/\/files$/, "");
  const file = join(dir, "homes.csv");
  const { lon, lat } = await page.evaluate(async () => {
    const network = await (await fetch("/api/network")).json();
    return { lon: network.premises.lon_deg[0], lat: network.premises.lat_deg[0] };
  });
  writeFileSync(file, `nr,east,north\nnew-1,${lon + 0.001},${lat}\nnew-2,${lon},north pole\n`);
  await page.locator("input[type=file]").setInputFiles(file);
  await page.getByLabel("Longitude").selectOption("east");
  await page.getByLabel("Latitude").selectOption("north");
  await page.getByLabel("Id", { exact: true }).selectOption("nr");
  await page.getByText("1 mistake").waitFor();
  await picture(page, "7-bring-in");
  assert.deepEqual(await faults(page), []);
  await page.getByRole("button", { name: /^Bring in 1 premises/ }).click();
  await page.getByText("1 premises brought in").waitFor({ timeout: 60_000 });
});

test("the ledger is searched and taken out", async ({ page }) => {
  await bar(page, "Ledger").click();
  await page.getByRole("searchbox").fill("new-1");
  await page.waitForFunction(() => document.querySelectorAll("[role=rowgroup] [role=row]").length === 1, null, { timeout: 60_000 });
  const waiting = page.waitForEvent("download");
  await page.getByRole("button", { name: /Take out as CSV/ }).click();
  const path = await (await waiting).path();
  assert.match(readFileSync(path, "utf8"), /new-1/);
});

test("findings and outputs open without a fault", async ({ page }) => {
  await bar(page, "Findings").click();
  await page.getByRole("heading", { name: "Findings" }).waitFor();
  await picture(page, "8-findings");
  assert.deepEqual(await faults(page), []);
  await bar(page, "Take out").click();
  await page.getByRole("button", { name: "Write all files anew" }).click();
  await page.getByRole("link").first().waitFor({ timeout: 120_000 });
  await picture(page, "9-take-out");
});

test("a tablet shows all of it", async ({ page }) => {
  await page.setViewportSize({ width: 820, height: 1180 });
  await page.getByRole("button", { name: "Close" }).click();
  await picture(page, "10-tablet");
  assert.deepEqual(await faults(page), []);
});

const dir = demoFolder();
const server = await serve(dir);
const { browser, page, complaints } = await look(server.address);
let failed = 0;
for (const { name, act } of tests) {
  try {
    await act({ page, dir });
    assert.deepEqual(complaints.splice(0), [], "the browser complains");
    console.log(`ok   ${name}`);
  } catch (error) {
    failed += 1;
    await picture(page, `failed-${failed}`).catch(() => {});
    console.log(`FAIL ${name}\n     ${String(error.message ?? error).split("\n").slice(0, 12).join("\n     ")}`);
  }
}
await browser.close();
server.kill();
console.log(failed === 0 ? `${tests.length} tests passed` : `${failed} of ${tests.length} tests failed`);
process.exit(failed === 0 ? 0 : 1);
