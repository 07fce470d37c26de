// What a person does and sees on the page, in the words of the tests.

import assert from "node:assert/strict";
import { mkdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { PATIENCE_MS, PICTURES } from "./stage.mjs";

const AXE = readFileSync(join(import.meta.dirname, "../node_modules/axe-core/axe.min.js"), "utf8");

/** The network stands on the map, with its counts. */
export async function ready(page) {
  await page.waitForSelector(".map[data-ready=true]");
  await page.waitForSelector("[data-testid=counts]");
}

const number = (text) => Number(text.replace(/\D/g, ""));
export const count = async (page, verdict) => number(await page.locator(`[data-count=${verdict}]`).innerText());
export const counts = async (page) => ({
  served: await count(page, "served"),
  doubtful: await count(page, "doubtful"),
  unserved: await count(page, "unserved"),
});
export const total = ({ served, doubtful, unserved }) => served + doubtful + unserved;

/** Opens a part of the project. */
export const part = (page, name) =>
  page.getByRole("navigation", { name: "Parts of the project" }).getByRole("button", { name }).click();

/** Closes whatever sheet is open. */
export async function closeSheet(page) {
  const close = page.getByRole("button", { name: "Close", exact: true });
  if ((await close.count()) > 0) await close.click();
}

/** The one row of the ledger's table that a search leaves, or the first of them. */
export const ledgerRows = (page) => page.locator("[role=rowgroup] [role=row]");

/** Chooses a premises by way of the ledger. */
export async function choosePremises(page, id) {
  await part(page, "Ledger");
  await page.getByRole("searchbox").fill(id);
  const row = page.getByRole("button", { name: id, exact: true });
  await row.click();
  await page.getByRole("img", { name: /Cross-section/ }).waitFor();
}

/** Nothing works any more: the map is drawn, coverage is read, the newest trial is answered. */
export async function settled(page) {
  await page.evaluate(() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn))));
  await page.waitForFunction(() => {
    const map = document.querySelector(".map");
    const key = document.querySelector(".legend");
    const bar = document.querySelector("[data-tried]");
    return (
      (!map || map.dataset.quiet === "true") &&
      (!key || key.getAttribute("aria-busy") !== "true") &&
      (!bar || bar.dataset.tried === bar.dataset.answered || !bar.classList.contains("trial")) &&
      document.querySelector("[aria-busy=true]") === null
    );
  }).catch(async (error) => {
    const busy = await page.evaluate(() => ({ map: document.querySelector(".map")?.dataset.quiet, busy: [...document.querySelectorAll("[aria-busy=true]")].map((e) => e.className) }));
    throw new Error(`it never settles: ${JSON.stringify(busy)}`, { cause: error });
  });
}

/**
 * How long a person waits: from the event that an act brings about until the
 * page shows what is looked for, and has drawn it. Looked for is an element
 * (`shown`), or the answer to a trial newer than `answeredAfter`.
 */
export async function waited_ms(page, act, wish) {
  // The watch stands before the act begins: its answer is asked for afterwards.
  await page.evaluate(
    ([{ shown, answeredAfter }, patience_ms]) => {
      globalThis.waited = new Promise((done, failed) => {
        const EVENTS = ["click", "input", "keydown", "pointermove"];
        let began;
        const isThere = () => {
          if (shown) return document.querySelector(shown) !== null;
          const { tried, answered } = document.querySelector("[data-tried]").dataset;
          return tried !== answeredAfter && tried === answered;
        };
        const begin = () => {
          began ??= performance.now();
          look();
        };
        const end = () => {
          watch.disconnect();
          clearTimeout(late);
          for (const name of EVENTS) removeEventListener(name, begin, true);
        };
        const watch = new MutationObserver(() => look());
        function look() {
          if (began === undefined || !isThere()) return;
          end();
          requestAnimationFrame(() => done(performance.now() - began));
        }
        const late = setTimeout(() => {
          end();
          failed(new Error(`nothing comes of it: ${JSON.stringify({ shown, answeredAfter, began, ...document.querySelector("[data-tried]").dataset })}`));
        }, patience_ms);
        for (const name of EVENTS) addEventListener(name, begin, true);
        watch.observe(document.body, { subtree: true, childList: true, attributes: true, characterData: true });
      });
      globalThis.waited.catch(() => {}); // told below, once the act is done
    },
    [wish, PATIENCE_MS],
  );
  await act();
  return page.evaluate(() => globalThis.waited);
}

/** Tries something out and waits for its own answer; the time that took. */
export async function tried(page, act) {
  const answeredAfter = await page.locator("[data-tried]").getAttribute("data-tried");
  return waited_ms(page, act, { answeredAfter });
}

export const SECTION = { shown: "figure svg[role=img]" };
export const CONSEQUENCE = { shown: ".proposal button.primary" };

/** How long the last answers of one address took, as the browser sees them: without drawing. */
export const answers_ms = (page, path, last) =>
  page.evaluate(
    ([path, last]) => performance.getEntriesByType("resource").filter((e) => e.name.includes(path)).slice(-last).map((e) => e.duration),
    [path, last],
  );

/** The browser remembers what it asked for only up to a limit: begins anew. */
export const forgetAnswers = (page) => page.evaluate(() => performance.clearResourceTimings());

/** Median and worst of some times. */
export function spread(times_ms) {
  const sorted = [...times_ms].sort((a, b) => a - b);
  return { median_ms: sorted[Math.floor(sorted.length / 2)], worst_ms: sorted.at(-1) };
}
export const told = (times_ms) => {
  const { median_ms, worst_ms } = spread(times_ms);
  return `median ${median_ms.toFixed(0)} ms, worst ${worst_ms.toFixed(0)} ms`;
};

/** Serious faults of accessibility, as axe-core finds them: there must be none. */
export async function accessible(page) {
  await page.evaluate(AXE);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  const serious = violations.filter((v) => ["serious", "critical"].includes(v.impact));
  assert.deepEqual(serious.map((v) => `${v.id}: ${v.nodes.map((n) => n.target.join(" ")).slice(0, 4).join(", ")}`), []);
}

/** Keeps a picture for people to look at, once nothing moves any more. */
export async function picture(page, name) {
  await settled(page);
  mkdirSync(PICTURES, { recursive: true });
  await page.screenshot({ path: join(PICTURES, `${name}.png`) });
}

/** A state that a person may come to: looked at by axe-core, and kept as a picture. */
export async function state(page, name) {
  await picture(page, name);
  await accessible(page);
}
