// How a kept session is called and described in words.

import type { Kept } from "./sessions-wire.ts";

/** Conditions that tell sessions apart, the most telling first. */
const TELLING = ["cooler", "mount", "paste", "lid"];

/** The conditions of a session, the most telling first. */
export function conditions(kept: Kept): { key: string; value: string }[] {
  const rank = (key: string) => (TELLING.includes(key) ? TELLING.indexOf(key) : TELLING.length);
  return [...kept.setup].sort((a, b) => rank(a.key) - rank(b.key));
}

/** What a session is called: its name, else its cooler and mount, else when it was. */
export function title(kept: Kept): string {
  return kept.name || naming(kept).map((s) => s.value).join(" \u00b7 ") || `session of ${when(kept)}`;
}

// The conditions that name a session without a name; one that says what the other says is left out.
function naming(kept: Kept): Kept["setup"] {
  const found = ["cooler", "mount"].flatMap((key) => kept.setup.filter((s) => s.key === key && s.value));
  return found.filter((s, i) => !found.some((o, k) => k !== i && o.value.includes(s.value) && (o.value !== s.value || k < i)));
}

/** The conditions that the title does not say, the most telling first. */
export function beside(kept: Kept): Kept["setup"] {
  const said = kept.name ? [] : naming(kept);
  return conditions(kept).filter((c) => !said.includes(c) && !said.some((s) => s.value.includes(c.value)));
}

/** The keys of conditions that differ among sessions: they tell them apart. */
export function differing(list: Kept[]): Set<string> {
  const keys = new Set(list.flatMap((k) => k.setup.map((s) => s.key)));
  const value = (k: Kept, key: string) => k.setup.find((s) => s.key === key)?.value ?? "";
  return new Set([...keys].filter((key) => list.some((k) => value(k, key) !== value(list[0]!, key))));
}

export function began(kept: Kept): Date {
  return new Date(kept.start ?? kept.stored);
}

/** Date and time, in this reader's zone. */
export function when(kept: Kept): string {
  return began(kept).toLocaleString(undefined, { day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
}

export function hour(kept: Kept): string {
  return began(kept).toLocaleTimeString(undefined, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
}

/** The day as a heading. */
export function day(kept: Kept, today = new Date()): string {
  const at = began(kept);
  const words = at.toLocaleDateString(undefined, { weekday: "long", day: "numeric", month: "long", year: "numeric" });
  return at.toDateString() === today.toDateString() ? `Today, ${words}` : words;
}
