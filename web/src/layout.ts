// The JSON that the server sends, as DEVELOPERS.md describes it.

export interface Channel {
  index: number;
  key: string;
  name: string;
  unit: string;
  quantity: string;
  role: string;
  source: string;
  device: string;
  refresh_s: number;
  labels: string[] | null;
  simulated: boolean;
}

export interface Limit {
  name: string;
  value?: number | null;
  channel?: number | null;
}

export interface Lane {
  id: string;
  title: string;
  unit: string;
  channels: number[];
  /** Further channels of the same quantity, not drawn at first. */
  more?: number[] | null;
  limits: Limit[] | null;
}

export interface Mark {
  id: number | string;
  at_s: number;
  kind: string;
  text: string;
}

export interface Setting {
  key: string;
  value: string;
}

export interface Missing {
  name: string;
  source: string;
  role: string;
  reason: string;
  remedy: string;
}

export interface Limiter {
  kind: string;
  title: string;
  meaning: string;
}

export interface RigSetup {
  name: string;
  title: string;
  about: string;
}

export interface Layout {
  version: number;
  session: { id: string; start: string; host: string; origin: string; simulated: boolean; period_s: number };
  channels_version: number;
  channels: Channel[];
  lanes: Lane[];
  charts: Record<string, unknown>;
  states: string[];
  limiters: Limiter[] | null;
  token: string;
  rig: { setups: RigSetup[]; selected: string } | null;
  setup: Setting[] | null;
  marks: Mark[] | null;
  missing: Missing[] | null;
  limit_c: number | null;
  last_seq: number;
  /** The setup of the machine's last session: what is not noted yet, and what is otherwise now. */
  last_setup?: { session: string; setup: Setting[] | null; changed: { key: string; before: string; now: string }[] | null } | null;
  /** Why the session is over; null while it runs. */
  ended?: string | null;
}

type Num = number | null;

export interface Result {
  /** How far the trace was known to the analysis. */
  until_s?: Num;
  load?: { start_s: Num; end_s: Num }[] | null;
  limiter?: { start_s: Num; end_s: Num; kind: string; source: string; confidence: Num; second?: string | null }[] | null;
  power_step?: {
    found: boolean; time_s: Num; short_w: Num; long_w: Num; time_constant_s: Num; cause: string | null;
    stated_time_constant_s?: Num; times_s?: Num[] | null;
  };
  thermal_hits?: { start_s: Num; end_s: Num; limit_c: Num }[] | null;
  steady?: {
    reached: boolean; since_s: Num; temperature_c: Num; power_w: Num;
    forecast_c: Num; forecast_low_c: Num; forecast_high_c: Num; eta_s: Num; why?: string;
  };
  thermal_path?: {
    reference_c: Num; reference_source: string; rth_k_per_w: Num; rth_low_k_per_w: Num; rth_high_k_per_w: Num;
    near_k_per_w: Num; far_k_per_w: Num; why?: string;
    near_low_k_per_w?: Num; near_high_k_per_w?: Num; far_low_k_per_w?: Num; far_high_k_per_w?: Num;
  };
  headroom?: { limit_c: Num; margin_k: Num; power_w: Num; power_low_w: Num; power_high_w: Num; next_step_w: Num; tested_to_w: Num; why?: string };
  warnings?: string[] | null;
}

export interface Analysis {
  say?: { text: string; parts: { text: string; evidence: string }[] | null } | null;
  result?: Result | null;
  self?: { cpu_pct: Num; rss_mib: Num; late_ms_p99: Num; viewers: Num; keeping?: { state: string; why: string } } | null;
}

/** The events of the stream. */
export type StreamEvent =
  | { kind: "layout" }
  | { kind: "mark"; mark: Mark }
  | { kind: "setup"; setup: Setting[] }
  | ({ kind: "analysis" } & Analysis)
  | { kind: "end"; why: string };
