// One condition that is watched over: it must hold for a while before an alarm is raised,
// and be gone clearly, and for a while, before the alarm is over (hysteresis and delays, the
// usual means against chatter; the states are those of ISA-18.2: unacknowledged,
// acknowledged, returned and unacknowledged). Pure: time is that of the rows.

/**
 * What a row says of a condition. Between its two thresholds it is neither bad nor good; an
 * unknown one, because the sensor gave nothing, changes nothing.
 */
export type Level = "bad" | "between" | "good" | "unknown";

export class Watch {
  /** The condition must hold so long before it is an alarm, in seconds. */
  readonly delay: number;
  /** And be gone so long before the alarm is over. */
  readonly calm: number;
  raised = false;
  private badSince = NaN;
  private goodSince = NaN;

  constructor(delay: number, calm = 3) {
    this.delay = delay;
    this.calm = calm;
  }

  /** Takes the level at a time; says when the alarm begins and when it is over. */
  see(at: number, level: Level): "raised" | "over" | null {
    if (level === "unknown") return null;
    return this.raised ? this.seeRaised(at, level) : this.seeQuiet(at, level);
  }

  private seeQuiet(at: number, level: Level): "raised" | null {
    if (level !== "bad") {
      this.badSince = NaN;
      return null;
    }
    if (Number.isNaN(this.badSince)) this.badSince = at;
    if (at - this.badSince < this.delay - 1e-6) return null;
    this.raised = true;
    this.goodSince = NaN;
    return "raised";
  }

  private seeRaised(at: number, level: Level): "over" | null {
    if (level !== "good") {
      this.goodSince = NaN;
      return null;
    }
    if (Number.isNaN(this.goodSince)) this.goodSince = at;
    if (at - this.goodSince < this.calm - 1e-6) return null;
    this.raised = false;
    this.badSince = NaN;
    return "over";
  }
}
