// The ledger as rows that can be searched, sorted and grouped. Pure functions.

import type { Ledger } from "../api/client";

export type Value = string | number | boolean | null;
export type LedgerRow = { readonly index: number; readonly id: string };
export type Columns = ReadonlyMap<string, readonly Value[]>;

export function columns(ledger: Ledger): Columns {
  return new Map(ledger.columns.map((c) => [c.name, c.values as unknown as readonly Value[]]));
}

/** Text in the order a person expects: numbers as numbers, case and accents aside. */
function key(value: Value): string | number {
  if (typeof value === "number") return value;
  const plain = String(value).normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
  return plain.replace(/\d+/g, (digits) => digits.padStart(12, "0"));
}

const isEmpty = (value: Value | undefined): boolean => value === null || value === undefined || value === "";

/** Place of every row when a column is sorted; equal values share one, empty ones have −1. */
const places = new WeakMap<readonly Value[], Int32Array>();

function placesOf(column: readonly Value[]): Int32Array {
  const known = places.get(column);
  if (known) return known;
  const keys = column.map((value) => (isEmpty(value) ? "" : key(value)));
  const filled = [...keys.keys()].filter((i) => !isEmpty(column[i]));
  filled.sort((a, b) => (keys[a]! < keys[b]! ? -1 : keys[a]! > keys[b]! ? 1 : 0));
  const found = new Int32Array(column.length).fill(-1);
  filled.forEach((row, i) => (found[row] = i > 0 && keys[row] === keys[filled[i - 1]!] ? found[filled[i - 1]!]! : i));
  places.set(column, found);
  return found;
}

/** What is searched of every row. */
const searched = new WeakMap<Columns, string[]>();

function textsOf(of: Columns, count: number): string[] {
  const known = searched.get(of);
  if (known) return known;
  const parts = ["id", "name", "plan", "sector"].map((name) => of.get(name)).filter((c) => c !== undefined);
  const texts = Array.from({ length: count }, (_, i) => parts.map((c) => c[i] ?? "").join(" ").toLowerCase());
  searched.set(of, texts);
  return texts;
}

export type Wish = { readonly search: string; readonly group: string | null; readonly sort: string; readonly direction: 1 | -1 };

/** What a row is grouped by: what holds it back, or its verdict where nothing does. */
export function groupOf(of: Columns, index: number): string {
  return String(of.get("limit_cause")?.[index] ?? of.get("verdict")?.[index] ?? "");
}

/** Indices of the rows that a wish leaves, in its order. */
export function rows(of: Columns, count: number, wish: Wish): number[] {
  const words = wish.search.toLowerCase().split(/\s+/).filter((word) => word !== "");
  const texts = words.length === 0 ? [] : textsOf(of, count);
  const found: number[] = [];
  for (let i = 0; i < count; i++) {
    if (wish.group !== null && groupOf(of, i) !== wish.group) continue;
    if (words.every((word) => texts[i]!.includes(word))) found.push(i);
  }
  const column = of.get(wish.sort);
  if (!column) return found;
  const place = placesOf(column);
  // Empty values come last whichever way it is sorted.
  found.sort((a, b) => {
    if (place[a]! < 0 || place[b]! < 0) return Number(place[a]! < 0) - Number(place[b]! < 0) || a - b;
    return (place[a]! - place[b]!) * wish.direction || a - b;
  });
  return found;
}

/** Groups with how many rows each has, the largest first. */
export function groups(of: Columns, count: number): { name: string; rows: number }[] {
  const counted = new Map<string, number>();
  for (let i = 0; i < count; i++) counted.set(groupOf(of, i), (counted.get(groupOf(of, i)) ?? 0) + 1);
  return [...counted].map(([name, rows]) => ({ name, rows })).sort((a, b) => b.rows - a.rows || a.name.localeCompare(b.name));
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
