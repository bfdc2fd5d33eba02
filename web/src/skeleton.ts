// What the server's option skeleton of a lane says: which lines there are, in which
// order, under which names and dashes. Colours come from the theme, data from the ring.

/** One line of a lane; channel -1 is the running average. */
export interface Line {
  channel: number;
  name: string;
  /** The skeleton's own series, without colours and data. */
  base: Record<string, unknown>;
  /** Dashes as ECharts takes them. */
  type: string | number[];
}

interface Series {
  id?: string;
  name?: string;
  lineStyle?: { type?: string };
}

/** The lines of a skeleton; its limit lines are left to the notes, which name them. */
export function linesOf(option: unknown): Line[] {
  const series = (option as { series?: Series[] } | undefined)?.series ?? [];
  return series.flatMap((s) => {
    const channel = s.id === "average" ? -1 : /^c\d+$/.test(s.id ?? "") ? Number(s.id!.slice(1)) : NaN;
    if (Number.isNaN(channel)) return [];
    const { lineStyle, ...base } = s;
    return [{ channel, name: s.name ?? "", base: { ...base, itemStyle: undefined }, type: channel < 0 ? [6, 3] : (lineStyle?.type ?? "solid") }];
  });
}

/** Does the value axis begin at 0? */
export function fromZero(option: unknown): boolean {
  const axis = (option as { yAxis?: { scale?: boolean }[] } | undefined)?.yAxis;
  return !axis?.[0]?.scale;
}
