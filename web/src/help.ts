// Help where it is needed: a term in a sentence at the press of the word, the list of all
// terms in the help, and a tour of five steps for the first visit.

import { byId, el, put, setText } from "./dom.ts";
import { findTerms, TERMS, type Term } from "./terms.ts";
import { recall, remember } from "./theme.ts";

const TOURED = "soakline.toured";

const STEPS: { at: string; says: string }[] = [
  { at: "say", says: "These sentences say what holds the machine back and how much room is left. Point at one, or move to it with Tab, to see what it rests on." },
  { at: "plots", says: "The river: power, temperature and clock over time. The shaded part has not happened yet. Drag to look back, pinch or Ctrl and wheel to change the time shown." },
  { at: "ribbon", says: "The ribbon shows what held the chip back at each instant, by colour and hatching; the legend below says for how long." },
  { at: "mark-form", says: "Press m at the moment something happens, the words can follow. Write down what you changed under Setup, and the hottest that you accept: alarms and headroom count to it." },
  { at: "far", says: "The far view is for the other side of the room. Keys 2 and 3 lead to kept sessions and to comparisons, ? brings help and every word explained." },
];

export class Help {
  private step = -1;
  private opener: Element | null = null;

  constructor() {
    document.addEventListener("click", (e) => this.press(e));
    byId("term-find").addEventListener("input", () => this.list());
    this.list();
    byId("welcome").hidden = recall(TOURED) !== null || document.body.classList.contains("camera");
    byId("welcome-yes").addEventListener("click", () => this.begin());
    byId("welcome-no").addEventListener("click", () => this.end());
    byId("tour-again").addEventListener("click", () => { (byId("help") as HTMLDialogElement).close(); this.begin(); });
    byId("tour-next").addEventListener("click", () => this.go(this.step + 1));
    byId("tour-back").addEventListener("click", () => this.go(this.step - 1));
    byId("tour-end").addEventListener("click", () => this.end());
    byId("tour").addEventListener("keydown", (e) => {
      if (e.key !== "Escape") return;
      e.stopPropagation();
      this.end();
    });
  }

  private press(e: MouseEvent): void {
    const button = (e.target as Element).closest<HTMLElement>("[data-term]");
    const term = TERMS.find((t) => t.id === button?.dataset["term"]);
    if (!button || !term) return;
    const box = byId("term");
    put(box, ...sentences(term));
    box.showPopover();
    const at = button.getBoundingClientRect();
    box.style.left = `${Math.max(8, Math.min(at.left, innerWidth - box.offsetWidth - 8))}px`;
    box.style.top = `${at.bottom + 6 + box.offsetHeight < innerHeight ? at.bottom + 6 : Math.max(8, at.top - box.offsetHeight - 6)}px`;
  }

  private list(): void {
    const found = findTerms((byId("term-find") as HTMLInputElement).value);
    put(byId("term-list"), ...found.flatMap((t) => [el("dt", {}, t.word), el("dd", {}, t.says, t.formula ? el("span", { class: "formula" }, t.formula) : null)]));
    byId("term-none").hidden = found.length > 0;
  }

  private begin(): void {
    this.opener = document.activeElement;
    byId("welcome").hidden = true;
    if (location.hash && location.hash !== "#now") location.hash = "#now";
    if (document.body.classList.contains("far")) byId("leave-far").click();
    this.go(0);
  }

  private go(step: number): void {
    if (step >= STEPS.length) return this.end();
    this.light(null);
    this.step = Math.max(0, step);
    const { at, says } = STEPS[this.step]!;
    this.light(byId(at));
    setText(byId("tour-words"), says);
    setText(byId("tour-count"), `${this.step + 1} of ${STEPS.length}`);
    byId("tour-back").hidden = this.step === 0;
    setText(byId("tour-next"), this.step === STEPS.length - 1 ? "Done" : "Next");
    byId("tour").hidden = false;
    byId("tour-next").focus();
  }

  private light(target: Element | null): void {
    for (const lit of document.querySelectorAll(".toured")) lit.classList.remove("toured");
    target?.classList.add("toured");
    target?.scrollIntoView({ block: "center" });
  }

  private end(): void {
    remember(TOURED, "yes");
    this.step = -1;
    this.light(null);
    byId("tour").hidden = byId("welcome").hidden = true;
    if (this.opener instanceof HTMLElement && this.opener.isConnected && this.opener.checkVisibility()) this.opener.focus();
    scrollTo(0, 0);
  }
}

function sentences(term: Term): HTMLElement[] {
  const formula = term.formula ? [el("p", { class: "formula" }, term.formula)] : [];
  return [el("b", {}, term.word), el("p", {}, term.says), ...formula];
}
