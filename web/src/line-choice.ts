// Which lines a lane draws: those that the program proposes, less what the user hid, and
// what the user added; kept by the browser for each machine.

import { byId, el, put } from "./dom.ts";
import type { Channel, Lane, Layout } from "./layout.ts";
import { amount, decimals } from "./numbers.ts";
import type { Session } from "./session.ts";
import type { Line } from "./skeleton.ts";
import { recall, remember } from "./theme.ts";

/** Keys of channels: those taken out, and those added. */
export interface Choice {
  out: string[];
  added: string[];
}

const NOTHING: Choice = { out: [], added: [] };
const keyOf = (host: string) => `soakline.lines.${host}`;

/** The lines to draw. The first one, which gives the lane its figure, always stays. */
export function chosen(proposed: Line[], lane: Lane, channels: Channel[], choice: Choice): Line[] {
  const main = proposed.find((l) => l.channel >= 0);
  if (!main) return proposed;
  const stays = proposed.filter((l) => l === main || l.channel < 0 || !choice.out.includes(channels[l.channel]?.key ?? ""));
  const more = (lane.more ?? []).filter((i) => choice.added.includes(channels[i]?.key ?? ""));
  return [...stays, ...more.map((i) => ({ ...main, channel: i, name: channels[i]!.name, base: { ...main.base, id: `c${i}`, name: channels[i]!.name }, type: "solid" }))];
}

/** What was kept; what is not understood is nothing. */
export function readChoice(text: string | null): Choice {
  try {
    const kept = JSON.parse(text ?? "null") as Partial<Choice> | null;
    const keys = (list: unknown) => (Array.isArray(list) ? list.filter((k): k is string => typeof k === "string") : []);
    return { out: keys(kept?.out), added: keys(kept?.added) };
  } catch {
    return NOTHING;
  }
}

export class LineChoice {
  choice: Choice = NOTHING;
  private readonly session: Session;
  private readonly changed: () => void;
  private readonly dialog = byId("lines") as HTMLDialogElement;

  constructor(session: Session, changed: () => void) {
    this.session = session;
    this.changed = changed;
    byId("lines-open").addEventListener("click", () => this.open());
    byId("lines-close").addEventListener("click", () => this.dialog.close());
    byId("lines-first").addEventListener("click", () => { this.keep(NOTHING); this.list(); });
  }

  /** Reads what was kept for the machine of this layout. */
  read(layout: Layout): void {
    this.choice = readChoice(recall(keyOf(layout.session.host)));
  }

  open(): void {
    this.list();
    this.dialog.showModal();
  }

  private list(): void {
    const { layout } = this.session;
    if (!layout) return;
    put(byId("lines-list"), ...layout.lanes.filter((l) => l.channels.length > 0).map((l) => this.group(l, layout)));
  }

  private group(lane: Lane, layout: Layout): HTMLElement {
    const { out, added } = this.choice;
    const first = lane.channels.map((i, n) => this.item(layout, i, n === 0 || !out.includes(layout.channels[i]!.key), n === 0, true));
    const more = (lane.more ?? []).map((i) => this.item(layout, i, added.includes(layout.channels[i]!.key), false, false));
    return el("fieldset", { class: "lines-group" }, el("legend", {}, lane.title), ...first, ...more);
  }

  private item(layout: Layout, i: number, on: boolean, fixed: boolean, proposed: boolean): HTMLElement {
    const c = layout.channels[i]!;
    const box = el("input", { type: "checkbox", checked: on, disabled: fixed, "data-key": c.key });
    box.addEventListener("change", () => this.set(c.key, box.checked, proposed));
    const value = this.session.store.last?.values[i] ?? NaN;
    const now = Number.isNaN(value) ? "" : amount(value, c.unit, decimals(c.unit, this.session.store.whole[i]));
    return el("label", {}, box, " ", c.name, fixed ? " (the lane's own)" : "", el("span", { class: "quiet" }, ` ${now}`));
  }

  private set(key: string, on: boolean, proposed: boolean): void {
    const { out, added } = this.choice;
    const without = (list: string[]) => list.filter((k) => k !== key);
    this.keep(proposed
      ? { out: on ? without(out) : [...without(out), key], added }
      : { out, added: on ? [...without(added), key] : without(added) });
  }

  private keep(choice: Choice): void {
    this.choice = choice;
    remember(keyOf(this.session.layout?.session.host ?? ""), JSON.stringify(choice));
    this.changed();
  }
}
