package cores

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"soakline/analysis/series"
)

// die computes blocks of six cores of a die: all share a rise of 0.9 K/W, core 4 has extra
// K/W of its own, each sensor an offset, readings in whole degrees averaged over a block.
func die(r *rand.Rand, extra, grows float64, watts float64, n int) []series.TrackBlock {
	offset := []float64{0.4, -0.8, 0.2, 0.9, -0.3, 0.1}
	var out []series.TrackBlock
	for i := range n {
		b := series.TrackBlock{From: float64(2 * i), To: float64(2*i + 2)}
		for k := range 6 {
			sum := 0.0
			for range 20 {
				t := 22 + 0.9*watts + offset[k] + 0.5*r.NormFloat64()
				if k == 4 {
					t += (extra + grows*float64(i)/float64(n)) * watts
				}
				sum += math.Round(t) / 20
			}
			b.Mean = append(b.Mean, float32(sum))
		}
		out = append(out, b)
	}
	return out
}

var six = []int{0, 1, 2, 3, 4, 5}

// TestSpread holds spread, K/W and verdict against the resistances that made the readings;
// the sensors' offsets drop out of K/W.
func TestSpread(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		extra, grows float64
		verdict      Verdict
	}{{0.02, 0, Even}, {0.25, 0, Slight}, {0.5, 0, StandsOut}, {0.4, 0.2, StandsOut}} {
		s := Judge(Load{At: die(r, c.extra, c.grows, 28, 150), Rest: die(r, c.extra, c.grows, 5, 20), Columns: six, Step: 1, Power: 28, RestW: 5}, Defaults())
		want := c.extra + c.grows/2
		if s.Verdict != c.verdict {
			t.Errorf("%g K/W extra: %s, want %s (%.1f K)", c.extra, s.Verdict, c.verdict, s.K.Value)
		}
		if c.extra > 0.1 && s.Core != 4 {
			t.Errorf("core %d is called the hottest", s.Core)
		}
		if c.extra > 0.1 && !(s.KPerW.Low <= want && want <= s.KPerW.High && math.Abs(s.KPerW.Value-want) < 0.03) {
			t.Errorf("%.3f K/W (%.3f to %.3f), want %.3f", s.KPerW.Value, s.KPerW.Low, s.KPerW.High, want)
		}
		if trend := 28 * c.grows * 2 / 3; math.Abs(s.Trend.Value-trend) > 0.5 || s.Trend.Low > trend || s.Trend.High < trend {
			t.Errorf("trend %.2f K (%.2f to %.2f), want %.2f", s.Trend.Value, s.Trend.Low, s.Trend.High, trend)
		}
	}
}

// TestResolution: an interval is never narrower than whole degrees allow.
func TestResolution(t *testing.T) {
	flat := make([]series.TrackBlock, 100)
	for i := range flat {
		flat[i] = series.TrackBlock{From: float64(2 * i), To: float64(2*i + 2), Mean: []float32{60, 50, 50, 50}}
	}
	s := Judge(Load{At: flat, Columns: []int{0, 1, 2, 3}, Step: 1, Power: 30, RestW: math.NaN()}, Defaults())
	if u := s.K.U(); u < 1/math.Sqrt(12) || s.K.Value != 10 || math.Abs(s.KPerW.Value-1.0/3) > 1e-9 {
		t.Errorf("%.1f K +- %.2f, %.3f K/W", s.K.Value, u, s.KPerW.Value)
	}
}

// TestNothing: what is missing is named, and NaN cores are passed over.
func TestNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	at := die(r, 0.5, 0, 28, 60)
	for name, c := range map[string]struct {
		l   Load
		why string
	}{
		"two cores": {Load{At: at, Columns: []int{0, 1}}, "fewer than three"},
		"short":     {Load{At: at[:3], Columns: six}, "too short"},
		"no load":   {Load{Columns: six}, "too short"},
	} {
		if s := Judge(c.l, Defaults()); s.Verdict != Undetermined || !strings.Contains(s.Why, c.why) || s.Core != -1 {
			t.Errorf("%s: %s, %q", name, s.Verdict, s.Why)
		}
	}
	for i := range at {
		at[i].Mean[2] = float32(math.NaN())
	}
	if s := Judge(Load{At: at, Columns: six, Step: 1, Power: 28, RestW: math.NaN()}, Defaults()); s.Core != 4 || s.Verdict != StandsOut {
		t.Errorf("core %d, %s: %s", s.Core, s.Verdict, s.Why)
	}
}

// TestAgainst: a change is named only where its interval leaves out none.
func TestAgainst(t *testing.T) {
	for _, c := range []struct {
		now, earlier Value
		want         Change
	}{
		{about(0.5, 0.02), about(0.3, 0.02), Grown}, {about(0.3, 0.02), about(0.5, 0.02), Shrunk},
		{about(0.41, 0.01), about(0.4, 0.01), Unchanged}, {about(0.5, 0.2), about(0.3, 0.2), Unknown}, {unknown(), about(0.3, 0.2), Unknown},
	} {
		if _, got := Against(c.now, c.earlier, Defaults()); got != c.want {
			t.Errorf("%.2f against %.2f: %s, want %s", c.now.Value, c.earlier.Value, got, c.want)
		}
	}
}
