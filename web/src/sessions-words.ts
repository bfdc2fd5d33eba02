// How a kept session is called and described in words.

import type { Kept } from "./sessions-wire.ts";

/** Conditions that tell sessions apart, the most telling first. */
const TELLING = ["cooler", "mount", "paste", "lid"];

/** The conditions of a session, the most telling first. */
export function conditions(kept: Kept): { key: string; value: string }[] {
  const rank = (key: string) => (TELLING.includes(key) ? TELLING.indexOf(key) : TELLING.length);
  return [...kept.setup].sort((a, b) => rank(a.key) - rank(b.key));
}

/** What a session is called: its name, else its most telling condition, else when it was. */
export function title(kept: Kept): string {
  if (kept.name) return kept.name;
  const telling = kept.setup.find((s) => s.key === "mount") ?? kept.setup.find((s) => s.key === "cooler");
  return telling?.value || `session of ${when(kept)}`;
}

export function began(kept: Kept): Date {
  return new Date(kept.start ?? kept.stored);
}

/** Date and time, in this reader's zone. */
export function when(kept: Kept): string {
  return began(kept).toLocaleString(undefined, { day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit" });
}

export function hour(kept: Kept): string {
  return began(kept).toLocaleTimeString(undefined, { hour: "2-digit", minute: "2-digit" });
}

/** The day as a heading. */
export function day(kept: Kept, today = new Date()): string {
  const at = began(kept);
  const words = at.toLocaleDateString(undefined, { weekday: "long", day: "numeric", month: "long", year: "numeric" });
  return at.toDateString() === today.toDateString() ? `Today, ${words}` : words;
}
