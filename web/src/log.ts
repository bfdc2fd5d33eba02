// The bench log: the setup and the marks as a list that one can type into while the
// machine runs. A mark keeps the moment of the key press, however long the typing takes.

import type { Changes } from "./api.ts";
import { byId, el, put, setText } from "./dom.ts";
import type { Mark } from "./layout.ts";
import { clockTime } from "./numbers.ts";
import type { Session } from "./session.ts";

export class BenchLog {
  private readonly session: Session;
  private readonly changes: Changes;
  private readonly input = byId("mark-text") as HTMLInputElement;
  private readonly moment = byId("mark-moment");
  private readonly fault = byId("log-fault");
  private pressed: number | null = null;
  private editing: Mark["id"] | null = null;
  private swallow = false;

  constructor(session: Session, changes: Changes) {
    this.session = session;
    this.changes = changes;
    session.on("marks", () => this.showMarks());
    session.on("setup", () => this.showSetup());
    session.on("layout", () => {
      this.showLimit();
      // Without a token this viewer may look and not write.
      document.body.classList.toggle("looking", this.changes.token === "");
    });
    this.input.addEventListener("focus", () => this.press());
    this.input.addEventListener("beforeinput", (e) => { if (this.swallow) e.preventDefault(); });
    addEventListener("keyup", () => { this.swallow = false; });
    this.input.addEventListener("keydown", (e) => { if (e.key === "Escape") this.drop(); });
    this.form("mark-form", () => this.store());
    this.form("setting-form", () => this.addSetting());
    this.form("limit-form", () => this.setLimit());
  }

  /** The moment to be marked is now; the text can follow. */
  press(): void {
    if (this.changes.token === "" || this.session.contact.state === "kept") return;
    if (this.pressed === null && this.session.store.length) {
      this.pressed = this.session.store.lastTime;
      setText(this.moment, clockTime(this.pressed, true));
    }
    if (document.activeElement !== this.input) this.input.focus();
  }

  /** The same by a key; the key itself is no part of the text, not even while it is held. */
  pressKey(): void {
    if (this.session.contact.state === "kept") return;
    this.swallow = true;
    this.press();
  }

  private drop(): void {
    this.pressed = null;
    this.input.value = "";
    setText(this.moment, "now");
    this.input.blur();
  }

  private async store(): Promise<void> {
    const at = this.pressed;
    const text = this.input.value.trim();
    const mark = await this.changes.mark(at, text || "mark");
    if (mark && typeof mark.at_s === "number") this.session.setMark(mark);
    this.drop();
  }

  private async addSetting(): Promise<void> {
    const key = byId("setting-key") as HTMLInputElement;
    const value = byId("setting-value") as HTMLInputElement;
    if (!key.value.trim()) return;
    await this.changes.setting(key.value.trim(), value.value.trim());
    key.value = value.value = "";
    key.focus();
  }

  private async setLimit(): Promise<void> {
    const input = byId("limit") as HTMLInputElement;
    const celsius = Number(input.value.replace(",", "."));
    if (!input.value.trim() || !Number.isFinite(celsius)) throw new Error("the limit is a temperature in °C, 90 for instance");
    await this.changes.limit(celsius);
    input.blur();
  }

  private showLimit(): void {
    const input = byId("limit") as HTMLInputElement;
    const limit = this.session.layout?.limit_c;
    if (document.activeElement !== input && limit !== null && limit !== undefined) input.value = String(limit);
  }

  private showMarks(): void {
    if (this.editing !== null) return;
    const list = [...this.session.marks].reverse();
    put(byId("marks"), ...list.map((m) => this.markRow(m)));
    byId("no-marks").hidden = list.length > 0;
  }

  private markRow(mark: Mark): HTMLElement {
    const text = el("button", { type: "button", class: "mark-words", title: "Correct the text" }, mark.text || "mark");
    const row = el("li", { "data-kind": mark.kind }, el("span", { class: "moment" }, clockTime(mark.at_s, true)), text);
    text.addEventListener("click", () => this.edit(mark, row, text));
    return row;
  }

  private edit(mark: Mark, row: HTMLElement, text: HTMLElement): void {
    if (this.session.contact.state === "kept") return;
    this.editing = mark.id;
    const input = el("input", { type: "text", value: mark.text, maxlength: 200, "aria-label": `Text of the mark at ${clockTime(mark.at_s)}` });
    row.replaceChild(input, text);
    input.focus();
    const close = (keep: boolean) => {
      if (this.editing !== mark.id) return;
      this.editing = null;
      const words = input.value.trim();
      if (keep && words && words !== mark.text) {
        this.changes.renameMark(mark.id, words).then(() => this.session.setMark({ ...mark, text: words }), (e: Error) => this.complain(e));
      }
      this.showMarks();
    };
    input.addEventListener("keydown", (e) => { if (e.key === "Enter" || e.key === "Escape") close(e.key === "Enter"); });
    input.addEventListener("blur", () => close(true));
  }

  private showSetup(): void {
    const rows = this.session.setup.flatMap((s) => [el("dt", {}, s.key), el("dd", {}, s.value)]);
    put(byId("setup"), ...rows);
    byId("no-setup").hidden = rows.length > 0 || this.session.contact.state === "kept";
    put(byId("setting-keys"), ...this.session.setup.map((s) => el("option", { value: s.key })));
  }

  private form(id: string, send: () => Promise<void>): void {
    byId(id).addEventListener("submit", (e) => {
      e.preventDefault();
      setText(this.fault, "");
      send().catch((fault: Error) => this.complain(fault));
    });
  }

  private complain(fault: Error): void {
    setText(this.fault, `Not kept: ${fault.message}.`);
  }
}
