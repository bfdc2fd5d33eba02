package analysis_test

import (
	"fmt"
	"math"
	"testing"

	"soakline/analysis"
	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// hours is a computed trace of n channels at 10 Hz: rest and load in turn, a burst and
// a plateau each time, whole degrees.
func hours(h float64, n int) *telemetry.Trace {
	tr := &telemetry.Trace{}
	put := func(name string, k quantity.Kind, r telemetry.Role) {
		tr.Channels = append(tr.Channels, telemetry.Channel{Key: name, Name: name, Quantity: k, Role: r})
	}
	put("power", quantity.Power, telemetry.RolePower)
	put("die", quantity.Temperature, telemetry.RoleDie)
	put("clock", quantity.Frequency, telemetry.RoleClock)
	put("load", quantity.Share, telemetry.RoleLoad)
	put("room", quantity.Temperature, telemetry.RoleAmbient)
	for len(tr.Channels) < n {
		put(fmt.Sprint("other ", len(tr.Channels)), quantity.Temperature, telemetry.RoleCore)
	}
	tr.Values = make([][]float64, n)
	average, stage := 5.0, [3]float64{5, 5, 5}
	for i := range int(h * 36000) {
		t := float64(i) / 10
		p, clock, load := 5.0, 800.0, 2.0
		if math.Mod(t, 900) > 60 && math.Mod(t, 900) < 700 {
			p, clock, load = 60, 4200, 99
			if average >= 28 {
				p, clock = 28, 3100+20*math.Sin(t)
			}
		}
		p *= 1 + 0.01*math.Sin(7*t)
		average += (p - average) / 160
		die := 22.0
		for j, q := range []struct{ r, tau float64 }{{0.3, 0.5}, {0.3, 12}, {0.6, 150}} {
			stage[j] += (p - stage[j]) * -math.Expm1(-0.1/q.tau)
			die += q.r * stage[j]
		}
		tr.Time = append(tr.Time, t)
		for c := range tr.Values {
			v := math.Round(die + 0.3*math.Sin(13*t))
			switch c {
			case 0:
				v = p
			case 2:
				v = clock
			case 3:
				v = load
			case 4:
				v = 22
			}
			tr.Values[c] = append(tr.Values[c], v)
		}
	}
	return tr
}

// BenchmarkPush is the cost of one tick of 100 channels.
func BenchmarkPush(b *testing.B) {
	tr := hours(1, 100)
	v, s := make([]float64, 100), make([]telemetry.State, 100)
	for i := range s {
		s[i] = telemetry.Fresh
	}
	on := analysis.NewOnline(tr.Channels, analysis.Options{})
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		k := i % len(tr.Time)
		for c := range v {
			v[c] = tr.Values[c][k]
		}
		on.Push(float64(i)/10, v, s)
	}
}

// BenchmarkAnalyze is the cost of a whole trace of 20 channels at 10 Hz.
func BenchmarkAnalyze(b *testing.B) {
	hour := math.NaN()
	for _, h := range []float64{1, 2, 6, 24} {
		tr := hours(h, 20)
		b.Run(fmt.Sprintf("%gh", h), func(b *testing.B) {
			for b.Loop() {
				analysis.Analyze(tr, analysis.Options{LimitC: 90})
			}
			per := b.Elapsed().Seconds() / float64(b.N) / h
			if h == 1 {
				hour = per
			}
			b.ReportMetric(per*1e3, "ms/h")
			b.ReportMetric(per/hour, "x1h") // of the cost an hour of the hour's trace: 1 is linear
		})
	}
}

// BenchmarkResult is the cost of asking once a second after so many minutes, ten rows
// pushed each time as at 10 Hz; the share of one core is what a live view costs by it.
func BenchmarkResult(b *testing.B) {
	tr := hours(1, 20)
	for _, minutes := range []int{2, 10, 60} {
		b.Run(fmt.Sprintf("%dmin", minutes), func(b *testing.B) {
			v, s := make([]float64, 20), make([]telemetry.State, 20)
			for i := range s {
				s[i] = telemetry.Fresh
			}
			i := 0
			on := analysis.NewOnline(tr.Channels, analysis.Options{LimitC: 90})
			push := func(n int) {
				for range n {
					for c := range v {
						v[c] = tr.Values[c][i%len(tr.Time)]
					}
					on.Push(float64(i)/10, v, s)
					i++
				}
			}
			push(600 * minutes)
			for b.Loop() {
				push(10)
				on.Result()
			}
			b.ReportMetric(100*b.Elapsed().Seconds()/float64(b.N), "%core")
		})
	}
}
