// One kept session in the list: what it is called, when and how it ran, and what can be
// done with it.

import { el } from "./dom.ts";
import { digits, duration, SPACE } from "./numbers.ts";
import { writePlace } from "./sessions-place.ts";
import type { Kept } from "./sessions-wire.ts";
import { beside, hour, title } from "./sessions-words.ts";

/** What a row asks of the list. */
export interface RowActs {
  readonly allowed: boolean;
  isChosen(id: string): boolean;
  choose(kept: Kept, on: boolean): void;
  /** Holds the list still while a name is typed. */
  hold(id: string): void;
  rename(kept: Kept, name: string): Promise<void>;
  pin(kept: Kept): Promise<void>;
  remove(kept: Kept): Promise<void>;
  restore(kept: Kept): Promise<void>;
}

/** telling are the conditions by which the listed sessions differ; without any, all are said. */
export function sessionRow(kept: Kept, acts: RowActs, telling: Set<string>): HTMLElement {
  const row = el("li", { class: "kept", "data-id": kept.id, "data-state": kept.deleted ? "deleted" : kept.state });
  const words = el("div", { class: "kept-words" }, heading(kept), about(kept, telling));
  row.append(el("span", { class: "kept-hour" }, hour(kept)), words, buttons(kept, acts, words));
  if (!kept.deleted) row.prepend(choice(kept, acts));
  return row;
}

function choice(kept: Kept, acts: RowActs): HTMLElement {
  const box = el("input", { type: "checkbox", "data-act": "choose", "aria-label": `Choose ${title(kept)} for a comparison` });
  box.checked = acts.isChosen(kept.id);
  box.addEventListener("change", () => acts.choose(kept, box.checked));
  return el("label", { class: "kept-choice", title: "Choose for a comparison" }, box);
}

function heading(kept: Kept): HTMLElement {
  if (kept.deleted) return el("span", { class: "kept-name" }, title(kept));
  const to = writePlace(kept.shown ? { at: "now" } : { at: "session", id: kept.id });
  return el("a", { class: "kept-name", href: to, "data-act": "open" }, title(kept));
}

function about(kept: Kept, telling: Set<string>): HTMLElement {
  const facts: (string | HTMLElement)[] = [duration(kept.length_s)];
  if (kept.shown) facts.push(el("strong", {}, "running now"));
  else if (kept.state === "recording") facts.push(el("strong", {}, "being recorded"));
  else if (kept.state === "broken off") facts.push(el("strong", { class: "broke", title: kept.why }, "broke off"));
  if (kept.pinned) facts.push(el("strong", {}, "pinned"));
  if (kept.simulated) facts.push(el("span", { class: "simulated" }, "Simulated"));
  facts.push(...kept.scores.map((s) => `${s.name} ${digits(s.value, s.value % 1 ? 1 : 0)}${s.unit ? SPACE + s.unit : ""}`));
  const said = beside(kept).filter((c) => !telling.size || telling.has(c.key)).slice(0, 5);
  facts.push(...said.map((c) => `${c.key}: ${c.value}`));
  return el("ul", { class: "kept-about" }, ...facts.map((f) => el("li", {}, f)));
}

function buttons(kept: Kept, acts: RowActs, words: HTMLElement): HTMLElement {
  const box = el("div", { class: "kept-buttons" });
  if (!acts.allowed) return box;
  const name = title(kept);
  const button = (act: string, label: string, press: () => void) => {
    const made = el("button", { type: "button", "data-act": act, "aria-label": `${label}: ${name}` }, label);
    made.addEventListener("click", press);
    box.append(made);
  };
  if (kept.deleted) {
    button("restore", "Bring back", () => void acts.restore(kept));
    return box;
  }
  button("rename", "Rename", () => rename(kept, acts, words));
  button("pin", kept.pinned ? "Unpin" : "Pin", () => void acts.pin(kept));
  if (kept.state !== "recording" && !kept.pinned) button("delete", "Delete", () => void acts.remove(kept));
  return box;
}

function rename(kept: Kept, acts: RowActs, words: HTMLElement): void {
  const before = words.firstElementChild;
  if (!before || words.querySelector("input")) return;
  const input = el("input", { type: "text", value: kept.name, maxlength: 200, placeholder: title(kept), "aria-label": `Name of the session of ${hour(kept)}`, class: "kept-rename" });
  words.replaceChild(input, before);
  acts.hold(kept.id);
  input.focus();
  input.select();
  let open = true;
  const close = (keep: boolean) => {
    if (!open) return;
    open = false;
    void acts.rename(kept, keep ? input.value.trim() : kept.name);
  };
  input.addEventListener("keydown", (e) => { if (e.key === "Enter" || e.key === "Escape") close(e.key === "Enter"); });
  input.addEventListener("blur", () => close(true));
}
