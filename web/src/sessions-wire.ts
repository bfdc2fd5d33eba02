// The JSON of kept sessions, as DEVELOPERS.md describes it, and the requests for it.

import { ask, fetchHistory, type Changes } from "./api.ts";
import type { Analysis, Layout, Setting } from "./layout.ts";
import type { Buckets } from "./wire.ts";

type Num = number | null;

export interface Score {
  name: string;
  value: number;
  unit: string;
  higher_is_better: boolean;
}

/** A session of the archive. */
export interface Kept {
  id: string;
  name: string;
  start: string | null;
  stored: string;
  length_s: number;
  channels: number;
  rows: number;
  state: string;
  why: string;
  origin: string;
  host: string;
  simulated: boolean;
  pinned: boolean;
  deleted: string | null;
  setup: Setting[];
  scores: Score[];
  marks: number;
  shown: boolean;
}

export interface KeptList {
  sessions: Kept[];
  more: boolean;
}

export type KeptLayout = Layout & { kept: Kept };

export interface Run {
  kept: Kept;
  load_start_s: Num;
  load_end_s: Num;
  power_w: Num;
  warnings: string[];
}

export interface Side {
  letter: string;
  runs: Run[];
}

export interface Metric {
  name: string;
  unit: string;
  n_a: number;
  n_b: number;
  a: Num;
  b: Num;
  change_pct: Num;
  low_pct: Num;
  high_pct: Num;
  real: boolean | null;
  why: string;
}

export interface Comparison {
  setup_changes: { key: string; a: string; b: string }[];
  thermal_path: {
    verdict: string; why: string;
    near_ratio: Num; near_low: Num; near_high: Num; far_ratio: Num; far_low: Num; far_high: Num;
    near_a_k_per_w: Num; far_a_k_per_w: Num; near_b_k_per_w: Num; far_b_k_per_w: Num;
  };
  metrics: Metric[];
  warnings: string[];
}

export interface Compared {
  sides: Side[];
  comparisons: { a: string; b: string; say: string; comparison: Comparison }[];
}

const at = (id: string) => `/api/sessions/${encodeURIComponent(id)}`;

async function json<T>(path: string): Promise<T> {
  return (await (await ask(path)).json()) as T;
}

export const fetchKept = (find: string, deleted: boolean): Promise<KeptList> =>
  json(`/api/sessions?find=${encodeURIComponent(find)}&deleted=${deleted ? 1 : 0}`);

export const fetchKeptLayout = (id: string): Promise<KeptLayout> => json(`${at(id)}/layout`);
export const fetchKeptAnalysis = (id: string): Promise<Analysis> => json(`${at(id)}/analysis`);
export const keptBase = at;

export const fetchKeptHistory = (id: string, from: number, to: number, count: number): Promise<Buckets | null> =>
  fetchHistory(from, to, count, at(id));

export const fetchCompared = (sides: string[][]): Promise<Compared> =>
  json(`/api/compare?${sides.map((ids) => `side=${ids.map(encodeURIComponent).join(",")}`).join("&")}`);

/** The changes of a kept session; each carries the page's token. */
export class KeptChanges {
  private readonly changes: Changes;

  constructor(changes: Changes) {
    this.changes = changes;
  }

  /** False for a viewer who may look only. */
  get allowed(): boolean {
    return this.changes.token !== "";
  }

  rename(id: string, name: string): Promise<Kept> {
    return this.changes.send("POST", `${at(id)}/name`, { name }) as Promise<Kept>;
  }

  pin(id: string, pinned: boolean): Promise<Kept> {
    return this.changes.send("POST", `${at(id)}/pin`, { pinned }) as Promise<Kept>;
  }

  remove(id: string): Promise<unknown> {
    return this.changes.send("DELETE", at(id), {});
  }

  restore(id: string): Promise<Kept> {
    return this.changes.send("POST", `${at(id)}/restore`, {}) as Promise<Kept>;
  }
}
