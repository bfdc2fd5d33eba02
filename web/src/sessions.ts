// The list of kept sessions: they hang along one line of time, the newest on top, to be
// found, named, pinned, deleted and brought back, opened, and chosen for a comparison.

import { byId, el, put, setText } from "./dom.ts";
import type { Changes } from "./api.ts";
import { grouped, RUNS, SIDES } from "./compare-choice.ts";
import { SessionFilter } from "./sessions-filter.ts";
import type { Session } from "./session.ts";
import type { Places } from "./sessions-place.ts";
import { sessionRow, type RowActs } from "./sessions-row.ts";
import { fetchKept, KeptChanges, type Kept } from "./sessions-wire.ts";
import { began, day, differing, title } from "./sessions-words.ts";

/** How long the undo of a deletion stands beside the list; the filter 'deleted' keeps it. */
const UNDO_MS = 10_000;
/** While the list is looked at, it is asked for anew, for what is being recorded. */
const AGAIN_MS = 5_000;

export class Sessions implements RowActs {
  private readonly places: Places;
  private readonly changes: KeptChanges;
  private readonly filter: SessionFilter;
  private readonly fault = byId("sessions-fault");
  private all: Kept[] = [];
  private more = false;
  private known = false;
  private readonly chosen = new Set<string>();
  private editing = "";
  private undo = 0;
  private asked = 0;
  private shown = "";

  constructor(places: Places, changes: Changes, live: Session) {
    this.places = places;
    this.changes = new KeptChanges(changes);
    this.filter = new SessionFilter(() => void this.refresh(), () => this.show());
    places.on((place) => { if (place.at === "sessions") void this.refresh(); });
    live.on("layout", () => { if (this.known) this.show(); }); // it brings the token
    setInterval(() => { if (places.place.at === "sessions" && !document.hidden && !this.editing) void this.refresh(); }, AGAIN_MS);
    byId("choose-compare").addEventListener("click", () => this.compare());
    byId("choose-none").addEventListener("click", () => { this.chosen.clear(); this.show(); });
  }

  get allowed(): boolean {
    return this.changes.allowed;
  }

  isChosen(id: string): boolean {
    return this.chosen.has(id);
  }

  choose(kept: Kept, on: boolean): void {
    if (on) this.chosen.add(kept.id);
    else this.chosen.delete(kept.id);
    this.showChosen();
  }

  hold(id: string): void {
    this.editing = id;
  }

  async rename(kept: Kept, name: string): Promise<void> {
    this.editing = "";
    await this.keep(() => this.changes.rename(kept.id, name));
    this.focus(kept.id, "rename");
  }

  async pin(kept: Kept): Promise<void> {
    await this.keep(() => this.changes.pin(kept.id, !kept.pinned));
    this.focus(kept.id, "pin");
  }

  async remove(kept: Kept): Promise<void> {
    if (!(await this.keep(() => this.changes.remove(kept.id)))) return;
    this.chosen.delete(kept.id);
    this.offerUndo(kept);
  }

  async restore(kept: Kept): Promise<void> {
    await this.keep(() => this.changes.restore(kept.id));
  }

  private async keep(change: () => Promise<unknown>): Promise<boolean> {
    setText(this.fault, "");
    let done = true;
    await change().catch((fault: Error) => {
      done = false;
      setText(this.fault, `Not done: ${fault.message}.`);
    });
    this.shown = "";
    await this.refresh();
    return done;
  }

  private focus(id: string, act: string): void {
    document.querySelector<HTMLElement>(`#session-list [data-id="${id}"] [data-act="${act}"]`)?.focus();
  }

  private offerUndo(kept: Kept): void {
    clearTimeout(this.undo);
    const button = el("button", { type: "button", id: "undo" }, "Undo");
    const words = el("span", {}, `Deleted: ${title(kept)}. It can be brought back for 30 days.`);
    put(byId("undo-line"), words, " ", button);
    byId("undo-line").hidden = false;
    const done = () => {
      byId("undo-line").hidden = true;
      put(byId("undo-line"));
    };
    button.addEventListener("click", () => {
      clearTimeout(this.undo);
      done();
      void this.restore(kept).then(() => this.focus(kept.id, "open"));
    });
    button.focus();
    this.undo = window.setTimeout(() => {
      if (document.activeElement === button) byId("find").focus();
      done();
    }, UNDO_MS);
  }

  private async refresh(): Promise<void> {
    const mine = ++this.asked;
    try {
      const list = await fetchKept(this.filter.text, this.filter.deleted);
      if (mine !== this.asked) return;
      this.all = list.sessions;
      this.more = list.more;
      this.known = true;
      if (this.fault.dataset["of"] === "list") setText(this.fault, "");
      this.show();
    } catch (fault) {
      if (mine !== this.asked) return;
      this.fault.dataset["of"] = "list";
      setText(this.fault, `The list cannot be had: ${(fault as Error).message}.`);
    }
  }

  private show(): void {
    if (this.editing) return;
    this.filter.offer(this.all);
    const list = this.all.filter((k) => this.filter.takes(k)).sort((a, b) => began(b).getTime() - began(a).getTime());
    const state = JSON.stringify([list, [...this.chosen], this.allowed]);
    if (state !== this.shown) {
      this.shown = state;
      this.draw(list);
    }
    this.showChosen();
  }

  private draw(list: Kept[]): void {
    const at = document.activeElement?.closest<HTMLElement>("[data-id]")?.dataset["id"];
    const act = (document.activeElement as HTMLElement | null)?.dataset["act"];
    const parts: HTMLElement[] = [];
    let last = "";
    const telling = differing(list);
    for (const kept of list) {
      const heading = day(kept);
      if (heading !== last) {
        last = heading;
        parts.push(el("section", { class: "day", "aria-label": heading }, el("h3", {}, heading), el("ol", { class: "day-list" })));
      }
      parts.at(-1)!.lastElementChild!.append(sessionRow(kept, this, telling));
    }
    put(byId("session-list"), ...parts);
    if (at && act) this.focus(at, act);
    this.teach(list.length);
  }

  private teach(shown: number): void {
    const nothing = byId("no-sessions");
    const words = this.lesson(shown);
    nothing.hidden = words.length === 0;
    put(nothing, ...words.map((w) => el("p", {}, ...w)));
    const count = shown === 1 ? "1 session" : `${shown} sessions`;
    setText(byId("session-count"), this.more ? `the newest ${count}; find the others by name or setup` : count);
  }

  private lesson(shown: number): (string | HTMLElement)[][] {
    const command = (text: string) => el("code", {}, text);
    if (!this.known || shown > 1) return [];
    if (shown === 0 && this.filter.narrows) return [["No session fits what is asked for. Take something out of the search."]];
    if (shown === 0) {
      return [
        ["Nothing is kept yet. Every recording is written here to its last second, even if the machine crashes in it."],
        ["This page records while it runs. To record a load of your own with a rest before it: ", command("soakline record --for 5m -- make -j8"),
          ". To bring in a trace from elsewhere: ", command("soakline import trace.csv"), "."],
      ];
    }
    if (this.filter.narrows) return [];
    return [[
      "One session alone is the baseline. Now change one thing: the paste, the mounting, a limit. Let the machine cool to where it began, ",
      "run the same load again, and the two can be compared. With three runs on each side a difference of a percent can be told from chance.",
    ]];
  }

  private showChosen(): void {
    const n = this.chosen.size;
    byId("chosen").hidden = n === 0;
    setText(byId("chosen-count"), n === 1 ? "1 session chosen" : `${n} sessions chosen`);
    (byId("choose-compare") as HTMLButtonElement).disabled = n < 2;
    setText(byId("chosen-hint"), n < 2 ? "choose one more" : this.tooMany());
  }

  private tooMany(): string {
    if (this.chosen.size > RUNS) return `the ${RUNS} oldest of them are compared: no more can be told apart`;
    return grouped(this.list()).length > SIDES ? `${SIDES} different setups at most are compared, the oldest first` : "";
  }

  private list(): Kept[] {
    return this.all.filter((k) => this.chosen.has(k.id));
  }

  private compare(): void {
    this.places.go({ at: "compare", sides: grouped(this.list()).slice(0, SIDES) });
  }
}
