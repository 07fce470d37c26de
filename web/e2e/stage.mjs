// The stage of an end-to-end test: the program that serves a folder, and a real
// browser that is watched while it is used. Nothing here waits for a time to
// pass: it waits for a state, for as long as a loaded machine may need.

import { spawn } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, statSync, statfsSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, dirname, extname, join, resolve } from "node:path";
import { chromium } from "playwright-core";

export const ROOT = resolve(import.meta.dirname, "../..");
export const PICTURES = process.env["MASTWRIGHT_PICTURES"] ?? join(ROOT, "target/pictures");
const BROWSERS = [process.env["CHROMIUM"], "/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];

/** Far beyond what anything here needs on an idle machine; a fault shows as a state that never comes. */
export const PATIENCE_MS = Number(process.env["MASTWRIGHT_PATIENCE_MS"] ?? 200_000);

export const browserPath = () => BROWSERS.find((path) => path && existsSync(path));

/** Time of the newest file below. */
function newest_ms(path) {
  const about = statSync(path);
  if (!about.isDirectory()) return about.mtimeMs;
  return Math.max(0, ...readdirSync(path).map((name) => newest_ms(join(path, name))));
}

/** The program: the one that is named; the optimised one where no source is newer, for its times are told; or the other. */
export function programPath() {
  const named = process.env["MASTWRIGHT"];
  if (named) return resolve(named);
  const [fast, plain] = ["release", "debug"].map((profile) => join(ROOT, "target", profile, "mastwright"));
  const isFresh = () => statSync(fast).mtimeMs > Math.max(...["crates", "data", "Cargo.lock"].map((at) => newest_ms(join(ROOT, at))));
  if (existsSync(fast) && (!existsSync(plain) || isFresh())) return fast;
  if (existsSync(plain)) return plain;
  throw new Error("the program is not built: run `make build` first");
}

export const isOptimised = () => basename(dirname(programPath())) === "release";

/** The shared reference data: named, or beside the checkout. Null where there are none. */
export function sharedPath() {
  const places = [process.env["MASTWRIGHT_SHARED"], join(ROOT, "../shared")];
  return places.find((path) => path && existsSync(join(path, "geodata"))) ?? null;
}

const ROOM_BYTES = 2e9;

/** Memory where there is room: a disk that others write to may keep a small file waiting for minutes. */
function scratch() {
  const memory = "/dev/shm";
  if (!existsSync(memory)) return tmpdir();
  const { bavail, bsize } = statfsSync(memory);
  return bavail * bsize > ROOM_BYTES ? memory : tmpdir();
}

const folders = [];
process.on("exit", () => folders.forEach((path) => rmSync(path, { recursive: true, force: true })));

/** A fresh folder, taken away at the end. */
export function folder(name) {
  const base = mkdtempSync(join(scratch(), "mastwright-"));
  folders.push(base);
  const path = join(base, name);
  mkdirSync(path);
  return path;
}

/** Opens a folder; the program runs until it is ended. */
export async function serve(dir) {
  const program = spawn(programPath(), ["open", dir, "--no-browser", "--port", "0"], { stdio: ["ignore", "pipe", "pipe"] });
  const end = () => program.kill("SIGKILL");
  process.on("exit", end);
  let said = "";
  const address = await new Promise((found, failed) => {
    const late = setTimeout(() => failed(new Error(`no address:\n${said}`)), PATIENCE_MS);
    const listen = (chunk) => {
      said += chunk;
      const match = said.match(/https?:\/\/\S+/);
      if (!match) return;
      clearTimeout(late);
      found(match[0]);
    };
    program.stdout.on("data", listen);
    program.stderr.on("data", listen);
    program.on("exit", (code) => failed(new Error(`the program ended with ${code}:\n${said}`)));
  });
  return { address, end };
}

export function startBrowser() {
  return chromium.launch({
    executablePath: browserPath(),
    timeout: PATIENCE_MS,
    args: [
      "--headless", "--no-sandbox", "--disable-dev-shm-usage",
      // Drawn by the processor: the same everywhere, with or without a graphics adapter.
      "--disable-gpu", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
      "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
      // What would leave the machine finds no way out, and is told as a fault.
      "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
    ],
  });
}

function isHere(address) {
  const { hostname, protocol } = new URL(address);
  return ["127.0.0.1", "localhost", "[::1]"].includes(hostname) || ["data:", "blob:"].includes(protocol);
}

/** The page from a folder, where one is named: a page just built, over a program that was built before. */
async function servePage(page, from) {
  await page.route(/\/assets\/|\/(\?.*)?$/, async (route) => {
    const { pathname } = new URL(route.request().url());
    const path = join(from, pathname === "/" ? "index.html" : pathname);
    if (!existsSync(path)) return route.continue();
    const contentType = { ".js": "text/javascript", ".css": "text/css" }[extname(path)] ?? "text/html";
    await route.fulfill({ contentType, body: readFileSync(path) });
  });
}

/** A page that keeps a list of every error and of every request that would leave the machine. */
export async function look(browser, address, size = { width: 1280, height: 800 }) {
  const context = await browser.newContext({ viewport: size, acceptDownloads: true, reducedMotion: "reduce" });
  context.setDefaultTimeout(PATIENCE_MS);
  const page = await context.newPage();
  const complaints = [];
  page.on("pageerror", (error) => complaints.push(`error: ${error.message}`));
  page.on("console", (message) => {
    if (message.type() === "error") complaints.push(`console: ${message.text()} ${message.location().url}`);
  });
  let requests = 0;
  context.on("request", (request) => {
    requests += 1;
    if (!isHere(request.url())) complaints.push(`left the machine: ${request.url()}`);
  });
  page.on("websocket", (socket) => complaints.push(`a socket: ${socket.url()}`));
  const from = process.env["MASTWRIGHT_PAGE"];
  if (from) {
    await context.request.get(address); // the door opens, the page comes from elsewhere
    await servePage(page, from);
  }
  const home = from ? new URL("/", address).href : address;
  await page.goto(home);
  return { home, context, page, complaints, requests: () => requests };
}
