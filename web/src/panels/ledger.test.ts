import { describe, expect, it } from "vitest";
import type { Ledger } from "../api/client";
import { columns, csv, groups, rows } from "./ledger";

const ledger = {
  revision: "r", rows: 4,
  columns: [
    { name: "id", kind: "text", meaning: "", values: ["p10", "p2", "p3", "p4"] },
    { name: "name", kind: "text", meaning: "", values: ["Mill, upper", "Barn", "Farm", "Mill lower"] },
    { name: "verdict", kind: "text", meaning: "", values: ["served", "unserved", "unserved", "served"] },
    { name: "limit_cause", kind: "text", meaning: "", values: [null, "terrain", "airtime", null] },
    { name: "margin_db", kind: "number", meaning: "", values: [3, null, -2, 11] },
  ],
} as unknown as Ledger;
const of = columns(ledger);
const wish = { search: "", group: null, sort: "id", direction: 1 } as const;

describe("the ledger", () => {
  it("sorts numbers in names as numbers", () => expect(rows(of, 4, wish)).toEqual([1, 2, 3, 0]));
  it("keeps empty values last both ways", () => {
    expect(rows(of, 4, { ...wish, sort: "margin_db" })).toEqual([2, 0, 3, 1]);
    expect(rows(of, 4, { ...wish, sort: "margin_db", direction: -1 })).toEqual([3, 0, 2, 1]);
  });
  it("finds rows that have all words", () => expect(rows(of, 4, { ...wish, search: "mill low" })).toEqual([3]));
  it("groups by what holds back", () => expect(groups(of, 4)[0]).toEqual({ name: "served", rows: 2 }));
  it("shows one group", () => expect(rows(of, 4, { ...wish, group: "terrain" })).toEqual([1]));
  it("quotes what a comma would break", () => expect(csv(ledger, [0])).toContain('"Mill, upper"'));
});
