package main

import (
	"context"
	"math"
	"time"

	"soakline/analysis/stats"
)

// The paces of the meter while nothing else is read: as rare as they can be. A 32-bit
// energy counter of a fast package wraps within a minute or two, hence the first.
const (
	energyEvery = 30 * time.Second
	sampleEvery = 5 * time.Second
	costLevel   = 0.9
)

// gauges is what the cost is told by; NaN where the machine does not show it.
type gauges interface {
	joules() float64  // an energy counter's total
	watts() float64   // power, where there is no counter
	celsius() float64 // the die
	counts() bool     // whether there is an energy counter
}

// turns measures watching against not watching, by turns of two equal phases.
type turns struct {
	meter gauges
	now   func() time.Duration
	pause func(context.Context, time.Duration) error
	watch func(context.Context, time.Duration) error // for as long as that
	say   func(turn int, watching bool)
	dies  []float64 // every reading of the die
}

// watchCost is what watching adds, each as a paired difference over the turns; NaN where
// it could not be told.
type watchCost struct {
	Watts, Kelvin stats.Difference
	PhaseWatts    [][2]float64 // by turn: without and with watching
	Step          float64      // the smallest change of the die's reading, K; 0: it never changed
	Turns         int
	Phase         time.Duration
}

// run takes n turns. Every second turn begins with watching, so that a steady drift of
// the machine adds to one difference what it takes from the next.
func (t *turns) run(ctx context.Context, n int, length time.Duration) (watchCost, error) {
	var watts, kelvin [2][]float64 // without, with
	for turn := range n {
		for half := range 2 {
			watching := (turn + half) % 2
			t.say(turn, watching == 1)
			w, c, err := t.phase(ctx, watching == 1, length)
			if err != nil {
				return watchCost{}, err
			}
			watts[watching], kelvin[watching] = append(watts[watching], w), append(kelvin[watching], c)
		}
	}
	r := watchCost{Watts: stats.Paired(watts[1], watts[0]), Kelvin: stats.Paired(kelvin[1], kelvin[0]), Turns: n, Phase: length}
	r.Kelvin, r.Step = coarse(r.Kelvin, t.dies, n)
	for i := range watts[0] {
		r.PhaseWatts = append(r.PhaseWatts, [2]float64{watts[0][i], watts[1][i]})
	}
	return r, nil
}

// phase gives the mean power of one phase and the die's mean over its last quarter.
func (t *turns) phase(ctx context.Context, watching bool, length time.Duration) (watts, celsius float64, err error) {
	ended := make(chan error, 1)
	if watching {
		go func() { ended <- t.watch(ctx, length) }()
	} else {
		ended <- nil
	}
	power, die := []float64{}, []float64{}
	from, began := t.meter.joules(), t.now()
	for at := time.Duration(0); at < length; {
		step := min(sampleEvery, length-at)
		if err := t.pause(ctx, step); err != nil {
			<-ended
			return 0, 0, err
		}
		at += step
		if t.meter.counts() && at%energyEvery == 0 && at < length {
			t.meter.joules()
		}
		if !t.meter.counts() {
			power = append(power, t.meter.watts())
		}
		if at > length-length/4 {
			die = append(die, t.meter.celsius())
			t.dies = append(t.dies, die[len(die)-1])
		}
	}
	watts = stats.Mean(power)
	if t.meter.counts() {
		watts = (t.meter.joules() - from) / (t.now() - began).Seconds()
	}
	return watts, stats.Mean(die), <-ended
}

// coarse widens a difference of two readings of a sensor that moves in steps: each may be
// off by up to half a step, evenly spread (JCGM 100:2008, 4.3.7). step is 0 where the
// sensor never moved.
func coarse(d stats.Difference, readings []float64, n int) (wide stats.Difference, step float64) {
	step = math.Inf(1)
	for i := 1; i < len(readings); i++ {
		if move := math.Abs(readings[i] - readings[i-1]); move > 1e-9 {
			step = math.Min(step, move)
		}
	}
	if math.IsInf(step, 1) {
		return d, 0
	}
	d.SE = math.Sqrt(d.SE*d.SE + 2*step*step/12/float64(n))
	return d, step
}

// told is true where a difference has an interval.
func told(d stats.Difference) bool {
	low, high := d.Interval(costLevel)
	return !math.IsNaN(low) && !math.IsNaN(high)
}
