package kerneltest

import (
	"bufio"
	"strconv"
	"strings"
	"testing"

	"soakline/collector/telemetry"
)

// heard is what a guest told.
type heard struct {
	t        *testing.T
	channels map[string][]string          // by key: quantity, role, source, refresh, name
	seen     map[string]map[string]figure // by phase and key
	facts    [][]string                   // lines of X
	missing  [][]string
	sources  map[string][]string
	settings map[string]string
	marks    map[string][]string
	rows     map[string]int
	without  *heard // what the child without rights told
	end      string
}

// figure is a channel's history in one phase.
type figure struct {
	last, low, high, integral, before float64
	state                             telemetry.State
	changes, fresh, held              int
	gaps                              string
}

func newHeard(t *testing.T) *heard {
	return &heard{t: t, channels: map[string][]string{}, seen: map[string]map[string]figure{}, sources: map[string][]string{},
		settings: map[string]string{}, marks: map[string][]string{}, rows: map[string]int{}}
}

// listen takes a guest's lines until it says that it is through. on, if any, sees each line.
func listen(t *testing.T, lines *bufio.Scanner, on func(line string)) *heard {
	t.Helper()
	all := newHeard(t)
	h := all
	for lines.Scan() {
		line := strings.TrimSpace(lines.Text())
		if on != nil {
			on(line)
		}
		kind, rest, _ := strings.Cut(line, " ")
		switch {
		case kind == "U":
			all.without = newHeard(t)
			h = all.without
		case kind == "GUEST", line == "DONE":
			all.end = rest
			return all
		case !h.take(kind, strings.Split(rest, "|")) && line != "":
			t.Log("guest:", line)
		}
	}
	t.Fatalf("the guest ended early: %v", lines.Err())
	return nil
}

// take takes one line apart; false if it is none of ours.
func (h *heard) take(kind string, f []string) bool {
	switch {
	case kind == "C" && len(f) == 6:
		h.channels[f[0]] = f[1:]
	case kind == "V" && len(f) == 12:
		h.figure(f)
	case kind == "X":
		h.facts = append(h.facts, f)
	case kind == "M" && len(f) == 4:
		h.missing = append(h.missing, f)
	case kind == "G" && len(f) == 3:
		h.sources[f[0]] = f[1:]
	case kind == "S" && len(f) == 2:
		h.settings[f[0]] = f[1]
	case kind == "K" && len(f) == 2:
		h.marks[f[0]] = append(h.marks[f[0]], f[1])
	case kind == "R" && len(f) == 3:
		h.rows[f[0]], _ = strconv.Atoi(f[1])
	default:
		return false
	}
	return true
}

func (h *heard) figure(f []string) {
	real := func(i int) float64 {
		v, err := strconv.ParseFloat(f[i], 64)
		if err != nil {
			h.t.Errorf("the guest's line %q: %v", f, err)
		}
		return v
	}
	count := func(i int) int { return int(real(i)) }
	if h.seen[f[0]] == nil {
		h.seen[f[0]] = map[string]figure{}
	}
	h.seen[f[0]][f[1]] = figure{real(2), real(3), real(4), real(5), real(6), telemetry.State(count(7)), count(8), count(9), count(10), f[11]}
}

// fact finds the first X line of that name and gives its fields.
func (h *heard) fact(name ...string) []string {
	for _, f := range h.facts {
		if len(f) >= len(name) && equal(f[:len(name)], name) {
			return append(f[len(name):], "", "", "", "", "")
		}
	}
	h.t.Errorf("the guest said nothing of %q", name)
	return make([]string, 6)
}

func equal(a, b []string) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}
