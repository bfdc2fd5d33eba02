// What narrows the list of sessions: text for the archive to find; state, condition and
// kind of machine among what it gave.

import { byId, el, put } from "./dom.ts";
import type { Kept } from "./sessions-wire.ts";

/** So long after the last key the archive is asked. */
const PAUSE_MS = 200;
/** At most so many conditions are offered. */
const OFFERED = 40;

export class SessionFilter {
  private readonly find = byId("find") as HTMLInputElement;
  private readonly state = byId("find-state") as HTMLSelectElement;
  private readonly kind = byId("find-kind") as HTMLSelectElement;
  private readonly setup = byId("find-setup") as HTMLSelectElement;
  private offered = "";
  private pause = 0;

  /** ask is called where the archive must be asked anew, show where what it gave does. */
  constructor(ask: () => void, show: () => void) {
    this.find.addEventListener("input", () => {
      clearTimeout(this.pause);
      this.pause = window.setTimeout(ask, PAUSE_MS);
    });
    this.state.addEventListener("change", ask);
    for (const select of [this.kind, this.setup]) select.addEventListener("change", show);
    byId("find-form").addEventListener("submit", (e) => e.preventDefault());
  }

  get text(): string {
    return this.find.value.trim().slice(0, 60);
  }

  get deleted(): boolean {
    return this.state.value === "deleted";
  }

  /** Is anything asked for? */
  get narrows(): boolean {
    return this.text !== "" || [this.state, this.kind, this.setup].some((s) => s.value !== "");
  }

  takes(kept: Kept): boolean {
    const state = this.state.value;
    if (state === "pinned" && !kept.pinned) return false;
    if (state && state !== "deleted" && state !== "pinned" && kept.state !== state) return false;
    if (this.kind.value && kept.simulated !== (this.kind.value === "simulated")) return false;
    return !this.setup.value || kept.setup.some((s) => `${s.key}: ${s.value}` === this.setup.value);
  }

  /** Offers the conditions that occur, and keeps the one that is chosen. */
  offer(all: Kept[]): void {
    const chosen = this.setup.value;
    const found = new Set(all.flatMap((k) => k.setup.map((s) => `${s.key}: ${s.value}`)));
    if (chosen) found.add(chosen);
    const list = [...found].sort().slice(0, OFFERED);
    const key = JSON.stringify(list);
    if (key === this.offered) return;
    this.offered = key;
    put(this.setup, el("option", { value: "" }, "any setup"), ...list.map((words) => el("option", { value: words }, words)));
    this.setup.value = chosen;
  }
}
