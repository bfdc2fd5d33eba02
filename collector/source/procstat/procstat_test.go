package procstat

import (
	"math"
	"slices"
	"testing"
)

func TestParse(t *testing.T) {
	all, by := Ticks{}, make([]Ticks, 3)
	Parse([]byte("cpu  10 0 0 90 0 0 0 0 0 0\ncpu0 1 2 3 4 5 6 7 8 100 100\ncpu2 10 0 0 90\ncpu7 1 1 1 1\ncpu1 x 1 1 1\nintr 5\ncpu1 1 2"), &all, by)
	if want := []Ticks{{36, 9}, {}, {100, 90}}; !slices.Equal(by, want) || all != (Ticks{100, 90}) {
		t.Errorf("got %+v and %+v, want %+v: guest time is in user time, a cut or bad line counts for nothing", all, by, want)
	}
}

func TestBusy(t *testing.T) {
	for _, c := range []struct {
		now, before Ticks
		share       float64
		ok          bool
	}{
		{Ticks{200, 110}, Ticks{100, 100}, 0.9, true},
		{Ticks{200, 95}, Ticks{100, 100}, 1, true}, // the idle part ran backwards
		{Ticks{100, 100}, Ticks{100, 100}, 0, false},
		{Ticks{50, 10}, Ticks{100, 100}, 0, false}, // a processor that came back
	} {
		if share, ok := c.now.Busy(c.before); ok != c.ok || math.Abs(share-c.share) > 1e-12 {
			t.Errorf("%+v since %+v: %v, %v; want %v, %v", c.now, c.before, share, ok, c.share, c.ok)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("cpu  1 2 3 4 5 6 7 8 9 10\ncpu0 1 2 3 4 5 6 7 8 9 10\n"))
	f.Add([]byte("cpu99999999999999999999 1\ncpu"))
	f.Fuzz(func(t *testing.T, b []byte) {
		all, by := Ticks{}, make([]Ticks, 4)
		Parse(b, &all, by)
		for _, k := range append(by, all) {
			if k.Idle < 0 || k.Total < k.Idle {
				t.Errorf("%q gives %+v", b, k)
			}
			if share, ok := k.Busy(Ticks{}); ok && (share < 0 || share > 1) {
				t.Errorf("%q gives the share %v", b, share)
			}
		}
	})
}
