// Single keys and the buttons that do the same. Keys can be switched off, and none acts
// while something is typed.

import type { Alarms } from "./alarms.ts";
import { byId } from "./dom.ts";
import type { BenchLog } from "./log.ts";
import type { Readings } from "./readings.ts";
import type { River } from "./river.ts";
import type { Screen } from "./screen.ts";
import { recall, remember, type Theme } from "./theme.ts";

const KEY = "soakline.keys";

export class Keys {
  private readonly river: River;
  private readonly theme: Theme;
  private readonly log: BenchLog;
  private readonly alarms: Alarms;
  private readonly readings: Readings;
  private readonly screen: Screen;
  private readonly help = byId("help") as HTMLDialogElement;
  private readonly onoff = byId("keys-on") as HTMLInputElement;

  constructor(river: River, theme: Theme, log: BenchLog, alarms: Alarms, readings: Readings, screen: Screen) {
    this.readings = readings;
    this.screen = screen;
    this.alarms = alarms;
    this.river = river;
    this.theme = theme;
    this.log = log;
    this.onoff.checked = recall(KEY) !== "off";
    this.onoff.addEventListener("change", () => remember(KEY, this.onoff.checked ? "on" : "off"));
    addEventListener("keydown", (e) => this.key(e));
    this.buttons();
    this.showTheme();
  }

  private buttons(): void {
    const press = (id: string, act: () => void) => byId(id).addEventListener("click", act);
    press("theme", () => this.nextTheme());
    press("far", () => this.far());
    press("leave-far", () => this.far());
    press("help-open", () => this.help.showModal());
    press("help-close", () => this.help.close());
    press("follow", () => this.river.view.follow(!this.river.view.following));
    press("longer", () => this.river.view.step(1));
    press("shorter", () => this.river.view.step(-1));
    press("earlier", () => this.river.view.pan(-0.4));
    press("later", () => this.river.view.pan(0.4));
    for (const button of document.querySelectorAll<HTMLElement>("[data-span]")) {
      button.addEventListener("click", () => this.river.view.setSpan(Number(button.dataset["span"])));
    }
  }

  private nextTheme(): void {
    this.theme.next();
    this.showTheme();
  }

  private showTheme(): void {
    byId("theme").setAttribute("aria-label", `Theme: ${this.theme.title}. Change it`);
    byId("theme").title = `Theme: ${this.theme.title} (t)`;
  }

  /** Far view: sentences, three numbers and the ribbon alone. */
  private far(): void {
    if (document.body.classList.contains("camera")) return; // it is nothing else
    const on = document.body.classList.toggle("far");
    byId("far").setAttribute("aria-pressed", String(on));
    if (on) byId("leave-far").focus();
    this.river.soon();
  }

  private key(e: KeyboardEvent): void {
    const target = e.target as HTMLElement;
    if (e.ctrlKey || e.metaKey || e.altKey || target.closest("input, select, textarea, dialog")) return;
    if (!this.onoff.checked && !target.closest("#river")) return;
    if (document.body.classList.contains("elsewhere") && !["t", "a", "?"].includes(e.key)) return; // no river is shown
    if (e.key === " " && target.closest("button, summary, a")) return;
    if (this.act(e)) e.preventDefault();
  }

  private act(e: KeyboardEvent): boolean {
    const view = this.river.view;
    switch (e.key) {
      case "ArrowLeft": view.pan(e.shiftKey ? -0.8 : -0.15); return true;
      case "ArrowRight": view.pan(e.shiftKey ? 0.8 : 0.15); return true;
      case "+": case "=": view.step(-1); return true;
      case "-": case "\u2212": view.step(1); return true;
      case " ": view.follow(!view.following); return true;
      case "m": this.log.pressKey(); return true;
      case "f": this.far(); return true;
      case "t": this.nextTheme(); return true;
      case "F": this.screen.full(); return true;
      case "v": this.readings.toggle(); return true;
      case "l": this.river.choice.open(); return true;
      case "a": return this.alarms.acknowledge();
      case "?": this.help.showModal(); return true;
      case "Escape":
        if (document.body.classList.contains("far")) { this.far(); return true; }
    }
    return false;
  }
}
