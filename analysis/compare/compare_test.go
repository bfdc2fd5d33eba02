package compare

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"soakline/analysis"
	"soakline/analysis/thermal"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
	cv "soakline/testdata/checkvalues"
)

// plan of a made-up run: rest, load and cooling, s, and the powers, W.
type plan struct {
	rest, load, cool float64
	idle, high       float64
	room             float64
	noRef            bool
}

// record runs a published ladder through a plan at 10 Hz with whole degrees.
func record(t *testing.T, ladder string, p plan) *telemetry.Trace {
	t.Helper()
	var c thermal.Cauer
	for _, r := range cv.Read(t, "thermal_ladders.csv") {
		if r["ladder"] == ladder && r["kind"] == "cauer" {
			c.R, c.C = append(c.R, r.Num("r_k_per_w")), append(c.C, r.Num("c_j_per_k_or_tau_s"))
		}
	}
	f, err := c.Foster()
	if err != nil {
		t.Fatal(err)
	}
	resp := f.NewResponse(p.idle)
	tr := &telemetry.Trace{Channels: []telemetry.Channel{
		{Key: "p", Name: "package power", Quantity: quantity.Power, Role: telemetry.RolePower},
		{Key: "t", Name: "die temperature", Quantity: quantity.Temperature, Role: telemetry.RoleDie},
		{Key: "l", Name: "load", Quantity: quantity.Share, Role: telemetry.RoleLoad},
		{Key: "a", Name: "ambient temperature", Quantity: quantity.Temperature, Role: telemetry.RoleAmbient}}}
	tr.Values = make([][]float64, 4)
	for i := 0; float64(i)*0.1 < p.rest+p.load+p.cool; i++ {
		at := float64(i) * 0.1
		power, load := p.idle, 1.0
		if at >= p.rest && at < p.rest+p.load {
			power, load = p.high, 99
		}
		power *= 1 + 0.005*math.Sin(float64(i)*1.7) // dither, not noise: equal runs are equal
		end, _ := resp.Step(power, 0.1)
		for k, v := range []float64{power, math.Round(p.room + end + 0.3*math.Sin(float64(i)*0.77)), load, p.room} {
			tr.Values[k] = append(tr.Values[k], v)
		}
		tr.Time = append(tr.Time, at)
	}
	if p.noRef {
		tr.Channels, tr.Values = tr.Channels[:3], tr.Values[:3]
	}
	return tr
}

func runOf(tr *telemetry.Trace, setup ...string) Run {
	for i := 0; i+1 < len(setup); i += 2 {
		tr.Setup = append(tr.Setup, telemetry.Setting{Key: setup[i], Value: setup[i+1]})
	}
	return Of(tr, analysis.Options{LimitC: 90})
}

var usual = plan{rest: 30, load: 700, cool: 60, idle: 5, high: 30, room: 22}
var warmer = plan{rest: 25, load: 600, cool: 90, idle: 4, high: 38, room: 26}

// The published pair: interface x 1.6 is 'near', far side x 1.4 is 'far', at unlike powers
// and rooms; the same machine is 'none'.
func TestVerdictOnPublishedLadders(t *testing.T) {
	a := Run{Trace: record(t, "base", usual)}
	for ladder, want := range map[string]Verdict{"base": None, "near_worse": Near, "far_worse": Far} {
		got := Compare([]Run{a}, []Run{{Trace: record(t, ladder, warmer)}}, Options{}).ThermalPath
		if got.Verdict != want {
			t.Errorf("%s: %s, want %s: %s", ladder, got.Verdict, want, got.Why)
		}
		truth := map[string][2]float64{"base": {1, 1}, "near_worse": {0.352 / 0.25, 1}, "far_worse": {1, 0.89 / 0.65}}[ladder]
		for i, p := range [][3]analysis.Number{{got.NearRatio, got.NearLow, got.NearHigh}, {got.FarRatio, got.FarLow, got.FarHigh}} {
			if math.Abs(float64(p[0])/truth[i]-1) > 0.08 || !(p[1] < p[0] && p[0] < p[2]) {
				t.Errorf("%s: ratio %d is %.3f (%.3f to %.3f), true %.3f", ladder, i, p[0], p[1], p[2], truth[i])
			}
		}
		if want == None && got.SeparationS.Known() || want != None && !got.SeparationS.Known() {
			t.Errorf("%s: parts at %v s", ladder, got.SeparationS)
		}
	}
	back := Compare([]Run{{Trace: record(t, "near_worse", warmer)}}, []Run{a}, Options{}).ThermalPath
	if back.Verdict != Near || back.NearRatio > 0.8 {
		t.Errorf("the other way round: %s %.2f", back.Verdict, back.NearRatio)
	}
}

func TestHonestUndetermined(t *testing.T) {
	a := Run{Trace: record(t, "base", usual)}
	short, noRest := usual, usual
	short.load, short.cool = 15, 0
	noRest.rest, noRest.cool = 0, 0
	for what, p := range map[string]plan{"load": short, "rest": noRest} {
		got := Compare([]Run{a}, []Run{{Trace: record(t, "far_worse", p)}}, Options{}).ThermalPath
		if got.Verdict != Undetermined || !strings.Contains(got.Why, what) {
			t.Errorf("too little %s: %s, %s", what, got.Verdict, got.Why)
		}
	}
	tr := record(t, "base", usual)
	tr.Channels[1].Role = ""
	got := Compare([]Run{a}, []Run{{Trace: tr}}, Options{}).ThermalPath
	if got.Verdict != Undetermined || !strings.Contains(got.Why, "no die temperature") {
		t.Errorf("no die: %s, %s", got.Verdict, got.Why)
	}
	if got = Compare(nil, []Run{a}, Options{}).ThermalPath; got.Verdict != Undetermined || got.Why == "" {
		t.Errorf("no run: %+v", got)
	}
	// Without a reference the near part is still seen; what is not known is said.
	noRef := warmer
	noRef.noRef = true
	c := Compare([]Run{a}, []Run{{Trace: record(t, "near_worse", noRef)}}, Options{})
	if c.ThermalPath.Verdict != Near && c.ThermalPath.Verdict != Undetermined || !slices.ContainsFunc(c.Warnings, func(w string) bool { return strings.Contains(w, "no reference") }) {
		t.Errorf("no reference: %+v %v", c.ThermalPath, c.Warnings)
	}
}

// The rule itself: far off and well known is changed, near 1 and well known is the same,
// the rest cannot be said.
func TestJudge(t *testing.T) {
	ln := math.Log
	for _, c := range []struct {
		near, far part
		want      Verdict
	}{
		{part{ln(1.3), 0.03}, part{0, 0.03}, Near}, {part{ln(0.7), 0.03}, part{ln(1.05), 0.03}, Near},
		{part{0, 0.03}, part{ln(0.75), 0.05}, Far}, {part{ln(1.4), 0.05}, part{ln(1.3), 0.05}, Both},
		{part{ln(1.05), 0.05}, part{ln(0.95), 0.05}, None},
		{part{ln(1.3), 0.2}, part{0, 0.03}, Undetermined}, {part{0, 0.03}, part{ln(1.1), 0.2}, Undetermined},
		{part{math.NaN(), 0.03}, part{0, 0.03}, Undetermined},
	} {
		if got, why := judge(c.near, c.far); got != c.want || why == "" {
			t.Errorf("%v: %s, want %s (%s)", c, got, c.want, why)
		}
	}
}

// Student's sleep data, exponentiated: on the logarithmic scale the change must be that
// of R's t.test (p 0.079 unpaired, 0.0028 paired).
func TestChangeOfSleepData(t *testing.T) {
	rows := cv.Read(t, "two_sample.csv")
	side := func(g string) []float64 {
		var out []float64
		for _, v := range cv.Column(rows, "group", g, "extra_hours") {
			out = append(out, math.Exp(v))
		}
		return out
	}
	m := Change("x", "", side("1"), side("2"), false)
	ln := func(n analysis.Number) float64 { return math.Log1p(float64(n) / 100) }
	for what, p := range map[string][2]float64{"change": {ln(m.ChangePct), 1.58}, "low": {ln(m.LowPct), -0.20548323071}, "high": {ln(m.HighPct), 3.36548323071}} {
		if math.Abs(p[0]-p[1]) > 1e-6 {
			t.Errorf("%s: %.9f, want %.9f", what, p[0], p[1])
		}
	}
	if m.Real == nil || *m.Real || m.Why == "" {
		t.Errorf("unpaired it cannot be told, and what could be is said: %+v", m)
	}
	m = Change("x", "", side("1"), side("2"), true)
	if m.Real == nil || !*m.Real || math.Abs(ln(m.LowPct)-0.700114236723) > 1e-6 {
		t.Errorf("paired it is real: %+v", m)
	}
	if m = Change("x", "", []float64{2}, []float64{3, 4}, false); m.Real != nil || m.LowPct.Known() || !strings.Contains(m.Why, "one run") || m.NA != 1 {
		t.Errorf("one run: %+v", m)
	}
}

// The form of the contract, part 3: every field is there, null where it is not known.
func TestContractForm(t *testing.T) {
	a := []Run{runOf(record(t, "base", usual), "paste", "factory", "limit", "28 W", "score", "1510 points")}
	b := []Run{runOf(record(t, "near_worse", warmer), "paste", "re-applied", "limit", "35 W", "score", "1548")}
	raw, err := json.Marshal(Compare(a, b, Options{}))
	if err != nil {
		t.Fatal(err)
	}
	var c map[string]any
	if err := json.Unmarshal(raw, &c); err != nil {
		t.Fatal(err)
	}
	if c["schema"] != "soakline.comparison/1" {
		t.Errorf("schema %v", c["schema"])
	}
	path := c["thermal_path"].(map[string]any)
	for _, k := range []string{"verdict", "near_ratio", "near_low", "near_high", "far_ratio", "far_low", "far_high", "separation_s", "why"} {
		if _, there := path[k]; !there {
			t.Errorf("thermal_path has no %s", k)
		}
	}
	first := c["metrics"].([]any)[0].(map[string]any)
	for _, k := range []string{"name", "unit", "n_a", "n_b", "a", "b", "change_pct", "low_pct", "high_pct", "real"} {
		if _, there := first[k]; !there {
			t.Errorf("a metric has no %s", k)
		}
	}
	if first["name"] != "score" || math.Abs(first["change_pct"].(float64)-2.5165) > 0.001 || first["real"] != nil {
		t.Errorf("score: %v", first)
	}
	if s := string(raw); !strings.Contains(s, `{"key":"paste","a":"factory","b":"re-applied"}`) || !strings.Contains(s, "two things changed between A and B: limit, paste") || strings.Contains(s, `"key":"score"`) {
		t.Errorf("setup: %s", s)
	}
	if c = nil; json.Unmarshal(must(json.Marshal(Compare(nil, nil, Options{}))), &c) != nil || c["metrics"] == nil || c["setup_changes"] == nil || c["warnings"] == nil {
		t.Errorf("lists must be lists even when empty: %v", c)
	}
}

func must(b []byte, err error) []byte {
	if err != nil {
		panic(err)
	}
	return b
}

// Three runs a side: metrics carry intervals, and the path is fitted in pairs.
func TestThreeRunsASide(t *testing.T) {
	var a, b []Run
	for i := range 3 {
		p, q := usual, usual
		p.high, q.high = 30+0.02*float64(i), 33+0.03*float64(i)
		a = append(a, runOf(record(t, "base", p), "score", []string{"1500", "1510", "1505"}[i]))
		b = append(b, runOf(record(t, "base", q), "score", []string{"1540", "1548", "1551"}[i]))
	}
	c := Compare(a, b, Options{})
	for _, m := range c.Metrics {
		if m.NA != 3 || m.NB != 3 || m.Real == nil {
			t.Errorf("%s: %+v", m.Name, m)
		}
		if m.Name == "score" && !*m.Real {
			t.Errorf("2.6 %% at 0.4 %% scatter is real: %+v", m)
		}
	}
	if c.ThermalPath.Verdict != None {
		t.Errorf("the same path: %s %s", c.ThermalPath.Verdict, c.ThermalPath.Why)
	}
	if slices.ContainsFunc(c.Warnings, func(w string) bool { return strings.Contains(w, "score") }) {
		t.Errorf("a score is no condition: %v", c.Warnings)
	}
}
