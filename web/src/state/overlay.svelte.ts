// The coverage that lies over the map, and the aim that is being tried out.

import { api, type Change, type Counts, type CoverageList, type Grid } from "../api/client";
import { open } from "./project.svelte";

/** A sector as it would be, while a person drags or slides. */
export type Trial = { readonly sector: string; readonly changes: Change[]; readonly azimuth_deg: number | null };

const WINDOW = crypto.randomUUID();

class Overlay {
  list = $state.raw<CoverageList | null>(null);
  quantity = $state<string | null>(null);
  sector = $state<string | null>(null);
  grid = $state.raw<Grid | null>(null);
  trial = $state.raw<Trial | null>(null);
  /** Counts with the trial; null where none is tried. */
  counts = $state.raw<Counts | null>(null);
  isBusy = $state(false);
  /** Number of the newest trial, and of the one whose answer is shown. */
  tried = $state(0);
  answered = $state(0);

  private wanted: Trial | null = null;
  private isAsking = false;
  private reading: AbortController | null = null;

  async readList(): Promise<void> {
    this.list = await open.attempt(() => api.coverageList());
  }

  async show(quantity: string | null, sector: string | null): Promise<void> {
    this.quantity = quantity;
    this.sector = sector;
    await this.read();
  }

  /** Reads the coverage of the design as it stands. */
  async read(): Promise<void> {
    this.reading?.abort();
    const { quantity, sector } = this;
    if (quantity === null) {
      this.grid = null;
      return;
    }
    const reading = new AbortController();
    this.reading = reading;
    this.isBusy = true;
    const grid = await open.attempt(() => api.coverage(quantity, sector, reading.signal));
    if (this.reading === reading) {
      this.isBusy = false;
      if (grid) this.grid = grid;
    }
  }

  /** Tries a change; while one is worked out only the newest waits. */
  try(trial: Trial): void {
    this.trial = trial;
    this.wanted = trial;
    this.tried += 1;
    if (!this.isAsking) void this.askNext();
  }

  /** Ends the trial; what it showed goes unless it was accepted. */
  async end(): Promise<void> {
    const had = this.trial !== null;
    this.trial = null;
    this.wanted = null;
    this.counts = null;
    if (had) await this.read();
  }

  private async askNext(): Promise<void> {
    const trial = this.wanted;
    if (!trial) return;
    this.wanted = null;
    this.isAsking = true;
    const ticket = this.tried;
    const grid = await open.attempt(() =>
      api.preview({
        changes: trial.changes,
        ticket,
        window: WINDOW,
        quantity: this.quantity,
        sector: this.sector,
        with_counts: true,
      }),
    );
    this.isAsking = false;
    if (grid && this.trial) {
      this.answered = ticket;
      this.counts = grid.head.counts ?? null;
      if (this.quantity !== null) this.grid = grid;
    }
    if (this.wanted) void this.askNext();
  }
}

export const overlay = new Overlay();
