// The temperature stair: the kelvin lost on the way of the heat, from the die to the
// reference, each step labelled in K/W. It stands only where both parts are known.

import { byId, el, put } from "./dom.ts";
import { amount } from "./numbers.ts";
import type { Session } from "./session.ts";

const NS = "http://www.w3.org/2000/svg";
/** An interval of the whole way wider than this factor says too little to draw steps by. */
const UNSURE = 1.6;

const W = 330, H = 168, STEP = 78;

export class Stair {
  private readonly session: Session;
  private shown = "";

  constructor(session: Session) {
    this.session = session;
    session.on("analysis", () => this.show());
  }

  private show(): void {
    const path = this.session.result.thermal_path;
    const near = path?.near_k_per_w ?? null;
    const far = path?.far_k_per_w ?? null;
    const power = this.session.result.steady?.power_w ?? this.session.result.power_step?.long_w ?? null;
    const sure = !path?.rth_high_k_per_w || !path.rth_low_k_per_w || path.rth_high_k_per_w < UNSURE * path.rth_low_k_per_w;
    const known = path && sure && near !== null && far !== null && power !== null && power > 0;
    byId("stair-block").hidden = !known;
    if (!known) return;
    const key = [near, far, power, path.reference_c].map((v) => v?.toFixed(2)).join();
    if (key === this.shown) return;
    this.shown = key;
    put(byId("stair"), this.drawing(near, far, power, path.reference_c ?? 0), el("figcaption", {}, this.sentence(near, far, power, path.reference_source)));
  }

  private sentence(near: number, far: number, power: number, reference: string): string {
    const share = Math.round((100 * near) / (near + far));
    return `At ${amount(power, "W")}, ${amount(near * power, "K", 0)} are lost near the die (${share}\u00a0% of the way) and ${amount(far * power, "K", 0)} from there to ${reference || "the reference"}.`;
  }

  private drawing(near: number, far: number, power: number, reference: number): SVGElement {
    const heights = [near * power, far * power];
    const total = heights[0]! + heights[1]!;
    const scale = (H - 44) / total;
    const svg = shape("svg", { viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": "Temperature stair from the die down to the reference" });
    const names = ["die, paste, mounting", "block, fins, air"];
    const values = [near, far];
    let y = 18, free = 0;
    heights.forEach((kelvin, i) => {
      const height = kelvin * scale;
      const x = 12 + i * STEP;
      svg.append(shape("rect", { x, y, width: STEP, height, class: i ? "step-far" : "step-near" }));
      const at = Math.max(free, Math.min(y + height / 2 + 4, H - 42));
      free = at + 38;
      svg.append(shape("path", { d: `M${x + STEP + 4} ${at - 4} H${12 + 2 * STEP + 10}`, class: "step-lead" }));
      svg.append(words(12 + 2 * STEP + 14, at, `${amount(kelvin, "K", 0)} · ${amount(values[i]!, "K/W")}`, "step-value"));
      svg.append(words(12 + 2 * STEP + 14, at + 15, names[i]!, "step-name"));
      y += height;
    });
    svg.append(shape("path", { d: `M12 18 H${12 + STEP} V${18 + heights[0]! * scale} H${12 + 2 * STEP} V${y} H${W - 4}`, class: "step-edge" }));
    svg.append(words(12, 12, `die, once settled ${amount(reference + total, "°C", 0)}`, "step-end"));
    svg.append(words(W - 4, y + 16, `reference ${amount(reference, "°C")}`, "step-end end"));
    return svg;
  }
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
