// One drawing over the whole river: where an instant lies, and how upright lines and
// labels are made, so that no label covers another.

import { textSize } from "./canvas.ts";
import type { Theme } from "./theme.ts";
import type { Window } from "./view.ts";

/** Where the parts of the river lie, in pixels from its upper left corner. */
export interface Place {
  width: number;
  left: number; // where time begins
  eaves: number; // the height of the space for marks and load spans
  bottom: number; // where the lanes end
  axis: number; // where the time axis starts
  tops: number[]; // of the lanes
}

/** A rectangle that holds something: x, y, width, height. */
type Box = [number, number, number, number];

/** Ways to move a label that finds its place taken, the nearest first. */
const SHIFTS = [0, 8, -8, 15, -15, 22, -22, 30, -30, 45, -45];

export class Picture {
  readonly c: CanvasRenderingContext2D;
  readonly place: Place;
  /** The time of the newest row when the round began. */
  readonly now: number;
  /** Nothing is still to come. */
  readonly still: boolean;
  private readonly theme: Theme;
  private readonly view: Window;
  private readonly size: number;
  private readonly taken: Box[] = [];

  constructor(c: CanvasRenderingContext2D, place: Place, view: Window, theme: Theme) {
    this.c = c;
    this.place = place;
    this.view = view;
    this.theme = theme;
    this.now = view.present;
    this.still = view.still;
    this.size = textSize() * 0.8125;
    c.textBaseline = "alphabetic";
    c.textAlign = "left";
    c.lineJoin = "round";
    c.lineWidth = 1;
  }

  x(t: number): number {
    const { left, width } = this.place;
    return left + ((t - this.view.from) / this.view.span) * (width - left);
  }

  /** The same, kept between the edges. */
  clamped(t: number): number {
    return Math.min(this.place.width, Math.max(this.place.left, this.x(t)));
  }

  shows(t: number | null | undefined): t is number {
    return t !== null && t !== undefined && t >= this.view.from && t <= this.view.to;
  }

  token(name: string): string {
    return this.theme.token(name);
  }

  font(weight = 400): void {
    this.c.font = `${weight} ${this.size}px ${this.theme.token("--sans")}`;
  }

  upright(t: number, from: number, to: number, colour: string, dash: number[] = []): void {
    const x = this.x(t);
    if (!(x >= this.place.left)) return;
    this.line([[Math.round(x) + 0.5, from], [Math.round(x) + 0.5, to]], colour, dash);
  }

  line(points: [number, number][], colour: string, dash: number[] = []): void {
    const { c } = this;
    c.strokeStyle = colour;
    c.setLineDash(dash);
    c.beginPath();
    for (const [x, y] of points) c.lineTo(x, y);
    c.stroke();
    c.setLineDash([]);
  }

  /** Keeps labels away from what is drawn here. */
  reserve(...box: Box): void {
    this.taken.push(box);
  }

  /**
   * Writes a label with a halo of paper, moved down or up where something stands already.
   * One that must stay within two heights is left out where there is no room for it.
   */
  label(text: string, x: number, y: number, colour: string, within?: [number, number]): void {
    const { c, place } = this;
    const width = c.measureText(text).width;
    if (x + width > place.width) x = Math.max(place.left + 4, place.width - width - 4);
    const inside = (s: number) => !within || (y + s - 11 >= within[0] && y + s + 3 <= within[1]);
    const shift = SHIFTS.find((s) => inside(s) && this.free(x, y + s, width));
    if (shift === undefined && within) return;
    y += shift ?? 0;
    this.reserve(x, y - 11, width, 14);
    c.strokeStyle = this.token("--paper");
    c.lineWidth = 4;
    c.strokeText(text, x, y);
    c.lineWidth = 1;
    c.fillStyle = colour;
    c.fillText(text, x, y);
  }

  private free(x: number, y: number, width: number): boolean {
    return this.taken.every(([a, b, w, h]) => x + width < a || a + w < x || y + 3 < b || b + h < y - 11);
  }
}
