// The ledger as rows that can be searched, sorted and grouped. Pure functions.

import type { Ledger } from "../api/client";

export type Value = string | number | boolean | null;
export type LedgerRow = { readonly index: number; readonly id: string };
export type Columns = ReadonlyMap<string, readonly Value[]>;

export function columns(ledger: Ledger): Columns {
  return new Map(ledger.columns.map((c) => [c.name, c.values as unknown as readonly Value[]]));
}

const byText = new Intl.Collator("en", { numeric: true, sensitivity: "base" });

/** Empty values come last whichever way it is sorted. */
function compare(a: Value, b: Value, direction: 1 | -1): number {
  if (a === null || a === undefined) return b === null || b === undefined ? 0 : 1;
  if (b === null || b === undefined) return -1;
  if (typeof a === "number" && typeof b === "number") return (a - b) * direction;
  return byText.compare(String(a), String(b)) * direction;
}

export type Wish = { readonly search: string; readonly group: string | null; readonly sort: string; readonly direction: 1 | -1 };

/** What a row is grouped by: what holds it back, or its verdict where nothing does. */
export function groupOf(of: Columns, index: number): string {
  return String(of.get("cause")?.[index] ?? of.get("verdict")?.[index] ?? "");
}

/** Indices of the rows that a wish leaves, in its order. */
export function rows(of: Columns, count: number, wish: Wish): number[] {
  const words = wish.search.toLowerCase().split(/\s+/).filter((word) => word !== "");
  const searched = ["id", "name", "plan", "sector"].map((name) => of.get(name)).filter((c) => c !== undefined);
  const found: number[] = [];
  for (let i = 0; i < count; i++) {
    if (wish.group !== null && groupOf(of, i) !== wish.group) continue;
    const text = words.length === 0 ? "" : searched.map((c) => String(c[i] ?? "")).join(" ").toLowerCase();
    if (words.every((word) => text.includes(word))) found.push(i);
  }
  const column = of.get(wish.sort);
  if (column) found.sort((a, b) => compare(column[a] ?? null, column[b] ?? null, wish.direction) || a - b);
  return found;
}

/** Groups with how many rows each has, the largest first. */
export function groups(of: Columns, count: number): { name: string; rows: number }[] {
  const counted = new Map<string, number>();
  for (let i = 0; i < count; i++) counted.set(groupOf(of, i), (counted.get(groupOf(of, i)) ?? 0) + 1);
  return [...counted].map(([name, rows]) => ({ name, rows })).sort((a, b) => b.rows - a.rows || byText.compare(a.name, b.name));
}

/** Rows as a table that spreadsheets read: RFC 4180. */
export function csv(ledger: Ledger, chosen: readonly number[]): string {
  const cell = (value: Value): string => {
    const text = value === null || value === undefined ? "" : String(value);
    return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
  };
  const lines = [ledger.columns.map((c) => c.name), ...chosen.map((i) => ledger.columns.map((c) => cell(c.values[i] as unknown as Value)))];
  return lines.map((line) => line.join(",")).join("\r\n") + "\r\n";
}
