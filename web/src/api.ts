// The requests of the page; every one goes to the host that served it.

import type { Analysis, Layout, Mark } from "./layout.ts";
import { decode, decodeRows, type Buckets, type Row } from "./wire.ts";

export async function ask(path: string, init: RequestInit = {}): Promise<Response> {
  const answer = await fetch(path, { cache: "no-store", credentials: "same-origin", ...init });
  if (!answer.ok) throw new Error(await complaint(answer));
  return answer;
}

async function complaint(answer: Response): Promise<string> {
  try {
    const body = (await answer.json()) as { error?: string };
    if (body.error) return body.error;
  } catch {
    // The answer was not ours; its status has to do.
  }
  return `the program answered ${answer.status}`;
}

export async function fetchLayout(): Promise<Layout> {
  return (await (await ask("/api/layout")).json()) as Layout;
}

export async function fetchAnalysis(): Promise<Analysis> {
  return (await (await ask("/api/analysis")).json()) as Analysis;
}

/** Rows after seq, at most max of them, oldest first. */
export async function fetchRows(after: number, max: number, base = "/api"): Promise<Row[]> {
  return decodeRows(await (await ask(`${base}/rows?after=${after}&max=${max}`)).arrayBuffer());
}

export async function fetchHistory(from: number, to: number, count: number, base = "/api"): Promise<Buckets | null> {
  const answer = await ask(`${base}/history?from=${from}&to=${to}&buckets=${count}`);
  const frame = decode(await answer.arrayBuffer());
  return frame.type === "history" ? frame.history : null;
}

/** State changes carry the token that the layout gave. */
export class Changes {
  token = "";

  mark(at: number | null, text: string): Promise<Mark> {
    return this.send("POST", "/api/marks", { at_s: at, text }) as Promise<Mark>;
  }

  renameMark(id: number | string, text: string): Promise<unknown> {
    return this.send("PUT", `/api/marks/${encodeURIComponent(String(id))}`, { text });
  }

  setting(key: string, value: string): Promise<unknown> {
    return this.send("POST", "/api/setup", { key, value });
  }

  limit(celsius: number): Promise<unknown> {
    return this.send("POST", "/api/limit", { limit_c: celsius });
  }

  rig(setup: string): Promise<unknown> {
    return this.send("POST", "/api/rig", { setup });
  }

  async send(method: string, path: string, body: unknown): Promise<unknown> {
    const answer = await ask(path, {
      method,
      headers: { "Content-Type": "application/json", "X-Soakline-Token": this.token },
      body: JSON.stringify(body),
    });
    const text = await answer.text();
    return text ? JSON.parse(text) : null;
  }
}
