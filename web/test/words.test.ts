// Numbers on screen: steady, with unit, and nothing where nothing is known.

import assert from "node:assert/strict";
import test from "node:test";

import { amount, clockTime, digits, duration, NONE } from "../src/numbers.ts";
import { timeStep } from "../src/ground.ts";
import { niceStep } from "../src/lane.ts";
import { View } from "../src/view.ts";

test("digits", () => {
  assert.equal(digits(2610, 0), "2\u202f610");
  assert.equal(digits(-3.25, 1), "\u22123.3");
  assert.equal(digits(-0.04, 1), "0.0");
  assert.equal(digits(NaN, 1), NONE);
  assert.equal(digits(Infinity, 1), NONE);
  assert.equal(digits(1234567.89, 1), "1\u202f234\u202f567.9");
});

test("amounts carry their unit after one unbreakable space", () => {
  assert.equal(amount(28, "W"), "28.0\u00a0W");
  assert.equal(amount(0.444, "K/W"), "0.44\u00a0K/W");
  assert.equal(amount(7, ""), "7.0");
});

test("times", () => {
  assert.equal(clockTime(0), "0:00");
  assert.equal(clockTime(59.96, true), "1:00.0");
  assert.equal(clockTime(3599.6), "1:00:00");
  assert.equal(clockTime(43.72, true), "0:43.7");
  assert.equal(clockTime(NaN), NONE);
  assert.equal(duration(9), "9.0\u00a0s");
  assert.equal(duration(250), "4\u00a0min 10\u00a0s");
  assert.equal(duration(7260), "2\u00a0h 1\u00a0min");
});

test("axis steps are round and not too many", () => {
  assert.equal(niceStep(72, 4), 20);
  assert.equal(niceStep(4400, 3), 2000);
  for (const span of [30, 180, 3600, 86400]) assert.ok(span / timeStep(span, 10) <= 10);
});

test("a young session grows into the wanted window, an old one scrolls", () => {
  const view = new View(() => undefined);
  view.setNow(10);
  assert.deepEqual([view.from, view.to], [0, 60]);
  view.setNow(70);
  assert.deepEqual([view.from, view.to], [0, 90]);
  view.setNow(1000);
  assert.equal(view.span, 180);
  assert.ok(view.to > 1000 && view.from > 800);
  view.pan(-0.5);
  assert.equal(view.following, false);
  const { to } = view;
  view.setNow(1100);
  assert.equal(view.to, to, "a window that was moved stays");
});
