// The say-line: what has been found, in sentences that can be read from three metres,
// each with the evidence it rests on.

import { byId, el, put, setText } from "./dom.ts";
import { clockTime } from "./numbers.ts";
import type { Session } from "./session.ts";

/** Readers of the screen aloud are told a changed sentence at most this often. */
const ALOUD_MS = 15_000;

/** An answer that lags behind the readings by more than this says of when it is, in s. */
const LAG_S = 10;

export class SayLine {
  private readonly session: Session;
  private readonly box = byId("sentences");
  private readonly evidence = byId("evidence");
  private readonly aloud = byId("say-aloud");
  private shown: string[] = [];
  private pinned = -1;
  private lastAloud = -ALOUD_MS;

  constructor(session: Session) {
    this.session = session;
    session.on("analysis", () => this.show());
    session.on("layout", () => this.show());
    session.on("row", () => { if (this.shown.length === 0 || !this.session.analysis.say?.text) this.show(); });
    setInterval(() => this.showAge(), 500);
    document.addEventListener("keydown", (e) => { if (e.key === "Escape") this.reveal(-1, true); });
  }

  private parts(): { text: string; evidence: string }[] {
    const { analysis, layout, store } = this.session;
    if (!layout) return [{ text: "Looking for the program.", evidence: "" }];
    if (layout.lanes.every((l) => l.channels.length === 0)) {
      return [
        { text: "No power, temperature or clock can be read on this machine.", evidence: "" },
        { text: layout.missing?.length ? "Below stands what is missing and what would help." : "Press v for the readings that there are.", evidence: "" },
      ];
    }
    const say = analysis.say;
    if (say?.parts?.length) return say.parts;
    if (say?.text) return [{ text: say.text, evidence: "" }];
    return [{ text: store.last ? "Watching. Nothing is found yet." : "Waiting for the first readings.", evidence: "" }];
  }

  private show(): void {
    const parts = this.parts();
    if (parts.length !== this.box.children.length) this.rebuild(parts.length);
    parts.forEach((part, i) => {
      const sentence = this.box.children[i]!;
      if (this.shown[i] !== part.text) put(sentence, ...emphasised(part.text));
      sentence.toggleAttribute("disabled", !part.evidence);
      // A sentence of one word is a heading to what follows; the first real one leads.
      sentence.classList.toggle("word-alone", i === 0 && parts.length > 1 && !part.text.includes(" "));
    });
    this.shown = parts.map((p) => p.text);
    if (this.pinned >= 0) setText(this.evidence, parts[this.pinned]?.evidence ?? "");
    const now = performance.now();
    if (now - this.lastAloud >= ALOUD_MS && this.aloud.textContent !== this.shown.join(" ")) {
      this.lastAloud = now;
      setText(this.aloud, this.shown.join(" "));
    }
  }

  // A simulated machine or a replay can run faster than the analysis is asked.
  private showAge(): void {
    const { result, store, contact } = this.session;
    const until = result.until_s ?? null;
    const late = until !== null && contact.state === "live" && store.lastTime - until > LAG_S;
    const line = byId("say-as-of");
    line.hidden = !late;
    setText(line, late ? `As of ${clockTime(until)}; the readings run faster than they are analysed.` : "");
  }

  private rebuild(count: number): void {
    this.shown = [];
    this.reveal(-1, true);
    put(this.box, ...Array.from({ length: count }, (_, i) => this.sentence(i)));
  }

  private sentence(i: number): HTMLElement {
    const button = el("button", { class: "sentence", type: "button", "aria-expanded": "false", "aria-controls": "evidence" });
    button.addEventListener("pointerenter", () => this.reveal(i, false));
    button.addEventListener("pointerleave", () => { if (this.pinned < 0) this.reveal(-1, false); });
    button.addEventListener("focus", () => this.reveal(i, false));
    button.addEventListener("blur", () => this.reveal(-1, true));
    button.addEventListener("click", () => this.reveal(this.pinned === i ? -1 : i, true));
    return button;
  }

  private reveal(i: number, pin: boolean): void {
    if (pin) this.pinned = i;
    const evidence = i >= 0 ? (this.parts()[i]?.evidence ?? "") : "";
    setText(this.evidence, evidence);
    this.evidence.hidden = !evidence;
    [...this.box.children].forEach((s, k) => s.setAttribute("aria-expanded", String(k === i && evidence !== "")));
  }
}

// Numbers with their unit stand out a little; the words around them carry the sense.
const QUANTITY = /[\u2212-]?\d[\d\u202f\u2009.,:]*(?:[\u202f\u00a0\u2009 ](?:°C|K\/W|K|W|MHz|GHz|%|min|s|h|rpm)(?![A-Za-z]))?/g;

function emphasised(text: string): (string | HTMLElement)[] {
  const out: (string | HTMLElement)[] = [];
  let at = 0;
  for (const hit of text.matchAll(QUANTITY)) {
    out.push(...unbroken(text.slice(at, hit.index)), el("b", {}, hit[0]));
    at = hit.index + hit[0].length;
  }
  out.push(...unbroken(text.slice(at)));
  return out;
}

// "long-term" stays on one line.
function unbroken(text: string): (string | HTMLElement)[] {
  return text.split(/(\p{L}+(?:-\p{L}+)+)/u).map((word, i) => (i % 2 ? el("span", { class: "whole" }, word) : word));
}
