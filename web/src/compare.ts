// The comparison: what changed, first in a sentence, then the setup's differences, the runs
// laid over one another, the figures with their intervals, and the stairs.

import { grouped, joined, RUNS } from "./compare-choice.ts";
import { CompareRiver } from "./compare-river.ts";
import { labels, sidesList } from "./compare-sides.ts";
import { stairs } from "./compare-stair.ts";
import { changeTable, reasons, sentence, setupTable } from "./compare-table.ts";
import { byId, el, put, setText } from "./dom.ts";
import { clockTime } from "./numbers.ts";
import type { Places } from "./sessions-place.ts";
import { fetchCompared, fetchKept, type Compared, type Kept } from "./sessions-wire.ts";
import { title, when } from "./sessions-words.ts";
import type { Theme } from "./theme.ts";

export class Compare {
  private readonly places: Places;
  private readonly river: CompareRiver;
  private readonly add = byId("add-run") as HTMLSelectElement;
  private others: Kept[] = [];
  private shown = "";

  constructor(places: Places, theme: Theme) {
    this.places = places;
    this.river = new CompareRiver(byId("overlay"), theme, (t) => this.point(t));
    places.on((place) => { if (place.at === "compare") void this.open(place.sides); });
    this.add.addEventListener("change", () => this.addRun());
  }

  private async open(sides: string[][]): Promise<void> {
    void this.offer(sides);
    const key = JSON.stringify(sides);
    if (key === this.shown) return;
    this.shown = key;
    setText(byId("compare-fault"), "");
    if (!sides.length) return this.draw(null);
    byId("compare").setAttribute("aria-busy", "true");
    setText(byId("compare-wait"), "Comparing\u2026");
    try {
      const compared = await fetchCompared(sides);
      if (this.shown !== key) return;
      this.draw(compared);
      await this.river.show(compared, labels(compared));
    } catch (fault) {
      if (this.shown !== key) return;
      this.shown = "";
      this.draw(null);
      setText(byId("compare-fault"), `This cannot be compared: ${(fault as Error).message}.`);
    } finally {
      if (this.shown === key || this.shown === "") {
        byId("compare").removeAttribute("aria-busy");
        setText(byId("compare-wait"), "");
      }
    }
  }

  // Offers the sessions that are not compared yet.
  private async offer(sides: string[][]): Promise<void> {
    const list = await fetchKept("", false).catch(() => ({ sessions: [] as Kept[] }));
    this.others = list.sessions.filter((k) => k.state !== "recording" && !sides.flat().includes(k.id)).slice(0, 100);
    put(this.add, el("option", { value: "" }, "add a session\u2026"), ...this.others.map((k) => el("option", { value: k.id }, `${title(k)}, ${when(k)}`)));
    const full = sides.flat().length >= RUNS;
    byId("add-line").hidden = full || this.others.length === 0;
    if (!sides.length || sides.length === 1) this.teach(sides.length);
  }

  private addRun(): void {
    const kept = this.others.find((k) => k.id === this.add.value);
    if (!kept) return;
    void fetchKept("", false).then(({ sessions }) => this.go(joined(this.places.compared, kept, sessions)));
  }

  private go(sides: string[][]): void {
    this.places.go({ at: "compare", sides });
  }

  private draw(compared: Compared | null): void {
    const empty = !compared;
    byId("compare-body").hidden = empty;
    byId("compare-lesson").hidden = !empty && compared.sides.length > 1;
    this.river.clear();
    if (!compared) {
      put(byId("verdicts"));
      return;
    }
    put(byId("verdicts"), ...compared.comparisons.map(({ a, b, say }) =>
      el("p", { class: "verdict" }, compared.comparisons.length > 1 ? el("b", {}, `${a} to ${b}. `) : null, say)));
    put(byId("sides"), sidesList(compared, (sides) => this.go(sides)));
    this.setup(compared);
    const table = changeTable(compared);
    byId("changes-block").hidden = compared.sides.length < 2;
    put(byId("changes"), table ?? el("p", { class: "quiet" }, "There is no figure that both sides have."),
      ...reasons(compared).map((words) => el("p", { class: "quiet" }, words)));
    const steps = stairs(compared);
    byId("stairs-block").hidden = steps.length === 0;
    put(byId("stairs"), ...steps);
    this.warn(compared);
  }

  private setup({ sides }: Compared): void {
    const table = sides.length > 1 ? setupTable(sides) : null;
    byId("differences-block").hidden = sides.length < 2;
    put(byId("differences"), table ?? el("p", { class: "quiet" },
      "The setup is the same, as far as it was noted. What was changed can be noted later: soakline setup."));
  }

  private warn({ comparisons }: Compared): void {
    const warnings = comparisons.flatMap(({ b, comparison }) => comparison.warnings.map((w) => sentence(w.replace(/\bB\b/g, b))));
    byId("compare-warnings-block").hidden = warnings.length === 0;
    put(byId("compare-warnings"), ...[...new Set(warnings)].map((w) => el("li", {}, w)));
  }

  private teach(sides: number): void {
    const enough = this.others.length >= 2;
    const start = el("button", { type: "button" }, "Compare the two newest");
    start.addEventListener("click", () => this.go(grouped(this.others.slice(0, 2))));
    const words = sides === 1
      ? "One side stands here. Add the session that you changed something for, and it is held against this one."
      : enough ? "Sessions are laid over one another here, from the start of their load, and what changed is said with its uncertainty. Runs of the same setup stand together on one side."
        : "Two sessions are needed to compare: one before a change and one after it, under the same load and from the same starting temperature.";
    put(byId("compare-lesson"), el("p", {}, words), sides === 0 && enough ? start : null);
  }

  private point(t: number | null): void {
    const values = t === null ? null : this.river.values(t);
    setText(byId("overlay-words"), t === null ? "" : `${clockTime(t)} after the load begins`);
    for (const cell of document.querySelectorAll<HTMLElement>(".run-values")) setText(cell, values?.get(cell.dataset["label"] ?? "") ?? "");
  }
}
