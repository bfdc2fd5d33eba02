// The words of the trade and of this page, each in a sentence and, where there is one, with
// its formula. Pure: text alone.

export interface Term {
  id: string;
  word: string;
  says: string;
  formula?: string;
}

export const TERMS: Term[] = [
  { id: "limits", word: "long-term and short-term power limit (PL1, PL2)", says: "The long-term limit is the power that the chip may draw for good, the short-term limit what it may draw in a burst, until its running average reaches the long-term limit.", formula: "P ≤ PL2 while average(P) < PL1, then P ≤ PL1" },
  { id: "tau", word: "τ, the time constant of the limits", says: "How slowly the running average follows the power: after τ it has gone 63 % of the way to a new level. A longer τ is a longer burst.", formula: "1 − e⁻¹ ≈ 0.63 after τ" },
  { id: "average", word: "running average", says: "The mean of the power in which the past fades away with τ; the chip counts with one like it to end a burst.", formula: "A ← A + (P − A) · (1 − e^(−Δt/τ))" },
  { id: "limiter", word: "limiter", says: "What holds the chip back at an instant: a power limit, heat, a current limit, or nothing but its highest clock. Where the hardware says so it is reported, else it is worked out from power, temperature and clock; half height in the ribbon means not sure." },
  { id: "thermal-limit", word: "thermal limit", says: "The die temperature at which the chip itself slows down to get no hotter. Yours, “hottest I accept”, should lie below it." },
  { id: "steady", word: "steady state", says: "As much heat leaves as is made, and the temperature has stopped rising. Only then do figures of a cooler compare.", formula: "dT/dt ≈ 0 at constant power" },
  { id: "forecast", word: "heading for", says: "Where the temperature would settle if the load went on as it is; the band holds the truth nine times in ten. The nearer to steady state, the narrower it is.", formula: "T(t) = T∞ + (T₀ − T∞) · e^(−t/τ), one such term for each stage of the path" },
  { id: "kw", word: "K/W, thermal resistance", says: "By how many kelvin the die gets hotter than its surroundings for each watt, once settled. Smaller is better; it does not depend on how warm the room is.", formula: "R = (T die − T reference) / P" },
  { id: "near", word: "near part", says: "The part of the heat's way that answers first: die, spreader, paste or pads, mounting. A bad contact makes it large.", formula: "near + far = R" },
  { id: "far", word: "far part", says: "The rest of the heat's way: block, pipes or coolant, fins, air. A slow fan, dust or a small radiator makes it large." },
  { id: "reference", word: "reference, ambient", says: "The temperature that the heat flows to: the air or the coolant at the inlet. Without one, or where it drifts, K/W is less sure." },
  { id: "headroom", word: "headroom", says: "Kelvin to the limit, and the power that this cooler would carry at exactly that limit. It is an estimate with an interval, and beyond the power that was tested it is extrapolated: raise in small steps, and stay with the machine.", formula: "P = (T limit − T reference) / R" },
  { id: "interval", word: "figures in brackets", says: "An interval of 90 %: over many recordings it holds the truth nine times in ten. In comparisons of runs it is 95 %." },
  { id: "real", word: "real change", says: "A change whose interval leaves out zero. With one run on a side nobody can tell, however large it looks.", formula: "0 outside [low, high]" },
  { id: "low1", word: "1 % low", says: "A score of smoothness: the frame rate that the slowest hundredth of all frames does not reach. Some take the mean of those frames instead, so compare only figures made the same way.", formula: "1 / (99th percentile of the frame time)" },
  { id: "run", word: "run", says: "A load with the rest before it and the cooling after it. The rest gives the starting temperature, the cooling tells near and far apart." },
  { id: "late", word: "late", says: "By how much a reading came after its time. Every reading carries its own time, so a late one is still true." },
];

/** The terms whose word or sentence holds all the words that were typed. */
export function findTerms(typed: string): Term[] {
  const words = typed.toLowerCase().split(/\s+/).filter(Boolean);
  return TERMS.filter((t) => words.every((w) => `${t.word} ${t.says}`.toLowerCase().includes(w)));
}
