// The choice among the setups of the simulated machine; hidden where the machine is real.

import type { Changes } from "./api.ts";
import { byId, el, put, setText } from "./dom.ts";
import type { Session } from "./session.ts";

export class RigChoice {
  private readonly session: Session;
  private readonly changes: Changes;
  private readonly select = byId("rig-setup") as HTMLSelectElement;

  constructor(session: Session, changes: Changes) {
    this.session = session;
    this.changes = changes;
    session.on("layout", () => this.show());
    this.select.addEventListener("change", () => this.choose());
  }

  private show(): void {
    const rig = this.session.layout?.rig;
    byId("rig").hidden = !rig;
    if (!rig) return;
    put(this.select, ...rig.setups.map((s) => el("option", { value: s.name, selected: s.name === rig.selected }, s.title)));
    this.select.value = rig.selected;
    setText(byId("rig-about"), rig.setups.find((s) => s.name === rig.selected)?.about ?? "");
  }

  private choose(): void {
    this.changes.rig(this.select.value).catch((fault: Error) => {
      setText(byId("rig-about"), `Not changed: ${fault.message}.`);
      this.select.value = this.session.layout?.rig?.selected ?? "";
    });
  }
}
