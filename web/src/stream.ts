// The live stream: connects, says what it has drawn, resumes where it broke off, and
// fills holes before it lets newer rows through.

import { fetchAnalysis, fetchLayout, fetchRows, type Changes } from "./api.ts";
import type { StreamEvent } from "./layout.ts";
import type { Session } from "./session.ts";
import { decode, type Row } from "./wire.ts";

/** Rows asked for when the page opens: twenty minutes at 10 Hz. Older ones come as buckets. */
const AT_START = 12_000;
const AT_ONCE = 6_000;
/** No frame for this long, or for three periods, on an open connection is a lost contact. */
const SILENCE_MS = 3_000;
/** The same where nobody looks: browsers hold back the work of hidden pages, and an alarm must not be false. */
const HIDDEN_MS = 15_000;

export class Stream {
  private readonly session: Session;
  private readonly changes: Changes;
  private socket: WebSocket | null = null;
  private tries = 0;
  private heard = 0;
  private reported = 0;
  private filling = false;
  private waiting: Row[] = [];

  constructor(session: Session, changes: Changes) {
    this.session = session;
    this.changes = changes;
  }

  start(): void {
    void this.connect();
    setInterval(() => this.report(), 1000);
    addEventListener("online", () => this.retrySoon(0));
  }

  private async connect(): Promise<void> {
    try {
      await this.refresh();
      this.open();
    } catch {
      this.lost();
    }
  }

  // Asks for the layout; with a new session or other channels the ring starts again.
  private async refresh(): Promise<void> {
    const layout = await fetchLayout();
    this.changes.token = layout.token;
    if (this.session.setLayout(layout)) {
      this.waiting = [];
      await this.fill(Math.max(0, layout.last_seq - AT_START), layout.last_seq);
    }
    fetchAnalysis().then((a) => this.session.setAnalysis(a), () => undefined);
  }

  private open(): void {
    const id = encodeURIComponent(this.session.layout?.session.id ?? "");
    const scheme = location.protocol === "https:" ? "wss:" : "ws:";
    const socket = new WebSocket(`${scheme}//${location.host}/api/stream?after=${this.session.store.lastSeq}&session=${id}`);
    socket.binaryType = "arraybuffer";
    this.socket = socket;
    this.heard = performance.now();
    socket.onopen = () => {
      this.tries = 0;
      const ended = this.session.layout?.ended;
      this.session.setContact(ended ? { state: "ended", why: ended } : { state: "live" });
    };
    socket.onmessage = (m) => {
      if (socket === this.socket && m.data instanceof ArrayBuffer) this.take(m.data);
    };
    socket.onclose = () => {
      if (socket === this.socket) this.lost();
    };
  }

  private take(message: ArrayBuffer): void {
    this.heard = performance.now();
    let frame;
    try {
      frame = decode(message);
    } catch (fault) {
      console.warn("a frame was left out:", fault);
      return;
    }
    if (frame.type === "row") this.row(frame.row);
    else if (frame.type === "skip") void this.fill(this.session.store.lastSeq, frame.seq);
    else if (frame.type === "event") this.event(JSON.parse(frame.text) as StreamEvent);
  }

  private row(row: Row): void {
    const store = this.session.store;
    if (row.channelsVersion !== this.session.layout?.channels_version) return;
    if (this.filling) {
      this.waiting.push(row);
    } else if (store.lastSeq > 0 && row.seq > store.lastSeq + 1) {
      this.waiting.push(row);
      void this.fill(store.lastSeq, row.seq - 1);
    } else {
      this.session.push(row);
    }
  }

  // Fetches the rows after one number up to another; live rows wait meanwhile. A hole
  // longer than the server keeps, or than a page should fetch, is left to the buckets.
  private async fill(after: number, until: number): Promise<void> {
    if (this.filling) return;
    this.filling = true;
    try {
      if (until - after > AT_START) {
        this.session.restartRing();
        after = until - AT_ONCE;
      }
      while (after < until) {
        const rows = await fetchRows(after, AT_ONCE);
        const last = rows.at(-1);
        if (!last) break;
        for (const row of rows) this.session.push(row);
        after = last.seq;
      }
    } catch (fault) {
      console.warn("rows could not be fetched:", fault);
    } finally {
      this.filling = false;
      const waiting = this.waiting;
      this.waiting = [];
      for (const row of waiting) this.session.push(row);
    }
  }

  private event(event: StreamEvent): void {
    switch (event.kind) {
      case "layout":
        this.refresh().catch(() => this.lost());
        break;
      case "mark":
        this.session.setMark(event.mark);
        break;
      case "setup":
        this.session.setSetup(event.setup);
        break;
      case "analysis":
        this.session.setAnalysis(event);
        break;
      case "end":
        this.session.setContact({ state: "ended", why: event.why });
        break;
    }
  }

  private report(): void {
    const socket = this.socket;
    if (!socket || socket.readyState !== WebSocket.OPEN) return;
    const silent = performance.now() - this.heard;
    const patience = Math.max(document.hidden ? HIDDEN_MS : SILENCE_MS, 3000 * this.session.period);
    if (silent > patience && this.session.contact.state === "live") {
      socket.close();
      this.lost();
      return;
    }
    if (this.session.store.lastSeq !== this.reported) {
      this.reported = this.session.store.lastSeq;
      socket.send(JSON.stringify({ seq: this.reported }));
    }
  }

  private lost(): void {
    this.socket = null;
    const contact = this.session.contact;
    if (contact.state !== "lost" && contact.state !== "ended") this.session.setContact({ state: "lost", since: new Date() });
    this.retrySoon(Math.min(5000, 500 * 1.6 ** this.tries++));
  }

  private retry = 0;

  private retrySoon(delay: number): void {
    if (this.socket) return;
    clearTimeout(this.retry);
    this.retry = window.setTimeout(() => void this.connect(), delay);
  }
}
