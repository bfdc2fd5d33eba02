// The limiter ribbon: what held the chip back at each instant, coloured and hatched, in
// words where there is room; and its legend with the share of the time shown.

import { fitted, gutter, Surface } from "./canvas.ts";
import { el, put } from "./dom.ts";
import { LimiterFills } from "./limiter.ts";
import { duration, SPACE } from "./numbers.ts";
import type { Session } from "./session.ts";
import type { Theme } from "./theme.ts";
import type { View } from "./view.ts";

/** Below this the analysis is not sure; the ribbon shows it by half its height. */
const SURE = 0.7;

interface Stretch {
  from: number;
  to: number;
  kind: string;
  sure: boolean;
}

export class Ribbon {
  private readonly session: Session;
  private readonly view: View;
  private readonly theme: Theme;
  private readonly fills: LimiterFills;
  private readonly surface: Surface;
  private readonly legend: HTMLElement;
  private shown = "";

  constructor(canvas: HTMLCanvasElement, legend: HTMLElement, session: Session, view: View, theme: Theme) {
    this.session = session;
    this.view = view;
    this.theme = theme;
    this.fills = new LimiterFills(theme);
    this.surface = new Surface(canvas);
    this.legend = legend;
    theme.on(() => { this.shown = ""; });
  }

  /** What is known of a kind in words. */
  title(kind: string): string {
    return this.session.layout?.limiters?.find((l) => l.kind === kind)?.title ?? kind;
  }

  /** The limiter at an instant, or "". */
  at(t: number): string {
    const hit = this.stretches().find((s) => t >= s.from && t <= s.to);
    return hit ? this.title(hit.kind) : "";
  }

  private stretches(): Stretch[] {
    return (this.session.result.limiter ?? []).map((s) => ({
      from: s.start_s ?? 0,
      to: this.session.openEnd(s.end_s, this.view.present),
      kind: s.kind,
      sure: s.confidence === null || s.confidence >= SURE,
    }));
  }

  draw(): void {
    const c = this.surface.begin();
    if (!c) return;
    const { width, height, ratio } = this.surface;
    const far = this.element.closest(".far") !== null;
    const from = far ? Math.max(0, this.view.from) : this.view.from;
    const to = far ? this.view.present : this.view.to;
    const all = this.stretches().filter((s) => s.to > from && s.from < to);
    c.textBaseline = "middle";
    const left = far ? 0 : gutter();
    const x = (t: number) => left + ((t - from) / (to - from)) * (width - left);
    for (const s of all) {
      const a = Math.max(left, x(s.from));
      const b = Math.min(width, x(s.to));
      if (b - a < 0.3) continue;
      const tall = s.sure ? height : height / 2;
      c.fillStyle = this.fills.fill(c, s.kind, ratio);
      c.fillRect(a, height - tall, b - a, tall);
      c.fillStyle = this.theme.token("--paper");
      if (b - a > 3) c.fillRect(b - 0.5, height - tall, 0.5, tall);
      this.word(c, s, a, b, height, tall);
    }
    this.writeLegend(all);
  }

  private get element(): HTMLCanvasElement {
    return this.surface.element;
  }

  private word(c: CanvasRenderingContext2D, s: Stretch, a: number, b: number, height: number, tall: number): void {
    if (tall < height || b - a < 44) return;
    const title = this.title(s.kind);
    const full = Math.round(height * (height > 60 ? 0.36 : 0.47));
    let size = full;
    const font = () => { c.font = `600 ${size}px ${this.theme.token("--sans")}`; };
    for (font(); size > Math.max(13, full * 0.5) && c.measureText(title).width > b - a - 16; font()) size -= 2;
    const text = fitted(c, title, b - a - 16);
    if (text.length < 3 || (text !== title && text.length < title.length * 0.7)) return;
    const width = c.measureText(text).width;
    c.fillStyle = this.fills.colour(s.kind);
    c.fillRect(a + 3, 3, width + 10, height - 6);
    c.fillStyle = this.theme.token(s.kind === "idle" ? "--ink" : "--on-limiter");
    c.fillText(text, a + 8, height / 2 + 1);
  }

  private writeLegend(all: Stretch[]): void {
    const spent = new Map<string, number>();
    let sum = 0;
    for (const s of all) {
      const length = Math.min(s.to, this.view.to) - Math.max(s.from, this.view.from);
      if (s.kind !== "idle") sum += length;
      spent.set(s.kind, (spent.get(s.kind) ?? 0) + length);
    }
    const items = [...spent].filter(([kind]) => kind !== "idle").sort((a, b) => b[1] - a[1]);
    const text = items.map(([kind, s]) => `${kind}${Math.round(s)}`).join() + Math.round(sum);
    if (text === this.shown) return;
    this.shown = text;
    put(this.legend, ...items.map(([kind, seconds]) => this.item(kind, seconds, sum)));
  }

  private item(kind: string, seconds: number, sum: number): HTMLElement {
    const swatch = el("canvas", { class: "swatch", width: 40, height: 24, "aria-hidden": "true" });
    const c = swatch.getContext("2d");
    if (c) {
      c.fillStyle = this.fills.fill(c, kind, 2);
      c.scale(2, 2);
      c.fillRect(0, 0, 20, 12);
    }
    const meaning = this.session.layout?.limiters?.find((l) => l.kind === kind)?.meaning ?? "";
    return el("li", { title: meaning }, swatch, `${this.title(kind)} `,
      el("span", { class: "quiet" }, `${duration(seconds)}, ${Math.round((100 * seconds) / sum)}${SPACE}% of the load`));
  }
}
