package tracefile

import (
	"bytes"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// names are texts that people, drivers and malice may give, all that UTF-8 can hold but NUL.
func names() *rapid.Generator[string] {
	nasty := rapid.SampledFrom([]string{"a,b", `a"b`, "a\nb", "a\r\nb", "#a", "=1+1", " a ", "a [W]", "a = b", `"q"`, "a_w", "time", "(machine) x", "\ufeffx", `a\n`, "ä°", "[]", "'a' = b"})
	any := rapid.StringOf(rapid.Rune().Filter(func(r rune) bool { return r != 0 && r != '\ufffd' }))
	return rapid.OneOf(nasty, any).Filter(func(s string) bool { return strings.TrimSpace(s) != "" })
}

// numbers are values whose shortest decimal, in float32 where it is one, keeps them.
func numbers() *rapid.Generator[float64] {
	kept := func(v float64) bool {
		back, err := strconv.ParseFloat(string(appendValue(nil, v, quantity.Power)), 64)
		return err == nil && back == v
	}
	single := rapid.Map(rapid.Float32(), func(f float32) float64 {
		v, _ := strconv.ParseFloat(strconv.FormatFloat(float64(f), 'g', -1, 32), 64)
		return v
	})
	finite := func(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) && kept(v) }
	return rapid.OneOf(single.Filter(finite), rapid.Float64().Filter(finite), rapid.Just(math.NaN()))
}

func traces() *rapid.Generator[*telemetry.Trace] {
	return rapid.Custom(func(rt *rapid.T) *telemetry.Trace {
		rows := rapid.IntRange(1, 8).Draw(rt, "rows")
		t := &telemetry.Trace{Simulated: rapid.Bool().Draw(rt, "simulated")}
		step := rapid.Float64Range(0, 1e6)
		for i := range rows {
			at := 0.0
			if i > 0 {
				at = t.Time[i-1] + step.Draw(rt, "step")
			}
			t.Time = append(t.Time, at)
		}
		if rapid.Bool().Draw(rt, "has start") {
			t.Start = time.Unix(rapid.Int64Range(0, 4e9).Draw(rt, "s"), rapid.Int64Range(0, 999999999).Draw(rt, "ns")).UTC()
		}
		for _, n := range rapid.SliceOfNDistinct(names(), 1, 5, rapid.ID).Draw(rt, "names") {
			addChannel(rt, t, n, rows)
		}
		for range rapid.IntRange(0, 3).Draw(rt, "settings") {
			t.Setup = append(t.Setup, telemetry.Setting{Key: names().Draw(rt, "key"), Value: names().Draw(rt, "value")})
		}
		for i := range rapid.IntRange(0, 3).Draw(rt, "marks") {
			kind := rapid.SampledFrom([]telemetry.MarkKind{telemetry.MarkUser, telemetry.MarkMachine, telemetry.MarkCommand}).Draw(rt, "kind")
			t.Marks = append(t.Marks, telemetry.Mark{ID: int64(i + 1), At: step.Draw(rt, "at"), Kind: kind, Text: names().Draw(rt, "text")})
		}
		for range rapid.IntRange(0, 2).Draw(rt, "scores") {
			unit := rapid.OneOf(rapid.Just(""), rapid.SampledFrom([]string{"points", "x], lower is better", `"`, "]", ", at 3 s"}), names()).Draw(rt, "unit")
			t.Scores = append(t.Scores, telemetry.Score{Name: names().Draw(rt, "score"), Value: rapid.Float64Range(-1e300, 1e300).Draw(rt, "points"),
				Unit: unit, HigherIsBetter: rapid.Bool().Draw(rt, "higher"), At: step.Draw(rt, "at")})
		}
		return t
	})
}

func addChannel(rt *rapid.T, t *telemetry.Trace, name string, rows int) {
	kind := quantity.Kind(rapid.IntRange(0, int(quantity.Resistance)).Draw(rt, "kind"))
	c := telemetry.Channel{Key: name, Name: name, Quantity: kind, Source: "file", Simulated: t.Simulated}
	values := make([]float64, rows)
	for i := range values {
		switch kind {
		case quantity.Bits:
			values[i] = float64(rapid.Uint64Range(0, maxBits).Draw(rt, "mask"))
		case quantity.Label:
			text := names().Draw(rt, "label")
			l := slices.Index(c.Labels, text)
			if l < 0 {
				l, c.Labels = len(c.Labels), append(c.Labels, text)
			}
			values[i] = float64(l)
		default:
			values[i] = numbers().Draw(rt, "value")
		}
	}
	if kind == quantity.Bits && rapid.Bool().Draw(rt, "explained") {
		c.Bits = []telemetry.ReasonBit{{Mask: 4, Name: names().Draw(rt, "bit"), Limiter: "power-long"}, {Mask: 8}}
	}
	t.Channels, t.Values = append(t.Channels, c), append(t.Values, values)
}

// TestRoundTrip: what was written reads back to the letter, roles too.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		first := traces().Draw(rt, "trace")
		guessed := *first
		guessed.Channels = slices.Clone(first.Channels)
		for i := range guessed.Channels {
			guessed.Channels[i].Role = telemetry.RoleNone // stated in the file against any guess
		}
		if rapid.Bool().Draw(rt, "guess") {
			if err := assignRoles(&guessed, means(&guessed), nil, nil); err != nil {
				rt.Fatal(err)
			}
			if q := implied(&guessed); q != nil {
				values, states := q.column(guessed.Time, guessed.Values[q.from])
				guessed.Values = append(slices.Clone(guessed.Values), values)
				guessed.States = make([][]telemetry.State, len(guessed.Values))
				guessed.States[len(guessed.States)-1] = states
				q.addChannel(&guessed)
			}
		}
		second := roundTrip(rt, &guessed)
		if err := sameTrace(&guessed, second); err != "" {
			rt.Fatal(err)
		}
	})
}

func roundTrip(tb rapid.TB, t *telemetry.Trace) *telemetry.Trace {
	var b bytes.Buffer
	if err := Write(&b, t); err != nil {
		tb.Fatal(err)
	}
	back, err := Read(&b, Options{})
	if err != nil {
		tb.Fatalf("%v", err)
	}
	return back
}

func sameTrace(a, b *telemetry.Trace) string {
	switch {
	case !slices.Equal(a.Time, b.Time):
		return "times differ"
	case !a.Start.Equal(b.Start):
		return "starts differ"
	case a.Simulated != b.Simulated:
		return "simulated differs"
	case !slices.Equal(a.Setup, b.Setup):
		return "setups differ: " + strconv.Quote(a.Setup[0].Key+" = "+a.Setup[0].Value)
	case !slices.Equal(a.Scores, b.Scores):
		return "scores differ: " + a.Scores[0].Unit
	case !slices.Equal(a.Marks, b.Marks):
		return "marks differ"
	case len(a.Channels) != len(b.Channels):
		return "numbers of channels differ"
	}
	for i, x := range a.Channels {
		y := b.Channels[i]
		if x.Name != y.Name || x.Quantity != y.Quantity || x.Role != y.Role || !slices.Equal(x.Bits, y.Bits) || !slices.Equal(x.Labels, y.Labels) {
			return "channel " + strconv.Quote(x.Name) + " with role " + string(x.Role) + " is now " + strconv.Quote(y.Name) + " with role " + string(y.Role)
		}
		same := sameColumn
		if strings.HasPrefix(x.Name, "power from ") {
			same = sameSingles // a quotient may be a float32 by accident, and keeps its digits only
		}
		if !same(a.Values[i], b.Values[i]) {
			return "values of " + x.Name + " differ"
		}
	}
	return ""
}

func sameSingles(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return float32(x) == float32(y) || math.IsNaN(x) && math.IsNaN(y) })
}

// TestRecordingRoundTrip: the real recording survives export and import.
func TestRecordingRoundTrip(t *testing.T) {
	f, err := os.Open("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	first, err := Read(f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if diff := sameTrace(first, roundTrip(t, first)); diff != "" {
		t.Error(diff)
	}
}

// TestSimulatedIsStated: no simulated trace leaves as a file that does not say so.
func TestSimulatedIsStated(t *testing.T) {
	trace := &telemetry.Trace{Time: []float64{0}, Simulated: true, Values: [][]float64{{1}},
		Channels: []telemetry.Channel{{Name: "power", Quantity: quantity.Power}}}
	var b bytes.Buffer
	if err := Write(&b, trace); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "# setup: simulated = yes") {
		t.Errorf("the file says\n%s", b.String())
	}
}

// TestGapsAndDoubles: a gap is an empty cell whatever its reason; equal names are told apart.
func TestGapsAndDoubles(t *testing.T) {
	trace := &telemetry.Trace{
		Time:     []float64{0, 0.1},
		Channels: []telemetry.Channel{{Name: "fan1", Device: "left", Quantity: quantity.Rotation}, {Name: "fan1", Device: "left", Quantity: quantity.Rotation}, {Name: "p", Quantity: quantity.Power}},
		Values:   [][]float64{{900, 900}, {math.NaN(), 1}, {float64(float32(0.1)), 7}},
		States:   [][]telemetry.State{nil, nil, {telemetry.Fresh, telemetry.GapIO}},
	}
	var b bytes.Buffer
	if err := Write(&b, trace); err != nil {
		t.Fatal(err)
	}
	want := "# role: none = fan1 (left)\n# role: none = fan1 (left) (2)\ntime [s],fan1 (left) [rpm],fan1 (left) (2) [rpm],p [W]\n0,900,,0.1\n0.1,900,1,\n"
	if b.String() != want {
		t.Errorf("got\n%swant\n%s", b.String(), want)
	}
}

func TestWriteRefuses(t *testing.T) {
	bad := map[string]*telemetry.Trace{
		"no samples":      {},
		"has no name":     {Time: []float64{0}, Channels: []telemetry.Channel{{}}, Values: [][]float64{{1}}},
		"NUL byte":        {Time: []float64{0}, Channels: []telemetry.Channel{{Name: "a\x00"}}, Values: [][]float64{{1}}},
		"not UTF-8":       {Time: []float64{0}, Channels: []telemetry.Channel{{Name: "a\xff"}}, Values: [][]float64{{1}}},
		"is not UTF-8":    {Time: []float64{0}, Setup: []telemetry.Setting{{Key: "a", Value: "\xff"}}},
		"has no time":     {Time: []float64{math.NaN()}},
		`mark "x" has no`: {Time: []float64{0}, Marks: []telemetry.Mark{{At: math.Inf(1), Text: "x"}}},
	}
	for want, trace := range bad {
		if err := Write(&bytes.Buffer{}, trace); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error is %v, not %q", err, want)
		}
	}
}

// FuzzRead: no input panics, and what reads can be written and read again.
func FuzzRead(f *testing.F) {
	bad, _ := os.ReadDir(badFolder)
	for _, e := range bad {
		if b, err := os.ReadFile(badFolder + "/" + e.Name()); err == nil && len(b) < 4096 {
			f.Add(b)
		}
	}
	f.Add([]byte("# setup: \"a = b\" = \"c\\n\"\n# mark: 1 (machine) x\n# role: none = p\n# bit: r = 0x4 - n\ntime,p [mW],r [bits],\"s\"\n2026-03-01T20:15:00Z,1,4,\"x,\"\"y\"\n"))
	for _, foreign := range []string{
		"time [s];package power [W];die temperature [degC];\n0;5,5;41;\n1,5;;42,25\n",
		"Date,Time,package power (mW),CPU Clock,note\n2026-03-01,20:15:00,5.5,4.1,-\n2026-03-01,20:15:01.5,,4100,a\n",
		"Timestamp\tW\n13/3/2026 8:15:00 PM\t5\n", "\"time, s\";\"power, mW\"\n0;n/a\n# score: s = 4 [x], lower is better, at 0 s\n",
		"Time,package energy [J]\n23:59:59,5\n00:00:00.5,6\n", "timestamp,x\n1772396100000,5\n",
	} {
		f.Add([]byte(foreign))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		trace, err := Read(bytes.NewReader(b), Options{})
		if err != nil {
			return
		}
		if got := inPieces(t, string(b), 1); len(got.Time) != len(trace.Time) || len(got.Channels) != len(trace.Channels) || len(got.Values) != len(trace.Values) {
			t.Fatal("pieces are not the whole")
		}
		var out bytes.Buffer
		if err := Write(&out, trace); err != nil {
			return // a name may be one that Write refuses
		}
		again, err := Read(&out, Options{})
		if err != nil {
			t.Fatalf("own file does not read: %v\n%s", err, out.String())
		}
		if len(again.Time) != len(trace.Time) || len(again.Channels) != len(trace.Channels) {
			t.Fatal("shape changed")
		}
	})
}

func BenchmarkRead(b *testing.B) {
	text, err := os.ReadFile("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(bytes.NewReader(text), Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
