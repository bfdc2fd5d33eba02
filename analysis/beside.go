package analysis

import (
	"math"
	"regexp"

	"soakline/analysis/series"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// beside is the channels that stand beside the main ones, with their means: the cores, the
// coolant and a second source of heat. Numbers are places in the track, -1 for none.
type beside struct {
	track                *series.Track
	cores                []int
	flow, in, out        int
	secondPower, secondC int
}

var (
	coreName   = regexp.MustCompile(`(?i)\bcore\b`)
	liquidName = regexp.MustCompile(`(?i)coolant|liquid|water|loop`)
	inName     = regexp.MustCompile(`(?i)\b(in|inlet|before|supply)\b`)
	outName    = regexp.MustCompile(`(?i)\b(out|outlet|after|return)\b`)
	secondName = regexp.MustCompile(`(?i)\b(gpu|graphics|igpu|gt)\b`)
	limitName  = regexp.MustCompile(`(?i)limit|cap\b|max|window`)
)

// newBeside finds them by role, else by quantity and name.
func newBeside(chs []telemetry.Channel) beside {
	b := beside{secondPower: -1, secondC: -1}
	var index []int
	add := func(c int) int {
		if c < 0 {
			return -1
		}
		index = append(index, c)
		return len(index) - 1
	}
	for i, c := range chs {
		if c.Role == telemetry.RoleCore || c.Role == telemetry.RoleDie && coreName.MatchString(c.Name) {
			b.cores = append(b.cores, add(i))
		}
	}
	if len(b.cores) < 3 {
		b.cores, index = nil, nil
	}
	find := func(r telemetry.Role, q quantity.Kind, names ...*regexp.Regexp) int {
		if i := telemetry.IndexOf(chs, r); i >= 0 {
			return add(i)
		}
		for i, c := range chs {
			fits := c.Quantity == q && c.Role == telemetry.RoleNone && !limitName.MatchString(c.Name)
			for _, n := range names {
				fits = fits && n.MatchString(c.Name)
			}
			if fits {
				return add(i)
			}
		}
		return -1
	}
	b.flow = find(telemetry.RoleCoolantFlow, quantity.Flow)
	b.in = find(telemetry.RoleCoolantIn, quantity.Temperature, liquidName, inName)
	b.out = find(telemetry.RoleCoolantOut, quantity.Temperature, liquidName, outName)
	// What is measured by a graphics chip itself is the main source there, not a second one.
	if p := telemetry.IndexOf(chs, telemetry.RolePower); p < 0 || !secondName.MatchString(chs[p].Name) && !secondName.MatchString(chs[p].Device) {
		b.secondPower = find(telemetry.RoleSecondPower, quantity.Power, secondName)
		b.secondC = find(telemetry.RoleSecondDie, quantity.Temperature, secondName)
	}
	b.track = series.NewTrack(index)
	return b
}

// name is the name of a tracked channel.
func (o *Online) name(place int) string { return o.channels[o.beside.track.Index[place]].Name }

// coarsest is the coarsest resolution of tracked channels; NaN where none has moved.
func (b *beside) coarsest(places ...int) float64 {
	q := math.NaN()
	for _, k := range places {
		if s := b.track.Step(k); !(s <= q) && series.Known(s) {
			q = s
		}
	}
	return q
}

// stretches are the blocks of the main load and of the rest before it, with the mean
// package power of both.
func (a *answer) stretches() (at, rest []series.TrackBlock, power, restW float64, ok bool) {
	sp, ok := a.mainLoad()
	if !ok {
		return nil, nil, math.NaN(), math.NaN(), false
	}
	from := 0.0
	for _, other := range a.load.Spans {
		if other.To < sp.From {
			from = other.To + 30
		}
	}
	t := a.o.beside.track
	at, rest = t.Within(sp.From, sp.To), t.Within(from, sp.From)
	power = series.Mean(a.s[sp.First:sp.Last], series.PowerOf)
	restW = series.Mean(series.Within(a.s, from, sp.From), series.PowerOf)
	return at, rest, power, restW, true
}
