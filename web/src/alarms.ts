// The alarms as the user meets them: the band over the page, the window's title, sound,
// system notifications, and marks in the session.
//
// Every page that may write tells the session of an alarm, at the time of the row that
// raised it. The rows are the same for all, so the marks are too, and the server keeps
// one of several marks of the same instant and words: an alarm is logged once, however
// many look on, and no page has to be the chosen one.

import { AlarmPanel } from "./alarm-panel.ts";
import { Board, OVER, PROGRAM, RAISED, SEEN, type Alarm, type Happening } from "./alarm-board.ts";
import { USUAL } from "./alarm-rules.ts";
import { Sound } from "./alarm-sound.ts";
import type { Changes } from "./api.ts";
import { byId, el, put, setText } from "./dom.ts";
import { clockTime } from "./numbers.ts";
import type { Session } from "./session.ts";

/** The sound comes again so often until somebody acknowledges. */
const AGAIN_MS = 6_000;
const SIGN = "\u25b2 ";

export class Alarms {
  private readonly session: Session;
  private readonly changes: Changes;
  private readonly sound = new Sound();
  private readonly panel: AlarmPanel;
  private readonly band = byId("alarm");
  private readonly told = new WeakSet<Alarm>();
  private board = new Board([], USUAL, null);
  private boardOf = "";
  private runOf = "";
  private catchingUp = false;
  private sounded = -AGAIN_MS;
  private silence = 0;
  private shown = "";
  /** How many alarms were raised, for checks. */
  raised = 0;

  constructor(session: Session, changes: Changes) {
    this.session = session;
    this.changes = changes;
    this.panel = new AlarmPanel(session, this.sound, () => this.rebuild());
    session.on("layout", () => this.rebuild());
    session.on("row", () => this.row());
    session.on("contact", () => this.contact());
    session.on("marks", () => { if (this.board.follow(session.marks)) this.show(); });
    byId("acknowledge").addEventListener("click", () => this.acknowledge());
    setInterval(() => this.show(), 500);
  }

  // A board of its own for each session, set of channels, limit and choice.
  private rebuild(): void {
    const { layout, store } = this.session;
    if (!layout) return;
    const run = `${layout.session.id} ${layout.channels_version}`;
    const key = JSON.stringify([run, layout.limit_c, this.panel.rules]);
    if (key === this.boardOf) return;
    const same = run === this.runOf;
    this.boardOf = key;
    this.runOf = run;
    const before = this.board;
    this.board = new Board(layout.channels, this.panel.rules, layout.limit_c, (c) => highest(store, c));
    this.board.takeOver(before, same);
    this.show();
  }

  private row(): void {
    const row = this.session.store.last;
    if (!row) return;
    const happened = this.board.push(row);
    if (row.seq <= (this.session.layout?.last_seq ?? 0)) { // rows of before this page looked
      this.catchingUp = true;
      return;
    }
    if (this.catchingUp) {
      this.catchingUp = false;
      this.board.acknowledge((a) => a.until !== null && !this.told.has(a) && a.title !== PROGRAM);
      this.board.follow(this.session.marks);
      for (const alarm of this.board.open) this.begin(alarm);
    }
    for (const h of happened) this.take(h);
  }

  private contact(): void {
    const { contact, store } = this.session;
    clearTimeout(this.silence);
    if (contact.state === "lost") {
      if (!this.panel.rules.contact.on) return;
      const left = this.panel.rules.contact.delay * 1000 - (Date.now() - contact.since.getTime());
      this.silence = window.setTimeout(() => this.takeMaybe(this.board.contact(true, store.lastTime)), Math.max(0, left));
    } else if (contact.state === "live" || contact.state === "ended") {
      this.takeMaybe(this.board.contact(false, store.lastTime));
    }
  }

  private takeMaybe(h: Happening | null): void {
    if (h) this.take(h);
  }

  private take(h: Happening): void {
    if (h.what === "raised") this.begin(h.alarm);
    else this.log(OVER + h.alarm.title, h.at, h.alarm);
    this.show();
  }

  private begin(alarm: Alarm): void {
    if (this.told.has(alarm) || alarm.acknowledged || alarm.until !== null) return;
    this.told.add(alarm);
    this.raised++;
    this.sounded = -AGAIN_MS; // at once
    this.log(RAISED + alarm.title, alarm.since, alarm);
    setText(byId("alarm-aloud"), `Alarm: ${alarm.title}. Press a to acknowledge.`);
    notify(alarm, this.session.layout?.session.host ?? "");
    this.show();
  }

  private log(text: string, at: number, alarm: Alarm): void {
    if (this.changes.token === "" || alarm.title === PROGRAM || this.session.contact.state !== "live") return;
    // What the session says already, by a page that looked earlier, is not said again.
    const last = this.session.marks.findLast((m) => m.text === RAISED + alarm.title || m.text === OVER + alarm.title);
    if (last?.text === text) return;
    this.changes.mark(at, text).then((mark) => this.session.setMark(mark), () => undefined);
  }

  /** Takes note of everything that is open. True if there was anything. */
  acknowledge(): boolean {
    const seen = this.board.acknowledge();
    for (const alarm of seen) {
      if (this.changes.token === "" || alarm.title === PROGRAM || this.session.contact.state !== "live") continue;
      this.changes.mark(null, SEEN + alarm.title).then((mark) => this.session.setMark(mark), () => undefined);
    }
    this.show();
    return seen.length > 0;
  }

  private show(): void {
    const open = this.board.open;
    const fresh = open.filter((a) => !a.acknowledged);
    const now = performance.now();
    if (fresh.some((a) => a.until === null) && this.panel.sound && now - this.sounded >= AGAIN_MS) {
      this.sounded = now;
      this.sound.play();
    }
    this.title(fresh);
    const mute = fresh.length > 0 && this.panel.sound && !this.sound.ready;
    const key = JSON.stringify([open.map((a) => [a.title, a.value, a.until, a.acknowledged]), mute]);
    if (key === this.shown) return;
    this.shown = key;
    this.band.hidden = open.length === 0;
    this.band.classList.toggle("calm", fresh.length === 0);
    this.band.classList.toggle("past", fresh.length > 0 && open.every((a) => a.until !== null));
    byId("acknowledge").hidden = fresh.length === 0;
    put(byId("alarm-list"), ...open.map((a) => item(a)));
    byId("alarm-mute").hidden = !mute;
  }

  // The words come before whatever the title says otherwise.
  private title(fresh: Alarm[]): void {
    const plain = document.title.startsWith(SIGN) ? document.title.slice(document.title.indexOf(" | ") + 3) : document.title;
    const wanted = fresh.length ? `${SIGN}${fresh[0]!.title} | ${plain}` : plain;
    if (document.title !== wanted) document.title = wanted;
  }
}

function item(alarm: Alarm): HTMLElement {
  const on = alarm.until === null;
  const when = on ? `since ${clockTime(alarm.since)}` : `from ${clockTime(alarm.since)} to ${clockTime(alarm.until!)}, over now`;
  const state = alarm.acknowledged ? ", acknowledged" : "";
  return el("li", { "data-on": String(on), "data-seen": String(alarm.acknowledged) },
    el("span", { class: "alarm-sign", "aria-hidden": "true" }, on ? "\u25b2" : "\u25b3"), el("b", {}, alarm.title),
    on && alarm.value ? el("span", { class: "alarm-value" }, alarm.value) : null, el("span", {}, when + state));
}

function highest(store: Session["store"], channel: number): number {
  let high = NaN;
  for (let i = 0; i < store.length; i++) {
    const v = store.value(channel, i);
    if (!(v <= high) && !Number.isNaN(v)) high = v;
  }
  return high;
}

// Several pages give one notification: the tag is the same. Some browsers have the word and refuse the deed.
function notify(alarm: Alarm, host: string): void {
  if (typeof Notification === "undefined" || Notification.permission !== "granted" || document.hasFocus()) return;
  try {
    new Notification(`${SIGN}${alarm.title}`, { body: host, tag: `soakline ${alarm.title}`, requireInteraction: true });
  } catch {
    // Only a service worker may, here: the band, the title and the sound have to do.
  }
}
