// A trace file (contract, part 1: CSV with notes before the header) made of what the page
// holds, so that it can be saved when the program that measured is gone. Pure.

import type { Channel, Mark, Setting } from "./layout.ts";
import type { Store } from "./store.ts";

export interface Held {
  start: string;
  simulated: boolean;
  channels: Channel[];
  setup: Setting[];
  marks: Mark[];
  store: Store;
}

/** Units as files write them, where the screen writes others. */
const UNITS: Record<string, string> = { "temperature": "degC", "temperature difference": "delta_K", "count": "1", "reasons": "bits", "label": "text" };

/** Lines to one piece of text, so that no string grows too long. */
const PIECE = 2000;

/** The file in pieces, in order. */
export function traceText(held: Held): string[] {
  const { store, channels } = held;
  const names = uniqueNames(channels);
  const head = [...notes(held, names), ["time [s]", ...channels.map((c, i) => cell(`${names[i]} [${UNITS[c.quantity] ?? c.unit}]`))].join(",")];
  const out = [head.join("\n") + "\n"];
  let piece = "";
  for (let i = 0; i < store.length; i++) {
    piece += String(store.timeAt(i));
    for (let c = 0; c < channels.length; c++) piece += "," + value(store.value(c, i), channels[c]!);
    piece += "\n";
    if ((i + 1) % PIECE === 0) { out.push(piece); piece = ""; }
  }
  out.push(piece);
  return out;
}

function notes(held: Held, names: string[]): string[] {
  const lines: string[] = [];
  if (held.start) lines.push(`# start: ${held.start}`);
  for (const s of held.setup) lines.push(`# setup: ${note(s.key, true)} = ${note(s.value)}`);
  if (held.simulated && !held.setup.some((s) => s.key.toLowerCase() === "simulated")) {
    lines.push("# setup: simulated = yes, computed, nothing in this file was measured");
  }
  held.channels.forEach((c, i) => { if (c.role) lines.push(`# role: ${c.role} = ${note(names[i]!)}`); });
  for (const m of held.marks) {
    const kind = m.kind === "machine" || m.kind === "command" ? `(${m.kind}) ` : "";
    lines.push(`# mark: ${m.at_s} ${kind}${m.text.startsWith("(") ? JSON.stringify(m.text) : note(m.text)}`);
  }
  return lines;
}

// A text that would not come back to the letter is quoted.
function note(text: string, key = false): string {
  const odd = /[\u0000-\u001f\u007f-\u009f\u2028\u2029]/.test(text) || text !== text.trim() || text.startsWith('"') || (key && (text === "" || text.includes("=")));
  return odd ? JSON.stringify(text) : text;
}

function cell(text: string): string {
  return /[,"\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

// Channels of one name are told apart by device, then by number.
function uniqueNames(channels: Channel[]): string[] {
  const names: string[] = [];
  for (const c of channels) {
    const twins = channels.filter((o) => o.name === c.name).length > 1;
    const base = twins && c.device ? `${c.name} (${c.device})` : c.name || c.key;
    let name = base;
    for (let n = 2; names.includes(name); n++) name = `${base} (${n})`;
    names.push(name);
  }
  return names;
}

// A gap is an empty cell.
function value(v: number, c: Channel): string {
  if (!Number.isFinite(v)) return "";
  if (c.quantity === "label") return cell(c.labels?.[v] ?? "");
  return single(v);
}

/** The shortest decimal that is this number in single precision. */
export function single(v: number): string {
  if (Number.isInteger(v)) return String(v);
  for (let digits = 4; digits < 9; digits++) {
    const text = Number(v.toPrecision(digits));
    if (Math.fround(text) === v) return String(text);
  }
  return String(Number(v.toPrecision(9)));
}
