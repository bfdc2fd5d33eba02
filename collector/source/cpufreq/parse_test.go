package cpufreq

import (
	"slices"
	"testing"
	"time"
)

func TestParseStat(t *testing.T) {
	by := make([]ticks, 3)
	parseStat([]byte("cpu  9 9 9 9\ncpu0 1 2 3 4 5 6 7 8 100 100\ncpu2 10 0 0 90\ncpu7 1 1 1 1\ncpu1 x 1 1 1\nintr 5\ncpu1 1 2"), by)
	if want := []ticks{{36, 9}, {}, {100, 90}}; !slices.Equal(by, want) {
		t.Errorf("got %+v, want %+v: guest time is in user time, a cut or bad line counts for nothing", by, want)
	}
}

func FuzzParseStat(f *testing.F) {
	f.Add([]byte("cpu0 1 2 3 4 5 6 7 8 9 10\n"))
	f.Add([]byte("cpu99999999999999999999 1\ncpu"))
	f.Fuzz(func(t *testing.T, b []byte) {
		by := make([]ticks, 4)
		parseStat(b, by)
		for _, k := range by {
			if k.idle < 0 || k.total < k.idle {
				t.Errorf("%q gives %+v", b, k)
			}
		}
	})
}

func TestParseList(t *testing.T) {
	for text, want := range map[string][]int{"0": {0}, "0 4": {0, 4}, "0-2,8": {0, 1, 2, 8}, "": nil, "x 3": {3}, "-1": nil, "3-": nil} {
		if got := parseList(text); !slices.Equal(got, want) {
			t.Errorf("parseList(%q) = %v, want %v", text, got, want)
		}
	}
	if n := len(parseList("0-999999999")); n != mostProcessors {
		t.Errorf("a range without end gives %d processors", n)
	}
}

func TestPace(t *testing.T) {
	for release, want := range map[string]time.Duration{"5.15.0-91-generic": time.Second, "4.19.0": time.Second, "5.19.0": 0,
		"6.1.0-56-amd64": 0, "": 0, "rubbish": 0} {
		if got := pace(release); got != want {
			t.Errorf("pace(%q) = %v, want %v", release, got, want)
		}
	}
}
