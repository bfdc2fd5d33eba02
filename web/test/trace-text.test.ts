// The trace file that the page makes (its reading by the program's own reader is checked in
// the browser test).

import assert from "node:assert/strict";
import test from "node:test";

import type { Channel } from "../src/layout.ts";
import { Store } from "../src/store.ts";
import { single, traceText } from "../src/trace-text.ts";

const channel = (index: number, name: string, quantity: string, unit: string, role = "", labels: string[] | null = null): Channel =>
  ({ index, key: `k${index}`, name, quantity, unit, role, labels, source: "", device: `chip ${index}`, refresh_s: 0, simulated: false });

test("the shortest decimal of a single", () => {
  for (const [v, want] of [[0.1, "0.1"], [61.5, "61.5"], [28, "28"], [5.912, "5.912"], [16777216, "16777216"], [0.333333343, "0.33333334"]] as const) {
    assert.equal(single(Math.fround(v)), want);
  }
});

test("notes, header, gaps and labels", () => {
  const store = new Store(4);
  const push = (seq: number, at: number, values: number[]) => store.push({ channelsVersion: 1, seq, at, late: 0, values: Float32Array.from(values), states: new Uint8Array(4) });
  push(1, 0, [5.9, 41, 41, 1]);
  push(2, 0.1, [NaN, 41.5, 42, 0]);
  const text = traceText({
    start: "2026-03-01T20:15:00Z", simulated: true, store,
    channels: [channel(0, "package power", "power", "W", "package power"), channel(1, "temp, \"left\"", "temperature", "°C"), channel(2, "temp, \"left\"", "temperature", "°C"), channel(3, "profile", "label", "", "", ["quiet", "fast, loud"])],
    setup: [{ key: "cooler", value: "fan" }, { key: "a=b", value: " padded" }],
    marks: [{ id: 1, at_s: 0.1, kind: "user", text: "(odd) text" }, { id: 2, at_s: 0.05, kind: "machine", text: "slept" }],
  }).join("");
  assert.deepEqual(text.split("\n"), [
    "# start: 2026-03-01T20:15:00Z", "# setup: cooler = fan", '# setup: "a=b" = " padded"', "# setup: simulated = yes, computed, nothing in this file was measured",
    "# role: package power = package power", '# mark: 0.1 "(odd) text"', "# mark: 0.05 (machine) slept",
    'time [s],package power [W],"temp, ""left"" (chip 1) [degC]","temp, ""left"" (chip 2) [degC]",profile [text]',
    '0,5.9,41,41,"fast, loud"', "0.1,,41.5,42,quiet", "",
  ]);
});
