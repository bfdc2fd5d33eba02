// The sides of a comparison as a list: each letter with its dash, its runs, what they
// showed at the instant pointed at, and how to move or take out a run.

import { COLOURS, DASHES } from "./compare-lane.ts";
import { first, moved, SIDES, without } from "./compare-choice.ts";
import { el } from "./dom.ts";
import { duration } from "./numbers.ts";
import { writePlace } from "./sessions-place.ts";
import type { Compared, Kept, Run } from "./sessions-wire.ts";
import { title, when } from "./sessions-words.ts";
import { shape } from "./stair.ts";

const letter = (i: number) => String.fromCharCode(65 + i);

/** The label of each run by its session: the side's letter, numbered where it has several. */
export function labels(compared: Compared): Map<string, string> {
  return new Map(compared.sides.flatMap(({ letter, runs }) =>
    runs.map((r, i): [string, string] => [r.kept.id, runs.length > 1 ? `${letter}${i + 1}` : letter])));
}

/** change is given the sides that are wished for. */
export function sidesList(compared: Compared, change: (sides: string[][]) => void): HTMLElement {
  const sides = compared.sides.map((s) => s.runs.map((r) => r.kept.id));
  const names = labels(compared);
  return el("ol", { class: "sides" }, ...compared.sides.map((side, i) => {
    const lead = i > 0 && el("button", { type: "button", class: "quiet-button", "aria-label": `hold others against it: ${side.letter}` }, "hold others against it");
    if (lead) lead.addEventListener("click", () => change(first(sides, i)));
    return el("li", { class: "side" },
      el("div", { class: "side-head" }, sample(i), el("b", { class: "side-letter" }, side.letter), i === 0 && sides.length > 1 ? el("span", { class: "quiet" }, "the others are held against it") : lead || null),
      el("ul", { class: "side-runs" }, ...side.runs.map((run) => runLine(run, names.get(run.kept.id)!, sides, i, change))));
  }));
}

function runLine(run: Run, label: string, sides: string[][], side: number, change: (sides: string[][]) => void): HTMLElement {
  const { kept } = run;
  const name = title(kept);
  const select = el("select", { "aria-label": `Side of ${name}`, class: "side-choice" },
    ...sides.map((_, i) => el("option", { value: i }, letter(i))), sides.length < SIDES ? el("option", { value: sides.length }, "a new side") : null);
  select.value = String(side);
  select.addEventListener("change", () => change(moved(sides, kept.id, Number(select.value))));
  const out = el("button", { type: "button", class: "quiet-button", "aria-label": `take out: ${name}` }, "take out");
  out.addEventListener("click", () => change(without(sides, kept.id)));
  const heading = el("span", { class: "run-name" }, label.length > 1 ? el("b", {}, `${label} `) : null,
    el("a", { href: writePlace({ at: "session", id: kept.id }) }, name));
  return el("li", {}, heading, el("span", { class: "quiet run-facts" }, facts(kept, run)), el("span", { class: "run-values", "data-label": label }),
    el("span", { class: "run-acts" }, select, out));
}

function facts(kept: Kept, run: Run): string {
  const load = run.load_start_s === null || run.load_end_s === null ? "no load found: laid at its first reading" : `load ${duration(run.load_end_s - run.load_start_s)}`;
  return `${when(kept)}, ${load}${kept.simulated ? ", simulated" : ""}`;
}

/** The dash and colour of a side, as a short line. */
function sample(side: number): HTMLElement {
  const svg = shape("svg", { viewBox: "0 0 48 8", width: 48, height: 8, "aria-hidden": "true" });
  svg.append(shape("path", { d: "M0 4 H48", fill: "none", style: `stroke: var(${COLOURS[side]})`, "stroke-width": 2.5, "stroke-dasharray": DASHES[side]!.join(" ") }));
  const box = el("span", { class: "side-sample" });
  box.append(svg);
  return box;
}
