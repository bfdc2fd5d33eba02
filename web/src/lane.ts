// One lane of the river: the lines of one quantity over the shared window. ECharts draws
// the lines; the grid below them and what is said above them are drawn by the notes.

import { LineChart } from "echarts/charts";
import { GridComponent } from "echarts/components";
import { init, use, type EChartsType } from "echarts/core";
import { CanvasRenderer } from "echarts/renderers";

import { gutter } from "./canvas.ts";
import type { Lane as LaneLayout } from "./layout.ts";
import { extent, line, type Span } from "./series.ts";
import type { Session } from "./session.ts";
import type { Theme } from "./theme.ts";

use([LineChart, GridComponent, CanvasRenderer]);

const TOP = 6;
const BOTTOM = 4;

/** Lines that share the budget of points of one drawing; more of them get wider buckets. */
const LINES = 12;

/** A line as it was drawn last, for labels and dots. */
export interface Drawn {
  channel: number; // -1 for the running average
  name: string;
  colour: string;
  main: boolean;
}

export class Lane {
  readonly layout: LaneLayout;
  readonly box: HTMLElement;
  low = 0;
  high = 1;
  lines: Drawn[] = [];
  private readonly chart: EChartsType;
  private readonly session: Session;
  private readonly theme: Theme;
  private step = 1;
  points = 0;

  constructor(layout: LaneLayout, box: HTMLElement, session: Session, theme: Theme) {
    this.layout = layout;
    this.box = box;
    this.session = session;
    this.theme = theme;
    this.chart = init(box, null, { renderer: "canvas" });
    this.style();
  }

  dispose(): void {
    this.chart.dispose();
  }

  resize(): void {
    this.chart.setOption({ grid: { left: gutter() } }, { lazyUpdate: true });
    this.chart.resize({ width: this.box.clientWidth, height: this.box.clientHeight });
  }

  /** The channel that stands for the lane: the one with the role, else the first. */
  get main(): number {
    const channels = this.session.layout?.channels ?? [];
    const wanted = { power: "package power", temperature: "die", clock: "core clock" }[this.layout.id];
    return this.shown.find((c) => channels[c]?.role === wanted) ?? this.shown[0] ?? -1;
  }

  private get shown(): number[] {
    return this.layout.shown?.length ? this.layout.shown : this.layout.channels;
  }

  get colour(): string {
    return this.theme.token(`--${this.layout.id}`) || this.theme.token("--ink");
  }

  /** The fixed part of the chart; grid and labels are drawn by the notes. */
  private style(): void {
    this.chart.setOption({
      animation: false,
      grid: { left: gutter(), right: 0, top: TOP, bottom: BOTTOM, containLabel: false },
      xAxis: { type: "value", show: false, min: 0, max: 1 },
      yAxis: {
        type: "value",
        show: false,
      },
      series: [],
    });
  }

  /** Draws the window and gives the number of points drawn. */
  update(window: Span): number {
    const span = { ...window, width: window.width * Math.ceil(this.shown.length / LINES) };
    const series: object[] = [];
    let low = NaN, high = NaN;
    this.lines = [];
    this.points = 0;
    const add = (channel: number, name: string, look: object, drawn: Omit<Drawn, "channel" | "name">) => {
      const data = line(this.session.store, this.session.old, channel, span);
      const [a, b] = extent(data);
      if (!Number.isNaN(a)) { low = Math.min(a, Number.isNaN(low) ? a : low); high = Math.max(b, Number.isNaN(high) ? b : high); }
      this.points += data.length / 2;
      this.lines.push({ channel, name, ...drawn });
      series.push({ id: `c${channel}`, type: "line", data, dimensions: ["t", "v"], encode: { x: "t", y: "v" }, showSymbol: false, silent: true,
        emphasis: { disabled: true }, clip: true, z: drawn.main ? 3 : 2, ...look });
    };
    this.addChannels(add);
    [this.low, this.high, this.step] = this.range(low, high);
    this.chart.setOption(
      { xAxis: { min: span.from, max: span.to }, yAxis: { min: this.low, max: this.high }, series },
      { replaceMerge: ["series"], lazyUpdate: true },
    );
    return this.points;
  }

  private addChannels(add: (channel: number, name: string, look: object, drawn: Omit<Drawn, "channel" | "name">) => void): void {
    const channels = this.session.layout?.channels ?? [];
    const main = this.main;
    let other = 0;
    for (const c of this.shown) {
      if (c === main) continue;
      const type = DASHES[other % DASHES.length];
      const colour = this.theme.token(`--other-${(other % 3) + 1}`);
      other++;
      add(c, channels[c]?.name ?? "", { lineStyle: { width: 1, type, color: colour } }, { colour, main: false });
    }
    if (main >= 0) {
      const area = this.layout.id === "power" ? { areaStyle: { color: this.colour, opacity: 0.1 } } : {};
      add(main, channels[main]?.name ?? "", { lineStyle: { width: 1.5, color: this.colour }, ...area }, { colour: this.colour, main: true });
    }
    if (this.layout.id === "power" && main >= 0 && this.tau > 0) {
      const ink = this.theme.token("--ink");
      add(-1, "running average", { lineStyle: { width: 1.5, color: ink, type: [6, 3] } }, { colour: ink, main: false });
    }
  }

  /** Time constant of the running average: as stated, else as found; 0 where neither is known. */
  get tau(): number {
    const step = this.session.result.power_step;
    return step?.stated_time_constant_s ?? step?.time_constant_s ?? 0;
  }

  /** The lane's limits that have a value now. */
  limits(): { name: string; value: number }[] {
    const last = this.session.store.last;
    return (this.layout.limits ?? [])
      .map((l) => ({ name: l.name, value: l.value ?? (l.channel !== null && l.channel !== undefined && last ? last.values[l.channel]! : NaN) }))
      .filter((l) => Number.isFinite(l.value));
  }

  // The value axis: power from 0; temperature and clock around what there is; limits are
  // kept in sight. It only changes by whole steps, so that the picture stays still.
  private range(low: number, high: number): [number, number, number] {
    const limits = this.limits().map((l) => l.value);
    if (Number.isNaN(low)) { low = 0; high = 1; }
    if (limits.length) high = Math.max(high, ...limits);
    if (this.layout.id !== "temperature") low = 0;
    const forecast = this.session.result.steady?.forecast_high_c;
    if (this.layout.id === "temperature" && forecast) high = Math.max(high, Math.min(forecast, high + 10));
    const step = niceStep((high - low) * 1.1 || 1, Math.max(2, this.box.clientHeight / 34));
    const fine = step / 4;
    const bottom = this.layout.id === "temperature" ? Math.floor((low - fine / 2) / fine) * fine : 0;
    return [bottom, Math.max(bottom + step, Math.ceil((high + (high - bottom) * 0.09) / fine) * fine), step];
  }

  /** The round values that the axis names. */
  get ticks(): number[] {
    const first = Math.ceil(this.low / this.step - 1e-9);
    const count = Math.floor((this.high - (this.high - this.low) * 0.05) / this.step + 1e-9) - first + 1;
    return Array.from({ length: Math.max(0, count) }, (_, i) => (first + i) * this.step);
  }

  /** Pixel of a value from the top of the lane's box. */
  y(value: number): number {
    const height = this.box.clientHeight - TOP - BOTTOM;
    return TOP + (1 - (value - this.low) / (this.high - this.low)) * height;
  }
}

const DASHES: (string | number[])[] = [[2, 3], "solid", [8, 3], [8, 3, 2, 3]];

/** 1, 2 or 5 times a power of ten, so that about n steps make the range. */
export function niceStep(range: number, n: number): number {
  const raw = range / n;
  const power = 10 ** Math.floor(Math.log10(raw));
  const lead = raw / power;
  return (lead <= 1 ? 1 : lead <= 2 ? 2 : lead <= 5 ? 5 : 10) * power;
}
