// Every reading at once, on demand: a list in columns, by quantity, each with the way that it
// took over the time that the river shows.

import { byId, el, put, setText } from "./dom.ts";
import type { Channel } from "./layout.ts";
import { amount, decimals } from "./numbers.ts";
import { Surface } from "./canvas.ts";
import type { River } from "./river.ts";
import { extent, line } from "./series.ts";
import type { Session } from "./session.ts";
import type { Theme } from "./theme.ts";

/** Few at a time, so that the river never waits: a hundred are drawn in two seconds. */
const AT_ONCE = 6;
const TURN_MS = 120;
const POINTS = 60;

const ORDER = ["power", "temperature", "frequency", "rotational speed", "flow", "share", "voltage", "current"];

interface Entry {
  channel: Channel;
  value: HTMLElement;
  strip: Surface;
}

export class Readings {
  private readonly session: Session;
  private readonly river: River;
  private readonly theme: Theme;
  private readonly box = byId("readings");
  private entries: Entry[] = [];
  private next = 0;

  constructor(session: Session, river: River, theme: Theme) {
    this.session = session;
    this.river = river;
    this.theme = theme;
    session.on("layout", () => this.build());
    byId("readings-open").addEventListener("click", () => this.toggle());
    setInterval(() => this.turn(), TURN_MS);
  }

  toggle(): void {
    this.box.hidden = !this.box.hidden;
    byId("readings-open").setAttribute("aria-expanded", String(!this.box.hidden));
    if (this.box.hidden) return;
    for (const entry of this.entries) this.show(entry);
    this.box.scrollIntoView({ block: "nearest" });
  }

  private build(): void {
    const channels = this.session.layout?.channels ?? [];
    this.entries = [];
    const rank = (q: string) => (ORDER.includes(q) ? ORDER.indexOf(q) : ORDER.length);
    const quantities = [...new Set(channels.map((c) => c.quantity))].sort((a, b) => rank(a) - rank(b));
    put(byId("readings-list"), ...quantities.map((q) => this.group(q, channels.filter((c) => c.quantity === q))));
    if (!this.box.hidden) for (const entry of this.entries) this.show(entry);
  }

  private group(quantity: string, channels: Channel[]): HTMLElement {
    const title = quantity ? quantity[0]!.toUpperCase() + quantity.slice(1) : "Other";
    return el("section", { class: "readings-group" }, el("h3", {}, title), el("ul", {}, ...channels.map((c) => this.item(c))));
  }

  private item(channel: Channel): HTMLElement {
    const value = el("b", { class: "reading-value" });
    const strip = el("canvas", { class: "reading-strip", "aria-hidden": "true" });
    this.entries.push({ channel, value, strip: new Surface(strip) });
    return el("li", { title: channel.device ? `${channel.name}, ${channel.device}` : channel.name }, el("span", { class: "reading-name" }, channel.name), strip, value);
  }

  private turn(): void {
    if (this.box.hidden || document.hidden || !this.entries.length) return;
    for (let i = 0; i < Math.min(AT_ONCE, this.entries.length); i++) {
      this.next = (this.next + 1) % this.entries.length;
      this.show(this.entries[this.next]!);
    }
  }

  private show({ channel, value, strip }: Entry): void {
    const { store, layout } = this.session;
    const v = store.last?.values[channel.index] ?? NaN;
    const gap = Number.isNaN(v);
    const why = store.last ? layout?.states[store.last.states[channel.index]!] : "";
    setText(value, gap ? why || "no value" : (channel.labels?.[v] ?? amount(v, channel.unit, decimals(channel.unit, store.whole[channel.index]))));
    value.classList.toggle("gap", gap);
    this.draw(channel.index, strip);
  }

  private draw(channel: number, strip: Surface): void {
    const c = strip.begin();
    if (!c) return;
    const { from, to } = this.river.view;
    const data = line(this.session.store, this.session.old, channel, { from, to, width: Math.max(this.session.period, (to - from) / POINTS), period: this.session.period });
    const [low, high] = extent(data);
    if (Number.isNaN(low)) return;
    const room = strip.height - 4;
    const y = (v: number) => 2 + (high > low ? 1 - (v - low) / (high - low) : 0.5) * room;
    c.strokeStyle = this.theme.token("--quiet");
    c.lineWidth = 1.25;
    c.beginPath();
    let pen = false;
    for (let i = 0; i < data.length; i += 2) {
      if (Number.isNaN(data[i + 1]!)) { pen = false; continue; }
      const x = ((data[i]! - from) / (to - from)) * strip.width;
      if (pen) c.lineTo(x, y(data[i + 1]!)); else c.moveTo(x, y(data[i + 1]!));
      pen = true;
    }
    c.stroke();
  }
}
