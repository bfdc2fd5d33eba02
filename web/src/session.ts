// What the page knows of the running session: layout, rows, older buckets, findings. It
// draws nothing; those who draw ask to be told.

import { fetchHistory } from "./api.ts";
import type { Analysis, Layout, Mark, Result, Setting } from "./layout.ts";
import { Store } from "./store.ts";
import type { Buckets, Row } from "./wire.ts";

/** What has changed, for those who draw. */
export type Change = "layout" | "row" | "analysis" | "marks" | "setup" | "history" | "contact";

export type Contact =
  | { state: "starting" }
  | { state: "live" }
  | { state: "lost"; since: Date }
  | { state: "kept" }
  | { state: "ended"; why: string };

/** So many seconds an old word of the analysis is drawn on. */
const DRAWN_ON_S = 6;

export class Session {
  layout: Layout | null = null;
  store = new Store(0);
  old: Buckets | null = null;
  analysis: Analysis = {};
  marks: Mark[] = [];
  setup: Setting[] = [];
  contact: Contact = { state: "starting" };
  private readonly listeners = new Map<Change, (() => void)[]>();
  private asking = false;
  private askedTo = "";
  private readonly base: string;

  /** base is where its history is asked for. */
  constructor(base = "/api") {
    this.base = base;
  }

  on(change: Change, call: () => void): void {
    const list = this.listeners.get(change) ?? [];
    list.push(call);
    this.listeners.set(change, list);
  }

  protected tell(change: Change): void {
    for (const call of this.listeners.get(change) ?? []) call();
  }

  /** Takes a layout; a new session or other channels start from nothing. True if so. */
  setLayout(layout: Layout): boolean {
    const before = this.layout;
    const fresh = !before || before.session.id !== layout.session.id || before.channels_version !== layout.channels_version;
    this.layout = layout;
    if (fresh) {
      this.store = new Store(layout.channels.length);
      this.old = null;
      this.askedTo = "";
      this.analysis = before && before.session.id === layout.session.id ? this.analysis : {};
    }
    this.marks = layout.marks ?? [];
    this.setup = layout.setup ?? [];
    this.tell("layout");
    this.tell("marks");
    this.tell("setup");
    return fresh;
  }

  push(row: Row): void {
    if (this.store.push(row)) this.tell("row");
  }

  setAnalysis(analysis: Analysis): void {
    this.analysis = analysis;
    this.tell("analysis");
  }

  setMark(mark: Mark): void {
    const others = this.marks.filter((m) => m.id !== mark.id);
    this.marks = [...others, mark].sort((a, b) => a.at_s - b.at_s);
    this.tell("marks");
  }

  setSetup(setup: Setting[]): void {
    this.setup = setup;
    this.tell("setup");
  }

  setContact(contact: Contact): void {
    this.contact = contact;
    this.tell("contact");
  }

  /** Drops the ring but keeps the session: a hole too long to fill was met. */
  restartRing(): void {
    this.store = new Store(this.layout?.channels.length ?? 0);
    this.askedTo = "";
  }

  get result(): Result {
    return this.analysis.result ?? {};
  }

  /** Did a span still go on when the analysis spoke last? */
  goesOn(end: number | null): boolean {
    const known = this.result.until_s ?? this.store.lastTime;
    return end === null || known - end < Math.max(0.5, 3 * this.period);
  }

  /**
   * The end of a span as it is drawn at the present. The analysis speaks every second or
   * few: what went on then is drawn on, but not further than it can be trusted.
   */
  openEnd(end: number | null, present: number): number {
    if (end === null) return present;
    return this.goesOn(end) && present - end < DRAWN_ON_S ? present : end;
  }

  get period(): number {
    return this.layout?.session.period_s || 0.1;
  }

  /** The channel that holds a role, or -1. */
  role(role: string): number {
    return this.layout?.channels.find((c) => c.role === role)?.index ?? -1;
  }

  /** Sees that the buckets before the ring cover a span at about this many pixels. */
  wantHistory(from: number, to: number, pixels: number): void {
    const end = Math.min(to, this.store.length ? this.store.firstTime : to);
    const start = Math.max(0, from);
    if (!this.layout || this.asking || end - start < this.period) return;
    const key = `${Math.floor(start / (to - from) * 8)} ${Math.ceil(end)} ${Math.round((to - from) * 10)}`;
    if (key === this.askedTo) return;
    this.askedTo = key;
    this.asking = true;
    const layout = this.layout;
    const span = to - from;
    fetchHistory(Math.max(0, start - span / 4), end, Math.min(2000, Math.max(60, Math.ceil((pixels / 2) * 1.5))), this.base)
      .then((buckets) => {
        if (!buckets || this.layout !== layout || buckets.channels !== layout.channels.length) return;
        this.old = buckets;
        this.tell("history");
      })
      .catch(() => { this.askedTo = ""; })
      .finally(() => { this.asking = false; });
  }
}
