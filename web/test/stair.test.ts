// What the stair says, and what it does not dare to say.

import assert from "node:assert/strict";
import test from "node:test";

import type { Result } from "../src/layout.ts";
import { against, meaning, share, wayOf } from "../src/stair-words.ts";

type Path = NonNullable<Result["thermal_path"]>;
const path = (near: [number, number, number], far: [number, number, number]): Path => ({
  reference_c: 22, reference_source: "ambient temperature", rth_k_per_w: near[1] + far[1], rth_low_k_per_w: 0, rth_high_k_per_w: 0,
  near_low_k_per_w: near[0], near_k_per_w: near[1], near_high_k_per_w: near[2], far_low_k_per_w: far[0], far_k_per_w: far[1], far_high_k_per_w: far[2],
});

test("the larger part is named only where the intervals allow it", () => {
  const bad = path([1.1, 1.2, 1.3], [0.7, 0.8, 0.9]);
  assert.ok(meaning(bad, wayOf(bad)!, 28).includes("60\u00a0% (55 to 65) of the rise is lost near the die"), meaning(bad, wayOf(bad)!, 28));
  assert.ok(meaning(bad, wayOf(bad)!, 28).includes("paste, pads and mounting"));
  const good = path([0.2, 0.22, 0.25], [0.7, 0.8, 0.9]);
  assert.ok(meaning(good, wayOf(good)!, 28).includes("fins, air or coolant"));
  const open = path([0.5, 0.8, 1.1], [0.6, 0.8, 1.2]);
  assert.ok(meaning(open, wayOf(open)!, 28).endsWith("Which part is larger cannot be told yet."));
  const bare = { ...bad, near_low_k_per_w: null };
  assert.equal(share(bare), null);
  assert.ok(meaning(bare, wayOf(bare)!, 28).includes("not known"));
});

test("no way without both parts", () => {
  assert.equal(wayOf(undefined), null);
  assert.equal(wayOf({ ...path([1, 1, 1], [1, 1, 1]), far_k_per_w: null }), null);
});

test("against an earlier session", () => {
  assert.ok(against({ near: 0.6, far: 0.8 }, { near: 1.2, far: 0.8 }, "first mount").includes("Now 0.50 times and 1.00 times"));
});
