// Points for the lanes: minimum and maximum of each bucket of an absolute time grid, so
// that the line stays still while it scrolls. Gaps stay gaps.

import type { Store } from "./store.ts";
import type { Buckets } from "./wire.ts";

/** A bucket width that is a whole number of periods and gives at most one bucket per 2 px. */
export function bucketWidth(span: number, pixels: number, period: number, coarser = 1): number {
  const wanted = (span / Math.max(1, pixels / 2)) * coarser;
  return period * Math.max(1, Math.ceil(wanted / period - 1e-9));
}

/** Collects [t, v, t, v, ...] pairs. */
class Pairs {
  private data = new Float64Array(2048);
  private used = 0;

  add(t: number, v: number): void {
    if (this.used + 2 > this.data.length) {
      const grown = new Float64Array(this.data.length * 2);
      grown.set(this.data);
      this.data = grown;
    }
    this.data[this.used++] = t;
    this.data[this.used++] = v;
  }

  gap(t: number): void {
    if (this.used && !Number.isNaN(this.data[this.used - 1]!)) this.add(t, NaN);
  }

  get lastValue(): number {
    return this.used ? this.data[this.used - 1]! : NaN;
  }

  take(): Float64Array {
    return this.data.slice(0, this.used);
  }
}

export interface Span {
  from: number;
  to: number;
  width: number;
  period: number;
}

/** The line of one channel over a span: the server's buckets before the ring begins, the ring from there. */
export function line(store: Store, old: Buckets | null, channel: number, span: Span): Float64Array {
  const out = new Pairs();
  if (old && channel >= 0 && channel < old.channels) fromHistory(out, old, channel, span, store.firstTime);
  fromStore(out, store, channel, span);
  return out.take();
}

function fromHistory(out: Pairs, old: Buckets, channel: number, span: Span, before: number): void {
  const first = Math.max(0, Math.floor((span.from - old.from) / old.width) - 1);
  const end = Math.min(old.count, Math.ceil((span.to - old.from) / old.width) + 1);
  for (let b = first; b < end; b++) {
    const t = old.from + b * old.width;
    if (t + old.width > before) break;
    const low = old.min[channel * old.count + b]!;
    const high = old.max[channel * old.count + b]!;
    if (Number.isNaN(low)) {
      out.gap(t);
      continue;
    }
    // Which came first is not known: the nearer to the line so far makes the calmer picture.
    const highFirst = Math.abs(out.lastValue - high) < Math.abs(out.lastValue - low);
    out.add(t + old.width * 0.25, highFirst ? high : low);
    if (high !== low) out.add(t + old.width * 0.75, highFirst ? low : high);
  }
}

function fromStore(out: Pairs, store: Store, channel: number, span: Span): void {
  const begin = Math.max(0, store.search((Math.floor(span.from / span.width) - 1) * span.width));
  const hole = Math.max(5 * span.period, 1);
  let bucket = NaN;
  let low = NaN, high = NaN, lowAt = 0, highAt = 0, before = NaN;
  const flush = () => {
    if (Number.isNaN(low)) return;
    if (lowAt === highAt) out.add(lowAt, low);
    else if (lowAt < highAt) { out.add(lowAt, low); out.add(highAt, high); }
    else { out.add(highAt, high); out.add(lowAt, low); }
    low = high = NaN;
  };
  for (let i = begin; i < store.length; i++) {
    const t = store.timeAt(i);
    if (t > span.to + span.width) break;
    const v = store.value(channel, i);
    const b = Math.floor(t / span.width + 1e-6);
    if (b !== bucket) { flush(); bucket = b; }
    if (Number.isNaN(v) || t - before > hole) { flush(); out.gap(t); }
    before = t;
    if (Number.isNaN(v)) continue;
    if (Number.isNaN(low)) { low = high = v; lowAt = highAt = t; }
    else if (v < low) { low = v; lowAt = t; }
    else if (v > high) { high = v; highAt = t; }
  }
  flush();
}

/** Smallest and largest value of a line; NaN if it has none. */
export function extent(pairs: Float64Array): [number, number] {
  let low = NaN, high = NaN;
  for (let i = 1; i < pairs.length; i += 2) {
    const v = pairs[i]!;
    if (Number.isNaN(v)) continue;
    if (!(v >= low)) low = Number.isNaN(low) ? v : Math.min(low, v);
    if (!(v <= high)) high = Number.isNaN(high) ? v : Math.max(high, v);
  }
  return [low, high];
}
