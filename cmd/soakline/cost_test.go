package main

import (
	"bytes"
	"context"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"soakline/analysis/stats"
	"soakline/collector/sampler"
)

// idleMachine is a computer that draws 8 W at rest, warms up slowly, and draws adds more
// while it is watched.
type idleMachine struct {
	noise          *rand.Rand
	adds           float64
	counter        bool
	now            time.Duration
	watched        bool
	energy         float64
	reads, longest int // of the counter; while not watched, in one phase
}

func (m *idleMachine) watts() float64 {
	w := 8 + 0.05*m.now.Minutes() + 0.02*m.noise.NormFloat64()
	if m.watched {
		w += m.adds
	}
	return w
}

func (m *idleMachine) joules() float64 {
	if !m.watched {
		m.reads++
	}
	return m.energy
}
func (m *idleMachine) celsius() float64 { return 35 + 1.5*(m.watts()-8) }
func (m *idleMachine) counts() bool     { return m.counter }

// measure runs turns over the machine on its own clock.
func (m *idleMachine) measure(t *testing.T, n int) watchCost {
	t.Helper()
	turn := turns{meter: m, now: func() time.Duration { return m.now }, say: func(_ int, on bool) { m.watched, m.reads = on, 0 },
		watch: func(context.Context, time.Duration) error { return nil },
		pause: func(_ context.Context, d time.Duration) error {
			for end := m.now + d; m.now < end; m.now += 100 * time.Millisecond {
				m.energy += m.watts() * 0.1
			}
			m.longest = max(m.longest, m.reads)
			return nil
		}}
	r, err := turn.run(context.Background(), n, 2*time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Four turns of two minutes a phase find what watching adds in spite of a steady drift of
// 0.2 W over them, by the energy counter and by a power alone. The interval of 90 %
// holds the truth nine times in ten, which 200 machines show (binomial: 165 at least).
func TestCostOfWatching(t *testing.T) {
	for _, counter := range []bool{true, false} {
		inside, worst := 0, 0.0
		for seed := range uint64(200) {
			m := &idleMachine{noise: rand.New(rand.NewPCG(seed, 7)), adds: 0.1, counter: counter}
			r := m.measure(t, 4)
			low, high := r.Watts.Interval(costLevel)
			if low <= 0.1 && 0.1 <= high {
				inside++
			}
			worst = math.Max(worst, math.Abs(r.Watts.Diff-0.1))
			if counter && m.longest > 5 {
				t.Fatalf("%d reads of the counter in two minutes without watching", m.longest)
			}
		}
		if inside < 165 || worst > 0.03 {
			t.Errorf("counter %v: %d of 200 intervals hold the truth, the worst value is off by %.3f W", counter, inside, worst)
		}
	}
}

// A die that reads whole degrees tells less; one that does not move tells nothing.
func TestCoarseTemperature(t *testing.T) {
	d := stats.Difference{Diff: 0.1, SE: 0.01, DF: 3}
	if wide, step := coarse(d, []float64{34, 35, 35, 34}, 4); step != 1 || math.Abs(wide.SE-math.Sqrt(0.0001+2.0/12/4)) > 1e-12 {
		t.Errorf("steps of 1 K: %+v, step %v", wide, step)
	}
	if _, step := coarse(d, []float64{34, 34, 34}, 3); step != 0 {
		t.Errorf("a die that never moved has the step %v", step)
	}
}

// blind shows nothing.
type blind struct{}

func (blind) joules() float64  { return math.NaN() }
func (blind) watts() float64   { return math.NaN() }
func (blind) celsius() float64 { return math.NaN() }
func (blind) counts() bool     { return false }

func TestCostUndetermined(t *testing.T) {
	turn := turns{meter: blind{}, now: func() time.Duration { return 0 }, say: func(int, bool) {},
		watch: func(context.Context, time.Duration) error { return nil }, pause: func(context.Context, time.Duration) error { return nil }}
	r, err := turn.run(context.Background(), 2, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	report := newCostReport(r, []sampler.Cost{{Source: "host", Group: "load", Channels: 1, Reads: 600, Median: 16 * time.Microsecond}}, 0.4, "")
	if err := report.print(&env{out: &out, errOut: io.Discard}); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"undetermined, because this machine shows no energy counter and no power", "temperature: undetermined", "16 us", "0.40 % of one core"} {
		if !strings.Contains(out.String(), part) {
			t.Errorf("the report lacks %q:\n%s", part, out.String())
		}
	}
	if strings.Contains(out.String(), "NaN") {
		t.Errorf("the report prints NaN:\n%s", out.String())
	}
}

func TestCostFlags(t *testing.T) {
	for _, args := range [][]string{{"channels", "--cost", "1s"}, {"channels", "--cost", "1m", "--turns", "1"}} {
		if status, _, errOut := soakline(t, args...); status != exitUsage || !strings.Contains(errOut, "--cost") {
			t.Errorf("%v: status %d, %s", args, status, errOut)
		}
	}
}
