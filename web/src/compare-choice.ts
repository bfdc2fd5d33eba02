// Which sessions stand on which side of a comparison: runs of the same setup belong
// together, and the oldest setup comes first, because that is what others are held against.

import type { Kept } from "./sessions-wire.ts";
import { began } from "./sessions-words.ts";

/** The most sides that are told apart, and the most sessions. */
export const SIDES = 6;
export const RUNS = 12;

/** Sorts sessions into sides by their setup. */
export function grouped(list: Kept[]): string[][] {
  const sides = new Map<string, string[]>();
  const oldestFirst = [...list].sort((a, b) => began(a).getTime() - began(b).getTime()).slice(0, RUNS);
  for (const kept of oldestFirst) {
    const key = setupKey(kept);
    const side = sides.get(key) ?? [];
    side.push(kept.id);
    sides.set(key, side);
  }
  return [...sides.values()];
}

// Sessions whose setup nobody noted are like no other.
function setupKey(kept: Kept): string {
  const noted = kept.setup.filter((s) => s.key.trim().toLowerCase() !== "score").map((s) => `${s.key}\n${s.value}`).sort();
  return noted.length ? noted.join("\n\n") : kept.id;
}

/** Moves a session to another side; one beyond the last is a new side. */
export function moved(sides: string[][], id: string, to: number): string[][] {
  const out = sides.map((side) => side.filter((s) => s !== id));
  if (to >= out.length) out.push([]);
  out[to]!.push(id);
  return out.filter((side) => side.length > 0);
}

/** Adds a session: to the side of its own setup, else as a new side while there is room. all holds what is known of the others. */
export function joined(sides: string[][], kept: Kept, all: Kept[]): string[][] {
  if (sides.some((side) => side.includes(kept.id))) return sides;
  const alike = (id: string) => all.some((k) => k.id === id && setupKey(k) === setupKey(kept));
  const own = sides.findIndex((side) => side.some(alike));
  return moved(sides, kept.id, own >= 0 ? own : Math.min(sides.length, SIDES - 1));
}

/** Takes a session out. */
export function without(sides: string[][], id: string): string[][] {
  return sides.map((side) => side.filter((s) => s !== id)).filter((side) => side.length > 0);
}

/** Makes a side the one that the others are held against. */
export function first(sides: string[][], side: number): string[][] {
  return [sides[side]!, ...sides.filter((_, i) => i !== side)];
}
