// The overlay: the runs of a comparison over one another in the river's lanes, aligned at
// the start of their load. It owns the window and the cursor.

import { gutter, Surface } from "./canvas.ts";
import { CompareLane, mainChannel, valueAt, type LaneName, type Trail } from "./compare-lane.ts";
import { el } from "./dom.ts";
import { drawGround, drawTimeAxis } from "./ground.ts";
import { amount, clockTime, decimals } from "./numbers.ts";
import { Picture, type Place } from "./picture.ts";
import { bucketWidth } from "./series.ts";
import { fetchKeptHistory, fetchKeptLayout, type Compared } from "./sessions-wire.ts";
import type { Theme } from "./theme.ts";
import type { Window } from "./view.ts";

/** Buckets asked for of one run. */
const BUCKETS = 1200;
/** Seconds before the load that are shown. */
const BEFORE = 12;

export class CompareRiver {
  private readonly theme: Theme;
  private readonly frame = el("div", { class: "lanes" });
  private readonly ground = new Surface(el("canvas", { class: "ground", "aria-hidden": "true" }));
  private readonly notes = new Surface(el("canvas", { class: "notes", "aria-hidden": "true" }));
  private readonly eaves = el("div", { class: "eaves" });
  private readonly plots: HTMLElement;
  private readonly tell: (t: number | null) => void;
  private lanes: CompareLane[] = [];
  private trails: Trail[] = [];
  private cursor: number | null = null;
  private end = 60;
  private asked = 0;

  /** tell is told the instant pointed at, in seconds from the start of the load. */
  constructor(box: HTMLElement, theme: Theme, tell: (t: number | null) => void) {
    this.theme = theme;
    this.tell = tell;
    this.plots = el("div", { class: "plots", tabindex: 0, role: "slider", "aria-label": "Instant of the overlay, from the start of the load", "aria-valuemin": 0, "aria-valuemax": 0, "aria-valuenow": 0, "aria-valuetext": "no instant is chosen" },
      this.ground.element, this.eaves, this.frame, el("div", { class: "sill" }), this.notes.element);
    box.append(this.plots);
    theme.on(() => this.draw());
    new ResizeObserver(() => { for (const lane of this.lanes) lane.resize(); this.draw(); }).observe(this.plots);
    void document.fonts.ready.then(() => this.draw());
    this.pointer();
  }

  /** Fetches and draws the runs; labels are those of the sides' list. */
  async show(compared: Compared, labels: Map<string, string>): Promise<void> {
    const mine = ++this.asked;
    const trails: Trail[] = [];
    for (const [side, { runs }] of compared.sides.entries()) {
      for (const run of runs) {
        const { id, length_s } = run.kept;
        const [layout, buckets] = await Promise.all([fetchKeptLayout(id), fetchKeptHistory(id, 0, length_s, BUCKETS)]);
        if (mine !== this.asked) return;
        const begin = run.load_start_s ?? 0;
        const loadEnd = (run.load_end_s ?? length_s) - begin;
        if (buckets) trails.push({ label: labels.get(id) ?? "", side, layout, buckets: { ...buckets, from: buckets.from - begin }, loadEnd });
      }
    }
    this.trails = trails;
    this.end = Math.max(30, ...trails.map((t) => t.buckets.from + t.buckets.count * t.buckets.width));
    this.plots.setAttribute("aria-valuemax", String(Math.floor(this.end)));
    this.build();
  }

  clear(): void {
    this.asked++;
    this.trails = [];
    this.build();
  }

  private build(): void {
    for (const lane of this.lanes) lane.dispose();
    const names: LaneName[] = [];
    for (const { layout } of this.trails) {
      for (const l of layout.lanes) {
        if (mainChannel(layout, l.id) >= 0 && !names.some((n) => n.id === l.id)) names.push({ id: l.id, title: l.title, unit: l.unit });
      }
    }
    const boxes = names.map((n) => el("div", { class: "lane", "data-lane": n.id }));
    this.frame.replaceChildren(...names.map((n, i) => el("div", { class: "lane-frame" },
      el("div", { class: "lane-title" }, n.title, " ", el("span", { class: "quiet" }, n.unit)), boxes[i]!)));
    this.lanes = names.map((n, i) => new CompareLane(n, boxes[i]!, this.theme));
    this.point(null);
    this.draw();
  }

  private get window(): Window {
    const from = -BEFORE;
    const to = this.end * 1.02;
    return { from, to, span: to - from, present: to, still: true };
  }

  private draw(): void {
    if (!this.trails.length || !this.plots.clientWidth) return;
    const view = this.window;
    const pixels = Math.max(100, this.plots.clientWidth - gutter());
    const span = { from: view.from, to: view.to, width: bucketWidth(view.span, pixels, 0.1), period: 0.1 };
    for (const lane of this.lanes) lane.update(span, this.trails);
    const under = this.ground.begin();
    const over = this.notes.begin();
    if (under && over) this.annotate(under, over, view);
  }

  private annotate(under: CanvasRenderingContext2D, over: CanvasRenderingContext2D, view: Window): void {
    const place = this.place();
    drawGround(new Picture(under, place, view, this.theme), this.lanes, [], view);
    const p = new Picture(over, place, view, this.theme);
    drawTimeAxis(p, view);
    p.upright(0, place.eaves - 8, place.bottom, p.token("--ink"), [1, 3]);
    p.font(600);
    p.label("load begins", p.x(0) + 5, place.eaves - 4, p.token("--quiet"));
    this.lanes.forEach((lane, i) => lane.label(p, place.tops[i]!, this.trails, view.to));
    if (this.cursor !== null) p.upright(this.cursor, place.eaves - 4, place.bottom, p.token("--ink"));
  }

  private place(): Place {
    const frame = this.plots.getBoundingClientRect();
    const tops = this.lanes.map((l) => l.box.getBoundingClientRect().top - frame.top);
    const bottom = tops.length ? tops.at(-1)! + this.lanes.at(-1)!.box.clientHeight : 0;
    return { width: this.notes.width, left: gutter(), eaves: this.eaves.clientHeight, bottom, axis: bottom, tops };
  }

  /** What each run showed at an instant, by its label. */
  values(t: number): Map<string, string> {
    return new Map(this.trails.map((trail) => [trail.label, this.lanes.map(({ name }) => {
      const v = valueAt(trail.buckets, mainChannel(trail.layout, name.id), t);
      return amount(v, name.unit, decimals(name.unit));
    }).join("  ")]));
  }

  private point(t: number | null): void {
    const inside = t !== null && t >= -BEFORE && t <= this.end ? t : null;
    if (inside === this.cursor) return;
    this.cursor = inside;
    this.plots.setAttribute("aria-valuenow", String(Math.round(inside ?? 0)));
    this.plots.setAttribute("aria-valuetext", inside === null ? "no instant is chosen"
      : `${clockTime(inside)} after the load begins: ${[...this.values(inside)].map(([label, words]) => `${label} ${words}`).join("; ")}`);
    this.tell(inside);
    this.draw();
  }

  private pointer(): void {
    this.plots.addEventListener("pointermove", (e) => {
      const share = (e.clientX - this.plots.getBoundingClientRect().left - gutter()) / (this.plots.clientWidth - gutter());
      this.point(share >= 0 && share <= 1 ? this.window.from + share * this.window.span : null);
    });
    this.plots.addEventListener("pointerleave", () => this.point(null));
    this.plots.addEventListener("blur", () => this.point(null));
    this.plots.addEventListener("keydown", (e) => {
      const step = (e.shiftKey ? 0.1 : 0.01) * this.end;
      const at = this.cursor ?? 0;
      if (e.key === "ArrowRight") this.point(Math.min(this.end, at + step));
      else if (e.key === "ArrowLeft") this.point(Math.max(-BEFORE, at - step));
      else if (e.key === "Escape") this.point(null);
      else return;
      e.preventDefault();
      e.stopPropagation();
    });
  }
}
