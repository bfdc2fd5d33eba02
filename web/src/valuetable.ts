// The same values as a table for those who do not see the picture; out of sight, never
// out of reach of a screen reader.

import { byId, el, put, setText } from "./dom.ts";
import { amount, decimals } from "./numbers.ts";
import type { Session } from "./session.ts";

export class ValueTable {
  private readonly session: Session;
  private cells: HTMLElement[] = [];

  constructor(session: Session) {
    this.session = session;
    session.on("layout", () => this.build());
    setInterval(() => this.show(), 2000);
  }

  private build(): void {
    const channels = this.session.layout?.channels ?? [];
    this.cells = channels.map(() => el("td", {}));
    put(byId("values"), ...channels.map((c, i) => el("tr", {}, el("th", { scope: "row" }, c.name), this.cells[i]!)));
  }

  private show(): void {
    const { layout, store } = this.session;
    if (!layout || !store.last) return;
    layout.channels.forEach((c, i) => {
      const v = store.last!.values[i]!;
      const text = Number.isNaN(v)
        ? (layout.states[store.last!.states[i]!] || "no value")
        : (c.labels?.[v] ?? amount(v, c.unit, decimals(c.unit, store.whole[i])));
      setText(this.cells[i]!, text);
    });
  }
}
