package conditions

import (
	"fmt"
	"math"
	"strconv"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

const (
	// settleS is how long a new value must stand before it counts: firmware that moves a
	// limit in steps gives one mark, not one a step (common practice, no source).
	settleS = 1.0
	// mostMarks is how many changes of one channel are marked in a session: beyond, the
	// condition is no condition but a measured quantity.
	mostMarks = 20
	// leastShare is the smallest change that counts, of the larger value.
	leastShare = 0.005
)

// Change is a condition that became another.
type Change struct {
	At   float64 // s since the session's first sample, when the new value was first seen
	Text string
}

// Watcher finds changes in rows, one after the other. Its zero value is ready.
type Watcher struct{ seen []condition }

// condition is what is known of one channel.
type condition struct {
	value  float64 // the one that stands; meaningful when known
	known  bool
	next   float64 // one that differs and may come to stand
	since  float64 // when it was first seen, NaN if there is none
	marked int
}

// Row looks at one row of these channels and gives the changes that have come to stand.
// A gap changes nothing. Channels may be added at the end from one row to the next.
func (w *Watcher) Row(chs []telemetry.Channel, at float64, values []float64, states []telemetry.State) []Change {
	for len(w.seen) < len(values) {
		w.seen = append(w.seen, condition{since: math.NaN()})
	}
	var out []Change
	for i := range min(len(values), len(chs)) {
		if !watched(chs[i]) || !states[i].Usable() {
			continue
		}
		if c, ok := w.seen[i].look(&chs[i], at, values[i]); ok {
			out = append(out, c)
		}
	}
	return out
}

// watched is true for channels that are conditions.
func watched(c telemetry.Channel) bool {
	switch c.Role {
	case telemetry.RoleLongLimit, telemetry.RoleShortLimit, telemetry.RoleLongWindow, telemetry.RoleThermalLimit:
		return true
	}
	return c.Quantity == quantity.Label
}

func (k *condition) look(c *telemetry.Channel, at, value float64) (Change, bool) {
	switch {
	case !k.known:
		k.value, k.known = value, true
	case same(value, k.value, c.Quantity):
		k.since = math.NaN()
	case math.IsNaN(k.since) || !same(value, k.next, c.Quantity):
		k.next, k.since = value, at
	case at-k.since >= settleS:
		return k.stand(c)
	}
	return Change{}, false
}

// stand takes the new value over.
func (k *condition) stand(c *telemetry.Channel) (Change, bool) {
	change := Change{k.since, fmt.Sprintf("%s changed from %s to %s", c.Name, words(c, k.value), words(c, k.next))}
	k.value, k.since = k.next, math.NaN()
	k.marked++
	if k.marked == mostMarks {
		change.Text += "; it changes often: what follows is in its channel and is not marked"
	}
	return change, k.marked <= mostMarks
}

func same(a, b float64, kind quantity.Kind) bool {
	if kind == quantity.Label {
		return a == b
	}
	return math.Abs(a-b) <= leastShare*max(math.Abs(a), math.Abs(b))
}

// words are a value as people read it.
func words(c *telemetry.Channel, v float64) string {
	if c.Quantity == quantity.Label {
		if i := int(v); v >= 0 && i < len(c.Labels) {
			return c.Labels[i]
		}
		return "something unknown"
	}
	return strconv.FormatFloat(v, 'g', 4, 64) + " " + c.Quantity.Symbol()
}
