// Numbers as people read them: a real minus, narrow no-break spaces, steady digits, and
// never a value where there is none.

export const THIN = "\u202f";
/** Between a number and its unit: one space that never breaks (SI brochure, 5.4.3). */
export const SPACE = "\u00a0";
const MINUS = "\u2212";
export const NONE = "\u2013";

/** Decimals that a unit deserves on screen; whole-degree sensors are given none. */
export function decimals(unit: string, whole = false): number {
  if (whole) return 0;
  switch (unit) {
    case "W":
    case "°C":
    case "K":
    case "s":
    case "V":
      return unit === "V" ? 3 : 1;
    case "K/W":
      return 2;
    case "MHz":
    case "rpm":
      return 0;
    default:
      return 1;
  }
}

/** The number alone, thousands apart. */
export function digits(value: number, places: number): string {
  if (!Number.isFinite(value)) return NONE;
  const [whole = "0", fraction] = Math.abs(value).toFixed(places).split(".");
  const grouped = whole.length > 3 ? whole.replace(/\B(?=(\d{3})+$)/g, THIN) : whole;
  const text = fraction ? `${grouped}.${fraction}` : grouped;
  return value < 0 && /[1-9]/.test(text) ? MINUS + text : text;
}

/** A value with its unit. */
export function amount(value: number, unit: string, places = decimals(unit)): string {
  return unit ? `${digits(value, places)}${SPACE}${unit}` : digits(value, places);
}

/** Session time as m:ss or h:mm:ss, tenths on demand. */
export function clockTime(seconds: number, tenths = false): string {
  if (!Number.isFinite(seconds)) return NONE;
  const step = tenths ? 10 : 1;
  const all = Math.round(Math.abs(seconds) * step) / step;
  const h = Math.floor(all / 3600);
  const m = Math.floor((all % 3600) / 60);
  const s = (all % 60).toFixed(tenths ? 1 : 0).padStart(tenths ? 4 : 2, "0");
  const text = h > 0 ? `${h}:${String(m).padStart(2, "0")}:${s}` : `${m}:${s}`;
  return seconds < 0 ? MINUS + text : text;
}

/** A length of time in words short enough for a label. */
export function duration(seconds: number): string {
  if (!Number.isFinite(seconds)) return NONE;
  if (seconds < 60) return amount(seconds, "s", seconds < 10 ? 1 : 0);
  const minutes = Math.floor(seconds / 60);
  if (minutes < 60) return pair(minutes, "min", Math.floor(seconds % 60), "s");
  return pair(Math.floor(minutes / 60), "h", minutes % 60, "min");
}

function pair(large: number, unit: string, small: number, smaller: string): string {
  return small ? `${large}${SPACE}${unit} ${small}${SPACE}${smaller}` : `${large}${SPACE}${unit}`;
}
