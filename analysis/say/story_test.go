package say_test

import (
	"flag"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
)

var update = flag.Bool("update", false, "write the golden stories anew")

func rigTrace(t testing.TB, setup string, length time.Duration) (*rig.Source, *telemetry.Trace, []rig.State) {
	t.Helper()
	src, err := rig.New(rig.Default())
	if err != nil {
		t.Fatal(err)
	}
	if err := src.Select(setup); err != nil {
		t.Fatal(err)
	}
	tr, truth := src.Trace(100*time.Millisecond, length)
	if tr.Channels, err = telemetry.Resolve(tr.Channels, nil); err != nil {
		t.Fatal(err)
	}
	return src, tr, truth
}

// told is a line and when it was first said, s.
type told struct {
	at   float64
	line say.Line
}

// story asks every so many seconds, as the live view does, and keeps each line that
// differs from the one before.
func story(tr *telemetry.Trace, o analysis.Options, every float64) (out []told) {
	on := analysis.NewOnline(tr.Channels, o)
	v, s := make([]float64, len(tr.Channels)), make([]telemetry.State, len(tr.Channels))
	next, line := 0.0, say.Line{}
	for i, at := range tr.Time {
		for c := range v {
			v[c], s[c] = tr.Values[c][i], tr.StateAt(c, i)
		}
		on.Push(at, v, s)
		if at < next {
			continue
		}
		next = at + every
		was := line.Text
		if line = say.Next(line, on.Result()); line.Text != was {
			out = append(out, told{at, line})
		}
	}
	return out
}

var number = regexp.MustCompile(`\d+(:\d\d)?(\.\d+)?`)

// shape is a story with its numbers taken out and sentences that differ by them alone told
// once: how it is said, not what the figures are, which other tests hold to the truth.
func shape(s []told) string {
	var out []string
	for _, x := range s {
		text := strings.TrimPrefix(number.ReplaceAllString(x.line.Text, "#"), "SIMULATED. ")
		text = strings.NewReplacer("# to # °C", "# °C", "# min", "# s").Replace(text)
		if n := len(out); n == 0 || out[n-1] != text {
			out = append(out, text)
		}
	}
	return strings.Join(out, "\n") + "\n"
}

// TestStory compares how the rig's three setups, a real recording and machines with
// failing sensors are told, from rest to cooling, with the golden stories.
func TestStory(t *testing.T) {
	for name, tr := range stories(t) {
		t.Run(name, func(t *testing.T) {
			got := shape(story(tr, analysis.Options{LimitC: 90}, 5))
			file := "testdata/" + name + ".txt"
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("the story has changed (-update writes it anew):\n%s", got)
			}
		})
	}
}

// stories are the traces that are told.
func stories(t *testing.T) map[string]*telemetry.Trace {
	out := map[string]*telemetry.Trace{}
	for _, setup := range []string{"fan-cooler", "plate-first", "plate-again"} {
		_, out[setup], _ = rigTrace(t, setup, 360*time.Second)
	}
	out["die-gone"] = dieGone(t)
	drop := func(name string, roles ...telemetry.Role) {
		_, tr, _ := rigTrace(t, "fan-cooler", 340*time.Second)
		for c := range tr.Channels {
			if slices.Contains(roles, tr.Channels[c].Role) {
				tr.Channels[c].Role = telemetry.RoleNone
			}
		}
		out[name] = tr
	}
	drop("no-power", telemetry.RolePower, telemetry.RoleEnergy)
	drop("no-die", telemetry.RoleDie, telemetry.RoleCore)
	drop("nothing-stated", telemetry.RoleLongLimit, telemetry.RoleShortLimit, telemetry.RoleLongWindow, telemetry.RoleThermalLimit)
	out["fan-fails"] = fanFails(t)
	f, err := os.Open("../../testdata/traces/accelerator-full-load.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if out["accelerator"], err = tracefile.Read(f, tracefile.Options{}); err != nil {
		t.Fatal(err)
	}
	return out
}

// dieGone is a load whose die sensor is unplugged at 150 s.
func dieGone(t *testing.T) *telemetry.Trace {
	_, tr, _ := rigTrace(t, "fan-cooler", 340*time.Second)
	c := tr.Index(telemetry.RoleDie)
	for i := 1500; i < len(tr.Time); i++ {
		tr.Values[c][i] = math.NaN()
		tr.States[c][i] = telemetry.GapGone
	}
	return tr
}

// fanFails is a settled load whose fan stops at 200 s: the die climbs by half as much again
// with a time constant of 40 s.
func fanFails(t *testing.T) *telemetry.Trace {
	_, tr, _ := rigTrace(t, "fan-cooler", 340*time.Second)
	for c, ch := range tr.Channels {
		for i, at := range tr.Time {
			if at < 200 {
				continue
			}
			switch ch.Role {
			case telemetry.RoleFan:
				tr.Values[c][i] = 0
			case telemetry.RoleDie, telemetry.RoleCore:
				tr.Values[c][i] = math.Round(tr.Values[c][i] - 18*math.Expm1(-(at-200)/40))
			}
		}
	}
	return tr
}

// TestTrue holds what is said of the rig against the rig: what holds it, the settled
// temperature and the power at the limit lie in the intervals that are told, and the line
// calls nothing held that rests.
func TestTrue(t *testing.T) {
	words := map[analysis.Kind]string{analysis.Clock: "its highest clock", analysis.PowerShort: "the short-term power limit",
		analysis.PowerLong: "the long-term power limit", analysis.Thermal: "heat", analysis.Idle: "Resting"}
	end := regexp.MustCompile(`(?:Still heating:|Heading for|settle at|Settled at|heading for|settled at|Almost settled:) (\d+)(?: to (\d+))? °C`)
	carry := regexp.MustCompile(`carry about \d+ W \((\d+) to (\d+)\)`)
	for _, setup := range []string{"fan-cooler", "plate-first", "plate-again"} {
		src, tr, truth := rigTrace(t, setup, 340*time.Second)
		told, ends, wrongEnd, carries, wrongCarry, held, wrong := story(tr, analysis.Options{LimitC: 90}, 3), 0, 0, 0, 0, 0, 0
		for _, x := range told {
			text := x.line.Text
			kind := analysis.Kind(truth[int(math.Round(x.at*10))].HeldBy)
			if steady(truth, x.at, 4) && !strings.Contains(text, "Power is rising") && x.at > 1 {
				held++
				if !strings.Contains(text, words[kind]) {
					wrong++
					t.Logf("%s at %.0f s, held by %s: %s", setup, x.at, kind, text)
				}
			}
			if m := end.FindStringSubmatch(text); m != nil {
				ends++
				low, high := band(m[1], m[2], 2.5)
				if c := src.Truth().SteadyC; c < low || c > high {
					wrongEnd++
				}
			}
			if m := carry.FindStringSubmatch(text); m != nil {
				carries++
				low, high := band(m[1], m[2], 1)
				if p := src.PowerAt(90); p < low || p > high {
					wrongCarry++
				}
			}
		}
		if wrong > 0 || wrongEnd > ends/3 || wrongCarry > carries/6 || ends < 8 || carries < 8 || held < 8 {
			t.Errorf("%s: limiter wrong in %d of %d lines, end in %d of %d, power at the limit in %d of %d", setup, wrong, held, wrongEnd, ends, wrongCarry, carries)
		}
		if perMinute := float64(len(told)) / (340.0 / 60); perMinute > 14 {
			t.Errorf("%s: the line changes %.1f times a minute", setup, perMinute)
		}
	}
}

// steady is true where the truth has been one and the same for so many seconds.
func steady(truth []rig.State, at, seconds float64) bool {
	i := int(math.Round(at * 10))
	for j := i; j >= max(0, i-int(10*seconds)); j-- {
		if truth[j].HeldBy != truth[i].HeldBy {
			return false
		}
	}
	return true
}

// band is an interval as told, or a single number with its rounding.
func band(a, b string, slack float64) (low, high float64) {
	fmt.Sscan(a, &low)
	if high = low; b == "" {
		return low - slack, high + slack
	}
	fmt.Sscan(b, &high)
	return low, high
}

// TestNext: within the slack the words stay, beyond it they go, and Of forgets.
func TestNext(t *testing.T) {
	r := example()
	first := say.Of(r)
	r.Headroom.PowerW, r.Headroom.MarginK, r.Now.PowerW = 43.6, 31.4, 27.9
	if l := say.Next(first, r); l.Text != first.Text {
		t.Errorf("moved by less than a step:\n%s\n%s", first.Text, l.Text)
	}
	if l := say.Of(r); l.Text == first.Text {
		t.Error("44 W is told as 43 W")
	}
	r.Headroom.PowerW, r.Headroom.PowerLowW, r.Headroom.PowerHighW = 46, 43, 48
	l := say.Next(first, r)
	if !strings.Contains(l.Text, "46 W (43 to 48)") {
		t.Errorf("moved by three watts and stays: %s", l.Text)
	}
	r.Steady.ForecastLowC, r.Steady.ForecastHighC = 45, 80 // wide, but not yet so wide that the sentence goes
	if got := say.Next(l, r).Text; !strings.Contains(got, "Heading for") {
		t.Errorf("wavers: %s", got)
	}
	if got := say.Of(r).Text; strings.Contains(got, "Heading for") {
		t.Errorf("told first with 35 K between: %s", got)
	}
}
