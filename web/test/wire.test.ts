// The page reads the golden frames as their .json says; the server's tests say that the
// server writes them. The bytes were laid out after the table in DEVELOPERS.md by a third
// hand (testdata/wire/make.py).

import assert from "node:assert/strict";
import test from "node:test";

import eventBin from "../../testdata/wire/event.bin";
import event from "../../testdata/wire/event.json";
import historyBin from "../../testdata/wire/history.bin";
import history from "../../testdata/wire/history.json";
import rowBin from "../../testdata/wire/row.bin";
import row from "../../testdata/wire/row.json";
import rowsBin from "../../testdata/wire/rows.bin";
import rows from "../../testdata/wire/rows.json";
import skipBin from "../../testdata/wire/skip.bin";
import skip from "../../testdata/wire/skip.json";
import { decode, decodeRows, type Row } from "../src/wire.ts";

const buffer = (bytes: Uint8Array): ArrayBuffer => bytes.slice().buffer as ArrayBuffer;
const known = (values: Float32Array) => Array.from(values, (v) => (Number.isNaN(v) ? null : v));

interface GoldenRow { seq: number; channels_version: number; at_s: number; lateness_ms: number; values: (number | null)[]; states: number[] }

function sameRow(got: Row, want: GoldenRow): void {
  assert.equal(got.seq, want.seq);
  assert.equal(got.channelsVersion, want.channels_version);
  assert.equal(got.at, want.at_s);
  assert.equal(got.late, want.lateness_ms);
  assert.deepEqual(known(got.values), want.values);
  assert.deepEqual(Array.from(got.states), want.states);
}

test("a row frame", () => {
  const frame = decode(buffer(rowBin));
  assert.equal(frame.type, "row");
  if (frame.type === "row") sameRow(frame.row, row as GoldenRow);
});

test("rows behind their lengths", () => {
  const got = decodeRows(buffer(rowsBin));
  const want = rows.rows as GoldenRow[];
  assert.equal(got.length, want.length);
  got.forEach((r, i) => sameRow(r, want[i]!));
});

test("an event frame", () => {
  const frame = decode(buffer(eventBin));
  assert.equal(frame.type, "event");
  if (frame.type === "event") assert.deepEqual(JSON.parse(frame.text), event.body);
});

test("a skip frame", () => {
  assert.deepEqual(decode(buffer(skipBin)), { type: "skip", seq: skip.seq });
});

test("a history frame", () => {
  const frame = decode(buffer(historyBin));
  assert.equal(frame.type, "history");
  if (frame.type !== "history") return;
  const h = frame.history;
  assert.deepEqual([h.from, h.width, h.lastSeq, h.channelsVersion], [history.from_s, history.width_s, history.last_seq, history.channels_version]);
  const plane = (flat: Float32Array) => Array.from({ length: h.channels }, (_, c) => known(flat.slice(c * h.count, (c + 1) * h.count)));
  assert.deepEqual(plane(h.min), history.min);
  assert.deepEqual(plane(h.mean), history.mean);
  assert.deepEqual(plane(h.max), history.max);
});

test("what is not version 1, cut short or unknown is refused", () => {
  assert.throws(() => decode(new ArrayBuffer(15)), /shorter than its header/);
  assert.throws(() => decode(buffer(rowBin).slice(0, 40)), /should have/);
  const newer = rowBin.slice();
  newer[0] = 2;
  assert.throws(() => decode(buffer(newer)), /version 2/);
  const odd = rowBin.slice();
  odd[1] = 9;
  assert.throws(() => decode(buffer(odd)), /type 9/);
});
