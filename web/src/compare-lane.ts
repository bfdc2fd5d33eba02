// One lane of a comparison: the same quantity of every run, laid over one another. Sides
// are told apart by dash, colour and the letter on the line.

import { init, type EChartsType } from "echarts/core";

import { gutter } from "./canvas.ts";
import { niceStep } from "./lane.ts";
import type { Layout } from "./layout.ts";
import type { Picture } from "./picture.ts";
import { extent, line, type Span } from "./series.ts";
import { fromZero, linesOf } from "./skeleton.ts";
import { Store } from "./store.ts";
import type { Theme } from "./theme.ts";
import type { Buckets } from "./wire.ts";

const TOP = 6;
const BOTTOM = 4;
/** Width that a label takes on its line, in pixels; where all do not fit, one a side stands. */
const LABEL = 34;

/** Dashes and colours by side; both differ, so that neither stands alone. */
export const DASHES: number[][] = [[], [10, 4], [2, 3], [14, 3, 3, 3], [5, 2], [16, 4, 2, 3, 2, 4]];
export const COLOURS = ["--ink", "--clock", "--temperature", "--other-1", "--other-2", "--other-3"];

/** One run of the comparison; its times count from the start of its load. */
export interface Trail {
  label: string;
  side: number;
  layout: Layout;
  buckets: Buckets;
  /** The end of its load, in seconds from the start. */
  loadEnd: number;
}

/** What a lane is called, by the first run that has it. */
export interface LaneName {
  id: string;
  title: string;
  unit: string;
}

/** The channel that stands for a lane in a run, or -1. */
export function mainChannel(layout: Layout, lane: string): number {
  return linesOf(layout.charts[lane]).find((l) => l.channel >= 0)?.channel ?? -1;
}

/** The mean of a channel in the bucket that holds t. */
export function valueAt(buckets: Buckets, channel: number, t: number): number {
  const b = Math.floor((t - buckets.from) / buckets.width + 1e-9);
  return channel >= 0 && b >= 0 && b < buckets.count ? buckets.mean[channel * buckets.count + b]! : NaN;
}

const EMPTY = new Store(0);

export class CompareLane {
  readonly name: LaneName;
  readonly box: HTMLElement;
  private readonly chart: EChartsType;
  private readonly theme: Theme;
  private low = 0;
  private high = 1;
  private step = 1;

  constructor(name: LaneName, box: HTMLElement, theme: Theme) {
    this.name = name;
    this.box = box;
    this.theme = theme;
    this.chart = init(box, null, { renderer: "canvas" });
  }

  dispose(): void {
    this.chart.dispose();
  }

  resize(): void {
    this.chart.resize({ width: this.box.clientWidth, height: this.box.clientHeight });
  }

  update(span: Span, trails: Trail[]): void {
    const series: object[] = [];
    let low = NaN, high = NaN;
    for (const trail of trails) {
      const channel = mainChannel(trail.layout, this.name.id);
      if (channel < 0) continue;
      const data = line(EMPTY, trail.buckets, channel, span);
      const [a, b] = extent(data);
      if (!Number.isNaN(a)) { low = Math.min(a, Number.isNaN(low) ? a : low); high = Math.max(b, Number.isNaN(high) ? b : high); }
      series.push({
        type: "line", data, dimensions: ["t", "v"], encode: { x: "t", y: "v" }, symbol: "none", silent: true, z: 10 - trail.side,
        lineStyle: { width: 1.75, color: this.theme.token(COLOURS[trail.side]!), type: trail.side ? DASHES[trail.side] : "solid" },
      });
    }
    this.range(low, high, trails.some((t) => fromZero(t.layout.charts[this.name.id])));
    this.chart.setOption({
      animation: false,
      grid: { left: gutter(), right: 0, top: TOP, bottom: BOTTOM, containLabel: false },
      xAxis: { type: "value", show: false, min: span.from, max: span.to },
      yAxis: { type: "value", show: false, min: this.low, max: this.high },
      series,
    }, { replaceMerge: ["series"] });
  }

  private range(low: number, high: number, zero: boolean): void {
    if (Number.isNaN(low)) { low = 0; high = 1; }
    if (zero) low = 0;
    this.step = niceStep((high - low) * 1.1 || 1, Math.max(2, this.box.clientHeight / 34));
    const fine = this.step / 4;
    this.low = zero ? 0 : Math.floor((low - fine / 2) / fine) * fine;
    this.high = Math.max(this.low + this.step, Math.ceil((high + (high - this.low) * 0.09) / fine) * fine);
  }

  get ticks(): number[] {
    const first = Math.ceil(this.low / this.step - 1e-9);
    const count = Math.floor((this.high - (this.high - this.low) * 0.05) / this.step + 1e-9) - first + 1;
    return Array.from({ length: Math.max(0, count) }, (_, i) => (first + i) * this.step);
  }

  y(value: number): number {
    const height = this.box.clientHeight - TOP - BOTTOM;
    return TOP + (1 - (value - this.low) / (this.high - this.low)) * height;
  }

  /** Writes each run's letter on its line, as heights stand on the lines of a map. */
  label(p: Picture, top: number, trails: Trail[], to: number): void {
    p.font(700);
    const room = (p.place.width - p.place.left) * 0.5;
    const shown = trails.length * LABEL <= room ? trails : trails.filter((t, i) => trails.findIndex((o) => o.side === t.side) === i);
    shown.forEach((trail, i) => {
      const end = Math.min(trail.loadEnd, to);
      const t = end * (0.94 - (0.6 * i) / Math.max(3, shown.length));
      const v = valueAt(trail.buckets, mainChannel(trail.layout, this.name.id), t);
      if (!Number.isFinite(v)) return;
      p.label(shown === trails ? trail.label : trail.label.charAt(0), p.x(t), top + this.y(v) + 4, p.token(COLOURS[trail.side]!), [top, top + this.box.clientHeight]);
    });
  }
}
