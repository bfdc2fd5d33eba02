// What each kind of limiter looks like: a colour of Okabe and Ito (2008) and a hatch of
// its own, so that the colour never stands alone.

import type { Theme } from "./theme.ts";

type Hatch = "none" | "dots" | "upright" | "rising" | "cross" | "level" | "falling";

const HATCHES: Record<string, Hatch> = {
  idle: "none",
  clock: "dots",
  "power-short": "upright",
  "power-long": "rising",
  thermal: "cross",
  current: "level",
  other: "falling",
};

const SIZE = 8;

/** Fills for a canvas of one device pixel ratio. */
export class LimiterFills {
  private readonly theme: Theme;
  private readonly patterns = new Map<string, CanvasPattern | string>();

  constructor(theme: Theme) {
    this.theme = theme;
    theme.on(() => this.patterns.clear());
  }

  colour(kind: string): string {
    return this.theme.token(`--limiter-${kind in HATCHES ? kind : "other"}`);
  }

  /** The hatched fill, in CSS pixels of a context scaled by ratio. */
  fill(context: CanvasRenderingContext2D, kind: string, ratio: number): CanvasPattern | string {
    const key = `${kind}@${ratio}`;
    let made = this.patterns.get(key);
    if (!made) {
      made = this.draw(context, kind, ratio);
      this.patterns.set(key, made);
    }
    return made;
  }

  private draw(context: CanvasRenderingContext2D, kind: string, ratio: number): CanvasPattern | string {
    const tile = document.createElement("canvas");
    tile.width = tile.height = Math.round(SIZE * ratio);
    const c = tile.getContext("2d");
    if (!c) return this.colour(kind);
    c.scale(tile.width / SIZE, tile.width / SIZE);
    c.fillStyle = this.colour(kind);
    c.fillRect(0, 0, SIZE, SIZE);
    c.strokeStyle = c.fillStyle = this.theme.token("--hatch");
    c.lineWidth = 1.3;
    strokeHatch(c, HATCHES[kind] ?? "falling");
    const pattern = context.createPattern(tile, "repeat");
    pattern?.setTransform(new DOMMatrix().scale(SIZE / tile.width));
    return pattern ?? this.colour(kind);
  }
}

function strokeHatch(c: CanvasRenderingContext2D, hatch: Hatch): void {
  const n = SIZE;
  c.beginPath();
  if (hatch === "dots") {
    for (const [x, y] of [[2, 2], [6, 6]] as const) { c.moveTo(x + 1, y); c.arc(x, y, 1, 0, 7); }
    c.fill();
    return;
  }
  if (hatch === "upright") { c.moveTo(n / 2, 0); c.lineTo(n / 2, n); }
  if (hatch === "level" || hatch === "none") {
    if (hatch === "level") { c.moveTo(0, n / 2); c.lineTo(n, n / 2); }
  }
  if (hatch === "rising" || hatch === "cross") for (const d of [-n, 0, n]) { c.moveTo(d - 1, n + 1); c.lineTo(d + n + 1, -1); }
  if (hatch === "falling" || hatch === "cross") for (const d of [-n, 0, n]) { c.moveTo(d - 1, -1); c.lineTo(d + n + 1, n + 1); }
  c.stroke();
}
