"use strict";
// Redraws a chart for another span of time from the finer lines in the page. Without it
// every chart shows its whole session. Shapes say by data-t, data-a and data-b when they
// are; what says nothing of time stays where it is.
(() => {
  const all = JSON.parse(document.getElementById("charts").textContent);
  const STEPS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400];
  const NS = "http://www.w3.org/2000/svg";
  const two = (n) => String(n).padStart(2, "0");
  const clock = (t, fine) => {
    if (t < -0.05) return "\u2212" + clock(-t, fine);
    const s = Math.round(Math.max(0, t) * 10) / 10, whole = Math.floor(s), h = Math.floor(whole / 3600), m = Math.floor(whole / 60) % 60;
    const tail = two(whole % 60) + (fine ? "." + Math.round((s - whole) * 10) : "");
    return h > 0 ? `${h}:${two(m)}:${tail}` : `${m}:${tail}`;
  };

  class Chart {
    constructor(figure, data) {
      this.figure = figure;
      this.data = data;
      this.whole = [data.wide.from, data.wide.to];
      [this.from, this.to] = this.whole;
      this.views = ["wide", "narrow"].map((kind) => new View(this, figure.querySelector(`.${kind} svg`), data[kind], data.lines));
      const tools = figure.querySelector(".tools");
      tools.hidden = false;
      tools.addEventListener("click", (e) => this.act(e.target.dataset.do));
      this.draw();
    }
    act(what) {
      const span = this.to - this.from, centre = (this.from + this.to) / 2;
      if (what === "earlier") this.show(this.from - span / 3, this.to - span / 3);
      if (what === "later") this.show(this.from + span / 3, this.to + span / 3);
      if (what === "longer") this.zoom(1.6, centre);
      if (what === "shorter") this.zoom(1 / 1.6, centre);
      if (what === "whole") this.show(...this.whole);
    }
    zoom(factor, about) {
      this.show(about - (about - this.from) * factor, about + (this.to - about) * factor);
    }
    show(from, to) {
      const [first, last] = this.whole;
      const least = Math.min(last - first, Math.max(1, 8 * Math.max(0, ...this.data.lines.map((l) => l.step))));
      const span = Math.min(last - first, Math.max(least, to - from));
      if (to - from < span) from = (from + to - span) / 2;
      from = Math.max(first, Math.min(from, last - span));
      this.from = from;
      this.to = from + span;
      cancelAnimationFrame(this.frame);
      this.frame = requestAnimationFrame(() => this.draw());
    }
    get zoomed() {
      return this.to - this.from < (this.whole[1] - this.whole[0]) * 0.9999;
    }
    draw() {
      for (const view of this.views) view.draw();
      this.figure.querySelector(".window").textContent = this.zoomed ? `${clock(this.from, true)} to ${clock(this.to, true)}` : "drag, pinch or use the arrow keys, + and −";
    }
  }

  class View {
    constructor(chart, svg, geometry, lines) {
      Object.assign(this, { chart, svg, geometry, lines });
      const numbers = (e, ...keys) => keys.map((k) => Number(e.getAttribute(k)));
      this.lineShapes = [...svg.querySelectorAll("[data-line]")].map((e) => ({ e, d: e.getAttribute("d"), id: e.dataset.line }));
      this.points = [...svg.querySelectorAll("[data-t]")].map((e) => ({ e, t: Number(e.dataset.t) }));
      this.spans = [...svg.querySelectorAll("rect[data-a]")].map((e) => ({ e, a: Number(e.dataset.a), b: Number(e.dataset.b), home: numbers(e, "x", "width") }));
      this.lost = [...svg.querySelectorAll("[data-still], path[data-a]")];
      this.ticks = [...svg.querySelectorAll("[data-tick]")];
      this.group = document.createElementNS(NS, "g");
      const before = svg.querySelector("[data-tick]");
      if (before) before.before(this.group);
      svg.setAttribute("tabindex", "0");
      this.listen();
    }
    x(t) {
      const { left, right } = this.geometry, { from, to } = this.chart;
      return left + ((t - from) / (to - from)) * (right - left);
    }
    home(t) {
      const { left, right, from, to } = this.geometry;
      return left + ((t - from) / (to - from)) * (right - left);
    }
    draw() {
      const { zoomed, from, to } = this.chart, { left, right } = this.geometry;
      for (const { e, d, id } of this.lineShapes) e.setAttribute("d", zoomed ? this.path(id) : d);
      for (const { e, t } of this.points) {
        e.setAttribute("transform", `translate(${(this.x(t) - this.home(t)).toFixed(1)} 0)`);
        e.setAttribute("visibility", t >= from && t <= to ? "visible" : "hidden");
      }
      for (const { e, a, b, home } of this.spans) {
        const x = Math.max(left, this.x(a)), end = Math.min(right, this.x(b));
        e.setAttribute("x", zoomed ? x.toFixed(1) : home[0]);
        e.setAttribute("width", zoomed ? Math.max(0, end - x).toFixed(1) : home[1]);
      }
      for (const e of this.lost) e.setAttribute("visibility", zoomed ? "hidden" : "visible");
      this.axis(zoomed);
    }
    axis(zoomed) {
      for (const e of this.ticks) e.setAttribute("visibility", zoomed ? "hidden" : "visible");
      this.group.replaceChildren();
      if (!zoomed) return;
      const { from, to } = this.chart, g = this.geometry;
      const step = STEPS.find((s) => (to - from) / s <= (g.right - g.left) / 78) || 86400;
      for (let k = Math.ceil(from / step); k * step <= to; k++) {
        const x = this.x(k * step);
        this.put("path", { d: `M${x} ${g.top}V${g.foot}`, stroke: "#e7e1d4" });
        if (x > g.left + 10 && x < g.right - 16) this.put("text", { x, y: g.axis, "font-size": g.size, fill: "#5f5a50", "text-anchor": "middle" }, clock(k * step, step < 1));
      }
    }
    put(name, attributes, text) {
      const e = document.createElementNS(NS, name);
      for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
      if (text) e.textContent = text;
      this.group.append(e);
    }
    // Minimum and maximum of each pixel's steps; null ends a piece.
    path(id) {
      const line = this.lines.find((l) => l.id === id), place = this.geometry.lines.find((l) => l.id === id);
      if (!line || !place) return "";
      const { top, bottom, low, high } = place.lane, { from, to } = this.chart;
      const y = (v) => (bottom - ((v / line.scale - low) / (high - low)) * (bottom - top)).toFixed(1);
      const first = Math.max(0, Math.floor((from - line.start) / line.step) - 1);
      const last = Math.min(line.low.length, Math.ceil((to - line.start) / line.step) + 1);
      const join = Math.max(1, Math.floor((last - first) / 800));
      let d = "", pen = "M", before = 0;
      for (let k = first - (first % join); k < last; k += join) {
        let least = null, most = null;
        for (let i = Math.max(0, k); i < Math.min(k + join, line.low.length); i++) {
          if (line.low[i] === null) continue;
          const h = line.high.length ? line.high[i] : line.low[i];
          least = least === null ? line.low[i] : Math.min(least, line.low[i]);
          most = most === null ? h : Math.max(most, h);
        }
        if (least === null) { pen = "M"; continue; }
        const x = this.x(line.start + (k + join / 2) * line.step).toFixed(1);
        const high = before > (least + most) / 2; // begin at the end that lies nearer
        const [one, other] = high ? [most, least] : [least, most];
        d += `${pen}${x} ${y(one)}`;
        if (one !== other) d += `L${x} ${y(other)}`;
        else if (pen === "M") d += "h0";
        pen = "L";
        before = other;
      }
      return d;
    }
    time(clientX) {
      const box = this.svg.getBoundingClientRect(), g = this.geometry;
      const x = ((clientX - box.left) / box.width) * this.svg.viewBox.baseVal.width;
      return this.chart.from + ((x - g.left) / (g.right - g.left)) * (this.chart.to - this.chart.from);
    }
    listen() {
      const held = new Map();
      let began = null;
      const begin = () => { began = { times: [...held.values()].map((x) => this.time(x)), from: this.chart.from, to: this.chart.to }; };
      this.svg.addEventListener("pointerdown", (e) => { held.set(e.pointerId, e.clientX); this.svg.setPointerCapture(e.pointerId); begin(); });
      this.svg.addEventListener("pointermove", (e) => {
        if (!held.has(e.pointerId)) return;
        held.set(e.pointerId, e.clientX);
        const now = [...held.values()].map((x) => this.time(x));
        const [c, b] = [this.chart, began.times];
        if (now.length === 1) c.show(c.from + b[0] - now[0], c.to + b[0] - now[0]);
        else if (now.length === 2 && now[0] !== now[1]) {
          const factor = Math.abs((b[0] - b[1]) / (now[0] - now[1]));
          c.zoom(factor, (now[0] + now[1]) / 2);
        }
      });
      for (const end of ["pointerup", "pointercancel"]) this.svg.addEventListener(end, (e) => { held.delete(e.pointerId); if (held.size) begin(); });
      this.svg.addEventListener("wheel", (e) => {
        if (e.ctrlKey || e.shiftKey) this.chart.zoom(Math.exp((e.deltaY || e.deltaX) / 400), this.time(e.clientX));
        else if (Math.abs(e.deltaX) > Math.abs(e.deltaY)) { const s = ((this.chart.to - this.chart.from) * e.deltaX) / 800; this.chart.show(this.chart.from + s, this.chart.to + s); }
        else return;
        e.preventDefault();
      }, { passive: false });
      this.svg.addEventListener("keydown", (e) => {
        const what = { ArrowLeft: "earlier", ArrowRight: "later", "+": "shorter", "=": "shorter", "-": "longer", Home: "whole", 0: "whole" }[e.key];
        if (!what || e.ctrlKey || e.metaKey || e.altKey) return;
        this.chart.act(what);
        e.preventDefault();
      });
    }
  }

  const charts = [];
  for (const figure of document.querySelectorAll("[data-chart]")) {
    const data = all[figure.dataset.chart];
    if (data) charts.push(new Chart(figure, data));
  }
  addEventListener("beforeprint", () => { for (const c of charts) { [c.from, c.to] = c.whole; c.draw(); } });
})();
