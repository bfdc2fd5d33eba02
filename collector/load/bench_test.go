package load

import (
	"math"
	"slices"
	"testing"
	"time"
)

// rate is the throughput of a running load over d, units a second.
func rate(p *Process, d time.Duration) float64 {
	next := func() Count {
		before := p.Work()
		for p.Work().At == before.At {
			p.Beat()
			time.Sleep(5 * time.Millisecond)
		}
		return p.Work()
	}
	first := next()
	for range d / (50 * time.Millisecond) {
		time.Sleep(50 * time.Millisecond)
		p.Beat()
	}
	last := next()
	return float64(last.Done-first.Done) / (last.At - first.At).Seconds()
}

// BenchmarkCores gives the throughput of all processors over that of one: on idle cores
// near their number, where the clock holds.
func BenchmarkCores(b *testing.B) {
	cpus, _ := processors()
	for _, kind := range []string{"integer", "floating-point", "vector", "memory"} {
		b.Run(kind, func(b *testing.B) {
			for b.Loop() {
				one := start(b, load(kind+":1"))
				r1 := rate(one, 500*time.Millisecond)
				one.Stop()
				<-one.Done()
				all := start(b, load(kind+":all"))
				rn := rate(all, 500*time.Millisecond)
				all.Stop()
				<-all.Done()
				b.ReportMetric(rn/r1, "x-one-core")
				b.ReportMetric(float64(len(cpus)), "cores")
			}
		})
	}
}

// BenchmarkRepeat gives how far five runs of one processor lie from their median: the
// median and the largest of the distances.
func BenchmarkRepeat(b *testing.B) {
	for _, kind := range []string{"integer", "floating-point", "vector", "memory"} {
		b.Run(kind, func(b *testing.B) {
			for b.Loop() {
				var rs []float64
				for range 5 {
					l := load(kind + ":1")
					l.Pinned = canPin
					p := start(b, l)
					rate(p, 200*time.Millisecond)
					rs = append(rs, rate(p, time.Second))
					p.Stop()
					<-p.Done()
				}
				slices.Sort(rs)
				var apart []float64
				for _, r := range rs {
					apart = append(apart, 100*math.Abs(r/rs[2]-1))
				}
				slices.Sort(apart)
				b.ReportMetric(apart[2], "%-median-apart")
				b.ReportMetric(apart[4], "%-most-apart")
			}
		})
	}
}

// BenchmarkStop gives how long a load on all processors takes to be gone, its process
// included.
func BenchmarkStop(b *testing.B) {
	var took []float64
	for b.Loop() {
		p := start(b, load("integer+floating-point+vector+memory:all"))
		rate(p, 100*time.Millisecond)
		asked := time.Now()
		p.Stop()
		<-p.Done()
		took = append(took, float64(time.Since(asked))/float64(time.Millisecond))
	}
	b.ReportMetric(slices.Max(took), "ms-most")
}
