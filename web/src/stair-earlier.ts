// The earlier session whose stair stands behind the present one: the last of the same machine
// that tells both parts of the heat's way, or the one that was chosen.

import { byId, el, put } from "./dom.ts";
import type { Session } from "./session.ts";
import { fetchKept, fetchKeptAnalysis, type Kept } from "./sessions-wire.ts";
import { title, when } from "./sessions-words.ts";
import { wayOf, type Way } from "./stair-words.ts";

/** So many are tried by themselves, so many are offered: opening one costs the program work. */
const TRIED = 3;
const OFFERED = 20;

export class Earlier {
  way: Way | null = null;
  /** Is there any to choose? */
  offered = false;
  name = "";
  private readonly session: Session;
  private readonly changed: () => void;
  private readonly select = byId("stair-earlier") as HTMLSelectElement;
  private list: Kept[] = [];
  private askedFor = "";

  constructor(session: Session, changed: () => void) {
    this.session = session;
    this.changed = changed;
    this.select.addEventListener("change", () => void this.choose(this.select.value));
  }

  /** Looks for one, once for each session that is shown. */
  look(): void {
    const id = this.session.layout?.session.id ?? "";
    if (id === this.askedFor) return;
    this.askedFor = id;
    this.set(null, null);
    this.offered = false;
    byId("stair-behind").hidden = true;
    this.find(id).catch(() => undefined); // no archive: no outline
  }

  private async find(id: string): Promise<void> {
    const about = this.session.layout!.session;
    const all = (await fetchKept("", false)).sessions;
    this.list = all.filter((k) => k.id !== id && !k.shown && k.state !== "recording" && k.host === about.host && k.simulated === about.simulated).slice(0, OFFERED);
    if (id !== this.askedFor || !this.list.length) return;
    put(this.select, el("option", { value: "" }, "nothing"), ...this.list.map((k) => el("option", { value: k.id }, `${title(k)}, ${when(k)}`)));
    this.offered = true;
    byId("stair-behind").hidden = false;
    for (const kept of this.list.slice(0, TRIED)) {
      const way = await this.wayOf(kept);
      if (id !== this.askedFor || this.select.value) return;
      if (!way) continue;
      this.select.value = kept.id;
      this.set(kept, way);
      return;
    }
  }

  private async wayOf(kept: Kept): Promise<Way | null> {
    return wayOf((await fetchKeptAnalysis(kept.id)).result?.thermal_path);
  }

  private async choose(id: string): Promise<void> {
    const kept = this.list.find((k) => k.id === id);
    this.set(null, null);
    byId("stair-fault").textContent = "";
    if (!kept) return;
    const way = await this.wayOf(kept).catch(() => null);
    if (this.select.value !== id) return;
    if (way) this.set(kept, way);
    else byId("stair-fault").textContent = "That session does not tell the two parts of the way.";
  }

  private set(kept: Kept | null, way: Way | null): void {
    this.way = way;
    this.name = kept ? title(kept) : "";
    this.changed();
  }
}
