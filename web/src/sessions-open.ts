// A kept session in the river: its layout, rows and findings come from the archive; above
// it stands what it is, and a line that says what the machine does now.

import { fetchRows } from "./api.ts";
import { joined } from "./compare-choice.ts";
import { byId, el, put, setText } from "./dom.ts";
import { duration } from "./numbers.ts";
import type { River } from "./river.ts";
import { Session } from "./session.ts";
import type { Places } from "./sessions-place.ts";
import type { Shown } from "./sessions-shown.ts";
import { fetchKept, fetchKeptAnalysis, fetchKeptLayout, keptBase, type Kept } from "./sessions-wire.ts";
import { beside, title, when } from "./sessions-words.ts";

/** Rows that the page holds at full rate: an hour at 10 Hz; older ones come as buckets. */
const HELD = 36_000;
const AT_ONCE = 6_000;

export class OpenSession {
  private readonly live: Session;
  private readonly shown: Shown;
  private readonly river: River;
  private readonly places: Places;
  private asked = "";
  private wanted = 0; // the window of the river of now, to come back to

  constructor(live: Session, shown: Shown, river: River, places: Places) {
    this.live = live;
    this.shown = shown;
    this.river = river;
    this.places = places;
    places.on((place) => {
      if (place.at === "session") void this.open(place.id);
      else this.close();
    });
    for (const change of ["analysis", "contact", "layout"] as const) live.on(change, () => this.sayNow());
  }

  private close(): void {
    this.asked = "";
    if (!this.shown.kept) return;
    const { view } = this.river;
    this.shown.show(null);
    view.still = false;
    view.following = true;
    view.setSpan(this.wanted);
  }

  private async open(id: string): Promise<void> {
    if (this.asked === id) return;
    this.asked = id;
    this.head("Opening the session\u2026", null);
    try {
      const session = await this.load(id);
      if (this.asked === id) this.show(session);
    } catch (fault) {
      if (this.asked === id) this.head(`It cannot be opened: ${(fault as Error).message}.`, null);
    }
  }

  private async load(id: string): Promise<{ session: Session; kept: Kept }> {
    const layout = await fetchKeptLayout(id);
    const session = new Session(keptBase(id));
    session.contact = { state: "kept" };
    session.setLayout(layout);
    for (let after = Math.max(0, layout.last_seq - HELD); after < layout.last_seq; ) {
      const rows = await fetchRows(after, AT_ONCE, keptBase(id));
      if (!rows.length) break;
      for (const row of rows) session.push(row);
      after = rows.at(-1)!.seq;
    }
    session.setAnalysis(await fetchKeptAnalysis(id));
    return { session, kept: layout.kept };
  }

  private show({ session, kept }: { session: Session; kept: Kept }): void {
    const { view } = this.river;
    if (!this.shown.kept) this.wanted = view.wanted;
    this.shown.show(session);
    view.still = true;
    view.following = true;
    view.setNow(session.store.lastTime);
    view.setSpan(Math.max(10, session.store.lastTime / (1 - (view.constructor as typeof import("./view.ts").View).AHEAD)));
    this.head(title(kept), kept);
  }

  private head(heading: string, kept: Kept | null): void {
    setText(byId("kept-title"), heading);
    if (!kept) {
      put(byId("kept-facts"));
      put(byId("kept-acts"));
      return;
    }
    const facts = [when(kept), duration(kept.length_s), kept.host, kept.state === "closed" ? "" : kept.state,
      ...beside(kept).slice(0, 3).map((c) => `${c.key}: ${c.value}`)];
    const simulated = kept.simulated && el("li", {}, el("strong", { class: "simulated" }, "Simulated: computed, not measured"));
    put(byId("kept-facts"), simulated, ...facts.filter((f) => f !== "").map((f) => el("li", {}, f)));
    const compare = el("a", { href: "#compare" }, "compare it");
    compare.addEventListener("click", (e) => {
      e.preventDefault();
      const go = (all: Kept[]) => this.places.go({ at: "compare", sides: joined(this.places.compared, kept, all) });
      fetchKept("", false).then((list) => go(list.sessions), () => go([]));
    });
    put(byId("kept-acts"), compare, " ", el("a", { href: `${keptBase(kept.id)}/trace.csv`, download: true }, "save the trace"));
  }

  // One line of the present, whatever is looked at; it leads there.
  private sayNow(): void {
    const parts = this.live.analysis.say?.parts ?? [];
    const first = parts.find((p) => p.text.includes(" "))?.text ?? parts[0]?.text ?? "nothing is found yet.";
    const words = this.live.contact.state === "lost" ? "no contact with the program." : first;
    setText(byId("live-now"), this.live.layout?.session.simulated ? "Now, simulated:" : "Now:");
    setText(byId("live-words"), words);
  }
}
