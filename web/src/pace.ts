// How often and how finely the river is drawn. The budget: one lane a turn, four rounds a
// second for short windows, one for long ones. A machine that cannot keep up gets coarser
// buckets first and fewer rounds then, and the page says so.

const SLOW_MS = 50;
/** So many quick turns in a row, and the next finer drawing is tried. */
const CALM_TURNS = 200;

export class Pace {
  /** Bucket width as a multiple of the usual. */
  coarser = 1;
  private slower = 1;
  private slowTurns = 0;
  private quickTurns = 0;
  private readonly turns: number[] = [];

  /** Milliseconds from one round to the next for a window of span seconds. */
  interval(span: number): number {
    return (span <= 120 ? 250 : span <= 900 ? 500 : 1000) * this.slower;
  }

  /** Notes what one turn has cost. */
  took(ms: number): void {
    this.turns.push(ms);
    if (this.turns.length > 600) this.turns.shift();
    this.slowTurns = ms > SLOW_MS ? this.slowTurns + 1 : 0;
    this.quickTurns = ms > SLOW_MS / 4 ? 0 : this.quickTurns + 1;
    if (this.slowTurns >= 2) this.holdBack();
    else if (this.quickTurns >= CALM_TURNS) this.letGo();
  }

  private holdBack(): void {
    this.slowTurns = this.quickTurns = 0;
    if (this.coarser < 4) this.coarser *= 2;
    else this.slower = Math.min(4, this.slower * 2);
  }

  // The device may have been busy with something else: what went well for long is tried finer.
  private letGo(): void {
    this.quickTurns = 0;
    if (this.slower > 1) this.slower /= 2;
    else if (this.coarser > 1) this.coarser /= 2;
  }

  /** Median and 95th percentile of the last turns, in ms. */
  figures(): { turns: number; p50: number; p95: number; max: number } {
    const sorted = [...this.turns].sort((a, b) => a - b);
    const at = (q: number) => sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))] ?? NaN;
    return { turns: sorted.length, p50: at(0.5), p95: at(0.95), max: sorted.at(-1) ?? NaN };
  }

  /** What is to be said about it; "" while nothing is held back. */
  get notice(): string {
    if (this.slower > 1) return "drawn coarser and less often: this device is busy";
    return this.coarser > 1 ? "drawn coarser: this device is busy" : "";
  }
}
