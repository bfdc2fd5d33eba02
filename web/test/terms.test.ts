// The words: every one that the page offers is explained.

import assert from "node:assert/strict";
import test from "node:test";

import { chosen, readChoice } from "../src/line-choice.ts";
import { findTerms, TERMS } from "../src/terms.ts";

test("terms", () => {
  assert.equal(new Set(TERMS.map((t) => t.id)).size, TERMS.length);
  for (const t of TERMS) assert.ok(t.says.endsWith(".") && t.word, t.id);
  assert.deepEqual(findTerms("thermal RESISTANCE").map((t) => t.id), ["kw"]);
  assert.equal(findTerms("").length, TERMS.length);
  assert.deepEqual(findTerms("no such word anywhere"), []);
});

test("lines: the lane's own stays, others go and come", () => {
  const channel = (index: number, key: string) => ({ index, key, name: key, unit: "W", quantity: "power", role: "", source: "", device: "", refresh_s: 0, labels: null, simulated: false });
  const channels = [channel(0, "a"), channel(1, "b"), channel(2, "c")];
  const line = (i: number) => ({ channel: i, name: i < 0 ? "average" : channels[i]!.key, base: {}, type: "solid" });
  const lane = { id: "power", title: "Power", unit: "W", channels: [0, 1], more: [2], limits: [] };
  const names = (choice: { out: string[]; added: string[] }) => chosen([line(0), line(1), line(-1)], lane, channels, choice).map((l) => l.name).join();
  assert.equal(names({ out: [], added: [] }), "a,b,average");
  assert.equal(names({ out: ["a", "b"], added: ["c", "gone"] }), "a,average,c");
  assert.deepEqual(readChoice('{"out":["a",5],"added":"x"}'), { out: ["a"], added: [] });
  assert.deepEqual(readChoice("{broken"), { out: [], added: [] });
  assert.deepEqual(readChoice(null), { out: [], added: [] });
});
