#!/usr/bin/env python3
"""Lays out the golden frames after the table in DEVELOPERS.md, without the Go encoder.

Run it in this folder; it writes NAME.bin and NAME.json. NaN is the quiet NaN 0x7fc00000,
null in the descriptions.
"""
import json
import struct

GAP = struct.pack("<I", 0x7FC00000)


def header(kind, count, channels_version, seq):
    return struct.pack("<BBHIQ", 1, kind, count, channels_version, seq)


def f32(v):
    return GAP if v is None else struct.pack("<f", v)


def row(d):
    out = header(1, len(d["values"]), d["channels_version"], d["seq"])
    out += struct.pack("<df", d["at_s"], d["lateness_ms"])
    return out + b"".join(map(f32, d["values"])) + bytes(d["states"])


def event(d):
    # The server escapes < and > as JSON allows; the key order is the server's.
    text = json.dumps(d["body"], separators=(",", ":"), ensure_ascii=False)
    text = text.replace("<", "\\u003c").replace(">", "\\u003e")
    return header(2, 0, d["channels_version"], d["seq"]) + text.encode()


def skip(d):
    return header(3, 0, d["channels_version"], d["seq"])


def history(d):
    out = header(4, len(d["mean"]), d["channels_version"], len(d["mean"][0]))
    out += struct.pack("<ddQ", d["from_s"], d["width_s"], d["last_seq"])
    for plane in ("min", "mean", "max"):
        out += b"".join(f32(v) for column in d[plane] for v in column)
    return out


def rows(d):
    return b"".join(struct.pack("<I", len(row(r))) + row(r) for r in d["rows"])


FRAMES = {
    "row": (row, {"type": 1, "channels_version": 7, "seq": 4242, "at_s": 424.125, "lateness_ms": 1.5,
                  "values": [28.5, None, -3.25, None], "states": [1, 3, 2, 6]}),
    "event": (event, {"type": 2, "channels_version": 7, "seq": 4242,
                      "body": {"kind": "mark", "mark": {"id": 3, "at_s": 62.5, "kind": "user",
                                                        "text": "panel <back> on, 31 °C"}}}),
    "skip": (skip, {"type": 3, "channels_version": 7, "seq": 4300}),
    "history": (history, {"type": 4, "channels_version": 7, "from_s": 120.0, "width_s": 10.0, "last_seq": 1499,
                          "min": [[1, None, 3], [-4, 5, None]], "mean": [[1.5, None, 3.25], [-2, 5.5, None]],
                          "max": [[2, None, 3.5], [0, 6, None]]}),
    "rows": (rows, {"rows": [{"type": 1, "channels_version": 7, "seq": n, "at_s": n / 8, "lateness_ms": 0.0,
                              "values": [float(n)], "states": [1]} for n in (1, 2)]}),
}

for name, (lay_out, description) in FRAMES.items():
    with open(name + ".bin", "wb") as f:
        f.write(lay_out(description))
    with open(name + ".json", "w", encoding="utf-8") as f:
        json.dump(description, f, indent=1, ensure_ascii=False)
        f.write("\n")
