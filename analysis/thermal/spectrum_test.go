package thermal

import (
	"math"
	"math/rand/v2"
	"testing"
)

// simulate runs a ladder under power with whole degrees (q 1, 0 for none) and noise.
func simulate(f Foster, power []float64, dt, ref, noise, q float64, seed uint64) Series {
	rng := rand.New(rand.NewPCG(seed, 9))
	resp, e := f.NewResponse(power[0]), 0.0
	s := Series{}
	for i, p := range power {
		end := 0.0
		for k, r := range resp.R {
			end += r * resp.x[k]
		}
		if i > 0 {
			end, _ = resp.Step(p, dt)
		}
		e = 0.9*e + math.Sqrt(1-0.81)*noise*rng.NormFloat64()
		v := ref + end + e
		if q > 0 {
			v = math.Round(v/q) * q
		}
		s.At, s.Power, s.Temp, s.Ref = append(s.At, float64(i)*dt), append(s.Power, p), append(s.Temp, v), append(s.Ref, ref)
	}
	return s
}

// burst is rest, burst, plateau with a dip, and cooling.
func burst(n int, dt, idle, high, long float64) []float64 {
	p := make([]float64, n)
	for i := range p {
		switch t := float64(i) * dt; {
		case t < 30, t > float64(n)*dt*0.75:
			p[i] = idle
		case t < 42:
			p[i] = high
		case t > 200 && t < 204:
			p[i] = idle
		default:
			p[i] = long
		}
	}
	return p
}

// A uniform cooling curve carries its own spectrum: total resistance within 2 %, the
// weight of fast terms within 10 %, from whole degrees.
func TestSpectrumOfMeasuredPower(t *testing.T) {
	cauer, _ := published(t)
	f, _ := cauer["base"].Foster()
	s := simulate(f, burst(16000, 0.1, 5, 64, 28), 0.1, 22, 0.3, 1, 1)
	got, offset, err := Spectrum(s, 0.1, 900, 24, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "total", got.Total(), f.Total(), 0.02)
	if math.Abs(offset) > 0.4 {
		t.Errorf("offset %g, want 0", offset)
	}
	wantNear, _ := f.Split(12)
	gotNear, _ := got.Split(12)
	near(t, "below 12 s", gotNear, wantNear, 0.1)
}

// Two terms two decades apart come back as two peaks of the right weight.
func TestDeconvolve(t *testing.T) {
	f := Foster{R: []float64{0.4, 0.6}, Tau: []float64{1, 100}}
	const step = 0.1
	var z []float64
	for i := range 140 {
		z = append(z, f.Z(0.01*math.Exp(step*float64(i))))
	}
	got, err := Deconvolve(z, 0.01, step, 500)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "total", got.Total(), 1, 0.01)
	for i, want := range z { // what was deconvolved must convolve back
		if v := got.Z(0.01 * math.Exp(step*float64(i))); math.Abs(v-want) > 0.008 {
			t.Fatalf("Z at grid point %d: %g, want %g", i, v, want)
		}
	}
	fast, slow := got.Split(10)
	near(t, "fast weight", fast, 0.4, 0.02)
	near(t, "slow weight", slow, 0.6, 0.02)
	peak := 0
	for i := range got.R {
		if got.Tau[i] < 10 && got.R[i] > got.R[peak] {
			peak = i
		}
	}
	near(t, "place of the fast peak", got.Tau[peak], 1, 0.12)
	if w := width(got.R[:70], step); w > 0.7 {
		t.Errorf("width %g after iteration", w)
	}
	// The raw derivative has a width of 2.446 in ln t (Szekely, Van Bien 1988); iterating
	// has narrowed it.
	for i := range z {
		z[i] = Foster{R: []float64{1}, Tau: []float64{1}}.Z(0.01 * math.Exp(step*float64(i)))
	}
	one, _ := Deconvolve(z, 0.01, step, 0)
	near(t, "width of the kernel", width(one.R, step), 2.4464, 0.07) // counted in steps of 0.1
}

func width(x []float64, step float64) float64 {
	top, n := 0.0, 0
	for _, v := range x {
		top = max(top, v)
	}
	for _, v := range x {
		if v > top/2 {
			n++
		}
	}
	return float64(n) * step
}

func TestSpectrumNeedsData(t *testing.T) {
	if _, _, err := Spectrum(Series{}, 0.1, 10, 5, 0); err == nil {
		t.Error("nothing must be refused")
	}
	if _, err := Deconvolve(nil, 1, 1, 1); err == nil {
		t.Error("nothing must be refused")
	}
}

// Reciprocity of two sources on one body: the rise at A from heat at B is that at B from A.
func TestReciprocity(t *testing.T) {
	n := NewNetwork([]float64{1, 2, 50})
	n.Join(0, 2, 0.5)
	n.Join(1, 2, 0.3)
	n.Join(2, -1, 0.8)
	m, err := n.Modes()
	if err != nil {
		t.Fatal(err)
	}
	ab, ba := m.Transfer(0, 1), m.Transfer(1, 0)
	near(t, "steady cross term", ab.Total(), 0.8, 1e-9)
	near(t, "own term", m.Transfer(0, 0).Total(), 1.3, 1e-9)
	for _, at := range []float64{0.1, 1, 10, 100} {
		if math.Abs(ab.Z(at)-ba.Z(at)) > 1e-12 {
			t.Errorf("not reciprocal at %g s", at)
		}
	}
	if ab.Z(0.05) > 0.01 {
		t.Error("the other source must answer late")
	}
}
