// What is said in the picture itself: load spans, marks hanging from the top edge, the
// end of the burst, steady state, the forecast with its band, limits with their names.

import { fitted, textSize } from "./canvas.ts";
import type { Lane } from "./lane.ts";
import type { Session } from "./session.ts";
import type { Theme } from "./theme.ts";
import type { View } from "./view.ts";
import { amount, clockTime, digits, duration, SPACE } from "./numbers.ts";

/** The space above the lanes for marks and load spans, and the places of the lanes. */
export interface Place {
  width: number;
  left: number; // where time begins
  eaves: number;
  bottom: number; // where the lanes end
  axis: number; // where the time axis starts
  tops: number[];
}

type Context = CanvasRenderingContext2D;

export class Notes {
  private readonly session: Session;
  private readonly view: View;
  private readonly theme: Theme;
  /** Rectangles that hold text already, so that no label covers another. */
  private taken: [number, number, number, number][] = [];
  private size = 13;
  private room = 800;
  private left = 44;

  constructor(session: Session, view: View, theme: Theme) {
    this.session = session;
    this.view = view;
    this.theme = theme;
  }

  /** What lies under the lines: the grid of time and the wash over what is still to come. */
  drawGround(c: Context, lanes: Lane[], place: Place): void {
    this.size = textSize() * 0.8125;
    this.left = place.left;
    this.future(c, place);
    lanes.forEach((lane, i) => this.valueGrid(c, lane, place, place.tops[i]!));
    this.timeGrid(c, place);
    this.markLines(c, place);
  }

  /** What stands over the lines. */
  draw(c: Context, lanes: Lane[], place: Place, cursor: number | null): void {
    this.taken = [];
    c.textBaseline = "alphabetic";
    c.lineJoin = "round";
    this.timeAxis(c, place);
    this.loads(c, place);
    this.burst(c, lanes, place);
    lanes.forEach((lane, i) => this.inLane(c, lane, place, i));
    this.pennants(c, place);
    if (cursor !== null) this.cursor(c, place, cursor);
  }

  private x(t: number, place: Place): number {
    return place.left + ((t - this.view.from) / this.view.span) * (place.width - place.left);
  }

  private seen(t: number | null | undefined): t is number {
    return t !== null && t !== undefined && t >= this.view.from && t <= this.view.to;
  }

  private get now(): number {
    return this.session.store.lastTime;
  }

  private font(weight = 400): string {
    return `${weight} ${this.size}px ${this.theme.token("--sans")}`;
  }

  // What lies ahead is not measured yet: a wash sets it apart.
  private future(c: Context, place: Place): void {
    const x = this.x(this.now, place);
    if (!(x < place.width)) return;
    const wash = c.createLinearGradient(Math.max(place.left, x), 0, place.width, 0);
    wash.addColorStop(0, this.theme.token("--future"));
    wash.addColorStop(1, "transparent");
    c.fillStyle = wash;
    c.fillRect(Math.max(place.left, x), place.eaves, place.width - Math.max(place.left, x), place.bottom - place.eaves);
    this.upright(c, x, place.eaves, place.bottom, this.theme.token("--quiet"), []);
  }

  private get timeTicks(): number[] {
    const { from, to, span } = this.view;
    const step = timeStep(span, this.room / 80);
    return Array.from({ length: Math.floor(to / step) - Math.ceil(from / step) + 1 }, (_, i) => (Math.ceil(from / step) + i) * step);
  }

  private valueGrid(c: Context, lane: Lane, place: Place, top: number): void {
    c.font = this.font();
    c.textAlign = "right";
    c.textBaseline = "middle";
    for (const value of lane.ticks) {
      const y = Math.round(top + lane.y(value)) + 0.5;
      c.fillStyle = this.theme.token("--grid");
      c.fillRect(place.left, y - 0.5, place.width - place.left, 1);
      c.fillStyle = this.theme.token("--quiet");
      c.fillText(digits(value, 0), place.left - 8, y);
    }
    c.textAlign = "left";
  }

  private timeGrid(c: Context, place: Place): void {
    this.room = place.width - place.left;
    for (const t of this.timeTicks) this.upright(c, this.x(t, place), place.eaves, place.bottom, this.theme.token("--grid"), []);
  }

  private timeAxis(c: Context, place: Place): void {
    c.font = this.font();
    c.fillStyle = this.theme.token("--quiet");
    c.textAlign = "center";
    for (const t of this.timeTicks) {
      const x = this.x(t, place);
      if (x > place.left + 14 && x < place.width - 20) c.fillText(clockTime(t), x, place.axis + 16);
    }
    c.textAlign = "left";
    c.fillText("time", 0, place.axis + 16);
  }

  private loads(c: Context, place: Place): void {
    c.font = this.font();
    for (const load of this.session.result.load ?? []) {
      const from = load.start_s ?? 0;
      let to = load.end_s ?? this.now;
      if (this.now - to < Math.max(3, this.view.span * 0.04)) to = this.now;
      if (to < this.view.from || from > this.view.to) continue;
      const a = Math.max(place.left, this.x(from, place));
      const b = Math.min(place.width, this.x(to, place));
      c.fillStyle = this.theme.token("--quiet");
      c.fillRect(a, place.eaves - 4, Math.max(2, b - a), 3);
      for (const t of [from, to]) if (this.seen(t) && t < this.now - 1) c.fillRect(this.x(t, place) - 0.5, place.eaves - 8, 1, 8);
      const text = `load ${duration(to - from)}`;
      if (c.measureText(text).width < b - a - 8) this.say(c, text, a + 4, place.eaves - 9, this.theme.token("--quiet"));
    }
  }

  private burst(c: Context, lanes: Lane[], place: Place): void {
    const step = this.session.result.power_step;
    const power = lanes.findIndex((l) => l.layout.id === "power");
    if (!step?.found || !this.seen(step.time_s)) return;
    const x = this.x(step.time_s, place);
    this.upright(c, x, place.eaves, place.bottom, this.theme.token("--ink"), [1, 3]);
    if (power < 0) return;
    const cause = step.cause === "thermal" ? "heat ends the burst" : "burst ends";
    const levels = step.short_w && step.long_w ? `, ${amount(step.short_w, "W")} → ${amount(step.long_w, "W")}` : "";
    c.font = this.font(600);
    this.say(c, `${cause} ${clockTime(step.time_s)}${levels}`, x + 6, place.tops[power]! + lanes[power]!.y(((step.short_w ?? 0) + (step.long_w ?? 0)) / 2), this.theme.token("--ink"), place);
  }

  private inLane(c: Context, lane: Lane, place: Place, i: number): void {
    const top = place.tops[i]!;
    const floor = top + lane.box.clientHeight;
    c.save();
    c.beginPath();
    c.rect(place.left, top, place.width - place.left, floor - top);
    c.clip();
    this.limits(c, lane, place, top);
    if (lane.layout.id === "temperature") {
      this.hits(c, lane, place, top);
      this.steady(c, lane, place, top);
      this.forecast(c, lane, place, top);
    }
    this.ends(c, lane, place, top);
    c.restore();
  }

  private limits(c: Context, lane: Lane, place: Place, top: number): void {
    c.font = this.font();
    for (const limit of lane.limits()) {
      const y = Math.round(top + lane.y(limit.value)) + 0.5;
      c.strokeStyle = this.theme.token("--limit");
      c.lineWidth = 1;
      c.setLineDash([10, 4]);
      c.beginPath();
      c.moveTo(place.left, y);
      c.lineTo(place.width, y);
      c.stroke();
      c.setLineDash([]);
      const text = `${limit.name} ${amount(limit.value, lane.layout.unit, limit.value % 1 ? 1 : 0)}`;
      this.taken.push([place.left, y - 2, place.width, 4]);
      this.say(c, text, place.left + 8, y - 6 < top + 12 ? y + 15 : y - 6, this.theme.token("--quiet"), place);
    }
  }

  private hits(c: Context, lane: Lane, place: Place, top: number): void {
    c.fillStyle = this.theme.token("--limiter-thermal");
    for (const hit of this.session.result.thermal_hits ?? []) {
      if (hit.limit_c === null) continue;
      const a = this.x(hit.start_s ?? 0, place);
      const b = this.x(hit.end_s ?? this.now, place);
      c.fillRect(a, top + lane.y(hit.limit_c) - 2, Math.max(2, b - a), 4);
    }
  }

  private steady(c: Context, lane: Lane, place: Place, top: number): void {
    const steady = this.session.result.steady;
    if (!steady?.reached || steady.since_s === null || steady.temperature_c === null) return;
    const from = Math.max(place.left, this.x(steady.since_s, place));
    const y = top + lane.y(steady.temperature_c);
    c.strokeStyle = this.theme.token("--ink");
    c.lineWidth = 1;
    c.beginPath();
    if (this.seen(steady.since_s)) { c.moveTo(from + 0.5, y - 12); c.lineTo(from + 0.5, y + 12); }
    c.moveTo(from, y);
    c.lineTo(Math.min(place.width, this.x(this.now, place)), y);
    c.stroke();
    c.font = this.font(600);
    const text = `steady from ${clockTime(steady.since_s)} at ${amount(steady.temperature_c, "°C")}`;
    this.say(c, text, from + 6, y - 8, this.theme.token("--ink"), place);
  }

  // Towards the final temperature as one exponential that is within 1 K after eta_s; the
  // band is the 90 % interval of the final value, opening from what is known now.
  private forecast(c: Context, lane: Lane, place: Place, top: number): void {
    const s = this.session.result.steady;
    if (!s || s.reached || s.forecast_c === null || s.forecast_c === undefined || !this.session.store.last) return;
    const start = this.session.store.last.values[lane.main] ?? NaN;
    const gap = Math.abs(s.forecast_c - start);
    if (!Number.isFinite(start)) return;
    const tau = Math.max(1, s.eta_s ?? this.view.span / 4) / Math.max(1, Math.log(Math.max(gap, Math.E)));
    const curve = (final: number, t: number) => final + (start - final) * Math.exp(-t / tau);
    const points = Array.from({ length: 41 }, (_, i) => ((this.view.to - this.now) * i) / 40);
    const path = (final: number, list: number[]) => list.forEach((t) => c.lineTo(this.x(this.now + t, place), top + lane.y(curve(final, t))));
    const low = s.forecast_low_c ?? s.forecast_c;
    const high = s.forecast_high_c ?? s.forecast_c;
    c.fillStyle = this.theme.token("--band");
    c.beginPath();
    path(high, points);
    path(low, [...points].reverse());
    c.fill();
    c.strokeStyle = lane.colour;
    c.lineWidth = 1.5;
    c.setLineDash([3, 3]);
    c.beginPath();
    path(s.forecast_c, points);
    c.stroke();
    c.setLineDash([]);
    this.forecastWords(c, lane, place, top, s.forecast_c, low, high);
  }

  private forecastWords(c: Context, lane: Lane, place: Place, top: number, final: number, low: number, high: number): void {
    c.font = this.font(600);
    const places = high - low < 3 ? 1 : 0;
    const range = high > low ? ` (${low.toFixed(places)} to ${high.toFixed(places)})` : "";
    const text = `heading for ${final.toFixed(places)}${range}${SPACE}°C`;
    const x = Math.min(this.x(this.now, place) + 6, place.width - c.measureText(text).width - 4);
    const y = Math.max(top + 14, Math.min(top + lane.y(final) - 8, top + lane.box.clientHeight - 8));
    this.say(c, text, x, y, lane.colour, place);
  }

  // The newest value of each line as a dot, and the names of the lines that are not the lane's own.
  private ends(c: Context, lane: Lane, place: Place, top: number): void {
    const last = this.session.store.last;
    const x = this.x(this.now, place);
    if (!last || x > place.width) return;
    for (const line of lane.lines) {
      const v = line.channel < 0 ? this.session.store.value(-1, this.session.store.length - 1) : last.values[line.channel]!;
      if (!Number.isFinite(v)) continue;
      const y = top + lane.y(v);
      c.fillStyle = line.colour;
      c.beginPath();
      c.arc(x, y, line.main ? 4 : 2, 0, 7);
      c.fill();
      if (line.main) continue;
      c.font = this.font();
      const width = c.measureText(line.name).width;
      if (width < place.width - x - 12) this.say(c, line.name, x + 8, y + 4, line.colour, place, [top, top + lane.box.clientHeight]);
      else this.say(c, fitted(c, line.name, 160), x - 10 - Math.min(width, 160), y - 5, line.colour, place, [top, top + lane.box.clientHeight]);
    }
  }

  private markLines(c: Context, place: Place): void {
    for (const mark of this.session.marks) {
      if (!this.seen(mark.at_s)) continue;
      const user = mark.kind === "user";
      this.upright(c, this.x(mark.at_s, place), 2, place.bottom, this.theme.token(user ? "--ink" : "--quiet"), user ? [] : [2, 3]);
    }
  }

  // Marks hang from the top edge: a line through every lane and a pennant with the text.
  private pennants(c: Context, place: Place): void {
    c.font = this.font(600);
    const shown = this.session.marks.filter((m) => this.seen(m.at_s));
    shown.forEach((mark, i) => {
      const x = Math.round(this.x(mark.at_s, place));
      const next = i + 1 < shown.length ? this.x(shown[i + 1]!.at_s, place) : place.width;
      const text = fitted(c, mark.text || "mark", Math.min(260, next - x - 18));
      const width = text ? c.measureText(text).width + 10 : 5;
      c.fillStyle = this.theme.token(mark.kind === "user" ? "--ink" : "--quiet");
      c.beginPath();
      c.moveTo(x, 1);
      c.lineTo(x + width + 6, 1);
      c.lineTo(x + width, 10);
      c.lineTo(x + width + 6, 19);
      c.lineTo(x, 19);
      c.fill();
      c.fillStyle = this.theme.token("--paper");
      if (text) c.fillText(text, x + 5, 14.5);
    });
  }

  private cursor(c: Context, place: Place, t: number): void {
    const x = this.x(t, place);
    this.upright(c, x, place.eaves - 4, place.axis, this.theme.token("--ink"), []);
    const text = clockTime(t, this.view.span < 900);
    c.font = this.font(700);
    const width = c.measureText(text).width + 12;
    const left = Math.min(Math.max(place.left, x - width / 2), place.width - width);
    c.clearRect(left - 24, place.axis + 2, width + 48, 18);
    c.fillStyle = this.theme.token("--ink");
    c.fillRect(left, place.axis + 2, width, 18);
    c.fillStyle = this.theme.token("--paper");
    c.fillText(text, left + 6, place.axis + 15);
  }

  private upright(c: Context, x: number, from: number, to: number, colour: string, dash: number[]): void {
    if (!(x >= this.left)) return;
    c.strokeStyle = colour;
    c.lineWidth = 1;
    c.setLineDash(dash);
    c.beginPath();
    c.moveTo(Math.round(x) + 0.5, from);
    c.lineTo(Math.round(x) + 0.5, to);
    c.stroke();
    c.setLineDash([]);
  }

  // Writes text with a halo of paper, moved down or up where a label stands already. A
  // label that must stay within a lane is left out where that has no room for it.
  private say(c: Context, text: string, x: number, y: number, colour: string, place?: Place, within?: [number, number]): void {
    const width = c.measureText(text).width;
    if (place && x + width > place.width) x = Math.max(place.left + 4, place.width - width - 4);
    const inside = (s: number) => !within || (y + s - 11 >= within[0] && y + s + 3 <= within[1]);
    const shift = [0, 8, -8, 15, -15, 30, -30].find((s) => inside(s) && this.free(x, y + s, width));
    if (shift === undefined && within) return;
    y += shift ?? 0;
    this.taken.push([x, y - 11, width, 14]);
    c.strokeStyle = this.theme.token("--paper");
    c.lineWidth = 4;
    c.strokeText(text, x, y);
    c.fillStyle = colour;
    c.fillText(text, x, y);
  }

  private free(x: number, y: number, width: number): boolean {
    return this.taken.every(([a, b, w, h]) => x + width < a || a + w < x || y + 3 < b || b + h < y - 11);
  }
}

const STEPS = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400];

/** A step of the time axis that gives at most n labels. */
export function timeStep(span: number, n: number): number {
  return STEPS.find((s) => span / s <= n) ?? 86400;
}
