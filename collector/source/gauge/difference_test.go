package gauge

import (
	"math"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

// Power by energy: the counter is renewed every 100 ms and read every 50 ms; over a
// minute at 300 W no span is off by more than the read's delay, the mean by 0.5 %.
func TestPowerByEnergy(t *testing.T) {
	var d Difference
	sum, n := 0.0, 0
	for at := 50 * time.Millisecond; at < time.Minute; at += 50 * time.Millisecond {
		counter := 300 * (at + 13*time.Millisecond).Truncate(100*time.Millisecond).Seconds()
		if r := d.Step(counter, at, 5000); r.State == telemetry.Fresh {
			if math.Abs(r.Value-300) > 31 {
				t.Errorf("at %v: %v W", at, r.Value)
			}
			sum, n = sum+r.Value, n+1
		}
	}
	if math.Abs(sum/float64(n)-300) > 1.5 || n < 100 {
		t.Errorf("mean of %d: %v W", n, sum/float64(n))
	}
	if r := d.Step(1, 61*time.Second, 5000); r.State != telemetry.GapCounter {
		t.Errorf("a counter that starts again: %+v", r)
	}
}
