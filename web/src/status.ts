// The status line and the banner over a lost contact: how the watching itself goes.

import { byId, el, put, setText } from "./dom.ts";
import { amount, clockTime, digits, SPACE } from "./numbers.ts";
import type { Pace } from "./pace.ts";
import type { Session } from "./session.ts";

const TITLE = "soakline";

export class Status {
  private readonly session: Session;
  private readonly pace: Pace;
  private readonly line = byId("facts");
  private readonly contact = byId("contact");
  private readonly banner = byId("banner");
  private told = "";

  constructor(session: Session, pace: Pace) {
    this.session = session;
    this.pace = pace;
    session.on("contact", () => this.showContact());
    session.on("layout", () => this.showHead());
    setInterval(() => this.show(), 1000);
  }

  private showHead(): void {
    const layout = this.session.layout;
    if (!layout) return;
    setText(byId("host"), layout.session.host);
    byId("simulated").hidden = !layout.session.simulated;
    this.showContact();
  }

  private show(): void {
    const { store, layout, analysis } = this.session;
    setText(byId("elapsed"), store.length ? `session ${clockTime(store.lastTime)}` : "");
    const facts: string[] = [];
    if (layout) facts.push(this.session.period === 1 ? "1 reading a second" : `${digits(1 / this.session.period, this.session.period > 1 ? 2 : 0)} readings a second`);
    const self = analysis.self;
    if (self && self.late_ms_p99 !== null) facts.push(`99${SPACE}% of them less than ${amount(Math.max(0.1, Math.ceil(self.late_ms_p99 * 10) / 10), "ms")} late`);
    else if (store.last) facts.push(`${amount(store.last.late, "ms")} late`);
    if (self && self.cpu_pct !== null) facts.push(`watching costs ${amount(self.cpu_pct, "%")} of one core`);
    if (self && self.rss_mib !== null) facts.push(amount(self.rss_mib, "MiB", 0));
    if (self?.keeping) facts.push({ recording: "kept on the disk", paused: "not being kept", closed: "kept" }[self.keeping.state] ?? "not kept on the disk");
    if (self && self.viewers !== null) facts.push(self.viewers === 1 ? "1 viewer" : `${self.viewers} viewers`);
    if (this.pace.notice) facts.push(this.pace.notice);
    put(this.line, ...facts.map((f) => el("li", {}, f)));
    if (this.paused !== this.told) this.showContact();
  }

  /** Why the record on the disk has paused; "" while it goes on. */
  private get paused(): string {
    const keeping = this.session.analysis.self?.keeping;
    return keeping?.state === "paused" ? keeping.why || "the disk takes nothing" : "";
  }

  private showContact(): void {
    this.told = this.paused;
    const { contact, store } = this.session;
    document.body.dataset["contact"] = contact.state;
    const known = store.length ? ` The last reading is of ${clockTime(store.lastTime, true)}; what was received stays here.` : "";
    let words = "", banner = "";
    switch (contact.state) {
      case "starting":
        words = "connecting";
        break;
      case "live":
        words = "live";
        if (this.told) banner = `The record on the disk has paused: ${this.told}. What is shown here goes on.`;
        break;
      case "lost":
        words = "no contact";
        banner = `No contact with the program since ${contact.since.toLocaleTimeString()}.${known} Trying again by itself.`;
        break;
      case "ended":
        words = "ended";
        banner = `The recording has ended${contact.why ? `: ${contact.why}` : ""}.${known}`;
        break;
    }
    setText(this.contact, words);
    setText(byId("banner-words"), banner);
    this.banner.hidden = banner === "";
    const host = this.session.layout?.session.host;
    document.title = contact.state === "lost" ? `No contact – ${TITLE}` : host ? `${host} – ${TITLE}` : TITLE;
  }
}
