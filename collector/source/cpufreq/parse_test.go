package cpufreq

import (
	"slices"
	"testing"
	"time"
)

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
