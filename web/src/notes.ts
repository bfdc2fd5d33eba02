// What is said in the picture itself: load spans, marks hanging from the top edge, the
// end of the burst, steady state, limits with their names, the ends of the lines.

import { fitted } from "./canvas.ts";
import { drawForecast } from "./forecast.ts";
import { drawGround, drawTimeAxis } from "./ground.ts";
import type { Lane } from "./lane.ts";
import { amount, clockTime, duration } from "./numbers.ts";
import { Picture, type Place } from "./picture.ts";
import type { Session } from "./session.ts";
import type { Theme } from "./theme.ts";
import type { View } from "./view.ts";

/** A reading older than this, in seconds, is no value of the present. */
const HELD_S = 2;

export class Notes {
  private readonly session: Session;
  private readonly view: View;
  private readonly theme: Theme;

  constructor(session: Session, view: View, theme: Theme) {
    this.session = session;
    this.view = view;
    this.theme = theme;
  }

  private picture(c: CanvasRenderingContext2D, place: Place): Picture {
    return new Picture(c, place, this.view, this.theme);
  }

  /** What lies under the lines. */
  drawUnder(c: CanvasRenderingContext2D, lanes: Lane[], place: Place): void {
    drawGround(this.picture(c, place), lanes, this.session.marks, this.view);
  }

  /** What stands over the lines. */
  drawOver(c: CanvasRenderingContext2D, lanes: Lane[], place: Place, cursor: number | null): void {
    const p = this.picture(c, place);
    drawTimeAxis(p, this.view);
    this.loads(p);
    this.burst(p, lanes);
    lanes.forEach((lane, i) => this.inLane(p, lane, place.tops[i]!));
    this.pennants(p);
    if (cursor !== null) this.cursor(p, cursor);
  }

  private loads(p: Picture): void {
    const { c, place } = p;
    p.font();
    for (const load of this.session.result.load ?? []) {
      const from = load.start_s ?? 0;
      const to = this.session.openEnd(load.end_s, p.now);
      if (to < this.view.from || from > this.view.to) continue;
      const [a, b] = [p.clamped(from), p.clamped(to)];
      c.fillStyle = p.token("--quiet");
      c.fillRect(a, place.eaves - 4, Math.max(2, b - a), 3);
      const edges = this.session.goesOn(load.end_s) ? [from] : [from, to];
      for (const t of edges) if (p.shows(t)) c.fillRect(p.x(t) - 0.5, place.eaves - 8, 1, 8);
      const text = `load ${duration(to - from)}`;
      if (c.measureText(text).width < b - a - 8) p.label(text, a + 4, place.eaves - 9, p.token("--quiet"));
    }
  }

  private burst(p: Picture, lanes: Lane[]): void {
    const step = this.session.result.power_step;
    const power = lanes.findIndex((l) => l.layout.id === "power");
    if (!step?.found || !p.shows(step.time_s)) return;
    p.upright(step.time_s, p.place.eaves, p.place.bottom, p.token("--ink"), [1, 3]);
    if (power < 0) return;
    const cause = step.cause === "thermal" ? "heat ends the burst" : "burst ends";
    const levels = step.short_w && step.long_w ? `, ${amount(step.short_w, "W")} → ${amount(step.long_w, "W")}` : "";
    const y = p.place.tops[power]! + lanes[power]!.y(((step.short_w ?? 0) + (step.long_w ?? 0)) / 2);
    p.font(600);
    p.label(`${cause} ${clockTime(step.time_s)}${levels}`, p.x(step.time_s) + 6, y, p.token("--ink"));
  }

  private inLane(p: Picture, lane: Lane, top: number): void {
    const { c, place } = p;
    c.save();
    c.beginPath();
    c.rect(place.left, top, place.width - place.left, lane.box.clientHeight);
    c.clip();
    this.limits(p, lane, top);
    if (lane.layout.id === "temperature") {
      this.hits(p, lane, top);
      this.steady(p, lane, top);
      const { load, steady } = this.session.result;
      if (load?.length && this.session.goesOn(load.at(-1)!.end_s)) drawForecast(p, lane, top, steady, this.session.store.at(lane.main, p.now, HELD_S), this.view.to - p.now);
    }
    this.ends(p, lane, top);
    c.restore();
  }

  private limits(p: Picture, lane: Lane, top: number): void {
    p.font();
    for (const limit of lane.limits()) {
      const y = Math.round(top + lane.y(limit.value)) + 0.5;
      p.line([[p.place.left, y], [p.place.width, y]], p.token("--limit"), [10, 4]);
      p.reserve(p.place.left, y - 2, p.place.width, 4);
      const text = `${limit.name} ${amount(limit.value, lane.layout.unit, limit.value % 1 ? 1 : 0)}`;
      p.label(text, p.place.left + 8, y - 6 < top + 12 ? y + 15 : y - 6, p.token("--quiet"));
    }
  }

  private hits(p: Picture, lane: Lane, top: number): void {
    p.c.fillStyle = p.token("--limiter-thermal");
    for (const hit of this.session.result.thermal_hits ?? []) {
      if (hit.limit_c === null) continue;
      const a = p.x(hit.start_s ?? 0);
      p.c.fillRect(a, top + lane.y(hit.limit_c) - 2, Math.max(2, p.x(hit.end_s ?? p.now) - a), 4);
    }
  }

  private steady(p: Picture, lane: Lane, top: number): void {
    const { steady, load } = this.session.result;
    if (!steady?.reached || steady.since_s === null || steady.temperature_c === null) return;
    const to = this.session.openEnd(load?.at(-1)?.end_s ?? null, p.now);
    if (to < this.view.from || steady.since_s > this.view.to) return;
    const from = p.clamped(steady.since_s);
    const y = top + lane.y(steady.temperature_c);
    if (p.shows(steady.since_s)) p.line([[from + 0.5, y - 12], [from + 0.5, y + 12]], p.token("--ink"));
    p.line([[from, y], [p.clamped(to), y]], p.token("--ink"));
    p.font(600);
    p.label(`steady from ${clockTime(steady.since_s)} at ${amount(steady.temperature_c, "°C")}`, from + 6, y - 8, p.token("--ink"));
  }

  // The newest value of each line as a dot, and the names of the lines that are not the lane's own.
  private ends(p: Picture, lane: Lane, top: number): void {
    const { store } = this.session;
    const x = p.x(p.now);
    if (x > p.place.width) return;
    p.font();
    for (const line of lane.lines) {
      const v = store.at(line.channel, p.now, HELD_S);
      if (!Number.isFinite(v)) continue;
      const y = top + lane.y(v);
      p.c.fillStyle = line.colour;
      p.c.beginPath();
      p.c.arc(x, y, line.main ? 4 : 2, 0, 7);
      p.c.fill();
      if (line.main) continue;
      const name = fitted(p.c, line.name, 180);
      const width = p.c.measureText(name).width;
      const fits = width < p.place.width - x - 12;
      p.label(name, fits ? x + 8 : x - 10 - width, fits ? y + 4 : y - 5, line.colour, [top, top + lane.box.clientHeight]);
    }
  }

  // Marks hang from the top edge: a pennant with the text at the line through every lane.
  private pennants(p: Picture): void {
    const { c } = p;
    p.font(600);
    const shown = this.session.marks.filter((m) => p.shows(m.at_s));
    shown.forEach((mark, i) => {
      const x = Math.round(p.x(mark.at_s));
      const next = i + 1 < shown.length ? p.x(shown[i + 1]!.at_s) : p.place.width;
      const text = fitted(c, mark.text || "mark", Math.min(260, next - x - 18));
      const width = text ? c.measureText(text).width + 10 : 5;
      c.fillStyle = p.token(mark.kind === "user" ? "--ink" : "--quiet");
      c.beginPath();
      for (const [dx, y] of [[0, 1], [width + 6, 1], [width, 10], [width + 6, 19], [0, 19]] as const) c.lineTo(x + dx, y);
      c.fill();
      c.fillStyle = p.token("--paper");
      if (text) c.fillText(text, x + 5, 14.5);
    });
  }

  private cursor(p: Picture, t: number): void {
    const { c, place } = p;
    p.upright(t, place.eaves - 4, place.axis, p.token("--ink"));
    const text = clockTime(t, this.view.span < 900);
    p.font(700);
    const width = c.measureText(text).width + 12;
    const left = Math.min(Math.max(place.left, p.x(t) - width / 2), place.width - width);
    c.clearRect(left - 24, place.axis + 2, width + 48, 18);
    c.fillStyle = p.token("--ink");
    c.fillRect(left, place.axis + 2, width, 18);
    c.fillStyle = p.token("--paper");
    c.fillText(text, left + 6, place.axis + 15);
  }
}
