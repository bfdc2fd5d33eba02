// What lies under the lines: the grids of value and time, the wash over what is still to
// come, the lines from which marks hang; and the labels of the time axis.

import type { Lane } from "./lane.ts";
import type { Mark } from "./layout.ts";
import { clockTime, digits } from "./numbers.ts";
import type { Picture } from "./picture.ts";
import type { Window } from "./view.ts";

/** What the ground must know of a lane. */
type Scale = Pick<Lane, "ticks" | "y">;

export function drawGround(p: Picture, lanes: Scale[], marks: Mark[], view: Window): void {
  if (!p.still) future(p);
  lanes.forEach((lane, i) => valueGrid(p, lane, p.place.tops[i]!));
  for (const t of timeTicks(p, view)) p.upright(t, p.place.eaves, p.place.bottom, p.token("--grid"));
  for (const mark of marks) {
    if (!p.shows(mark.at_s)) continue;
    const user = mark.kind === "user";
    p.upright(mark.at_s, 2, p.place.bottom, p.token(user ? "--ink" : "--quiet"), user ? [] : [2, 3]);
  }
}

// What lies ahead is not measured yet: a wash sets it apart.
function future(p: Picture): void {
  const { c, place } = p;
  const x = Math.max(place.left, p.x(p.now));
  if (!(x < place.width)) return;
  const wash = c.createLinearGradient(x, 0, place.width, 0);
  wash.addColorStop(0, p.token("--future"));
  wash.addColorStop(1, "transparent");
  c.fillStyle = wash;
  c.fillRect(x, place.eaves, place.width - x, place.bottom - place.eaves);
  p.upright(p.now, place.eaves, place.bottom, p.token("--quiet"));
}

function valueGrid(p: Picture, lane: Scale, top: number): void {
  const { c, place } = p;
  p.font();
  c.textAlign = "right";
  c.textBaseline = "middle";
  for (const value of lane.ticks) {
    const y = Math.round(top + lane.y(value)) + 0.5;
    c.fillStyle = p.token("--grid");
    c.fillRect(place.left, y - 0.5, place.width - place.left, 1);
    c.fillStyle = p.token("--quiet");
    c.fillText(digits(value, 0), place.left - 8, y);
  }
}

export function drawTimeAxis(p: Picture, view: Window): void {
  const { c, place } = p;
  p.font();
  c.fillStyle = p.token("--quiet");
  c.textAlign = "center";
  for (const t of timeTicks(p, view)) {
    const x = p.x(t);
    if (x > place.left + 14 && x < place.width - 20) c.fillText(clockTime(t), x, place.axis + 16);
  }
  c.textAlign = "left";
  c.fillText("time", 0, place.axis + 16);
}

function timeTicks(p: Picture, view: Window): number[] {
  const step = timeStep(view.span, (p.place.width - p.place.left) / 80);
  const first = Math.ceil(view.from / step);
  return Array.from({ length: Math.max(0, Math.floor(view.to / step) - first + 1) }, (_, i) => (first + i) * step);
}

const STEPS = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400];

/** A step of the time axis that gives at most n labels. */
export function timeStep(span: number, n: number): number {
  return STEPS.find((s) => span / s <= n) ?? 86400;
}
