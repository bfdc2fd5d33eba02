// Decoding the binary frames, version 1 (DEVELOPERS.md, "Frames and messages").

export const HEADER = 16;

export type Frame =
  | { type: "row"; row: Row }
  | { type: "event"; text: string }
  | { type: "skip"; seq: number }
  | { type: "history"; history: Buckets };

export interface Row {
  channelsVersion: number;
  seq: number;
  at: number;
  late: number;
  values: Float32Array;
  states: Uint8Array;
}

/** Buckets of minimum, mean and maximum on the absolute grid; each plane is [channel][bucket] flat. */
export interface Buckets {
  channelsVersion: number;
  channels: number;
  count: number;
  from: number;
  width: number;
  lastSeq: number;
  min: Float32Array;
  mean: Float32Array;
  max: Float32Array;
}

/** Decodes one message; anything that is not version 1 or cut short is an error. */
export function decode(buffer: ArrayBuffer, offset = 0, length = buffer.byteLength - offset): Frame {
  if (length < HEADER) throw new Error(`frame of ${length} bytes is shorter than its header`);
  const view = new DataView(buffer, offset, length);
  const version = view.getUint8(0);
  if (version !== 1) throw new Error(`frame version ${version} is not known`);
  const count = view.getUint16(2, true);
  const channelsVersion = view.getUint32(4, true);
  const seq = Number(view.getBigUint64(8, true));
  switch (view.getUint8(1)) {
    case 1:
      return { type: "row", row: row(view, count, channelsVersion, seq) };
    case 2:
      return { type: "event", text: new TextDecoder().decode(new Uint8Array(buffer, offset + HEADER, length - HEADER)) };
    case 3:
      return { type: "skip", seq };
    case 4:
      return { type: "history", history: buckets(view, count, channelsVersion, seq) };
  }
  throw new Error(`frame type ${view.getUint8(1)} is not known`);
}

function row(view: DataView, count: number, channelsVersion: number, seq: number): Row {
  need(view, HEADER + 12 + 5 * count);
  const statesAt = HEADER + 12 + 4 * count;
  return {
    channelsVersion,
    seq,
    at: view.getFloat64(HEADER, true),
    late: view.getFloat32(HEADER + 8, true),
    values: floats(view, HEADER + 12, count),
    states: new Uint8Array(view.buffer.slice(view.byteOffset + statesAt, view.byteOffset + statesAt + count)),
  };
}

function buckets(view: DataView, channels: number, channelsVersion: number, count: number): Buckets {
  const start = HEADER + 24;
  const plane = channels * count;
  need(view, start + 12 * plane);
  return {
    channelsVersion,
    channels,
    count,
    from: view.getFloat64(HEADER, true),
    width: view.getFloat64(HEADER + 8, true),
    lastSeq: Number(view.getBigUint64(HEADER + 16, true)),
    min: floats(view, start, plane),
    mean: floats(view, start + 4 * plane, plane),
    max: floats(view, start + 8 * plane, plane),
  };
}

function floats(view: DataView, at: number, count: number): Float32Array {
  const out = new Float32Array(count);
  for (let i = 0; i < count; i++) out[i] = view.getFloat32(at + 4 * i, true);
  return out;
}

function need(view: DataView, bytes: number): void {
  if (view.byteLength < bytes) throw new Error(`frame of ${view.byteLength} bytes should have ${bytes}`);
}

/** Decodes the answer of /api/rows: row messages, each behind its u32 length. */
export function decodeRows(buffer: ArrayBuffer): Row[] {
  const rows: Row[] = [];
  const view = new DataView(buffer);
  for (let at = 0; at + 4 <= buffer.byteLength; ) {
    const length = view.getUint32(at, true);
    const frame = decode(buffer, at + 4, length);
    if (frame.type === "row") rows.push(frame.row);
    at += 4 + length;
  }
  return rows;
}
