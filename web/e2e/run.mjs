// The workspace used as a person uses it, in a real browser, on a real server.
// Pictures are kept for people to look at; latencies are printed.
//
//   node e2e/run.mjs [SUITE …]

import assert from "node:assert/strict";
import { mkdirSync, writeFileSync } from "node:fs";
import { join, relative } from "node:path";
import { PICTURES, ROOT, browserPath, isOptimised, look, programPath, serve, startBrowser } from "./stage.mjs";
import * as firstMinute from "./first_minute.mjs";
import * as island from "./island.mjs";
import * as many from "./many.mjs";
import * as ridge from "./ridge.mjs";

const SUITES = { "first-minute": firstMinute, island, ridge, many };
const WHOLE_RUN_MS = 30 * 60_000;

if (!browserPath()) {
  console.log("skipped: the workspace in a browser, no Chromium is here (Debian: chromium)");
  process.exit(0);
}
// A state that never comes ends the test that waits for it; this ends what not even that does.
setTimeout(() => {
  console.log("FAIL the tests in the browser have not ended within half an hour");
  process.exit(1);
}, WHOLE_RUN_MS).unref();

const figures = {};
/** Tells a measured figure and keeps it beside the pictures. */
function figure(name, value) {
  figures[name] = value;
  console.log(`     ${name}: ${value}`);
}

let [passed, failed] = [0, 0];

async function runTest(suite, { name, act }, scene) {
  const began = performance.now();
  try {
    await act({ ...scene, figure });
    assert.deepEqual(scene.complaints.splice(0), [], "the browser complains");
    passed += 1;
    console.log(`ok   ${suite}: ${name} (${((performance.now() - began) / 1000).toFixed(1)} s)`);
  } catch (error) {
    failed += 1;
    scene.complaints.splice(0);
    console.log(`FAIL ${suite}: ${name}\n     ${String(error.message ?? error).split("\n").slice(0, 12).join("\n     ")}`);
    await scene.page.screenshot({ path: join(PICTURES, `failed-${suite}-${failed}.png`), timeout: 30_000 }).catch(() => {});
    // What comes next is judged from a fresh page, not from what went wrong here.
    await scene.page.goto(scene.home).catch(() => {});
    await scene.page.waitForSelector(".map[data-ready=true], .start").catch(() => {});
  }
}

async function runSuite(browser, name, suite) {
  const missing = suite.missing?.();
  if (missing) return console.log(`skipped: ${name}, ${missing}`);
  const dir = await suite.project();
  const server = await serve(dir);
  const seen = await look(browser, server.address, suite.size);
  try {
    for (const test of suite.tests) await runTest(name, test, { ...seen, dir, address: server.address });
    assert.ok(seen.requests() > 0, "the page asked for nothing: nobody watched");
  } finally {
    await seen.context.close();
    server.end();
  }
}

mkdirSync(PICTURES, { recursive: true });
const profile = isOptimised() ? "optimised" : "not optimised: its times say little";
console.log(`the program: ${relative(ROOT, programPath())} (${profile})`);
const browser = await startBrowser();
console.log(`the browser: ${browser.version()}`);
const wanted = process.argv.slice(2);
for (const [name, suite] of Object.entries(SUITES)) {
  if (wanted.length === 0 || wanted.includes(name)) await runSuite(browser, name, suite);
}
await browser.close();
writeFileSync(join(PICTURES, "figures.json"), `${JSON.stringify({ program: profile, ...figures }, null, 2)}\n`);
console.log(failed === 0 ? `${passed} tests passed; pictures in ${relative(ROOT, PICTURES)}` : `${failed} of ${passed + failed} tests failed`);
process.exit(failed === 0 ? 0 : 1);
