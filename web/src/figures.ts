// The three key figures at the mouth of the river, one a lane: what is measured now, or
// under the cursor.

import { el, setText } from "./dom.ts";
import type { Lane } from "./lane.ts";
import { amount, decimals, digits, NONE, SPACE } from "./numbers.ts";
import type { Session } from "./session.ts";

interface Figure {
  lane: Lane;
  box: HTMLElement;
  name: HTMLElement;
  value: HTMLElement;
  unit: HTMLElement;
  under: HTMLElement;
}

export class Figures {
  private figures: Figure[] = [];
  private readonly box: HTMLElement;
  private readonly session: Session;

  constructor(box: HTMLElement, session: Session) {
    this.box = box;
    this.session = session;
  }

  build(lanes: Lane[]): void {
    this.figures = lanes.map((lane) => {
      const name = el("div", { class: "figure-name" });
      const value = el("span", { class: "figure-value" }, NONE);
      const unit = el("span", { class: "figure-unit" }, lane.layout.unit);
      const under = el("div", { class: "figure-under" });
      const box = el("div", { class: "figure", "data-lane": lane.layout.id }, name, el("div", { class: "figure-number" }, value, unit), under);
      return { lane, box, name, value, unit, under };
    });
    this.box.replaceChildren(...this.figures.map((f) => f.box));
  }

  /** Shows the newest values, or those at a time of the session. */
  show(at: number | null): void {
    const { store, layout } = this.session;
    for (const f of this.figures) {
      const c = f.lane.main;
      const value = c < 0 || !store.last ? NaN : at === null ? store.last.values[c]! : store.at(c, at, 2);
      const channel = layout?.channels[c];
      setText(f.name, channel?.name ?? f.lane.layout.title);
      setText(f.value, digits(value, decimals(f.lane.layout.unit, store.whole[c])));
      const reason = at === null && store.last && c >= 0 && Number.isNaN(value) ? (layout?.states[store.last.states[c]!] ?? "") : "";
      f.box.classList.toggle("over", at === null && f.lane.layout.id === "temperature" && value > this.limit);
      setText(f.under, reason || (at === null ? this.under(f.lane, value) : this.lineUnder(f.lane, at)));
      f.box.classList.toggle("gap", Number.isNaN(value));
    }
  }

  /** The temperature that must not be passed: the user's, else the one that the analysis counts to. */
  private get limit(): number {
    return this.session.layout?.limit_c ?? this.session.result.headroom?.limit_c ?? NaN;
  }

  private under(lane: Lane, value: number): string {
    const { store } = this.session;
    if (lane.layout.id === "power" && lane.tau > 0 && store.length) {
      return `${amount(store.value(-1, store.length - 1), "W")} averaged, τ ${amount(lane.tau, "s", 0)}`;
    }
    const now = this.session.contact.state === "kept" ? "" : " now";
    if (lane.layout.id === "temperature") {
      const limit = this.limit;
      if (Number.isFinite(limit) && Number.isFinite(value)) {
        const room = limit - value;
        const places = store.whole[lane.main] ? 0 : 1;
        return room >= 0 ? `${amount(room, "K", places)} below ${limit}${SPACE}°C${now}` : `${amount(-room, "K", places)} over ${limit}${SPACE}°C${now}`;
      }
    }
    const load = this.session.role("load");
    if (lane.layout.id === "clock" && load >= 0 && store.last) return `${amount(store.last.values[load]!, "%", 0)} load`;
    return "";
  }

  private lineUnder(lane: Lane, at: number): string {
    return lane.layout.id === "power" && lane.tau > 0 ? `${amount(this.session.store.at(-1, at, 2), "W")} averaged` : "";
  }
}
