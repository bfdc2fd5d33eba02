// Saving from the browser: when the program is gone, or back with another session, what the
// page has received is still here and can be saved as a trace file.

import { byId, setText } from "./dom.ts";
import type { Layout } from "./layout.ts";
import { clockTime } from "./numbers.ts";
import type { Session } from "./session.ts";
import { traceText, type Held } from "./trace-text.ts";

interface Lost extends Held {
  layout: Layout;
}

export class Keep {
  private readonly session: Session;
  private lost: Lost | null = null;

  constructor(session: Session) {
    this.session = session;
    session.on("contact", () => this.contact());
    session.on("layout", () => this.offer());
    byId("banner-save").addEventListener("click", () => this.save());
    byId("before-save").addEventListener("click", () => this.save());
    byId("before-drop").addEventListener("click", () => this.drop());
    byId("save-trace").addEventListener("click", (e) => {
      if (!this.lost) return; // the program itself gives the whole session
      e.preventDefault();
      this.save();
    });
  }

  private contact(): void {
    const { contact, layout, store } = this.session;
    const gone = contact.state === "lost" || contact.state === "ended";
    if (gone && layout && store.length) this.lost = { ...this.held(layout), layout };
    byId("banner-save").hidden = !gone || !this.lost;
    if (contact.state === "live") this.offer();
  }

  private held(layout: Layout): Held {
    const { setup, marks, store } = this.session;
    return { start: layout.session.start, simulated: layout.session.simulated, channels: layout.channels, setup, marks, store };
  }

  // Back with the same session, nothing is lost; with another, the earlier rows are offered.
  private offer(): void {
    const { lost } = this;
    const now = this.session.layout?.session.id;
    if (lost && now === lost.layout.session.id && this.session.contact.state === "live") this.lost = null;
    const other = lost !== null && now !== lost.layout.session.id;
    byId("before").hidden = !other;
    if (other) setText(byId("before-words"), `Another session runs now. What was received of the one before, up to ${clockTime(lost.store.lastTime, true)}, is still here.`);
  }

  private drop(): void {
    this.lost = null;
    this.offer();
  }

  private save(): void {
    const { lost } = this;
    if (!lost) return;
    const { store } = lost;
    const setup = [...lost.setup, { key: "saved by", value: `the page, ${clockTime(store.firstTime, true)} to ${clockTime(store.lastTime, true)} of the session` }];
    const marks = [...lost.marks.filter((m) => m.at_s >= store.firstTime), { id: 0, at_s: store.lastTime, kind: "machine", text: "the last reading that the page received" }];
    const file = new Blob(traceText({ ...lost, setup, marks }), { type: "text/csv" });
    const link = document.createElement("a");
    link.href = URL.createObjectURL(file);
    link.download = `soakline-${lost.layout.session.id}-page.csv`;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  }
}
