// Where the temperature is heading: the expected way with the band of its 90 % interval,
// drawn into the part of the river that has not happened yet.

import type { Lane } from "./lane.ts";
import type { Result } from "./layout.ts";
import { digits, SPACE } from "./numbers.ts";
import type { Picture } from "./picture.ts";

/** from is the die temperature now, ahead the seconds that the picture shows beyond it. */
export function drawForecast(p: Picture, lane: Lane, top: number, steady: Result["steady"], from: number, ahead: number): void {
  const final = steady?.forecast_c;
  if (!steady || steady.reached || final === null || final === undefined || !Number.isFinite(from) || ahead <= 0) return;
  const low = steady.forecast_low_c ?? final;
  const high = steady.forecast_high_c ?? final;
  const tau = timeConstant(Math.abs(final - from), steady.eta_s ?? ahead);
  const way = (end: number): [number, number][] => Array.from({ length: 41 }, (_, i) => {
    const t = (ahead * i) / 40;
    return [p.x(p.now + t), top + lane.y(end + (from - end) * Math.exp(-t / tau))];
  });
  band(p, way(low), way(high));
  const middle = way(final);
  p.c.lineWidth = 1.5;
  p.line(middle, lane.colour, [3, 3]);
  p.c.lineWidth = 1;
  const [x, y] = middle[0]!;
  const end = middle.at(-1)![1];
  p.reserve(x - 40, Math.min(y, end) - 4, p.place.width - x + 40, Math.abs(y - end) + 8);
  words(p, lane, top, final, low, high);
}

// One exponential that comes within 1 K of its end after eta seconds.
function timeConstant(gap: number, eta: number): number {
  return Math.max(1, eta) / Math.max(1, Math.log(Math.max(gap, Math.E)));
}

function band(p: Picture, low: [number, number][], high: [number, number][]): void {
  const { c } = p;
  c.fillStyle = p.token("--band");
  c.beginPath();
  for (const [x, y] of [...high, ...low.reverse()]) c.lineTo(x, y);
  c.fill();
}

function words(p: Picture, lane: Lane, top: number, final: number, low: number, high: number): void {
  p.font(600);
  const places = high - low < 3 ? 1 : 0;
  const range = high > low ? ` (${digits(low, places)} to ${digits(high, places)})` : "";
  const height = lane.box.clientHeight;
  const y = Math.max(top + 14, Math.min(top + lane.y(final) - 8, top + height - 8));
  p.label(`heading for ${digits(final, places)}${range}${SPACE}°C`, p.x(p.now) + 6, y, lane.colour, [top, top + height]);
}
