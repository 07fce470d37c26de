// The page as it is committed is small enough to be there at once.

import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { expect, it } from "vitest";

const PAGE = join(import.meta.dirname, "../../crates/server/page");
const MOST_BYTES = 600_000;

it("is at most 600 kB compressed, the map's worker included", () => {
  const files = readdirSync(PAGE, { recursive: true, withFileTypes: true }).filter((entry) => entry.isFile());
  const sizes = files.map((entry) => [entry.name, gzipSync(readFileSync(join(entry.parentPath, entry.name)), { level: 9 }).length]);
  const all = sizes.reduce((sum, [, bytes]) => sum + bytes, 0);
  console.log(`the page, compressed: ${(all / 1000).toFixed(0)} kB of ${MOST_BYTES / 1000} kB`);
  expect(sizes.length).toBeGreaterThan(3);
  expect(all).toBeLessThanOrEqual(MOST_BYTES);
});
