// The alarms of one session: which are on, since when, how far it went, and which the user
// has taken note of. Fed row by row, and by the marks that tell what was acknowledged
// elsewhere. Pure: it draws and sends nothing.

import { conditions, type Condition, type Kind, type Past, type Rules } from "./alarm-rules.ts";
import type { Channel, Mark } from "./layout.ts";
import type { Row } from "./wire.ts";

export interface Alarm {
  kind: Kind;
  title: string;
  /** When it was raised, session time in s. */
  since: number;
  /** When it was over; null while it goes on. */
  until: number | null;
  /** The present value in words, or "". */
  value: string;
  acknowledged: boolean;
}

export interface Happening {
  what: "raised" | "over";
  alarm: Alarm;
  at: number;
}

/** The title of the alarm over the page's own contact; no mark tells of it, nobody could take it. */
export const PROGRAM = "no contact with the program";

/** Beginnings of the marks that tell of alarms. */
export const RAISED = "alarm: ";
export const SEEN = "acknowledged: ";
export const OVER = "alarm over: ";

export class Board {
  private readonly conditions: Condition[];
  private readonly alarms = new Map<Condition, Alarm>();
  private outside: Alarm | null = null;

  constructor(channels: Channel[], rules: Rules, limit: number | null, past: Past = () => NaN) {
    this.conditions = conditions(channels, rules, limit, past);
  }

  /** Goes on with what another board knew: the lost contact; of the same session also what is on under the same title. */
  takeOver(other: Board, same: boolean): void {
    this.outside = other.outside;
    if (!same) return;
    for (const [c, alarm] of other.alarms) {
      const own = this.conditions.find((o) => o.title === c.title);
      if (!own || alarm.until !== null) continue;
      own.watch.raised = true;
      this.alarms.set(own, alarm);
    }
  }

  /** Takes the next row and says what begins and ends with it. */
  push(row: Row): Happening[] {
    const out: Happening[] = [];
    for (const c of this.conditions) {
      const what = c.watch.see(row.at, c.level(row));
      let alarm = this.alarms.get(c);
      if (what === "raised") {
        alarm = { kind: c.kind, title: c.title, since: row.at, until: null, value: "", acknowledged: false };
        this.alarms.set(c, alarm);
      }
      if (!alarm) continue;
      if (alarm.until === null) alarm.value = c.value(row);
      if (what === "over") {
        alarm.until = row.at;
        if (alarm.acknowledged) this.alarms.delete(c);
      }
      if (what) out.push({ what, alarm, at: row.at });
    }
    return out;
  }

  /** The contact with the program that measures is lost at a time, or is back. */
  contact(lost: boolean, at: number): Happening | null {
    if (lost === (this.outside !== null && this.outside.until === null)) return null;
    if (lost) {
      this.outside = { kind: "contact", title: PROGRAM, since: at, until: null, value: "", acknowledged: false };
      return { what: "raised", alarm: this.outside, at };
    }
    const alarm = this.outside!;
    alarm.until = at;
    if (alarm.acknowledged) this.outside = null;
    return { what: "over", alarm, at };
  }

  /** What is on, or was and has not been taken note of; the newest first. */
  get open(): Alarm[] {
    const all = [...this.alarms.values(), ...(this.outside ? [this.outside] : [])];
    return all.sort((a, b) => b.since - a.since);
  }

  /** Takes note of all that is open and gives what was new to the user. */
  acknowledge(which: (a: Alarm) => boolean = () => true): Alarm[] {
    const seen = this.open.filter((a) => !a.acknowledged && which(a));
    for (const alarm of seen) alarm.acknowledged = true;
    for (const [c, alarm] of this.alarms) if (alarm.acknowledged && alarm.until !== null) this.alarms.delete(c);
    if (this.outside?.acknowledged && this.outside.until !== null) this.outside = null;
    return seen;
  }

  /** Acknowledges what the marks say was acknowledged, by this page or another. True if any was. */
  follow(marks: Mark[]): boolean {
    const said = (a: Alarm) => marks.some((m) => m.text === SEEN + a.title && m.at_s >= a.since - 1e-3);
    return this.acknowledge(said).length > 0;
  }
}
