// Kept sessions and comparisons: the address of a place, what a session is called, which
// sessions stand on which side, and what a run showed at an instant.

import assert from "node:assert/strict";
import test from "node:test";

import { first, grouped, joined, moved, without } from "../src/compare-choice.ts";
import { valueAt } from "../src/compare-lane.ts";
import { reasons } from "../src/compare-table.ts";
import { readPlace, writePlace } from "../src/sessions-place.ts";
import type { Compared, Kept, Metric } from "../src/sessions-wire.ts";
import { beside, differing, title } from "../src/sessions-words.ts";

const A = "20260101-000000-aaa", B = "20260102-000000-bbb", C = "20260103-000000-ccc";

function kept(id: string, setup: Record<string, string>, name = ""): Kept {
  return {
    id, name, start: null, stored: `${id.slice(0, 4)}-${id.slice(4, 6)}-${id.slice(6, 8)}T00:00:00Z`, length_s: 60, channels: 1, rows: 600, state: "closed",
    why: "", origin: "live", host: "bench", simulated: false, pinned: false, deleted: null, scores: [], marks: 0, shown: false,
    setup: Object.entries(setup).map(([key, value]) => ({ key, value })),
  };
}

test("a place survives its address", () => {
  for (const place of [
    { at: "now" }, { at: "sessions" }, { at: "session", id: A }, { at: "compare", sides: [] }, { at: "compare", sides: [[A, B], [C]] },
  ] as const) assert.deepEqual(readPlace(writePlace(place as never)), place);
});

test("an address that nobody made leads nowhere strange", () => {
  for (const hash of ["", "#", "#river", "#session=", "#session=../../etc", "#session=last", `#session=${A}x`, "#__proto__"]) assert.deepEqual(readPlace(hash), { at: "now" });
  assert.deepEqual(readPlace(`#compare=${A},x/<b>/${B}`), { at: "compare", sides: [[A], [B]] });
});

test("runs of one setup stand on one side, the oldest first", () => {
  const list = [kept(C, { paste: "old", cooler: "fan" }), kept(B, { paste: "new", cooler: "fan" }), kept(A, { cooler: "fan", paste: "old", score: "7" })];
  assert.deepEqual(grouped(list), [[A, C], [B]]);
  assert.deepEqual(grouped([kept(A, {}), kept(B, {})]), [[A], [B]], "a setup that nobody noted is like no other");
});

test("runs can be moved, taken out, and a side put first", () => {
  const sides = [[A, B], [C]];
  assert.deepEqual(moved(sides, B, 2), [[A], [C], [B]]);
  assert.deepEqual(moved(sides, C, 0), [[A, B, C]]);
  const all = [kept(A, { paste: "old" }), kept(B, { paste: "new" }), kept(C, { paste: "new" })];
  assert.deepEqual(joined([[A], [B]], all[2]!, all), [[A], [B, C]], "runs of one setup stand together");
  assert.deepEqual(joined([[A]], all[2]!, all), [[A], [C]]);
  assert.deepEqual(joined([[A, C]], all[2]!, all), [[A, C]]);
  assert.deepEqual(without(sides, C), [[A, B]]);
  assert.deepEqual(first(sides, 1), [[C], [A, B]]);
  assert.deepEqual(sides, [[A, B], [C]], "what was given stays");
});

test("a session is called by its name, else by what tells it apart", () => {
  assert.equal(title(kept(A, { cooler: "plate" }, "my run")), "my run");
  assert.equal(title(kept(A, { cooler: "fan cooler, as delivered", mount: "as delivered", paste: "factory" })), "fan cooler, as delivered");
  assert.equal(title(kept(A, { mount: "first mount", cooler: "plate" })), "plate \u00b7 first mount");
  assert.deepEqual(beside(kept(A, { mount: "first", cooler: "plate", paste: "old" })).map((s) => s.key), ["paste"]);
  assert.ok(title(kept(A, {})).startsWith("session of "));
  assert.deepEqual([...differing([kept(A, { a: "1", b: "2" }), kept(B, { a: "1", b: "3", c: "" })])], ["b"]);
});

test("a value is that of its own bucket", () => {
  const buckets = { channelsVersion: 1, channels: 2, count: 3, from: -1, width: 1, lastSeq: 9, min: new Float32Array(6), max: new Float32Array(6), mean: new Float32Array([1, 2, NaN, 4, 5, 6]) };
  assert.equal(valueAt(buckets, 0, -0.5), 1);
  assert.equal(valueAt(buckets, 1, 1.99), 6);
  for (const [c, t] of [[0, 1.5], [0, -1.1], [0, 2], [-1, 0]] as const) assert.ok(Number.isNaN(valueAt(buckets, c, t)), `channel ${c} at ${t}`);
});

test("what cannot be told from chance says why, once", () => {
  const metric = (name: string): Metric => ({ name, unit: "W", n_a: 1, n_b: 1, a: 1, b: 2, change_pct: 100, low_pct: null, high_pct: null, real: null, why: "one run a side" });
  const path = { verdict: "none", why: "", near_ratio: null, near_low: null, near_high: null, far_ratio: null, far_low: null, far_high: null, near_a_k_per_w: null, far_a_k_per_w: null, near_b_k_per_w: null, far_b_k_per_w: null };
  const against = (b: string) => ({ a: "A", b, say: "", comparison: { setup_changes: [], thermal_path: path, metrics: [metric("power"), metric("clock")], warnings: [] } });
  const compared = (...letters: string[]): Compared => ({ sides: [], comparisons: letters.map(against) });
  assert.deepEqual(reasons(compared("B")), ["Whether the changes are real or chance is not known: one run a side."]);
  assert.deepEqual(reasons(compared("B", "C")), ["Whether the changes to B, C are real or chance is not known: one run a side."]);
});
