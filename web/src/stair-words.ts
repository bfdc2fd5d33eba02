// What the temperature stair means, in a sentence: which part of the heat's way is the
// larger one, as far as the intervals allow to say so; and what became of an earlier
// session's. Pure.

import type { Result } from "./layout.ts";
import { amount, digits, SPACE } from "./numbers.ts";

/** A way of the heat in two parts, K/W. */
export interface Way {
  near: number;
  far: number;
}

/** What the analysis knows of the way; null where it does not tell both parts. */
export function wayOf(path: Result["thermal_path"]): Way | null {
  const near = path?.near_k_per_w ?? null;
  const far = path?.far_k_per_w ?? null;
  return near !== null && far !== null && near + far > 0 ? { near, far } : null;
}

/** The near part's share of the rise with its widest interval, in %; null without intervals. */
export function share(path: NonNullable<Result["thermal_path"]>): { low: number; high: number } | null {
  const { near_low_k_per_w: nl, near_high_k_per_w: nh, far_low_k_per_w: fl, far_high_k_per_w: fh } = path;
  if (nl == null || nh == null || fl == null || fh == null || !(nl + fh > 0) || !(nh + fl > 0)) return null;
  return { low: (100 * nl) / (nl + fh), high: (100 * nh) / (nh + fl) };
}

export function meaning(path: NonNullable<Result["thermal_path"]>, way: Way, power: number): string {
  const part = Math.round((100 * way.near) / (way.near + way.far));
  const range = share(path);
  const interval = range ? ` (${digits(range.low, 0)} to ${digits(range.high, 0)})` : "";
  const first = `At ${amount(power, "W")}, ${part}${SPACE}%${interval} of the rise is lost near the die, before the block.`;
  if (!range) return `${first} How sure that is, is not known.`;
  if (range.low > 50) return `${first} That is the larger part: paste, pads and mounting are what can gain most.`;
  if (range.high < 50) return `${first} The rest, from the block to ${path.reference_source || "the reference"}, is larger: fins, air or coolant are what can gain most.`;
  return `${first} Which part is larger cannot be told yet.`;
}

/** What became of the parts since an earlier session. */
export function against(way: Way, earlier: Way, name: string): string {
  const times = (now: number, then: number) => `${digits(now / then, 2)} times`;
  return `Dashed: ${name}, ${amount(earlier.near, "K/W")} near the die and ${amount(earlier.far, "K/W")} beyond. Now ${times(way.near, earlier.near)} and ${times(way.far, earlier.far)} that; whether that is real, a comparison says with its intervals.`;
}
