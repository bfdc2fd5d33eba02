package openmetrics

import (
	"bytes"
	"math"
	"regexp"
	"strings"
	"testing"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// The grammar of the OpenMetrics specification, version 1.0.0, "ABNF", as far as this
// exposition uses it (no timestamps, no exemplars).
var (
	metricName = `[a-zA-Z_:][a-zA-Z0-9_:]*`
	labelName  = `[a-zA-Z_][a-zA-Z0-9_]*`
	escaped    = `(?:[^\n"\\]|\\[n"\\]|\\[^\n"\\])*`
	label      = labelName + `="` + escaped + `"`
	realNumber = `[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?`
	descriptor = regexp.MustCompile(`^# (TYPE|UNIT|HELP) (` + metricName + `) (.*)$`)
	metricType = regexp.MustCompile(`^(?:counter|gauge|histogram|gaugehistogram|stateset|info|summary|unknown)$`)
	helpText   = regexp.MustCompile(`^` + escaped + `$`)
	sample     = regexp.MustCompile(`^(` + metricName + `)(\{(?:` + label + `(?:,` + label + `)*)?\})? (` + realNumber + `)$`)
)

// conform holds an exposition against the grammar and the rules in words: families are
// not interleaved and come once, descriptors before samples, a unit ends its family's
// name, counters end in _total and info in _info, no metric comes twice, EOF ends all.
func conform(t *testing.T, text string) (samples map[string]string) {
	t.Helper()
	samples = map[string]string{}
	body, ok := strings.CutSuffix(text, "# EOF\n")
	if !ok {
		t.Fatalf("the exposition does not end with # EOF")
	}
	seen, kind, now := map[string]bool{}, "", ""
	for line := range strings.Lines(body) {
		line = strings.TrimSuffix(line, "\n")
		if d := descriptor.FindStringSubmatch(line); d != nil {
			if d[2] != now {
				if seen[d[2]] {
					t.Errorf("family %s comes twice", d[2])
				}
				now, kind, seen[d[2]] = d[2], "", true
			}
			switch d[1] {
			case "TYPE":
				if kind = d[3]; !metricType.MatchString(kind) {
					t.Errorf("%q: no such type", line)
				}
			case "UNIT":
				if !strings.HasSuffix(now, "_"+d[3]) {
					t.Errorf("%q: the unit does not end the name", line)
				}
			case "HELP":
				if !helpText.MatchString(d[3]) {
					t.Errorf("%q: help is not escaped", line)
				}
			}
			continue
		}
		m := sample.FindStringSubmatch(line)
		if m == nil {
			t.Errorf("%q is neither descriptor nor sample", line)
			continue
		}
		if want := now + map[string]string{"counter": "_total", "info": "_info"}[kind]; m[1] != want {
			t.Errorf("sample %s in the family %s of type %s", m[1], now, kind)
		}
		if _, twice := samples[m[1]+m[2]]; twice {
			t.Errorf("%s%s comes twice", m[1], m[2])
		}
		samples[m[1]+m[2]] = m[3]
	}
	return samples
}

func every() Snapshot {
	s := Snapshot{Session: "20260301-201500-k3f", Origin: "live", AtS: 12.5, Rows: 126}
	for k := quantity.Unknown; k <= quantity.Resistance; k++ {
		s.Channels = append(s.Channels, telemetry.Channel{Key: "k/" + k.String(), Name: k.String(), Quantity: k})
		s.Values = append(s.Values, 42)
	}
	return s
}

func write(t *testing.T, s Snapshot) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestEveryQuantityConforms(t *testing.T) {
	text := write(t, every())
	samples := conform(t, text)
	for name, want := range map[string]string{
		`soakline_temperature_celsius{channel="temperature",key="k/temperature",role="",source=""}`: "42",
		`soakline_frequency_hertz{channel="frequency",key="k/frequency",role="",source=""}`:         "4.2e+07",
		`soakline_share_ratio{channel="share",key="k/share",role="",source=""}`:                     "0.42",
		`soakline_energy_joules_total{channel="energy",key="k/energy",role="",source=""}`:           "42",
		`soakline_session_time_seconds`: "12.5", `soakline_rows_total`: "126",
		`soakline_session_info{id="20260301-201500-k3f",origin="live",simulated="false"}`: "1",
	} {
		if samples[name] != want {
			t.Errorf("%s is %q, want %q", name, samples[name], want)
		}
	}
	if len(samples) != 3+int(quantity.Resistance)+1-1 { // labels are no numbers
		t.Errorf("%d samples of %d quantities", len(samples), int(quantity.Resistance)+1)
	}
}

func TestGapsAreLeftOut(t *testing.T) {
	s := every()
	for i := range s.Values {
		s.Values[i] = math.NaN()
	}
	s.Values[int(quantity.Power)] = math.Inf(1)
	text := write(t, s)
	if samples := conform(t, text); len(samples) != 3 || strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
		t.Errorf("gaps are written: %s", text)
	}
	s.Values = s.Values[:3] // a channel that came after the row was made
	conform(t, write(t, s))
}

func TestHostileText(t *testing.T) {
	for _, evil := range []string{"\"} 1\nsoakline_power_watts 9", `\`, "a\nb", "# EOF", "bad\xff", `{}`, "\u202e", `</script>`} {
		s := every()
		for i := range s.Channels {
			s.Channels[i].Name, s.Channels[i].Source = evil, evil
		}
		s.Session, s.Origin, s.Simulated = evil, evil, true
		if n := len(conform(t, write(t, s))); n != 3+int(quantity.Resistance) {
			t.Errorf("%q made %d samples", evil, n)
		}
	}
}
