// Buckets lie on the absolute grid, keep every minimum and maximum, and break at gaps.

import assert from "node:assert/strict";
import test from "node:test";

import { bucketWidth, extent, line } from "../src/series.ts";
import { Store } from "../src/store.ts";

const PERIOD = 0.1;

function filled(count: number, value: (t: number) => number, skip = (_: number) => false): Store {
  const store = new Store(1);
  for (let i = 0; i < count; i++) {
    const at = i * PERIOD;
    if (skip(at)) continue;
    store.push({ channelsVersion: 1, seq: i + 1, at, late: 0, values: Float32Array.of(value(at)), states: Uint8Array.of(1) });
  }
  return store;
}

const pairs = (flat: Float64Array) => Array.from({ length: flat.length / 2 }, (_, i) => [flat[2 * i]!, flat[2 * i + 1]!] as const);

test("no extreme is lost, however wide the bucket", () => {
  const store = filled(3000, (t) => (Math.abs(t - 123.4) < 0.01 ? 99 : Math.abs(t - 200.2) < 0.01 ? -7 : Math.sin(t)));
  const points = line(store, null, 0, { from: 0, to: 300, width: 7, period: PERIOD });
  assert.deepEqual(extent(points), [-7, 99]);
  assert.ok(points.length / 2 <= 2 * (300 / 7 + 2), `${points.length / 2} points`);
  assert.deepEqual(pairs(points).find(([, v]) => v === 99)?.[0].toFixed(1), "123.4");
});

test("every bucket keeps its own minimum and maximum", () => {
  const value = (t: number) => Math.sin(t * 1.9) + 0.4 * Math.cos(t * 7.3);
  const store = filled(1500, value);
  const width = 2;
  const points = pairs(line(store, null, 0, { from: 20, to: 120, width, period: PERIOD }));
  for (let b = 10; b < 60; b++) {
    // The plain model: all samples of the bucket, by the grid's own rule.
    const own = Array.from({ length: 20 }, (_, i) => Math.fround(value((b * 20 + i) * PERIOD)));
    const drawn = points.filter(([t]) => Math.floor(t / width + 1e-6) === b).map(([, v]) => v);
    assert.deepEqual([Math.min(...drawn), Math.max(...drawn)], [Math.min(...own), Math.max(...own)], `bucket ${b}`);
  }
});

test("time never runs backwards in a line", () => {
  const times = pairs(line(filled(2000, (t) => Math.cos(3 * t)), null, 0, { from: 0, to: 200, width: 1.3, period: PERIOD })).map(([t]) => t);
  assert.ok(times.every((t, i) => i === 0 || t >= times[i - 1]!));
});

test("a window that moves keeps the points that it had", () => {
  const store = filled(3000, (t) => Math.sin(t * 1.7) + Math.cos(t * 0.31));
  const width = bucketWidth(100, 400, PERIOD);
  const at = (from: number) => new Map(pairs(line(store, null, 0, { from, to: from + 100, width, period: PERIOD })));
  const before = at(50), after = at(53.7);
  const shared = [...before.keys()].filter((t) => t > 56 && t < 149);
  assert.ok(shared.length > 100);
  for (const t of shared) assert.equal(after.get(t), before.get(t), `at ${t}`);
});

test("a gap breaks the line, be it a value or rows that are missing", () => {
  const gone = (t: number) => t > 10 && t < 12;
  for (const store of [filled(300, (t) => (gone(t) ? NaN : 5)), filled(300, () => 5, gone)]) {
    const points = pairs(line(store, null, 0, { from: 0, to: 30, width: 0.5, period: PERIOD }));
    const breaks = points.filter(([, v]) => Number.isNaN(v));
    assert.equal(breaks.length, 1);
    assert.ok(points.every(([t, v]) => Number.isNaN(v) || !gone(t)));
  }
});

test("buckets of the server come before the ring, never over it", () => {
  const store = new Store(1);
  for (let i = 0; i < 100; i++) store.push({ channelsVersion: 1, seq: i + 1001, at: 100 + i * PERIOD, late: 0, values: Float32Array.of(2), states: Uint8Array.of(1) });
  const count = 12;
  const ones = new Float32Array(count).fill(1);
  const old = { channelsVersion: 1, channels: 1, count, from: 0, width: 10, lastSeq: 1100, min: ones, mean: ones, max: ones };
  const points = pairs(line(store, old, 0, { from: 0, to: 110, width: 1, period: PERIOD }));
  assert.ok(points.some(([t, v]) => t < 10 && v === 1));
  assert.ok(points.every(([t, v]) => (t < 100 ? v === 1 : v === 2)));
});

test("a bucket is a whole number of periods and at least two pixels wide", () => {
  for (const span of [5, 60, 180, 3600, 86400]) {
    const width = bucketWidth(span, 940, PERIOD);
    assert.ok(Math.abs(width / PERIOD - Math.round(width / PERIOD)) < 1e-6);
    assert.ok(width >= (span / 940) * 2 - PERIOD * 1e-6);
  }
});

test("the running average follows a step as a first-order average does", () => {
  // 1 - exp(-t/tau): 63.2 % after one time constant, 95.0 % after three.
  const store = filled(1000, (t) => (t < 9.95 ? 0 : 100));
  store.follow(0, 16);
  assert.ok(Math.abs(store.at(-1, 9.9 + 16, 1) - 63.21) < 0.3);
  assert.ok(Math.abs(store.at(-1, 9.9 + 48, 1) - 95.02) < 0.1);
});

test("the ring keeps the newest rows and refuses repeats", () => {
  const store = filled(36_500, (t) => t);
  assert.equal(store.length, 36_000);
  assert.ok(Math.abs(store.firstTime - 50) < 1e-6);
  const last = store.last!;
  assert.equal(store.push(last), false);
  assert.equal(store.search(-1), 0);
  assert.equal(store.search(1e9), store.length);
});
