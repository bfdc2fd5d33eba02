package changepoint

import (
	"math"
	"math/rand/v2"
	"testing"

	cv "soakline/testdata/checkvalues"
)

// Average run lengths published by Lucas, Crosier 1982, and an independent solution of
// Page's integral equation.
func TestRunLengthPublished(t *testing.T) {
	for _, r := range cv.Read(t, "cusum_arl.csv") {
		h, shift := r.Num("h"), r.Num("shift")
		two, one := TwoSidedRunLength(0.5, h, shift), RunLength(0.5, h, shift)
		if math.Abs(one/r.Num("computed_one_sided")-1) > 1e-4 || math.Abs(two/r.Num("computed_two_sided")-1) > 1e-4 {
			t.Errorf("h %g shift %g: %g one side, %g both; want %s and %s", h, shift, one, two, r["computed_one_sided"], r["computed_two_sided"])
		}
		if math.Abs(two/r.Num("published_two_sided")-1) > 0.007 {
			t.Errorf("h %g shift %g: %g, published %s", h, shift, two, r["published_two_sided"])
		}
	}
	if h := Bound(0.5, 465); math.Abs(h-5) > 0.01 {
		t.Errorf("bound for 465 values: %g, want 5", h)
	}
	if h := Bound(0.5, 864_000); math.Abs(h-12.5) > 0.2 { // a false alarm a day at 10 Hz
		t.Errorf("bound for a day: %g, want about 12.5", h)
	}
}

// The detector itself, run on whitened AR(1) noise, keeps the promised run lengths.
func TestCUSUMKeepsItsPromise(t *testing.T) {
	for _, r := range cv.Read(t, "cusum_arl.csv") {
		if r.Num("h") != 4 || (r.Num("shift") != 0 && r.Num("shift") != 1 && r.Num("shift") != 3) {
			continue
		}
		rng := rand.New(rand.NewPCG(4, uint64(r.Num("shift"))))
		const rho, runs = 0.8, 3000
		total := 0
		for range runs {
			w, c := Whitener{Mean: 40, SD: 2, R: rho}, CUSUM{K: 0.5, H: 4}
			y := rng.NormFloat64()
			w.Push(40 + 2*y) // starts whitened
			for alarm := 0; alarm == 0; {
				total++
				y = rho*y + math.Sqrt(1-rho*rho)*rng.NormFloat64()
				z := w.Push(40 + 2*y)
				alarm, _ = c.Push(z + r.Num("shift"))
				if total > 1e8 {
					t.Fatal("never alarms")
				}
			}
		}
		got := float64(total) / runs
		if want := r.Num("computed_two_sided"); math.Abs(got/want-1) > 0.06 {
			t.Errorf("shift %s: %g values to the alarm, want %g", r["shift"], got, want)
		}
	}
}

func TestCUSUMSaysWhen(t *testing.T) {
	c := CUSUM{K: 0.5, H: 5}
	for i := range 100 {
		z := 0.0
		if i >= 60 {
			z = -2
		}
		if alarm, ago := c.Push(z); alarm != 0 {
			if alarm != -1 || i-ago != 59 {
				t.Errorf("alarm %d at %d, %d ago; the step was after 59", alarm, i, ago)
			}
			return
		}
	}
	t.Error("no alarm")
}

func BenchmarkCUSUM(b *testing.B) {
	c, w, rng := CUSUM{K: 0.5, H: 12.5}, Whitener{SD: 1, R: 0.5}, rand.New(rand.NewPCG(1, 1))
	z := rng.NormFloat64()
	for b.Loop() {
		c.Push(w.Push(z))
	}
}
