// Temperature stairs side by side: the kelvin lost near the die and beyond, each side at
// the same power, with the first side's stair as an outline behind the others.

import { el } from "./dom.ts";
import { amount, digits } from "./numbers.ts";
import { sentence } from "./compare-table.ts";
import type { Compared } from "./sessions-wire.ts";
import { shape, words } from "./stair.ts";

const W = 300, H = 210, TOP = 26, STEP = 72, LEFT = 10;

interface Way {
  letter: string;
  near: number;
  far: number;
}

/** The stairs that are known, and why others are not. */
export function stairs(compared: Compared): HTMLElement[] {
  const power = compared.sides[0]?.runs[0]?.power_w ?? null;
  const out: HTMLElement[] = [];
  let first: Way | null = null;
  const pairs: { a: Way; b: Way }[] = [];
  for (const { a, b, comparison } of compared.comparisons) {
    const t = comparison.thermal_path;
    if (t.near_a_k_per_w === null || t.far_a_k_per_w === null || t.near_b_k_per_w === null || t.far_b_k_per_w === null || power === null || !(power > 0)) {
      out.push(el("p", { class: "quiet" }, `No stair of ${b} against ${a}. ${sentence(t.why.replace(/\bB\b/g, b) || "the power under load is not known")}`));
      continue;
    }
    pairs.push({ a: { letter: a, near: t.near_a_k_per_w, far: t.far_a_k_per_w }, b: { letter: b, near: t.near_b_k_per_w, far: t.far_b_k_per_w } });
    first ??= pairs[0]!.a;
  }
  if (!first || power === null) return out;
  const tallest = Math.max(...pairs.flatMap(({ a, b }) => [a.near + a.far, b.near + b.far])) * power;
  const figures = [stair(first, null, power, tallest), ...pairs.map(({ a, b }) => stair(b, a, power, tallest))];
  const note = `Each at ${amount(power, "W")}, the power that ${first.letter} sustained: kelvin lost on the way from the die to the reference.`;
  return [el("div", { class: "stairs" }, ...figures), el("p", { class: "quiet" }, note), ...out];
}

function stair(way: Way, outline: Way | null, power: number, tallest: number): HTMLElement {
  const scale = (H - TOP - 8) / tallest;
  const floor = H - 8;
  const label = `${way.letter}: ${amount(way.near * power, "K", 0)} near the die, ${amount(way.far * power, "K", 0)} from there to the reference`;
  const svg = shape("svg", { viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": outline ? `${label}; ${outline.letter} as an outline` : label });
  let y = floor - (way.near + way.far) * power * scale;
  svg.append(words(LEFT, Math.max(14, y - 8), `${amount((way.near + way.far) * power, "K", 0)} in all`, "step-end"));
  let free = 0;
  [way.near, way.far].forEach((r, i) => {
    const height = r * power * scale;
    const x = LEFT + i * STEP;
    svg.append(shape("rect", { x, y, width: STEP, height, class: i ? "step-far" : "step-near" }));
    const at = Math.max(free, TOP + 4, Math.min(y + height / 2 + 4, floor - 18));
    free = at + 38;
    const lead = LEFT + 2 * STEP + 12;
    svg.append(shape("path", { d: `M${x + STEP + 4} ${at - 4} H${lead - 4}`, class: "step-lead" }));
    svg.append(words(lead, at, `${amount(r * power, "K", 0)} · ${digits(r, 2)}\u00a0K/W`, "step-value"));
    svg.append(words(lead, at + 15, i ? "block, fins, air" : "die, paste, mount", "step-name"));
    y += height;
  });
  svg.append(shape("path", { d: path(way, power, scale, floor, W - 4), class: "step-edge" }));
  if (outline) svg.append(shape("path", { d: path(outline, power, scale, floor, LEFT + 2 * STEP), class: "step-outline" }));
  const caption = el("figcaption", {}, el("b", {}, way.letter), outline ? `, with ${outline.letter} as the dashed outline` : "");
  const figure = el("figure", { class: "stair" }, caption);
  figure.append(svg);
  return figure;
}

function path(way: Way, power: number, scale: number, floor: number, to: number): string {
  const middle = floor - way.far * power * scale;
  return `M${LEFT} ${middle - way.near * power * scale} H${LEFT + STEP} V${middle} H${LEFT + 2 * STEP} V${floor} H${to}`;
}
