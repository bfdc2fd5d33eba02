// What the river shows: the running session, or a kept one in its place. Whoever draws asks
// this one; whoever watches over the machine (the stream, the status, an alarm) stays with
// the running session, whatever is looked at.

import { Session, type Change } from "./session.ts";

const HELD = ["layout", "store", "old", "analysis", "marks", "setup", "contact"] as const;
const CHANGES: Change[] = ["layout", "marks", "setup", "analysis", "row", "history", "contact"];

export class Shown extends Session {
  private readonly live: Session;
  private readonly told = new WeakSet<Session>();
  private target: Session;

  constructor(live: Session) {
    super();
    this.live = this.target = live;
    for (const name of HELD) {
      Object.defineProperty(this, name, {
        get: () => this.target[name],
        set: (value: never) => { this.target[name] = value; },
      });
    }
    this.follow(live);
  }

  get kept(): boolean {
    return this.target !== this.live;
  }

  /** Shows a kept session, or with null the running one again. */
  show(kept: Session | null): void {
    const target = kept ?? this.live;
    if (target === this.target) return;
    this.target = target;
    this.follow(target);
    for (const change of CHANGES) this.tell(change);
  }

  private follow(session: Session): void {
    if (this.told.has(session)) return;
    this.told.add(session);
    for (const change of CHANGES) session.on(change, () => { if (this.target === session) this.tell(change); });
  }

  override setMark(mark: Parameters<Session["setMark"]>[0]): void {
    this.target.setMark(mark);
  }

  override wantHistory(from: number, to: number, pixels: number): void {
    this.target.wantHistory(from, to, pixels);
  }
}
