package analysis

import (
	"math"

	"soakline/analysis/series"
	"soakline/collector/telemetry"
)

// Options steers an analysis. The zero Options is usable.
type Options struct {
	// LimitC is the temperature that the user will not exceed, degC; 0 or NaN takes the
	// limit that the hardware reports, else 95 with a warning that says so.
	LimitC float64
	// UntilS analyses only what was known by then; 0 takes all.
	UntilS float64
	// Earlier are results of earlier traces of the same machine, prior knowledge of its
	// thermal path.
	Earlier []Result
	// IgnoreReasons infers the limiter even where the hardware reports its reasons, so
	// that the two can be compared.
	IgnoreReasons bool
	// JobS asks whether a longer burst window would carry a load of so many seconds; 0 does
	// not ask.
	JobS float64
	// Detail adds the thermal path in the forms of the trade.
	Detail bool
	// Coolant is what is in the loop: "water", "30 % propylene glycol"; empty takes the
	// trace's setup, else water.
	Coolant string
	// Thresholds replaces the defaults; nil takes DefaultThresholds.
	Thresholds *Thresholds
}

// Analyze runs a whole trace through Online.
func Analyze(tr *telemetry.Trace, o Options) Result {
	for _, set := range tr.Setup {
		if o.Coolant == "" && set.Key == "coolant" {
			o.Coolant = set.Value
		}
	}
	on := NewOnline(tr.Channels, o)
	v := make([]float64, len(tr.Channels))
	s := make([]telemetry.State, len(tr.Channels))
	for i, t := range tr.Time {
		if o.UntilS > 0 && t > o.UntilS {
			break
		}
		for c := range tr.Channels {
			v[c], s[c] = tr.Values[c][i], tr.StateAt(c, i)
		}
		on.Push(t, v, s)
	}
	return on.Result()
}

// Online follows a running trace: Push is cheap and allocates nothing in steady state,
// Result may cost a few milliseconds and is asked for about once a second.
type Online struct {
	channels []telemetry.Channel
	options  Options
	th       Thresholds
	store    *series.Store
	beside   beside
	bits     []telemetry.ReasonBit
	kept     keptFit
	keptTau  keptTau
	keptPair keptPair
}

// NewOnline starts an estimator for rows of these channels.
func NewOnline(chs []telemetry.Channel, o Options) *Online {
	on := &Online{channels: chs, options: o, th: DefaultThresholds(), store: series.NewStore(chs), beside: newBeside(chs)}
	if o.Thresholds != nil {
		on.th = *o.Thresholds
	}
	if i := telemetry.IndexOf(chs, telemetry.RoleReasons); i >= 0 {
		on.bits = chs[i].Bits
	}
	return on
}

// Push takes the next row: t in seconds from the first sample, one value and state a
// channel. Time must not run backwards; a row that repeats an instant, or goes back, is
// left out.
func (o *Online) Push(t float64, values []float64, states []telemetry.State) {
	if !math.IsNaN(t) && !math.IsInf(t, 0) {
		o.store.Push(t, values, states)
		o.beside.track.Push(t, values, states)
	}
}

// Result says what is known up to the last row. It does not disturb the estimator, and
// depends on the rows alone, not on when it was asked for before.
func (o *Online) Result() Result { return newAnswer(o).result() }
