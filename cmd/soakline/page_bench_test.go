package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"soakline/collector/archive"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// hour is one hour at 10 Hz of 40 channels: a power, a die, a clock and 37 further
// temperatures, each its own wave.
func hour() *telemetry.Trace {
	const rows, channels = 36_000, 40
	tr := &telemetry.Trace{Start: time.Date(2026, 11, 20, 18, 0, 0, 0, time.UTC)}
	for i := range rows {
		tr.Time = append(tr.Time, float64(i)/10)
	}
	for c := range channels {
		ch := telemetry.Channel{Key: fmt.Sprint("c", c), Name: fmt.Sprintf("sensor %d", c), Quantity: quantity.Temperature}
		switch c {
		case 0:
			ch.Name, ch.Quantity, ch.Role = "package power", quantity.Power, telemetry.RolePower
		case 1:
			ch.Name, ch.Role = "die temperature", telemetry.RoleDie
		case 2:
			ch.Name, ch.Quantity, ch.Role = "core clock", quantity.Frequency, telemetry.RoleClock
		}
		values := make([]float64, rows)
		for i := range values {
			values[i] = float64(float32(40 + float64(c)/4 + 10*math.Sin(float64(i)/(50+7*float64(c))) + math.Mod(float64(i*(c+3)), 7)/10))
		}
		tr.Channels, tr.Values = append(tr.Channels, ch), append(tr.Values, values)
	}
	return tr
}

// walk drags the river a step each frame and gives the 95th percentile of a frame's own
// work, the longest task, and that percentile where nothing is drawn: the floor.
const walk = `(async () => {
	let longest = 0;
	new PerformanceObserver(l => { for (const e of l.getEntries()) longest = Math.max(longest, e.duration); }).observe({ type: "longtask" });
	const p95 = list => list.sort((a, b) => a - b)[Math.floor(list.length * 0.95)];
	const frames = act => new Promise(done => { const took = []; const step = () => {
		const start = performance.now(); act(); requestAnimationFrame(() => { took.push(performance.now() - start); took.length < 120 ? step() : done(p95(took)); }); }; step(); });
	const floor = await frames(() => {});
	longest = 0;
	const press = key => dispatchEvent(new KeyboardEvent("keydown", { key }));
	let n = 0;
	const drawn = await frames(() => press(++n % 40 < 20 ? "ArrowLeft" : "ArrowRight"));
	window.walked = JSON.stringify({ floor, drawn, longest, turn: soakline.figures().p95 });
})()`

// BenchmarkPageHour shows one hour of 40 channels and walks through it. Budgets (printed, not
// asserted): a turn's 95th percentile under 16 ms, no task over 50 ms.
func BenchmarkPageHour(b *testing.B) {
	ctx := browser(b)
	path := filepath.Join(b.TempDir(), "hour.db")
	store, err := archive.Open(path, nil)
	if err != nil {
		b.Fatal(err)
	}
	id, err := store.Import(context.Background(), hour(), "")
	if err != nil {
		b.Fatal(err)
	}
	store.Close()
	p := start(b, "--data", path, "watch", "--rig", "fan-cooler", "--listen", "127.0.0.1:0")
	say := func(script string) string {
		text, err := chromedp.Run(ctx, chromedp.Evaluate[string](script))
		if err != nil {
			b.Fatal(err)
		}
		return text
	}
	if err := chromedp.Do(ctx, chromedp.Navigate(p.URL+"#session="+id)); err != nil {
		b.Fatal(err)
	}
	for end := time.Now().Add(time.Minute); say(`String(window.soakline?.figures().rows ?? 0)`) != "36000"; time.Sleep(200 * time.Millisecond) {
		if time.Now().After(end) {
			b.Fatal("the hour never came")
		}
	}
	for b.Loop() {
		say(`window.walked = ""; document.querySelector("[data-span='3600']").click(); ` + walk + `; ""`)
		for end := time.Now().Add(time.Minute); say(`window.walked`) == "" && time.Now().Before(end); {
			time.Sleep(200 * time.Millisecond)
		}
	}
	var w struct{ Floor, Drawn, Longest, Turn float64 }
	if err := json.Unmarshal([]byte(say(`window.walked`)), &w); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(w.Drawn, "ms-frame-p95")
	b.ReportMetric(w.Drawn/w.Floor, "x-empty-frame")
	b.ReportMetric(w.Longest, "ms-longest-task")
	b.ReportMetric(w.Turn, "ms-turn-p95")
	b.Log(say(`"points drawn: " + soakline.lanes().map(l => l.id + " " + l.points).join(", ")`))
}
