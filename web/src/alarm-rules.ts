// What can raise an alarm, and when: the user's limits turned into conditions over the
// channels of one session. Pure: channels and settings in, conditions out.

import type { Channel } from "./layout.ts";
import { amount, decimals } from "./numbers.ts";
import { Watch, type Level } from "./alarm-watch.ts";
import type { Row } from "./wire.ts";

export type Kind = "die" | "coolant" | "rotor" | "sensor" | "contact";

/** The user's choice for one kind. */
export interface Rule {
  on: boolean;
  /** °C; the die's is the session's own limit. */
  limit: number | null;
  /** So far below its limit a temperature must come before the alarm is over, in K. */
  back: number;
  delay: number; // s
}

export type Rules = Record<Kind, Rule>;

export const USUAL: Rules = {
  die: { on: true, limit: null, back: 2, delay: 1 },
  coolant: { on: true, limit: null, back: 1, delay: 3 },
  rotor: { on: true, limit: null, back: 0, delay: 5 },
  sensor: { on: true, limit: null, back: 0, delay: 5 },
  contact: { on: true, limit: null, back: 0, delay: 3 },
};

/** One condition over the rows of a session. */
export interface Condition {
  kind: Kind;
  channel: number;
  /** What is wrong, the same words for whoever watches. */
  title: string;
  watch: Watch;
  level: (row: Row) => Level;
  /** The value that makes it so, in words; "" where there is none. */
  value: (row: Row) => string;
}

/** States of a reading by number (they are stable, see telemetry.State) that are no loss of a sensor: not read yet, no new conversion, asleep, machine suspended, no value in the file, the other computer silent. */
const NO_LOSS = new Set([0, 1, 2, 4, 9, 11, 13, 16]);
const SILENT = 16;

/** Below these a fan or pump stands, and a coolant does not flow. */
const STILL: Record<string, number> = { "rpm": 60, "L/min": 0.05 };

/** A machine busy to more than this share is under load, in %. */
const BUSY = 50;

const WATCHED = new Set(["die", "package power", "ambient", "core clock", "fan", "coolant in", "coolant out", "coolant flow", "second die"]);

/** The highest value that a channel has given in this session; NaN where it gave none. */
export type Past = (channel: number) => number;

/** The conditions that these rules make of these channels. */
export function conditions(channels: Channel[], rules: Rules, limit: number | null, past: Past): Condition[] {
  const busy = channels.find((c) => c.role === "load")?.index ?? -1;
  const out: Condition[] = [];
  for (const c of channels) {
    const hot = { die: limit, "second die": limit }[c.role] ?? null;
    if (rules.die.on && hot !== null) out.push(over("die", c, hot, rules.die));
    const warm = c.role === "coolant in" || c.role === "coolant out" ? rules.coolant.limit : null;
    if (rules.coolant.on && warm !== null) out.push(over("coolant", c, warm, rules.coolant));
    if (rules.rotor.on && c.unit in STILL) out.push(still(c, busy, rules.rotor, past(c.index)));
    if (rules.sensor.on && WATCHED.has(c.role)) out.push(lost(c, rules.sensor, past(c.index)));
  }
  if (rules.contact.on && channels.length > 0) out.push(silent(rules.contact));
  return out;
}

function over(kind: Kind, c: Channel, limit: number, rule: Rule): Condition {
  return {
    kind, channel: c.index, watch: new Watch(rule.delay),
    title: `${c.name} over ${limit} °C`,
    level: (row) => {
      const v = row.values[c.index]!;
      return Number.isNaN(v) ? "unknown" : v > limit ? "bad" : v <= limit - rule.back ? "good" : "between";
    },
    value: (row) => valueOf(row, c),
  };
}

// A fan may stand by design while there is little to do: it counts once it has turned in
// this session, and under load only. Where no load is read, any standstill counts.
function still(c: Channel, busy: number, rule: Rule, past: number): Condition {
  const floor = STILL[c.unit]!;
  let turned = past >= floor;
  return {
    kind: "rotor", channel: c.index, watch: new Watch(rule.delay),
    title: c.unit === "rpm" ? `${c.name}: stopped under load` : `${c.name}: nothing flows under load`,
    level: (row) => {
      const v = row.values[c.index]!;
      if (Number.isNaN(v)) return "unknown";
      if (v >= floor) turned = true;
      if (v >= floor || !turned) return "good";
      return busy < 0 || row.values[busy]! >= BUSY ? "bad" : "between";
    },
    value: (row) => valueOf(row, c),
  };
}

function lost(c: Channel, rule: Rule, past: number): Condition {
  let known = !Number.isNaN(past);
  return {
    kind: "sensor", channel: c.index, watch: new Watch(rule.delay),
    title: `${c.name}: no reading`,
    level: (row) => {
      if (!Number.isNaN(row.values[c.index]!)) known = true;
      if (!Number.isNaN(row.values[c.index]!) || !known) return "good";
      return NO_LOSS.has(row.states[c.index]!) ? "unknown" : "bad";
    },
    value: () => "",
  };
}

function silent(rule: Rule): Condition {
  return {
    kind: "contact", channel: -1, watch: new Watch(rule.delay),
    title: "no contact with the machine",
    level: (row) => (row.states.includes(SILENT) ? "bad" : "good"),
    value: () => "",
  };
}

function valueOf(row: Row, c: Channel): string {
  return amount(row.values[c.index]!, c.unit, decimals(c.unit));
}
