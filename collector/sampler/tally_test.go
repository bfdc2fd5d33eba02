package sampler

import (
	"math/rand/v2"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/telemetry"
)

// TestTally checks the percentiles against a sorted list: never below, at most a quarter
// and a microsecond above.
func TestTally(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, top := range []float64{3, 50, 2000, 3e5, 5e7} { // us
		var s Sampler
		var all []time.Duration
		for range 5000 {
			d := time.Duration(top * rnd.Float64() * rnd.Float64() * 1000)
			s.tally.tick(d)
			all = append(all, d)
		}
		slices.Sort(all)
		st := s.Stats()
		for _, c := range []struct{ got, want time.Duration }{{st.LateP50, all[2499]}, {st.LateP99, all[4949]}} {
			if c.got < c.want || float64(c.got) > 1.25*float64(c.want)+1000 {
				t.Errorf("up to %v us: %v, want %v", top, c.got, c.want)
			}
		}
		if st.LateMax != all[4999] || st.Ticks != 5000 {
			t.Errorf("%+v", st)
		}
	}
}

// TestBuckets: each duration lies below its bucket's edge and not below the last one's.
func TestBuckets(t *testing.T) {
	for us := range time.Duration(100000) {
		d := us * time.Microsecond
		b := lateBucket(d)
		if d >= bucketEdge(b) || b > 0 && d < bucketEdge(b-1) {
			t.Fatalf("%v in bucket %d below %v", d, b, bucketEdge(b))
		}
	}
}

func TestMeasure(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		takes := func(d time.Duration) *fakeReader {
			return &fakeReader{read: func(at time.Duration, out []telemetry.Reading) { time.Sleep(d); stamp(at, out) }}
		}
		odd := 0
		first := &fakeReader{read: func(at time.Duration, out []telemetry.Reading) {
			if odd++; odd == 1 {
				time.Sleep(40 * time.Millisecond)
			}
			time.Sleep(2 * time.Millisecond)
		}}
		hangs := &fakeReader{read: func(time.Duration, []telemetry.Reading) { <-release }}
		slow := group1("slow", takes(11*time.Millisecond))
		slow.Slow = true
		s := New(Config{}, []telemetry.Source{sourceOf("fake", group1("quick", takes(2*time.Microsecond)), group1("first", first), slow, group1("hangs", hangs))})
		s.Open(t.Context())
		got := s.Measure(5, time.Second)
		want := []Cost{
			{Group: "quick", Reads: 5, Median: 2 * time.Microsecond, Max: 2 * time.Microsecond},
			{Group: "first", Reads: 5, Median: 2 * time.Millisecond, Max: 42 * time.Millisecond},
			{Group: "slow", Reads: 5, Median: 11 * time.Millisecond, Max: 11 * time.Millisecond, Slow: true},
			{Group: "hangs", Hangs: true, Slow: true},
		}
		for i, w := range want {
			g := got[i]
			if g.Group != w.Group || g.Reads != w.Reads || g.Median != w.Median || g.Max != w.Max || g.Slow != w.Slow || g.Hangs != w.Hangs {
				t.Errorf("%+v, want %+v", g, w)
			}
		}
		close(release)
		s.Close()
		synctest.Wait()
		if _, closed := hangs.count(); closed != 1 {
			t.Errorf("closed %d times", closed)
		}
	})
}

// TestSelf burns some processor time and asks for it.
func TestSelf(t *testing.T) {
	var m Meter
	now := time.Now()
	a := m.Self(now)
	if a.CPUShare == a.CPUShare {
		t.Errorf("a share of nothing: %v", a.CPUShare)
	}
	if _, known := processTime(); !known {
		t.Skip("this system does not tell the processor time")
	}
	b := a
	for x := 1.0; b.CPU-a.CPU < 20*time.Millisecond; b.CPU, _ = processTime() {
		for range 100000 {
			x = x*1.0000001 + 1e-9
		}
	}
	if c := m.Self(now.Add(time.Second)); c.CPUShare < 2 || c.CPUShare > 400 || c.RSSKnown && (c.RSS < 1<<20 || c.RSS > 1<<34) {
		t.Errorf("%+v", c)
	}
}
