import { describe, expect, it } from "vitest";
import { bySuffix, decimals, distance, height, percent } from "./format";

describe("numbers to text", () => {
  it("keeps the unit beside the number", () => expect(distance(1234, "metric")).toBe("1.23\u202fkm"));
  it("turns metres into feet exactly", () => expect(height(30.48, "imperial")).toBe("100\u202fft"));
  it("turns kilometres into miles exactly", () => expect(distance(16093.44, "imperial")).toBe("10.00\u202fmi"));
  it("never shows a negative nought", () => expect(decimals(-0.04, 1)).toBe("0.0"));
  it("shows a true minus sign", () => expect(decimals(-71.25, 1)).toBe("\u221271.3"));
  it("shows what is missing as a dash", () => expect(percent(null)).toBe("–"));
  it("reads the unit off the name", () => expect(bySuffix("rsl_dbm", -70, "metric")).toBe("\u221270.0\u202fdBm"));
});
