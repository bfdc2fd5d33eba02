package ladder

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
)

// plainRun is a run that has nothing but a setup and a score.
func plainRun(id string, score float64, setup ...string) Run {
	tr := &telemetry.Trace{Scores: []telemetry.Score{{Name: "work", Value: score, Unit: "points", HigherIsBetter: true}}}
	for i := 0; i < len(setup); i += 2 {
		tr.Setup = append(tr.Setup, telemetry.Setting{Key: setup[i], Value: setup[i+1]})
	}
	u := analysis.Unknown()
	r := analysis.Result{Steady: analysis.Steady{PowerW: 30, ForecastC: 60, ForecastLowC: 59, ForecastHighC: 61},
		ThermalPath: analysis.ThermalPath{ReferenceC: 20, OffsetK: u, RthKPerW: u, NearKPerW: u, FarKPerW: u}, HotSpot: analysis.HotSpot{KPerW: u},
		Averages: analysis.Averages{PowerW: 25, ClockMHz: u, ClockLow1Pct: u}}
	return Run{Run: compare.Run{Trace: tr, Result: r}, ID: id}
}

// Runs of equal setup are one rung, wherever they stand in the order; what a run scored and
// the mark of stock are no part of its setup.
func TestGroups(t *testing.T) {
	l, err := Build([]Run{
		plainRun("r1", 100, "cooler", "fan", "paste", "old"), plainRun("r2", 120, "cooler", "fan", "paste", "new", "score", "7"),
		plainRun("r3", 121, "cooler", "fan", "paste", "new", "score", "8"), plainRun("r4", 101, "cooler", "fan", "paste", "old"),
		plainRun("r5", 130, "cooler", "plate", "paste", "new", "lid", "open")}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Rungs) != 3 || len(l.Rungs[0].Runs) != 2 || l.Rungs[0].Runs[1].Place != 4 || l.Stock != 0 {
		t.Fatalf("%+v", l.Rungs)
	}
	b, c := l.Rungs[1], l.Rungs[2]
	if len(b.Changed) != 1 || b.Changed[0] != (compare.SettingChange{Key: "paste", A: "old", B: "new"}) || strings.Contains(b.Say, "things changed") {
		t.Errorf("B: %+v: %s", b.Changed, b.Say)
	}
	if !strings.HasPrefix(c.Say, "Two things changed: cooler: fan → plate; lid: (not noted) → open; which of them did it cannot be told.") {
		t.Errorf("C: %s", c.Say)
	}
	f := b.Figures[0]
	if f.Name != "work" || f.Better != More || f.N != 2 || math.Abs(float64(f.Value)-math.Sqrt(120*121)) > 1e-9 || math.Abs(float64(f.Stock.ChangePct)-19.9) > 0.1 || f.Stock.Real == nil || !*f.Stock.Real {
		t.Errorf("%+v %+v", f, f.Stock)
	}
	if w := b.Figures[1]; w.Name != "work per watt" || math.Abs(float64(w.Value)-math.Sqrt(120*121)/25) > 1e-9 {
		t.Errorf("%+v", w)
	}
	if f := c.Figures[0]; f.Stock.Real != nil || f.Stock.LowPct.Known() || f.Before == nil || f.Before.Real != nil {
		t.Errorf("one run shows nothing: %+v %+v", f.Stock, f.Before)
	}
}

func TestStock(t *testing.T) {
	runs := []Run{plainRun("r1", 1, "cooler", "fan"), plainRun("r2", 1, "cooler", "plate", "stock", "yes"), plainRun("r3", 1, "cooler", "block")}
	for text, want := range map[string]int{"": 1, "A": 0, "r3": 2, "block": 2, "pla": 1} {
		l, err := Build(runs, Options{Stock: text})
		if err != nil || l.Stock != want {
			t.Errorf("%q: %d, %v", text, l.Stock, err)
		}
		for i, r := range l.Rungs {
			if (r.Figures[0].Stock == nil) != (i == want) || (r.Figures[0].Before == nil) != (i == 0) {
				t.Errorf("%q, rung %d: %+v", text, i, r.Figures[0])
			}
		}
	}
	if _, err := Build(runs, Options{Stock: "water"}); err == nil {
		t.Error("stock that is none is taken")
	}
	if _, err := Build(nil, Options{}); err == nil {
		t.Error("a ladder of nothing")
	}
}

// Brought to stock's 20 W, 40 K at 30 W are 26.67 K; of a sensor that stands 4 K above the
// reference at no power only the other 36 K are scaled: 28 K.
func TestAtPower(t *testing.T) {
	r := plainRun("r", 1)
	if v := atPower(r, 20); math.Abs(v.v-26.6667) > 1e-3 || math.Abs(v.low-26) > 1e-9 {
		t.Errorf("%+v", v)
	}
	r.Result.ThermalPath.OffsetK = 4
	if v := atPower(r, 20); math.Abs(v.v-28) > 1e-9 {
		t.Errorf("%+v", v)
	}
}

func TestMachines(t *testing.T) {
	a, b, c := plainRun("1", 1), plainRun("2", 1, "machine", "bench"), plainRun("3", 1)
	a.Machine, b.Machine, c.Machine = "desk", "desk", "desk"
	got := Machines([]Run{a, b, c})
	if len(got) != 2 || len(got[0]) != 2 || got[1][0].ID != "2" || got[1][0].Machine != "bench" {
		t.Errorf("%+v", got)
	}
	c.Trace.Start = time.Unix(100, 0)
	b.Trace.Start = time.Unix(200, 0)
	runs := []Run{a, b, c}
	Order(runs)
	if runs[0].ID != "3" || runs[1].ID != "2" || runs[2].ID != "1" {
		t.Errorf("order %s %s %s", runs[0].ID, runs[1].ID, runs[2].ID)
	}
}

func rigRun(t *testing.T, setup string, seed uint64) Run {
	t.Helper()
	cfg := rig.Default()
	cfg.Seed = seed
	src, err := rig.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	if err := src.Select(setup); err != nil {
		t.Fatal(err)
	}
	tr, _ := src.Trace(200*time.Millisecond, 8*time.Minute)
	if tr.Channels, err = telemetry.Resolve(tr.Channels, nil); err != nil {
		t.Fatal(err)
	}
	return Run{Run: compare.Of(tr, analysis.Options{LimitC: 90}), ID: setup}
}

// The simulated machine's three setups, one run each: the ladder says in words that the
// plate's first mount has a poor contact, and says it of no other.
func TestBadMount(t *testing.T) {
	l, err := Build([]Run{rigRun(t, "fan-cooler", 1), rigRun(t, "plate-first", 2), rigRun(t, "plate-again", 3)}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(l.Rungs[1].Say, "The contact of B is poor") {
		t.Errorf("B: %s", l.Rungs[1].Say)
	}
	for _, i := range []int{0, 2} {
		if strings.Contains(l.Rungs[i].Say, "poor") {
			t.Errorf("%s: %s", l.Rungs[i].Letter, l.Rungs[i].Say)
		}
	}
	if !strings.Contains(l.Rungs[2].Say, "The near part of the heat's way changed: in C") {
		t.Errorf("C: %s", l.Rungs[2].Say)
	}
	if got := l.Rungs[0].Runs[0].Within; len(got) == 0 || !(got[0].EffectiveN > 1) || got[0].N < 1000 {
		t.Errorf("within: %+v", got)
	}
	if !l.Simulated || len(l.Rungs[1].Held) < 2 {
		t.Errorf("%v %+v", l.Simulated, l.Rungs[1].Held)
	}
}

// Whatever a condition is called, the tables keep their shape.
func TestWriters(t *testing.T) {
	hostile := "a|b\n<script>,\"x\"\u202e\x1b[31m"
	l, err := Build([]Run{plainRun("r1", 100, "cooler", "fan"), plainRun("r2", 90, "cooler", hostile), plainRun("r3", 95, "cooler", "")}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var md, text, table, js bytes.Buffer
	for _, err := range []error{l.Markdown(&md), l.Text(&text), l.CSV(&table), json.NewEncoder(&js).Encode(l)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if strings.Contains(md.String(), "<script>") || strings.ContainsAny(md.String()+text.String(), "\x1b\u202e") {
		t.Errorf("%s\n%s", md.String(), text.String())
	}
	rows, err := csv.NewReader(&table).ReadAll() // every row as long as the first
	if err != nil || len(rows) != 1+3*len(l.Rungs[0].Figures) {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	if !strings.Contains(md.String(), "-10.0 %, one run") || strings.Contains(js.String(), "NaN") {
		t.Error(md.String())
	}
	for _, line := range strings.Split(md.String(), "\n") {
		if strings.HasPrefix(line, "|") && !strings.HasSuffix(line, "|") {
			t.Errorf("broken row %q", line)
		}
	}
}

// Of two neighbours whose near parts are surely apart the one with more resistance is poor,
// whichever came first; less than half as much again says nothing.
func TestContacts(t *testing.T) {
	rungs := func(ratio, low, high float64) []Rung {
		n := func(v float64) analysis.Number { return analysis.Number(v) }
		return []Rung{{Letter: "A"}, {Letter: "B", PathBefore: &compare.ThermalPath{Verdict: compare.Near, NearRatio: n(ratio), NearLow: n(low), NearHigh: n(high)}}}
	}
	for _, c := range []struct {
		ratio, low, high float64
		poor             int // -1 is none
		want             string
	}{
		{4, 3.8, 4.2, 1, "The contact of B is poor: its near part, die to block, has 4.0 times the resistance of that of A (3.8 to 4.2)."},
		{0.25, 0.2, 0.3125, 0, "The contact of A is poor: its near part, die to block, has 4.0 times the resistance of that of B (3.2 to 5.0)."},
		{1.6, 1.4, 1.8, -1, ""}, {0.65, 0.6, 0.7, -1, ""}, {1, 0.95, 1.05, -1, ""},
	} {
		got := contacts(rungs(c.ratio, c.low, c.high))
		if c.poor < 0 && len(got) != 0 || c.poor >= 0 && (len(got) != 1 || got[c.poor] != c.want) {
			t.Errorf("%.2f: %v", c.ratio, got)
		}
	}
	if got := contacts([]Rung{{}, {PathBefore: &compare.ThermalPath{Verdict: compare.Undetermined, NearRatio: 4, NearLow: 3, NearHigh: 5}}}); len(got) != 0 {
		t.Errorf("undetermined: %v", got)
	}
}

// Setups that were put together beforehand stay as they are, with places by their start.
func TestGiven(t *testing.T) {
	a1, a2, b1 := plainRun("a1", 100, "cooler", "fan"), plainRun("a2", 101, "cooler", "fan"), plainRun("b1", 100, "cooler", "fan")
	for i, r := range []Run{a1, b1, a2} {
		r.Trace.Start = time.Unix(int64(1000*i+1), 0)
	}
	l, err := Of([][]Run{{a2, a1}, {b1}}, Options{})
	if err != nil || len(l.Rungs) != 2 || len(l.Rungs[1].Changed) != 0 {
		t.Fatalf("%v %+v", err, l.Rungs)
	}
	if r := l.Rungs[0].Runs; r[0].ID != "a1" || r[0].Place != 1 || r[1].Place != 3 || l.Rungs[1].Runs[0].Place != 2 {
		t.Errorf("%+v", r)
	}
}
