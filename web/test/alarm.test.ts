// Alarms: delay, hysteresis, gaps, acknowledgement; the same rows make the same alarms for
// every page that watches.

import assert from "node:assert/strict";
import test from "node:test";

import { Board, SEEN } from "../src/alarm-board.ts";
import { USUAL, type Rules } from "../src/alarm-rules.ts";
import { Watch } from "../src/alarm-watch.ts";
import type { Channel } from "../src/layout.ts";
import type { Row } from "../src/wire.ts";

function channel(index: number, name: string, role: string, unit: string): Channel {
  return { index, key: name, name, role, unit, quantity: "", source: "", device: "", refresh_s: 0, labels: null, simulated: false };
}

const CHANNELS = [channel(0, "die temperature", "die", "°C"), channel(1, "pump", "fan", "rpm"), channel(2, "load", "load", "%"), channel(3, "loop", "coolant in", "°C")];

function row(at: number, values: number[], states: number[] = values.map((v) => (Number.isNaN(v) ? 6 : 1))): Row {
  return { channelsVersion: 1, seq: Math.round(at * 10) + 1, at, late: 0, values: Float32Array.from(values), states: Uint8Array.from(states) };
}

/** Runs a board over ten rows a second and notes what happens. */
function run(board: Board, seconds: number, values: (t: number) => number[], states?: (t: number) => number[] | undefined): string[] {
  const said: string[] = [];
  for (let i = 0; i <= Math.round(seconds * 10); i++) {
    const t = i / 10;
    for (const h of board.push(row(t, values(t), states?.(t)))) said.push(`${h.at.toFixed(1)} ${h.what} ${h.alarm.title}`);
  }
  return said;
}

test("a condition must hold for its delay, and be gone clearly for the alarm to end", () => {
  const watch = new Watch(1, 2);
  const levels: [number, Parameters<Watch["see"]>[1], string | null][] = [
    [0, "bad", null], [0.9, "bad", null], [0.95, "good", null], [1, "bad", null], [1.9, "unknown", null], [2, "bad", "raised"],
    [3, "between", null], [9, "between", null], [10, "good", null], [11, "between", null], [12, "good", null], [13.9, "good", null], [14, "good", "over"],
  ];
  for (const [at, level, want] of levels) assert.equal(watch.see(at, level), want, `at ${at}`);
});

test("the die over the user's limit: one alarm while it plays around the limit", () => {
  const heat = (t: number) => [t < 2 ? 70 : t < 20 ? 90 + 0.8 * Math.sin(6 * t) + 0.5 : 85, 2000, 100, 30];
  const said = run(new Board(CHANNELS, { ...USUAL, die: { ...USUAL.die, delay: 0.3 } }, 90), 30, heat);
  assert.equal(said.length, 2, said.join("; "));
  assert.ok(/^2\.\d raised die temperature over 90 °C$/.test(said[0]!), said[0]);
  assert.ok(/^23\.\d over die temperature over 90 °C$/.test(said[1]!), said[1]);
  assert.deepEqual(run(new Board(CHANNELS, USUAL, null), 30, heat), [], "no limit set, no alarm");
});

test("a little below the limit the alarm goes on; clearly below, and for a while, it is over", () => {
  const board = new Board(CHANNELS, USUAL, 90);
  run(board, 3, () => [92, 2000, 0, 30]);
  for (let t = 4; t < 20; t++) assert.deepEqual(board.push(row(t, [88.5, 2000, 0, 30])), [], "within 2 K");
  assert.equal(board.open[0]!.until, null);
  const ends = [20, 21, 22, 23].flatMap((t) => board.push(row(t, [88, 2000, 0, 30]))).map((h) => `${h.at} ${h.what}`);
  assert.deepEqual(ends, ["23 over"]);
});

test("a fan that never turned or stands without load raises nothing; one that stops under load does", () => {
  const parked = run(new Board(CHANNELS, USUAL, 90), 30, (t) => [50, 0, t < 15 ? 100 : 0, 30]);
  assert.deepEqual(parked, []);
  const idle = run(new Board(CHANNELS, USUAL, 90), 30, (t) => [50, t < 5 ? 1800 : 0, 2, 30]);
  assert.deepEqual(idle, []);
  const stops = run(new Board(CHANNELS, USUAL, 90), 30, (t) => [50, t < 10 ? 1800 : 0, 100, 30]);
  assert.deepEqual(stops, ["15.0 raised pump: stopped under load"]);
});

test("a sensor that fails is lost; one that sleeps, or never gave a value, is not", () => {
  const values = (t: number) => [t < 5 ? 50 : NaN, 1800, 100, 30];
  assert.deepEqual(run(new Board(CHANNELS, USUAL, 90), 20, values), ["10.0 raised die temperature: no reading"]);
  assert.deepEqual(run(new Board(CHANNELS, USUAL, 90), 20, values, (t) => (t < 5 ? undefined : [9, 1, 1, 1])), []);
  assert.deepEqual(run(new Board(CHANNELS, USUAL, 90), 20, () => [NaN, 1800, 100, 30]), []);
});

test("the coolant has a limit of its own", () => {
  const rules: Rules = { ...USUAL, coolant: { ...USUAL.coolant, limit: 40 } };
  assert.deepEqual(run(new Board(CHANNELS, rules, null), 10, () => [50, 1800, 0, 41]), ["3.0 raised loop over 40 °C"]);
});

test("another computer that falls silent is a lost contact, not lost sensors", () => {
  const said = run(new Board(CHANNELS, USUAL, 90), 20, (t) => (t < 5 ? [50, 1800, 0, 30] : [NaN, NaN, NaN, NaN]), (t) => (t < 5 ? undefined : [16, 16, 16, 16]));
  assert.deepEqual(said, ["8.0 raised no contact with the machine"]);
});

test("an alarm stays in sight until it is acknowledged, here or by another page", () => {
  const board = new Board(CHANNELS, USUAL, 90);
  run(board, 20, (t) => [t > 2 && t < 6 ? 95 : 60, 1800, 0, 30]);
  assert.equal(board.open.length, 1);
  assert.ok(board.open[0]!.until! > 6, "over, and still in sight");
  assert.equal(board.follow([{ id: 1, at_s: 1, kind: "user", text: SEEN + board.open[0]!.title }]), false, "an earlier word does not count");
  assert.equal(board.follow([{ id: 1, at_s: 12, kind: "user", text: SEEN + board.open[0]!.title }]), true);
  assert.deepEqual(board.open, []);

  const going = new Board(CHANNELS, USUAL, 90);
  run(going, 5, () => [95, 1800, 0, 30]);
  assert.deepEqual(going.acknowledge().map((a) => a.title), ["die temperature over 90 °C"]);
  assert.equal(going.open[0]!.acknowledged, true, "acknowledged, and still on");
  assert.deepEqual(going.acknowledge(), [], "once");
});

test("what a new choice of limits finds", () => {
  const rows = (t: number) => [95, t < 5 ? 1800 : 0, 100, 30];
  const before = new Board(CHANNELS, USUAL, 90);
  run(before, 3, rows);
  const after = new Board(CHANNELS, { ...USUAL, rotor: { ...USUAL.rotor, delay: 2 } }, 90, () => 1800);
  after.takeOver(before, true);
  assert.equal(after.open[0], before.open[0], "what is on goes on, and is not raised again");
  assert.deepEqual(run(after, 3, () => [95, 0, 100, 30]), ["2.0 raised pump: stopped under load"], "a fan that turned before this choice is known to turn");
});

test("the program's own silence", () => {
  const board = new Board(CHANNELS, USUAL, 90);
  assert.equal(board.contact(false, 1), null);
  assert.equal(board.contact(true, 12)!.what, "raised");
  assert.equal(board.contact(true, 13), null);
  assert.equal(board.contact(false, 20)!.what, "over");
  assert.equal(board.open.length, 1);
  board.acknowledge();
  assert.equal(board.open.length, 0);
});
