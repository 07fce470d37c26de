// The stage of an end-to-end test: a project in a folder of its own, the program
// that serves it, and a real browser that is watched while it is used.

import { spawn, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { chromium } from "playwright-core";

const ROOT = resolve(import.meta.dirname, "../..");
export const PICTURES = process.env["MASTWRIGHT_PICTURES"] ?? join(ROOT, "target/pictures");
const BROWSERS = [process.env["CHROMIUM"], "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];

export const browserPath = () => BROWSERS.find((path) => path && existsSync(path));

/** The program: the optimised one, where it is there, for its times are told. */
export function programPath() {
  const given = process.env["MASTWRIGHT"];
  const found = [given, join(ROOT, "target/release/mastwright"), join(ROOT, "target/debug/mastwright")].find((path) => path && existsSync(path));
  if (!found) throw new Error("the program is not built: run `make build` first");
  return found;
}

/** A fresh folder, taken away at the end. */
export function folder(name) {
  const base = mkdtempSync(join(tmpdir(), "mastwright-"));
  process.on("exit", () => rmSync(base, { recursive: true, force: true }));
  return join(base, name);
}

export function demoFolder() {
  const dir = folder("island");
  const made = spawnSync(programPath(), ["demo", dir, "--no-open", "--quiet"], { encoding: "utf8" });
  if (made.status !== 0 && made.status !== 1) throw new Error(`no example project: ${made.stderr}`);
  return dir;
}

/** Opens a folder; the answer ends with the program. */
export async function serve(dir) {
  const program = spawn(programPath(), ["open", dir, "--no-browser", "--port", "0"], { stdio: ["ignore", "pipe", "pipe"] });
  let said = "";
  const address = await new Promise((found, failed) => {
    const listen = (chunk) => {
      said += chunk;
      const match = said.match(/https?:\/\/\S+/);
      if (match) found(match[0]);
    };
    program.stdout.on("data", listen);
    program.stderr.on("data", listen);
    program.on("exit", (code) => failed(new Error(`the program ended with ${code}:\n${said}`)));
    setTimeout(() => failed(new Error(`no address within a minute:\n${said}`)), 60_000).unref();
  });
  return { address, kill: (signal = "SIGTERM") => program.kill(signal) };
}

/** A page that tells of every error and every request that would leave the machine. */
export async function look(address, size = { width: 1280, height: 800 }) {
  const browser = await chromium.launch({
    executablePath: browserPath(),
    args: [
      "--headless", "--no-sandbox", "--disable-gpu", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-quic",
      "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    ],
  });
  const context = await browser.newContext({ viewport: size, acceptDownloads: true });
  const page = await context.newPage();
  const complaints = [];
  page.on("pageerror", (error) => complaints.push(`error: ${error.message}`));
  page.on("console", (message) => {
    if (message.type() === "error") complaints.push(`console: ${message.text()} ${message.location().url}`);
  });
  page.on("request", (request) => {
    const { hostname, protocol } = new URL(request.url());
    const isHere = ["127.0.0.1", "localhost", "[::1]"].includes(hostname) || ["data:", "blob:"].includes(protocol);
    if (!isHere) complaints.push(`left the machine: ${request.url()}`);
  });
  await page.goto(address);
  await page.waitForSelector(".map[data-ready=true]", { timeout: 60_000 }).catch(() => {});
  return { browser, page, complaints };
}

/** Keeps a picture for people to look at. */
export async function picture(page, name) {
  mkdirSync(PICTURES, { recursive: true });
  await page.waitForTimeout(400); // tiles fade in
  await page.screenshot({ path: join(PICTURES, `${name}.png`) });
}
