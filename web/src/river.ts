// The time river: lanes over one another on one time axis, the notes above them, the
// limiter ribbon below. This file owns when what is drawn, and the pointer.

import { gutter, Surface } from "./canvas.ts";
import { byId, el, setText } from "./dom.ts";
import { Figures } from "./figures.ts";
import { Lane } from "./lane.ts";
import { LineChoice } from "./line-choice.ts";
import { Notes } from "./notes.ts";
import { clockTime } from "./numbers.ts";
import { Pace } from "./pace.ts";
import type { Place } from "./picture.ts";
import { onPinch } from "./pinch.ts";
import { Ribbon } from "./ribbon.ts";
import { bucketWidth, type Span } from "./series.ts";
import type { Session } from "./session.ts";
import type { Theme } from "./theme.ts";
import { View } from "./view.ts";

/** Milliseconds between the turns of one round. */
const TURN_MS = 25;
/** A round that fits into this is drawn in one turn, so that all moves together. */
const TURN_BUDGET_MS = 10;

export class River {
  readonly view: View;
  readonly pace = new Pace();
  readonly choice: LineChoice;
  private readonly session: Session;
  private readonly theme: Theme;
  private readonly plots = byId("plots");
  private readonly notes: Notes;
  private readonly ground = new Surface(byId("ground") as HTMLCanvasElement);
  private readonly surface = new Surface(byId("notes") as HTMLCanvasElement);
  private readonly ribbon: Ribbon;
  private readonly figures: Figures;
  private lanes: Lane[] = [];
  private cursor: number | null = null;
  private queue: (() => void)[] = [];
  private lastRound = 0;
  private fresh = true;
  private urgent = false;

  constructor(session: Session, theme: Theme) {
    this.session = session;
    this.theme = theme;
    this.view = new View(() => this.soon());
    this.notes = new Notes(session, this.view, theme);
    this.ribbon = new Ribbon(byId("ribbon") as HTMLCanvasElement, byId("legend"), session, this.view, theme);
    this.figures = new Figures(byId("figures"), session);
    this.choice = new LineChoice(session, () => this.build());
    session.on("layout", () => this.build());
    session.on("row", () => { this.fresh = true; });
    for (const change of ["analysis", "marks", "history"] as const) session.on(change, () => { this.fresh = true; });
    theme.on(() => this.restyle());
    new ResizeObserver(() => this.resize()).observe(this.plots);
    void document.fonts.ready.then(() => this.soon());
    this.pointer();
    setInterval(() => this.turn(), TURN_MS);
    setInterval(() => this.figures.show(this.cursor), 200);
  }

  /** The lanes' names, units and the number of points drawn last, for checks. */
  get drawn(): { id: string; points: number; low: number; high: number }[] {
    return this.lanes.map((l) => ({ id: l.layout.id, points: l.points, low: l.low, high: l.high }));
  }

  /** The names of all lines drawn last, for checks. */
  get names(): string[] {
    return this.lanes.flatMap((l) => l.lines.map((line) => line.name));
  }

  private build(): void {
    const layout = this.session.layout;
    if (!layout) return;
    this.choice.read(layout);
    for (const lane of this.lanes) lane.dispose();
    const lanes = layout.lanes.filter((l) => l.channels.length > 0);
    const boxes = lanes.map((l) => el("div", { class: "lane", "data-lane": l.id }));
    byId("lanes").replaceChildren(...boxes.map((box, i) => {
      const title = el("div", { class: "lane-title", "data-lane": lanes[i]!.id }, lanes[i]!.title, " ", el("span", { class: "quiet" }, lanes[i]!.unit));
      return el("div", { class: "lane-frame", "data-lane": lanes[i]!.id }, title, box);
    }));
    this.lanes = lanes.map((l, i) => new Lane(l, boxes[i]!, this.session, this.theme, this.choice.choice));
    this.figures.build(this.lanes);
    document.body.classList.toggle("nothing", lanes.length === 0);
    this.soon();
  }

  private restyle(): void {
    this.soon();
  }

  private resize(): void {
    for (const lane of this.lanes) lane.resize();
    this.soon();
  }

  /** Draws everything with the next frame, outside the usual pace. */
  soon(): void {
    if (this.urgent) return;
    this.urgent = true;
    requestAnimationFrame(() => {
      this.urgent = false;
      this.begin();
      while (this.queue.length) this.next();
    });
  }

  private turn(): void {
    if (document.hidden) return;
    const now = performance.now();
    if (!this.queue.length) {
      if (!this.fresh || now - this.lastRound < this.pace.interval(this.view.span)) return;
      this.lastRound = now;
      this.begin();
    }
    do this.next();
    while (this.queue.length && performance.now() - now < TURN_BUDGET_MS);
  }

  // A round draws every lane with one and the same window.
  private begin(): void {
    this.fresh = false;
    this.view.setNow(this.session.store.lastTime);
    const pixels = Math.max(100, this.plots.clientWidth - gutter());
    const { from, to } = this.view;
    const width = bucketWidth(to - from, pixels, this.session.period, this.pace.coarser);
    const span: Span = { from, to, width, period: this.session.period };
    this.session.wantHistory(from, to, pixels);
    const power = this.lanes.find((l) => l.layout.id === "power");
    if (power && power.tau > 0) this.session.store.follow(power.main, power.tau);
    this.queue = this.lanes.map((lane) => () => lane.update(span));
    this.queue.push(() => this.annotate());
  }

  private next(): void {
    const work = this.queue.shift();
    if (!work) return;
    const start = performance.now();
    work();
    this.pace.took(performance.now() - start);
  }

  private annotate(): void {
    const under = this.ground.begin();
    const over = this.surface.begin();
    if (under && over) {
      const place = this.place();
      this.notes.drawUnder(under, this.lanes, place);
      this.notes.drawOver(over, this.lanes, place, this.cursor);
    }
    this.ribbon.draw();
    byId("window").textContent = this.words();
    byId("follow").setAttribute("aria-pressed", String(this.view.following));
  }

  private words(): string {
    const from = clockTime(Math.max(0, this.view.from));
    const present = this.session.contact.state === "live" ? "now" : "the last reading";
    return this.view.following ? `${from} to ${present}` : `${from} to ${clockTime(this.view.to)}`;
  }

  private place(): Place {
    const frame = this.plots.getBoundingClientRect();
    const tops = this.lanes.map((l) => l.box.getBoundingClientRect().top - frame.top);
    const last = this.lanes.at(-1);
    const ribbon = byId("ribbon").getBoundingClientRect();
    return {
      width: this.surface.width,
      left: gutter(),
      eaves: byId("eaves").clientHeight,
      bottom: last ? tops.at(-1)! + last.box.clientHeight : byId("eaves").clientHeight,
      axis: ribbon.bottom - frame.top,
      tops,
    };
  }

  private pointer(): void {
    const plots = this.plots;
    let drag: { x: number; end: number } | null = null;
    const pinching = onPinch(plots, (factor, x) => {
      drag = null;
      this.view.zoom(factor, this.view.following ? undefined : share({ clientX: x }));
    });
    const share = (e: { clientX: number }) => (e.clientX - plots.getBoundingClientRect().left - gutter()) / (plots.clientWidth - gutter());
    plots.addEventListener("pointerdown", (e) => {
      if (e.button !== 0) return;
      drag = { x: e.clientX, end: this.view.to };
      plots.setPointerCapture(e.pointerId);
    });
    plots.addEventListener("pointermove", (e) => {
      if (pinching()) return;
      const moved = drag ? e.clientX - drag.x : 0;
      if (drag && Math.abs(moved) > 3) this.view.panTo(drag.end - (moved / (plots.clientWidth - gutter())) * this.view.span);
      const s = share(e);
      this.point(s >= 0 && s <= 1 ? this.view.from + s * this.view.span : null);
    });
    for (const end of ["pointerup", "pointercancel"] as const) plots.addEventListener(end, () => { drag = null; });
    plots.addEventListener("pointerleave", () => this.point(null));
    plots.addEventListener("wheel", (e) => {
      if (Math.abs(e.deltaX) > Math.abs(e.deltaY)) this.view.pan(e.deltaX / plots.clientWidth);
      else if (e.ctrlKey || e.shiftKey) this.view.zoom(Math.exp(e.deltaY / 400), this.view.following ? undefined : share(e));
      else return;
      e.preventDefault();
    }, { passive: false });
  }

  private point(t: number | null): void {
    const inside = t !== null && t >= 0 && t <= this.session.store.lastTime ? t : null;
    if (inside === this.cursor) return;
    this.cursor = inside;
    byId("river").classList.toggle("pointed", inside !== null);
    setText(byId("cursor-words"), inside === null ? "" : `${this.instant(inside)} · ${this.ribbon.at(inside) || "limiter not known"}`);
    this.figures.show(inside);
    this.soon();
  }

  private instant(t: number): string {
    const start = Date.parse(this.session.layout?.session.start ?? "");
    const wall = Number.isNaN(start) ? "" : `, ${new Date(start + t * 1000).toLocaleTimeString()}`;
    return clockTime(t, true) + wall;
  }
}
