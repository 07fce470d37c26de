// The only file that speaks to the server. It keeps no state.

import type { components } from "./types.gen";

type Schemas = components["schemas"];
export type Accepted = Schemas["Accepted"];
export type Bounds = Schemas["Bounds"];
export type BudgetTerm = Schemas["BudgetTerm"];
export type BusyHour = Schemas["BusyHour"];
export type BusyHourQuestion = Schemas["BusyHourQuestion"];
export type Card = Schemas["Card"];
export type Catalogue = Schemas["Catalogue"];
export type Cause = Schemas["Cause"];
export type Change = Schemas["Change"];
export type ClassAirtime = Schemas["ClassAirtime"];
export type ColumnChoice = Schemas["ColumnChoice"];
export type Consequence = Schemas["Consequence"];
export type Counts = Schemas["Counts"];
export type CoverageOutputs = Schemas["CoverageOutputs"];
export type CoverageList = Schemas["CoverageList"];
export type DirectionFacts = Schemas["DirectionFacts"];
export type Finding = Schemas["Finding"];
export type Findings = Schemas["Findings"];
export type Geometry = Schemas["Geometry"];
export type PremisesFacts = Schemas["PremisesFacts"];
export type PremisesState = Schemas["PremisesState"];
export type GridHead = Schemas["GridHead"];
export type ImportPreview = Schemas["ImportPreview"];
export type ImportedFile = Schemas["ImportedFile"];
export type Job = Schemas["Job"];
export type JobStarted = Schemas["JobStarted"];
export type Ledger = Schemas["Ledger"];
export type Network = Schemas["Network"];
export type OutputList = Schemas["OutputList"];
export type PreviewQuestion = Schemas["PreviewQuestion"];
export type Problem = Schemas["Problem"];
export type Project = Schemas["Project"];
export type Quantity = Schemas["Quantity"];
export type SectorMark = Schemas["SectorMark"];
export type SectorNumber = Schemas["SectorNumber"];
export type SectorStudy = Schemas["SectorStudy"];
export type SectorSheet = Schemas["SectorSheet"];
export type Section = Schemas["Section"];
export type Start = Schemas["Start"];
export type Verdict = Schemas["Verdict"];
export type WhatIf = Schemas["WhatIf"];
export type Why = Schemas["Why"];
export type WhyQuestion = Schemas["WhyQuestion"];

/** An answer that is none: what went wrong, and what to do. */
export class Refused extends Error {
  constructor(readonly problem: Problem, readonly status: number) {
    super(problem.message);
  }
}

/** A grid as it comes: its head, and its values row by row from the north-west. */
export type Grid = { readonly head: GridHead; readonly values: Float32Array };

const GRID_MARK = "MWG1";

async function answer(response: Response): Promise<Response> {
  if (response.ok) return response;
  const text = await response.text();
  let problem: Problem;
  try {
    problem = JSON.parse(text) as Problem;
  } catch {
    problem = { code: "unreadable", message: text || response.statusText, hint: "" };
  }
  throw new Refused(problem, response.status);
}

async function get<T>(address: string, signal?: AbortSignal): Promise<T> {
  const response = await answer(await fetch(address, { signal: signal ?? null }));
  return (await response.json()) as T;
}

type Sent = { revision?: string; signal?: AbortSignal };

async function send(address: string, body: unknown, { revision, signal }: Sent = {}): Promise<Response> {
  const headers: Record<string, string> = { "content-type": "application/json" };
  if (revision !== undefined) headers["if-match"] = `"${revision}"`;
  return answer(await fetch(address, { method: "POST", headers, body: JSON.stringify(body), signal: signal ?? null }));
}

async function post<T>(address: string, body: unknown, sent: Sent = {}): Promise<T> {
  return (await (await send(address, body, sent)).json()) as T;
}

async function sendFile<T>(address: string, file: Blob): Promise<T> {
  const headers = { "content-type": "application/octet-stream" };
  return (await (await answer(await fetch(address, { method: "POST", headers, body: file }))).json()) as T;
}

async function readGrid(response: Response): Promise<Grid> {
  const bytes = await response.arrayBuffer();
  const mark = new TextDecoder().decode(new Uint8Array(bytes, 0, 4));
  if (mark !== GRID_MARK) throw new Error("the coverage grid cannot be read");
  const headLength = new DataView(bytes).getUint32(4, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 8, headLength))) as GridHead;
  return { head, values: new Float32Array(bytes, 8 + headLength, head.width * head.height) };
}

function query(values: Record<string, string | number | boolean | null | undefined>): string {
  const pairs = new URLSearchParams();
  for (const [name, value] of Object.entries(values)) {
    if (value !== null && value !== undefined && value !== "") pairs.set(name, String(value));
  }
  const text = pairs.toString();
  return text === "" ? "" : `?${text}`;
}

const id = encodeURIComponent;

export const api = {
  project: () => get<Project>("/api/project"),
  network: () => get<Network>("/api/network"),
  catalogue: () => get<Catalogue>("/api/catalogue"),
  findings: () => get<Findings>("/api/findings"),
  ledger: () => get<Ledger>("/api/ledger"),
  sector: (sector: string) => get<SectorSheet>(`/api/sectors/${id(sector)}`),
  busyHour: (sector: string, question: BusyHourQuestion, signal: AbortSignal) =>
    post<BusyHour>(`/api/sectors/${id(sector)}/busy-hour`, question, { signal }),
  why: (question: WhyQuestion, signal?: AbortSignal) => post<Why>("/api/why", question, signal ? { signal } : {}),
  whatIf: (question: WhatIf, signal?: AbortSignal) => post<Consequence>("/api/what-if", question, signal ? { signal } : {}),
  accept: (changes: Change[], label: string, revision: string) => post<Accepted>("/api/edits", { changes, label }, { revision }),
  undo: (revision: string) => post<Accepted>("/api/undo", {}, { revision }),
  redo: (revision: string) => post<Accepted>("/api/redo", {}, { revision }),
  contours: () => get<GeoJSON.FeatureCollection>("/api/contours"),
  buildings: () => get<GeoJSON.FeatureCollection>("/api/buildings"),
  coverageList: () => get<CoverageList>("/api/coverage"),
  coverage: async (quantity: string, sector: string | null, signal?: AbortSignal): Promise<Grid> =>
    readGrid(await answer(await fetch(`/api/coverage/${id(quantity)}${query({ sector })}`, { signal: signal ?? null }))),
  preview: async (question: PreviewQuestion, signal?: AbortSignal): Promise<Grid> =>
    readGrid(await send("/api/preview", question, signal ? { signal } : {})),
  start: (start: Start) => post<Accepted>("/api/start", start),
  study: () => post<JobStarted>("/api/study", {}),
  jobs: () => get<Job[]>("/api/jobs"),
  cancel: (job: number) => send(`/api/jobs/${job}/cancel`, {}),
  previewImport: (file: Blob, choice: ColumnChoice) => sendFile<ImportPreview>(`/api/import/preview${query(choice)}`, file),
  acceptImport: (file: Blob, choice: ColumnChoice, revision: string) =>
    sendFile<Accepted>(`/api/import/accept${query({ ...choice, revision })}`, file),
  importFile: (file: Blob, name: string) => sendFile<ImportedFile>(`/api/import/file${query({ file_name: name })}`, file),
  outputs: () => get<OutputList>("/api/outputs"),
  writeCoverage: (wanted: CoverageOutputs) => post<JobStarted>("/api/coverage-outputs", wanted),
  writeOutputs: () => post<JobStarted>("/api/outputs", {}),
};
