package sampler

import (
	"context"
	"testing"
	"testing/synctest"
	"time"
)

// TestRealClock: sleeps end at absolute times, whatever was done between them.
func TestRealClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := Real()
		for n := range 100 {
			until := time.Duration(n) * 100 * time.Millisecond
			if err := c.Sleep(t.Context(), until); err != nil {
				t.Fatal(err)
			}
			if now, _ := c.Now(); now != until {
				t.Fatalf("woke at %v, asked for %v", now, until)
			}
			time.Sleep(time.Duration(n) * time.Millisecond / 2)
		}
		ctx, cancel := context.WithCancel(t.Context())
		go func() { time.Sleep(time.Second); cancel() }()
		if err := c.Sleep(ctx, time.Hour); err != context.Canceled {
			t.Error(err)
		}
	})
}

// TestSimulatedClock: an hour takes 36 s at a hundredfold, no time at all at 0, and time
// stands still between sleeps. One that takes too long slows it down.
func TestSimulatedClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, c := range []struct {
			speed float64
			work  time.Duration // a tick of 100 ms
			want  time.Duration // for 36000 ticks
		}{{1, 0, time.Hour}, {100, 0, 36 * time.Second}, {100, 500 * time.Microsecond, 36 * time.Second},
			{100, 2 * time.Millisecond, 72 * time.Second}, {0, 0, 0}} {
			clock, began := Simulated(c.speed), time.Now()
			for n := range time.Duration(36000) {
				time.Sleep(c.work)
				clock.Sleep(t.Context(), (n+1)*100*time.Millisecond)
				if now, _ := clock.Now(); now != (n+1)*100*time.Millisecond {
					t.Fatalf("now is %v", now)
				}
			}
			if took := time.Since(began); (took - c.want).Abs() > 2*time.Millisecond {
				t.Errorf("at %v times, %v of work a tick: took %v, want %v", c.speed, c.work, took, c.want)
			}
		}
	})
}

func TestMachineHasSlept(t *testing.T) {
	if s := sleptSinceBoot(); s < 0 || s > 100*365*24*time.Hour {
		t.Errorf("%v", s)
	}
}
