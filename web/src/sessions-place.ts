// Where the page is: at the river of now, at a kept session, at the list of sessions or at
// a comparison. The place stands in the address after "#", so that the browser's way back
// leads back; the keys 1, 2 and 3 lead there too.

import { byId, setText } from "./dom.ts";

export type Place =
  | { at: "now" }
  | { at: "sessions" }
  | { at: "session"; id: string }
  | { at: "compare"; sides: string[][] };

const ID = /^\d{8}-\d{6}-[a-z2-9]{3}$/;

/** Reads the part of the address after "#"; what is not understood is the river of now. */
export function readPlace(hash: string): Place {
  const [name = "", rest = ""] = hash.replace(/^#/, "").split("=", 2);
  if (name === "sessions") return { at: "sessions" };
  if (name === "session" && ID.test(rest)) return { at: "session", id: rest };
  if (name === "compare") {
    const sides = rest.split("/").map((side) => side.split(",").filter((id) => ID.test(id)));
    return { at: "compare", sides: sides.filter((side) => side.length > 0) };
  }
  return { at: "now" };
}

export function writePlace(place: Place): string {
  switch (place.at) {
    case "session": return `#session=${place.id}`;
    case "compare": return place.sides.length ? `#compare=${place.sides.map((s) => s.join(",")).join("/")}` : "#compare";
    default: return `#${place.at}`;
  }
}

/** What each place is called in the window's title; the river of now keeps its own. */
const HEADINGS = { sessions: "sessions-title", session: "kept-title", compare: "compare-title" } as const;

export class Places {
  place: Place = { at: "now" };
  /** The comparison that the way leads to: the last one looked at. */
  compared: string[][] = [];
  private readonly listeners: ((place: Place) => void)[] = [];

  constructor() {
    addEventListener("hashchange", () => this.read(true));
    addEventListener("keydown", (e) => this.key(e));
  }

  on(call: (place: Place) => void): void {
    this.listeners.push(call);
  }

  start(): void {
    this.read(false);
  }

  go(place: Place): void {
    location.hash = writePlace(place);
  }

  private read(moved: boolean): void {
    if (moved && !/^#(now|sessions?|compare)?(=|$)/.test(location.hash)) return; // a link within the page
    this.place = readPlace(location.hash);
    const { at } = this.place;
    if (this.place.at === "compare") this.compared = this.place.sides;
    document.body.dataset["place"] = at;
    document.body.classList.toggle("elsewhere", at === "sessions" || at === "compare");
    if (at !== "now") document.body.classList.remove("far");
    byId("way-compare").setAttribute("href", writePlace({ at: "compare", sides: this.compared }));
    for (const [id, of] of [["way-now", "now"], ["way-sessions", "sessions"], ["way-compare", "compare"]] as const) {
      if (of === at) byId(id).setAttribute("aria-current", "page");
      else byId(id).removeAttribute("aria-current");
    }
    for (const call of this.listeners) call(this.place);
    if (!moved) return;
    scrollTo(0, 0);
    if (at !== "now") byId(HEADINGS[at]).focus({ preventScroll: true });
    setText(byId("place-aloud"), at === "now" ? "The machine as it runs now" : "");
  }

  private key(e: KeyboardEvent): void {
    const target = e.target as HTMLElement;
    if (e.ctrlKey || e.metaKey || e.altKey || target.closest("input:not([type=checkbox]), select, textarea, dialog")) return;
    if (!(byId("keys-on") as HTMLInputElement).checked) return;
    if (e.key === "1") this.go({ at: "now" });
    else if (e.key === "2") this.go({ at: "sessions" });
    else if (e.key === "3") this.go({ at: "compare", sides: this.compared });
    else return;
    e.preventDefault();
  }
}
