// The user's choice of alarms: which, from where and after how long; kept by the browser for
// each machine. And what the browser itself must allow: sound and system notifications.

import { USUAL, type Kind, type Rule, type Rules } from "./alarm-rules.ts";
import type { Sound } from "./alarm-sound.ts";
import { byId, el, put, setText } from "./dom.ts";
import type { Session } from "./session.ts";
import { recall, remember } from "./theme.ts";

const SOUND_KEY = "soakline.alarm-sound";
const rulesKey = (host: string) => `soakline.alarms.${host}`;

const WORDS: Record<Kind, string> = {
  die: "die over the hottest that you accept",
  coolant: "coolant over",
  rotor: "fan or pump stopped under load",
  sensor: "a sensor lost",
  contact: "no contact with the machine",
};

export class AlarmPanel {
  rules: Rules = structuredClone(USUAL);
  sound = recall(SOUND_KEY) !== "off";
  private readonly session: Session;
  private readonly player: Sound;
  private readonly changed: () => void;
  private host: string | null = null;

  constructor(session: Session, player: Sound, changed: () => void) {
    this.session = session;
    this.player = player;
    this.changed = changed;
    session.on("layout", () => this.read());
    byId("sound-test").addEventListener("click", () => this.test());
    byId("notify").addEventListener("click", () => void this.askToNotify());
    const on = byId("sound-on") as HTMLInputElement;
    on.checked = this.sound;
    on.addEventListener("change", () => {
      this.sound = on.checked;
      remember(SOUND_KEY, on.checked ? "on" : "off");
      this.sum();
    });
    this.showNotify();
  }

  private read(): void {
    const host = this.session.layout?.session.host ?? "";
    if (host !== this.host) {
      this.host = host;
      this.rules = merged(recall(rulesKey(host)));
      put(byId("alarm-rules"), ...(Object.keys(WORDS) as Kind[]).map((kind) => this.row(kind, this.rules[kind])));
    }
    const limit = this.session.layout?.limit_c;
    setText(byId("alarm-die-now"), limit === null || limit === undefined ? "(none is set: set it under Setup)" : `(${limit}\u00a0°C)`);
    this.sum();
  }

  private row(kind: Kind, rule: Rule): HTMLElement {
    const on = el("input", { type: "checkbox", checked: rule.on, "data-alarm": kind });
    on.addEventListener("change", () => this.set(kind, { on: on.checked }));
    const words: (Node | string)[] = [el("label", {}, on, " ", WORDS[kind])];
    if (kind === "die") words.push(" ", el("span", { id: "alarm-die-now", class: "quiet" }));
    if (kind === "coolant") words.push(" ", this.number("limit", rule.limit, "none", "°C, the coolant's limit", (v) => this.set(kind, { limit: v })), "\u00a0°C");
    const delay = this.number("delay", rule.delay, "0", `seconds until the alarm: ${WORDS[kind]}`, (v) => this.set(kind, { delay: v ?? USUAL[kind].delay }));
    words.push(" ", el("span", { class: "whole" }, "for ", delay, "\u00a0s"));
    return el("li", {}, ...words);
  }

  private number(name: string, value: number | null, empty: string, label: string, take: (v: number | null) => void): HTMLElement {
    const input = el("input", { type: "text", inputmode: "decimal", class: "small-number", "aria-label": label, placeholder: empty, value: value === null ? "" : String(value), "data-number": name });
    input.addEventListener("change", () => {
      const v = input.value.trim() === "" ? null : Number(input.value.replace(",", "."));
      const fits = v === null || (Number.isFinite(v) && v >= 0 && v <= 600);
      input.setAttribute("aria-invalid", String(!fits));
      if (fits) take(v);
    });
    return input;
  }

  private set(kind: Kind, change: Partial<Rule>): void {
    this.rules = { ...this.rules, [kind]: { ...this.rules[kind], ...change } };
    remember(rulesKey(this.host ?? ""), JSON.stringify(this.rules));
    this.sum();
    this.changed();
  }

  private test(): void {
    this.player.play();
    setText(byId("sound-said"), this.player.ready ? "You should hear three falling pairs of tones." : "This browser does not let the page sound.");
  }

  private async askToNotify(): Promise<void> {
    if (typeof Notification !== "undefined") await Notification.requestPermission();
    this.showNotify();
  }

  private showNotify(): void {
    const state = typeof Notification === "undefined" || !isSecureContext ? "unknown" : Notification.permission;
    byId("notify").hidden = state !== "default";
    const words = { granted: "System notifications are allowed.", denied: "This browser refuses system notifications for this page.", unknown: "System notifications need a browser that has them, and this page on the machine itself or over TLS.", default: "" };
    setText(byId("notify-said"), words[state]);
  }

  // The line that stands there while the choice is folded away.
  private sum(): void {
    const on = (Object.keys(WORDS) as Kind[]).filter((k) => this.rules[k].on && this.usable(k)).length;
    setText(byId("alarm-sum"), `${on} of ${Object.keys(WORDS).length} kinds watched, sound ${this.sound ? "on" : "off"}`);
  }

  private usable(kind: Kind): boolean {
    if (kind === "die") return (this.session.layout?.limit_c ?? null) !== null;
    return kind !== "coolant" || this.rules.coolant.limit !== null;
  }
}

/** What was kept, over the usual; what is not understood is left out. */
export function merged(text: string | null): Rules {
  const rules = structuredClone(USUAL);
  let kept: unknown;
  try {
    kept = JSON.parse(text ?? "null");
  } catch {
    return rules;
  }
  if (typeof kept !== "object" || kept === null) return rules;
  for (const kind of Object.keys(rules) as Kind[]) {
    const had = (kept as Partial<Record<Kind, Partial<Rule>>>)[kind];
    if (typeof had !== "object" || had === null) continue;
    if (typeof had.on === "boolean") rules[kind].on = had.on;
    if (typeof had.limit === "number") rules[kind].limit = had.limit;
    if (typeof had.delay === "number" && had.delay >= 0) rules[kind].delay = had.delay;
  }
  return rules;
}
