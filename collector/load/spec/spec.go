// Package spec owns the words for a load of soakline's own: what it computes, on how many
// processors, for which share of the time. It computes nothing.
package spec

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Kind is what a load computes.
type Kind string

// The kinds; package load says of each what one unit of work is and where it comes from.
const (
	Integer  Kind = "integer"
	Floating Kind = "floating-point"
	Vector   Kind = "vector"
	Memory   Kind = "memory"
)

var kinds = []Kind{Integer, Floating, Vector, Memory}

// KindNames lists the kinds.
func KindNames() []string {
	var out []string
	for _, k := range kinds {
		out = append(out, string(k))
	}
	return out
}

// The cycle of a load that works for a share of the time only. The usual one is short
// beside a sample, so that the power reads as its mean.
const (
	DefaultCycle  = 20 * time.Millisecond
	ShortestCycle = 5 * time.Millisecond
)

// Load is one load of soakline's own.
type Load struct {
	Kinds  []Kind        `json:"kinds"` // taken in turn by every worker
	Cores  int           `json:"cores"` // logical processors, 0 is all that the program may use
	Pinned bool          `json:"pinned"`
	Share  float64       `json:"share"` // busy share of the time, 0 to 1
	Cycle  time.Duration `json:"cycle"`
}

// Check says what is wrong with a load.
func (l Load) Check() error {
	switch {
	case len(l.Kinds) == 0:
		return errors.New("the load computes nothing")
	case l.Cores < 0:
		return fmt.Errorf("%d processors: expected 1 or more, or all", l.Cores)
	case !(l.Share >= 0 && l.Share <= 1):
		return fmt.Errorf("a busy share of %g: expected 0 to 1", l.Share)
	case l.Cycle < ShortestCycle:
		return fmt.Errorf("a cycle of %v: expected %v or more", l.Cycle, ShortestCycle)
	}
	for _, k := range l.Kinds {
		if !slices.Contains(kinds, k) {
			return fmt.Errorf("a load %q is not known; known are %s", k, strings.Join(KindNames(), ", "))
		}
	}
	return nil
}

// Name is what the load computes in one word: "integer+memory".
func (l Load) Name() string {
	var names []string
	for _, k := range l.Kinds {
		names = append(names, string(k))
	}
	return strings.Join(names, "+")
}

// ParseKinds reads "vector", or several joined by "+".
func ParseKinds(text string) ([]Kind, error) {
	var out []Kind
	for name := range strings.SplitSeq(text, "+") {
		k := Kind(strings.TrimSpace(name))
		if !slices.Contains(kinds, k) {
			return nil, fmt.Errorf("a load %q is not known; known are %s", k, strings.Join(KindNames(), ", "))
		}
		out = append(out, k)
	}
	return out, nil
}

// Parse reads a load in short: kind, then ":all" or ":4" for the processors, "+" joins
// kinds: "vector:all", "integer+memory:4".
func Parse(text string) (Load, error) {
	name, cores, given := strings.Cut(text, ":")
	ks, err := ParseKinds(name)
	if err != nil {
		return Load{}, err
	}
	l := Load{Kinds: ks, Share: 1, Cycle: DefaultCycle}
	if given && cores != "all" {
		if l.Cores, err = strconv.Atoi(cores); err != nil || l.Cores < 1 {
			return Load{}, fmt.Errorf("%q processors: expected a number from 1, or all", cores)
		}
	}
	return l, nil
}
