// The temperature stair: the kelvin lost on the way of the heat, from the die to the
// reference, each step labelled in K/W. It stands only where both parts are known.

import { byId, el, put, setText } from "./dom.ts";
import { amount } from "./numbers.ts";
import type { Session } from "./session.ts";
import { Earlier } from "./stair-earlier.ts";
import { against, meaning, wayOf, type Way } from "./stair-words.ts";

const NS = "http://www.w3.org/2000/svg";
/** An interval of the whole way wider than this factor says too little to draw steps by. */
const UNSURE = 1.6;

const W = 330, H = 176, STEP = 78, LEFT = 12;

export class Stair {
  private readonly session: Session;
  private readonly earlier: Earlier;
  private shown = "";

  constructor(session: Session) {
    this.session = session;
    this.earlier = new Earlier(session, () => this.show());
    session.on("analysis", () => this.show());
  }

  private show(): void {
    const path = this.session.result.thermal_path;
    const way = wayOf(path);
    const power = this.session.result.steady?.power_w ?? this.session.result.power_step?.long_w ?? null;
    const sure = !path?.rth_high_k_per_w || !path.rth_low_k_per_w || path.rth_high_k_per_w < UNSURE * path.rth_low_k_per_w;
    const known = path && sure && way && power !== null && power > 0;
    byId("stair-block").hidden = !path;
    byId("stair").hidden = !known;
    setText(byId("stair-lesson"), known || !path ? "" : lesson(path.why));
    if (!known) {
      byId("stair-behind").hidden = true;
      return;
    }
    byId("stair-behind").hidden = !this.earlier.offered;
    this.earlier.look();
    const before = this.earlier.way;
    const words = [meaning(path, way, power), before ? against(way, before, this.earlier.name) : ""];
    const key = [way.near, way.far, power, path.reference_c].map((v) => v?.toFixed(2)).join() + words.join();
    if (key === this.shown) return;
    this.shown = key;
    put(byId("stair"), this.drawing(way, before, power, path.reference_c ?? 0), el("figcaption", {}, ...words.filter(Boolean).map((w) => el("p", {}, w))));
  }

  private drawing(way: Way, before: Way | null, power: number, reference: number): SVGElement {
    const heights = [way.near * power, way.far * power];
    const total = heights[0]! + heights[1]!;
    const tallest = Math.max(total, before ? (before.near + before.far) * power : 0);
    const scale = (H - 44) / tallest;
    const label = `Temperature stair at ${amount(power, "W")}: ${amount(heights[0]!, "K", 0)} near the die, ${amount(heights[1]!, "K", 0)} from there to the reference`;
    const svg = shape("svg", { viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": before ? `${label}; an earlier session as an outline` : label });
    const names = ["die, paste, mounting", "block, fins, air"];
    const values = [way.near, way.far];
    const floor = H - 26;
    let y = floor - total * scale, free = 0;
    heights.forEach((kelvin, i) => {
      const height = kelvin * scale;
      const x = LEFT + i * STEP;
      svg.append(shape("rect", { x, y, width: STEP, height, class: i ? "step-far" : "step-near" }));
      const at = Math.max(free, Math.min(y + height / 2 + 4, H - 42));
      free = at + 38;
      svg.append(shape("path", { d: `M${x + STEP + 4} ${at - 4} H${LEFT + 2 * STEP + 10}`, class: "step-lead" }));
      svg.append(words(LEFT + 2 * STEP + 14, at, `${amount(kelvin, "K", 0)} · ${amount(values[i]!, "K/W")}`, "step-value"));
      svg.append(words(LEFT + 2 * STEP + 14, at + 15, names[i]!, "step-name"));
      y += height;
    });
    svg.append(shape("path", { d: edge(way, power * scale, floor, W - 4), class: "step-edge" }));
    if (before) svg.append(shape("path", { d: edge(before, power * scale, floor, LEFT + 2 * STEP), class: "step-outline" }));
    svg.append(words(LEFT, floor - total * scale - 6, `die, once settled ${amount(reference + total, "°C", 0)}`, "step-end"));
    svg.append(words(W - 4, floor + 16, `reference ${amount(reference, "°C")}`, "step-end end"));
    return svg;
  }
}

// What stands in the stair's place while it is not known.
function lesson(why?: string): string {
  const because = why ? ` Not yet: ${why.replace(/\.$/, "")}.` : "";
  return `Here the kelvin lost on each part of the heat's way will stand as steps. It takes a rest, then a steady load of some minutes, and best the cooling after it.${because}`;
}

function edge(way: Way, scale: number, floor: number, to: number): string {
  const middle = floor - way.far * scale;
  return `M${LEFT} ${middle - way.near * scale} H${LEFT + STEP} V${middle} H${LEFT + 2 * STEP} V${floor} H${to}`;
}

export function shape(name: string, attributes: Record<string, string | number>): SVGElement {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, String(value));
  return made;
}

export function words(x: number, y: number, text: string, look: string): SVGElement {
  const made = shape("text", { x, y, class: look });
  made.textContent = text;
  return made;
}
