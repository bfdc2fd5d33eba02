// The browser's ring: the newest rows at full rate, one typed array a channel.

import type { Row } from "./wire.ts";

/** One hour at 10 Hz. */
const CAPACITY = 36_000;

export class Store {
  readonly channels: number;
  private readonly time = new Float64Array(CAPACITY);
  private readonly columns: Float32Array[];
  private readonly average = new Float32Array(CAPACITY);
  private averageOf = -1;
  private averageTau = NaN;
  private averageNow = NaN;
  private head = 0;
  length = 0;
  lastSeq = 0;
  /** The newest row, or null before the first. */
  last: Row | null = null;
  /** True for a channel that has only given whole numbers so far. */
  readonly whole: boolean[];

  constructor(channels: number) {
    this.channels = channels;
    this.columns = Array.from({ length: channels }, () => new Float32Array(CAPACITY));
    this.whole = new Array<boolean>(channels).fill(true);
  }

  /** Takes the next row; older or repeated ones are dropped. */
  push(row: Row): boolean {
    if (row.seq <= this.lastSeq || row.values.length !== this.channels) return false;
    const at = this.head;
    this.advanceAverage(row, at);
    this.time[at] = row.at;
    for (let c = 0; c < this.channels; c++) {
      const v = row.values[c]!;
      this.columns[c]![at] = v;
      if (this.whole[c] && !Number.isNaN(v) && v !== Math.round(v)) this.whole[c] = false;
    }
    this.head = (at + 1) % CAPACITY;
    this.length = Math.min(this.length + 1, CAPACITY);
    this.lastSeq = row.seq;
    this.last = row;
    return true;
  }

  /** Follows one channel by a running average with time constant tau, in seconds. */
  follow(channel: number, tau: number): void {
    if (channel === this.averageOf && tau === this.averageTau) return;
    this.averageOf = channel;
    this.averageTau = tau;
    this.averageNow = NaN;
    for (let i = 0; i < this.length; i++) {
      const v = channel >= 0 ? this.value(channel, i) : NaN;
      this.step(v, i > 0 ? this.timeAt(i) - this.timeAt(i - 1) : 0);
      this.average[this.slot(i)] = this.averageNow;
    }
  }

  private advanceAverage(row: Row, at: number): void {
    if (this.averageOf < 0) return;
    this.step(row.values[this.averageOf]!, this.length > 0 ? row.at - this.timeAt(this.length - 1) : 0);
    this.average[at] = this.averageNow;
  }

  // The exact answer of a first-order average to a value held for dt.
  private step(value: number, dt: number): void {
    if (Number.isNaN(value)) return;
    if (Number.isNaN(this.averageNow)) this.averageNow = value;
    else this.averageNow += (value - this.averageNow) * (1 - Math.exp(-dt / this.averageTau));
  }

  private slot(i: number): number {
    return (this.head - this.length + i + CAPACITY) % CAPACITY;
  }

  /** Time of the i-th oldest row. */
  timeAt(i: number): number {
    return this.time[this.slot(i)]!;
  }

  /** Value of a channel at the i-th oldest row; channel -1 is the running average. */
  value(channel: number, i: number): number {
    return (channel < 0 ? this.average : this.columns[channel]!)[this.slot(i)]!;
  }

  get firstTime(): number {
    return this.length ? this.timeAt(0) : NaN;
  }

  get lastTime(): number {
    return this.length ? this.timeAt(this.length - 1) : NaN;
  }

  /** Index of the first row at or after t; length if there is none. */
  search(t: number): number {
    let low = 0;
    let high = this.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.timeAt(middle) < t) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  /** The value shown for a time: the newest one at or before it, not older than slack. */
  at(channel: number, t: number, slack: number): number {
    const i = this.search(t + 1e-9) - 1;
    if (i < 0 || t - this.timeAt(i) > slack) return NaN;
    return this.value(channel, i);
  }
}
