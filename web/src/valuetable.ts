// The same values as a table for those who do not see the picture; out of sight, never
// out of reach of a screen reader.

import { byId, el, put, setText } from "./dom.ts";
import { amount, decimals } from "./numbers.ts";
import type { Session } from "./session.ts";

export class ValueTable {
  private readonly session: Session;
  private cells: HTMLElement[] = [];
  private readonly limiter = el("td", {});

  constructor(session: Session) {
    this.session = session;
    session.on("layout", () => this.build());
    setInterval(() => this.show(), 2000);
  }

  private build(): void {
    const channels = this.session.layout?.channels ?? [];
    this.cells = channels.map(() => el("td", {}));
    const limiter = el("tr", {}, el("th", { scope: "row" }, "what holds the chip back"), this.limiter);
    put(byId("values"), limiter, ...channels.map((c, i) => el("tr", {}, el("th", { scope: "row" }, c.name), this.cells[i]!)));
  }

  private show(): void {
    const { layout, store, result } = this.session;
    if (!layout || !store.last) return;
    const kind = result.limiter?.at(-1)?.kind;
    setText(this.limiter, layout.limiters?.find((l) => l.kind === kind)?.title ?? "not known");
    layout.channels.forEach((c, i) => {
      const v = store.last!.values[i]!;
      const text = Number.isNaN(v)
        ? (layout.states[store.last!.states[i]!] || "no value")
        : (c.labels?.[v] ?? amount(v, c.unit, decimals(c.unit, store.whole[i])));
      setText(this.cells[i]!, text);
    });
  }
}
