package feed

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

var nan = math.NaN()

func TestParseLine(t *testing.T) {
	for _, c := range []struct {
		line  string
		name  string
		value float64 // canonical
		kind  quantity.Kind
		at    float64
		more  func(v *Value) bool
	}{
		{`flow 1.2 L/min`, "flow", 1.2, quantity.Flow, nan, nil},
		{`"coolant in" 24.31 degC`, "coolant in", 24.31, quantity.Temperature, nan, nil},
		{`"coolant in" 297.46 K 12.5`, "coolant in", 24.31, quantity.Temperature, 12.5, nil},
		{"  room\t71.6   degF  ", "room", 22, quantity.Temperature, nan, nil},
		{`a -5e0 degC`, "a", -5, quantity.Temperature, nan, nil},
		{`"say \"hi\" \\" 1 %`, `say "hi" \`, 1, quantity.Share, nan, nil},
		{`wall 61500 mW 8123.50 seq=16247 window=0.5 age=0.25`, "wall", 61.5, quantity.Power, 8123.5,
			func(v *Value) bool { return v.Seq == 16247 && v.HasSeq && v.Window == 0.5 && v.Age == 0.25 }},
		{`wall - W quality=asleep`, "wall", nan, quantity.Power, nan,
			func(v *Value) bool { return v.State == telemetry.GapAsleep }},
		{`wall nan W`, "wall", nan, quantity.Power, nan, func(v *Value) bool { return v.State == telemetry.GapNotReady }},
		{`wall 3 W quality=fault`, "wall", 3, quantity.Power, nan, func(v *Value) bool { return v.State == telemetry.GapDisabled }},
		{`e 15.3 J wrap=65536 device="meter 2"`, "e", 15.3, quantity.Energy, nan,
			func(v *Value) bool { return v.Counter && v.Wrap == 65536 && v.Device == "meter 2" }},
		{`x 21 degC role=ambient`, "x", 21, quantity.Temperature, nan, func(v *Value) bool { return v.Role == telemetry.RoleAmbient }},
		{`x 21 degC 2026-03-01T20:15:00.5Z`, "x", 21, quantity.Temperature, 1772396100.5, nil}, // date -d 2026-03-01T20:15:00Z +%s
		{`hello 21 degC`, "hello", 21, quantity.Temperature, nan, nil},
		// The exclusive or worked out with Python: functools.reduce(operator.xor, b"flow 1.2 L/min").
		{`flow 1.2 L/min sum=36`, "flow", 1.2, quantity.Flow, nan, nil},
	} {
		l, err := ParseLine(c.line)
		if err != nil || l.Value == nil {
			t.Errorf("%s: %v", c.line, err)
			continue
		}
		v := l.Value
		if v.Name != c.name || v.Unit.Kind != c.kind || !near(v.Unit.Canonical(v.Raw), c.value) || !near(v.Time, c.at) || c.more != nil && !c.more(v) {
			t.Errorf("%s: %+v", c.line, v)
		}
	}
}

func near(a, b float64) bool { return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) < 1e-6 }

func TestParseNothingAndHello(t *testing.T) {
	for _, line := range []string{"", "   ", "# flow 1.2 L/min", "#"} {
		if l, err := ParseLine(line); err != nil || l.Value != nil || l.Hello != nil {
			t.Errorf("%q: %+v %v", line, l, err)
		}
	}
	l, err := ParseLine(`hello source="bench board" host=pi interval=0.5 stale=4`)
	if err != nil || *l.Hello != (Hello{"bench board", "pi", 0.5, 4}) {
		t.Errorf("%+v %v", l.Hello, err)
	}
	if l, err = ParseLine("hello"); err != nil || l.Hello == nil {
		t.Errorf("%+v %v", l, err)
	}
}

// Each refusal names what is wrong, and an unknown unit the known ones.
func TestRefusals(t *testing.T) {
	for line, want := range map[string]string{
		"flow":                                      "name value unit",
		"flow 1.2":                                  "name value unit",
		"flow 1.2 L/min 3 4":                        "got 5 parts",
		"speed 12 furlong":                          `speed: unit "furlong" is not known; known are % 1 1/s A`,
		"a b text":                                  `unit "text" is not known`,
		"flow 1,2 L/min":                            `"1,2": expected a decimal number`,
		"flow 0x1p3 L/min":                          "decimal number",
		"flow inf L/min":                            "decimal number",
		"flow 1e999 L/min":                          "decimal number",
		`flow "1" L/min`:                            "decimal number",
		"flow 1 L/min noon":                         `time "noon"`,
		"flow 1 L/min nan":                          `time "nan"`,
		"flow 1 L/min sqe=3":                        `"sqe" is not known; known are seq age`,
		"flow 1 L/min seq=-3":                       "whole number",
		"flow 1 L/min age=-3":                       "a number from 0 on",
		"flow 1 L/min age=":                         "a number from 0 on",
		"flow 1 L/min quality=good":                 "ok, stale, asleep, fault or none",
		"flow 1 L/min kind=total":                   "gauge or counter",
		"flow 1 L/min kind=counter":                 "a counter is of energy",
		"flow 1 L/min wrap=3":                       "wrap belongs to a counter",
		"e 1 J wrap=0":                              "wrap=0",
		"flow 1 L/min role=ambient":                 "needed is temperature",
		"flow 1 L/min role=boss":                    "role",
		`"coolant in 24 degC`:                       "not closed",
		`coolant" 24 degC`:                          "quotation mark inside",
		`"coolant"24 degC`:                          "no blank after",
		`"cool\nant" 24 degC`:                       `a \ in quotes`,
		`"" 24 degC`:                                "the name has 0 letters",
		strings.Repeat("n", 81) + " 1 W":            "the name has 81 letters",
		"flow 1 L/min =3":                           "without a key",
		"flow\x01 1 L/min":                          "control character at byte 5",
		"fl\xffow 1 L/min":                          "not UTF-8",
		"flow 1.2 L/min sum=37":                     "says 37, the bytes make 36",
		"flow 1.2 L/min sum=zz":                     "two hexadecimal digits",
		"hello interval=soon":                       "a number from 0 on",
		"hello colour=red":                          "known are source host interval stale",
		"hello interval=1 3":                        "is not known",
		"w 1 W window=" + strings.Repeat("1", 1200): "longer than 1024",
	} {
		l, err := ParseLine(line)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.60q: %+v, error %v; want one with %q", line, l.Value, err, want)
		}
	}
}

// Whatever is written by the rules is read as it was meant.
func TestLinesRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringOfN(rapid.RuneFrom(nil, unicode.L, unicode.N, unicode.P, unicode.Zs), 1, maxName, 300).Draw(t, "name")
		unit := rapid.SampledFrom([]string{"degC", "W", "mW", "rpm", "L/min", "%", "V", "delta_K"}).Draw(t, "unit")
		value := rapid.Float64Range(-1e6, 1e6).Draw(t, "value")
		seq := rapid.Uint64().Draw(t, "seq")
		at := rapid.Float64Range(0, 1e9).Draw(t, "time")
		quoted := `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(name) + `"`
		line := fmt.Sprintf("%s %s %s %s seq=%d", quoted, strconv.FormatFloat(value, 'g', -1, 64), unit,
			strconv.FormatFloat(at, 'f', -1, 64), seq)
		var sum byte
		for _, b := range []byte(line) {
			sum ^= b
		}
		l, err := ParseLine(fmt.Sprintf("%s sum=%02x", line, sum))
		if err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		if v := l.Value; v.Name != name || v.Raw != value || v.Symbol != unit || v.Seq != seq || v.Time != at {
			t.Fatalf("%s: %+v", line, v)
		}
		damaged := []byte(line)
		i := rapid.IntRange(0, len(damaged)-1).Draw(t, "at")
		damaged[i] ^= 1 << rapid.IntRange(0, 6).Draw(t, "bit")
		if _, err := ParseLine(fmt.Sprintf("%s sum=%02x", damaged, sum)); err == nil {
			t.Fatalf("a damaged line was taken: %q", damaged)
		}
	})
}

// No line brings the parser down, and what it takes is usable.
func FuzzParseLine(f *testing.F) {
	for _, line := range []string{`"coolant in" 24.31 degC`, `wall 61.5 W 8123.50 seq=16247 window=0.5`, `hello source="x" interval=1`,
		`e 1534.2 J kind=counter wrap=65536 sum=00`, `"\\\"" - K quality=fault role=ambient`, "=", `"`, `a= "`, "# x", "a 1 W 2026-03-01T20:15:00Z"} {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		l, err := ParseLine(line)
		if err != nil || l.Value == nil {
			return
		}
		v := l.Value
		if v.Name == "" || v.Unit.Kind == quantity.Unknown || math.IsInf(v.Raw, 0) || math.IsInf(v.Time, 0) || math.IsInf(v.Age, 0) ||
			math.IsNaN(v.Age) || math.IsNaN(v.Wrap) || v.State == telemetry.NoData || math.IsNaN(v.Raw) && v.State == telemetry.Fresh {
			t.Errorf("%q: %+v", line, v)
		}
	})
}
