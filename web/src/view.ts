// The window of time that the river shows, shared by every lane.

/** The spans that a press steps through, in seconds. */
export const SPANS = [30, 60, 180, 600, 1800, 3600, 4 * 3600, 12 * 3600, 24 * 3600];
const GROWING = [60, 90, 120, 180, 300, 450, 600, 900, 1200, 1800, 2700, 3600];
const SHORTEST = 5;
const LONGEST = 7 * 24 * 3600;

/** A window of time: from, to, its length, and the newest instant in it. */
export type Window = Pick<View, "from" | "to" | "span" | "present" | "still">;

export class View {
  /** Length of the window in seconds, as wished and as shown. */
  wanted = 180;
  span = 60;
  /** Does the window move along with the present? */
  following = true;
  /** Is this all that will ever be? Then nothing is still to come. */
  still = false;
  private end = 60;
  private now = 0;
  private readonly changed: () => void;

  constructor(changed: () => void) {
    this.changed = changed;
  }

  /** Share of the window kept free for what is still to come. */
  static readonly AHEAD = 0.14;

  setNow(now: number): void {
    this.now = Number.isFinite(now) ? now : 0;
    if (!this.following) return;
    this.span = this.young();
    this.end = Math.max(this.span, this.now + this.span * View.AHEAD);
  }

  // A young session does not fill the wanted window yet: shorter ones come first.
  private young(): number {
    const fits = GROWING.find((s) => this.now <= s * (1 - View.AHEAD));
    return fits ? Math.min(fits, this.wanted) : this.wanted;
  }

  /** The newest instant of the round that is being drawn. */
  get present(): number {
    return this.now;
  }

  get from(): number {
    return this.end - this.span;
  }

  get to(): number {
    return this.end;
  }

  follow(on: boolean): void {
    this.following = on;
    this.setNow(this.now);
    this.changed();
  }

  /** Moves by a share of the window; moving leaves the present. */
  pan(share: number): void {
    this.following = false;
    this.moveTo(this.end + share * this.span);
  }

  panTo(end: number): void {
    this.following = false;
    this.moveTo(end);
  }

  private moveTo(end: number): void {
    const newest = this.now + this.span * View.AHEAD;
    this.end = Math.min(Math.max(end, Math.min(this.span, newest)), Math.max(newest, this.span));
    if (this.end >= newest - 1e-9 && this.now > this.span * (1 - View.AHEAD)) this.following = true;
    this.changed();
  }

  /** Scales the window; the instant at share (0 left, 1 right) stays where it is. */
  zoom(factor: number, share = 1 - View.AHEAD): void {
    const fixed = this.from + share * this.span;
    this.setSpan(this.span * factor, fixed, share);
  }

  setSpan(span: number, fixed = this.now, share = 1 - View.AHEAD): void {
    this.span = this.wanted = Math.min(LONGEST, Math.max(SHORTEST, span));
    if (this.following) this.setNow(this.now);
    else this.end = fixed + (1 - share) * this.span;
    this.changed();
  }

  /** The next longer or shorter of the usual spans. */
  step(direction: 1 | -1): void {
    const next = direction > 0 ? SPANS.find((s) => s > this.span * 1.01) : SPANS.findLast((s) => s < this.span * 0.99);
    if (next) this.setSpan(next, this.from + this.span / 2, 0.5);
  }
}
