// One lane of the river: the lines of one quantity over the shared window. ECharts draws
// the lines; the grid below them and what is said above them are drawn by the notes.

import { LineChart } from "echarts/charts";
import { GridComponent } from "echarts/components";
import { init, use, type EChartsType } from "echarts/core";
import { CanvasRenderer } from "echarts/renderers";

import { gutter } from "./canvas.ts";
import type { Lane as LaneLayout } from "./layout.ts";
import { chosen, type Choice } from "./line-choice.ts";
import { extent, line, type Span } from "./series.ts";
import type { Session } from "./session.ts";
import { fromZero, linesOf, type Line } from "./skeleton.ts";
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
  private readonly skeleton: Line[];
  private readonly zero: boolean;
  private readonly session: Session;
  private readonly theme: Theme;
  private step = 1;
  points = 0;

  constructor(layout: LaneLayout, box: HTMLElement, session: Session, theme: Theme, choice: Choice = { out: [], added: [] }) {
    const option = session.layout?.charts[layout.id];
    this.skeleton = chosen(linesOf(option), layout, session.layout?.channels ?? [], choice);
    this.zero = fromZero(option);
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

  /** The channel that stands for the lane: its first line. */
  get main(): number {
    return this.skeleton.find((l) => l.channel >= 0)?.channel ?? -1;
  }

  get colour(): string {
    return this.theme.token(`--${this.layout.id}`) || this.theme.token("--ink");
  }

  // The fixed part of the chart; grid and labels are drawn by the notes.
  private style(): void {
    this.chart.setOption({
      animation: false,
      grid: { left: gutter(), right: 0, top: TOP, bottom: BOTTOM, containLabel: false },
      xAxis: { type: "value", show: false, min: 0, max: 1 },
      yAxis: { type: "value", show: false },
      series: [],
    });
  }

  /** Draws the window and gives the number of points drawn. */
  update(window: Span): number {
    const span = { ...window, width: window.width * Math.ceil(this.skeleton.length / LINES) };
    const series: object[] = [];
    let low = NaN, high = NaN, others = 0;
    this.lines = [];
    this.points = 0;
    for (const drawn of this.skeleton) {
      if (drawn.channel < 0 && !(this.tau > 0)) continue;
      const main = drawn.channel === this.main;
      const colour = main ? this.colour : drawn.channel < 0 ? this.theme.token("--ink") : this.theme.token(`--other-${(others++ % 3) + 1}`);
      const data = line(this.session.store, this.session.old, drawn.channel, span);
      const [a, b] = extent(data);
      if (!Number.isNaN(a)) { low = Math.min(a, Number.isNaN(low) ? a : low); high = Math.max(b, Number.isNaN(high) ? b : high); }
      this.points += data.length / 2;
      this.lines.push({ channel: drawn.channel, name: drawn.name, colour, main });
      series.push({ ...drawn.base, ...this.look(drawn, colour, main), data });
    }
    [this.low, this.high, this.step] = this.range(low, high);
    this.chart.setOption(
      { xAxis: { min: span.from, max: span.to }, yAxis: { min: this.low, max: this.high }, series },
      { replaceMerge: ["series"] },
    );
    this.chart.getZr().flush(); // now, so that the turn's time is the whole cost
    return this.points;
  }

  private look(drawn: Line, colour: string, main: boolean): object {
    return {
      encode: { x: "t", y: "v" },
      lineStyle: { width: main || drawn.channel < 0 ? 1.5 : 1, color: colour, type: drawn.type },
      areaStyle: main && this.layout.id === "power" ? { color: colour, opacity: 0.1 } : undefined,
      z: main ? 3 : 2,
    };
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
    if (this.zero) low = 0;
    const forecast = this.session.result.steady?.forecast_high_c;
    if (this.layout.id === "temperature" && forecast) high = Math.max(high, Math.min(forecast, high + 10));
    const step = niceStep((high - low) * 1.1 || 1, Math.max(2, this.box.clientHeight / 34));
    const fine = step / 4;
    const bottom = !this.zero ? Math.floor((low - fine / 2) / fine) * fine : 0;
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

/** 1, 2 or 5 times a power of ten, so that about n steps make the range. */
export function niceStep(range: number, n: number): number {
  const raw = range / n;
  const power = 10 ** Math.floor(Math.log10(raw));
  const lead = raw / power;
  return (lead <= 1 ? 1 : lead <= 2 ? 2 : lead <= 5 ? 5 : 10) * power;
}
