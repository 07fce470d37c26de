// The open project as the page knows it. The server owns it; this is its latest word.

import { type Accepted, api, type Catalogue, type Change, type Findings, type Network, type Project, Refused } from "../api/client";

export type Work = { readonly job: number; readonly stage: string; readonly done: number; readonly total: number };

const SILENCE_MS = 700;

class OpenProject {
  project = $state.raw<Project | null>(null);
  network = $state.raw<Network | null>(null);
  findings = $state.raw<Findings | null>(null);
  catalogue = $state.raw<Catalogue | null>(null);
  work = $state.raw<Work | null>(null);
  /** What could not be done, until the person has read it. */
  refusal = $state.raw<Refused | Error | null>(null);
  isReachable = $state(true);
  /** Grows with every change of the answers: what shows answers reads it. */
  edition = $state(0);

  private silence: ReturnType<typeof setTimeout> | undefined;
  private reading: Promise<void> | null = null;
  private isReadAgainWanted = false;

  /** Reads everything; calls that come while one is under way share one more. */
  read(): Promise<void> {
    if (this.reading) {
      this.isReadAgainWanted = true;
      return this.reading;
    }
    this.reading = this.readAll().finally(() => {
      this.reading = null;
      if (this.isReadAgainWanted) {
        this.isReadAgainWanted = false;
        void this.read();
      }
    });
    return this.reading;
  }

  private async readAll(): Promise<void> {
    await this.attempt(async () => {
      const [project, findings] = await Promise.all([api.project(), api.findings()]);
      this.network = project.state === "ready" ? await api.network() : null;
      this.catalogue ??= await api.catalogue();
      this.project = project;
      this.findings = findings;
      this.edition += 1;
    });
  }

  /** Makes changes; true once they are on disk. */
  async accept(changes: Change[], label: string): Promise<boolean> {
    return this.change((revision) => api.accept(changes, label, revision));
  }

  undo = (): Promise<boolean> => this.change((revision) => api.undo(revision));
  redo = (): Promise<boolean> => this.change((revision) => api.redo(revision));

  /** Shows work while it goes on. Work that falls silent is asked after: not all of it tells its end. */
  private follow(work: Work): void {
    this.work = work;
    clearTimeout(this.silence);
    this.silence = setTimeout(async () => {
      const jobs = await api.jobs().catch(() => []);
      if (!jobs.some((job) => job.id === work.job)) this.work = null;
      else if (this.work) this.follow(this.work);
    }, SILENCE_MS);
  }

  /** Runs something that may be refused, and keeps the refusal for the person to read. */
  async attempt<T>(what: () => Promise<T>): Promise<T | null> {
    try {
      return await what();
    } catch (error) {
      if (error instanceof DOMException && error.name === "AbortError") return null;
      this.refusal = error instanceof Error ? error : new Error(String(error));
      return null;
    }
  }

  private async change(what: (revision: string) => Promise<Accepted>): Promise<boolean> {
    const accepted = await this.attempt(() => what(this.project?.revision ?? ""));
    await this.read();
    return accepted !== null;
  }

  /** Follows what the server tells for as long as the page is open. */
  listen(): () => void {
    const events = new EventSource("/api/events");
    const on = (name: string, act: (data: Record<string, unknown>) => void): void =>
      events.addEventListener(name, (event) => act(JSON.parse((event as MessageEvent<string>).data) as Record<string, unknown>));
    events.onopen = () => (this.isReachable = true);
    events.onerror = () => (this.isReachable = false);
    on("hello", (data) => {
      if (this.project && data["revision"] !== this.project.revision) void this.read();
    });
    on("progress", (data) => this.follow(data as unknown as Work));
    for (const ended of ["study_finished", "stopped", "outputs_written"]) {
      on(ended, () => {
        this.work = null;
        void this.read();
      });
    }
    on("changed", () => void this.read());
    on("missed", () => void this.read());
    return () => events.close();
  }
}

export const open = new OpenProject();
