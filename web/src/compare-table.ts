// The tables of a comparison: which conditions differ, and by how much each figure changed,
// with the interval and whether it is more than chance.

import { el } from "./dom.ts";
import { amount, decimals, digits, NONE, SPACE } from "./numbers.ts";
import type { Compared, Metric, Side } from "./sessions-wire.ts";

/** The conditions that differ between any two sides, one column a side; null if none do. */
export function setupTable(sides: Side[]): HTMLElement | null {
  const values = sides.map(valuesOf);
  const keys = [...new Set(values.flatMap((v) => [...v.keys()]))]
    .filter((key) => new Set(values.map((v) => v.get(key) ?? "")).size > 1);
  if (!keys.length) return null;
  const head = el("tr", {}, el("th", { scope: "col" }, "condition"), ...sides.map((s) => el("th", { scope: "col" }, s.letter)));
  const rows = keys.map((key) => el("tr", {}, el("th", { scope: "row" }, key),
    ...values.map((v) => el("td", {}, v.get(key) ?? el("span", { class: "quiet" }, "not noted")))));
  return el("table", { class: "setup-table" }, el("caption", { class: "unseen" }, "What differs in the setup"), el("thead", {}, head), el("tbody", {}, ...rows));
}

// A side's value of each condition; runs that differ among themselves give all.
function valuesOf(side: Side): Map<string, string> {
  const out = new Map<string, string>();
  for (const run of side.runs) {
    for (const { key, value } of run.kept.setup) {
      const before = out.get(key);
      if (before === undefined) out.set(key, value);
      else if (!before.split(" / ").includes(value)) out.set(key, `${before} / ${value}`);
    }
  }
  return out;
}

/** The figures of the first side, and each other side's with its change. */
export function changeTable(compared: Compared): HTMLElement | null {
  const { comparisons } = compared;
  const names = [...new Set(comparisons.flatMap((c) => c.comparison.metrics.map((m) => m.name)))];
  if (!names.length) return null;
  const find = (i: number, name: string) => comparisons[i]!.comparison.metrics.find((m) => m.name === name);
  const head = el("tr", {}, el("th", { scope: "col" }, "figure"), el("th", { scope: "col", class: "number" }, compared.sides[0]!.letter),
    ...comparisons.flatMap((c) => [el("th", { scope: "col", class: "number" }, c.b), el("th", { scope: "col" }, `change from ${c.a} to ${c.b}`)]));
  const told = comparisons.map((c) => c.comparison.metrics.some((m) => m.real !== null));
  const rows = names.map((name) => {
    const some = comparisons.map((_, i) => find(i, name)).find((m) => m)!;
    const cells = comparisons.flatMap((_, i) => pair(find(i, name), told[i]!));
    return el("tr", {}, el("th", { scope: "row" }, name), figure(some.a, some.unit), ...cells);
  });
  const table = el("table", { class: "change-table" }, el("caption", { class: "unseen" }, "Figures and their changes, with 95 % intervals"), el("thead", {}, head), el("tbody", {}, ...rows));
  return el("div", { class: "wide", tabindex: 0, role: "region", "aria-label": "Table of changes" }, table);
}

function figure(value: number | null, unit: string): HTMLElement {
  return el("td", { class: "number" }, value === null ? NONE : amount(value, unit, places(unit)));
}

function places(unit: string): number {
  return unit === "points" ? 0 : decimals(unit);
}

// told is false where nothing can be said of any figure of this pair: one sentence below says so.
function pair(m: Metric | undefined, told: boolean): HTMLElement[] {
  if (!m) return [figure(null, ""), el("td", { class: "quiet" }, "not in both")];
  const interval = m.low_pct === null || m.high_pct === null ? "" : ` (${signed(m.low_pct)} to ${signed(m.high_pct)})`;
  const change = m.change_pct === null ? NONE : `${signed(m.change_pct)}${SPACE}%${interval}`;
  return [figure(m.b, m.unit), el("td", {}, el("span", { class: "change", "data-real": m.real }, change), " ", told ? el("span", { class: "quiet" }, judged(m)) : null)];
}

function signed(pct: number): string {
  return (pct > 0 ? "+" : "") + digits(pct, 1);
}

function judged(m: Metric): string {
  if (m.real === null) return "real or chance: not known";
  return m.real ? "real" : "no change shown";
}

/** What is missing or could be shown with these runs, each sentence once. */
export function reasons(compared: Compared): string[] {
  const out = new Map<string, string[]>();
  for (const { b, comparison } of compared.comparisons) {
    for (const m of comparison.metrics) {
      if (!m.why) continue;
      const of = m.real === null ? b : `${b}, ${m.name}`;
      const list = out.get(m.why) ?? [];
      if (!list.includes(of)) list.push(of);
      out.set(m.why, list);
    }
  }
  const one = compared.comparisons.length === 1;
  return [...out].map(([why, of]) => {
    const sides = of.every((o) => o.length === 1);
    if (sides) return `Whether the changes${one ? "" : ` to ${of.join(", ")}`} are real or chance is not known: ${why}.`;
    return `${of.join("; ")}: ${why}.`;
  });
}

export function sentence(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1) + (/[.!?]$/.test(words) ? "" : ".");
}
