// The setup of the machine's last session: what is otherwise now, and what was noted then
// and not yet now, to be taken over with one press.

import type { Changes } from "./api.ts";
import { byId, el, put } from "./dom.ts";
import type { Session } from "./session.ts";

export class LastSetup {
  private readonly session: Session;
  private readonly changes: Changes;
  private readonly button = byId("take-over") as HTMLButtonElement;

  constructor(session: Session, changes: Changes) {
    this.session = session;
    this.changes = changes;
    session.on("layout", () => this.show());
    session.on("setup", () => this.show());
    this.button.addEventListener("click", () => void this.takeOver());
  }

  private now(key: string): string {
    return this.session.setup.find((s) => s.key === key)?.value ?? "";
  }

  /** The conditions of then that nobody has noted now. */
  private get missing(): { key: string; value: string }[] {
    return (this.session.layout?.last_setup?.setup ?? []).filter((s) => this.now(s.key) === "");
  }

  private show(): void {
    const last = this.session.layout?.last_setup;
    const missing = this.missing;
    const changed = (last?.changed ?? []).filter((c) => c.before !== "" && this.now(c.key) !== "" && this.now(c.key) !== c.before);
    byId("last-setup").hidden = missing.length + changed.length === 0;
    this.button.hidden = missing.length === 0 || this.changes.token === "";
    put(byId("last-setup-list"),
      ...changed.map((c) => el("li", {}, `${c.key}: ${this.now(c.key)}, then ${c.before}`)),
      ...missing.map((s) => el("li", {}, `${s.key}: not noted yet, then ${s.value}`)));
  }

  private async takeOver(): Promise<void> {
    this.button.disabled = true;
    try {
      for (const s of this.missing) await this.changes.setting(s.key, s.value);
    } finally {
      this.button.disabled = false;
    }
  }
}
