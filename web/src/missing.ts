// What cannot be read, why, and what would help; and warnings of the analysis.

import { byId, el, put } from "./dom.ts";
import type { Session } from "./session.ts";

export class MissingList {
  private readonly session: Session;

  constructor(session: Session) {
    this.session = session;
    session.on("layout", () => this.showMissing());
    session.on("analysis", () => this.showWarnings());
  }

  private showMissing(): void {
    const missing = this.session.layout?.missing ?? [];
    byId("missing-block").hidden = missing.length === 0;
    (byId("missing-block") as HTMLDetailsElement).open ||= (this.session.layout?.channels.length ?? 0) === 0;
    put(byId("missing-count"), missing.length === 1 ? "1 reading is missing" : `${missing.length} readings are missing`);
    put(byId("missing"), ...missing.map((m) => el("li", {}, el("b", {}, m.name), `: ${m.reason}. `, el("span", { class: "remedy" }, m.remedy))));
  }

  private showWarnings(): void {
    const warnings = this.session.result.warnings ?? [];
    byId("headroom-caution").hidden = (this.session.result.headroom?.power_w ?? null) === null;
    byId("warnings-block").hidden = warnings.length === 0;
    put(byId("warnings"), ...warnings.map((w) => el("li", {}, w)));
  }
}
