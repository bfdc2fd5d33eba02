package analysis_test

import (
	"fmt"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/analysis/say"
	"soakline/collector/source/rig"
	"soakline/collector/telemetry"
)

func TestRigPrint(t *testing.T) {
	for _, name := range []string{"fan-cooler", "plate-first", "plate-again"} {
		src, err := rig.New(rig.Default())
		if err != nil {
			t.Fatal(err)
		}
		src.Select(name)
		tr, truth := src.Trace(100*time.Millisecond, 440*time.Second)
		tr.Channels, _ = telemetry.Resolve(tr.Channels, nil)
		w := src.Truth()
		fmt.Printf("== %s idle %.1f burst %.2f steady %.2f rth %.3f near %.3f far %.3f  R %v C %v\n", name, w.IdleW, w.BurstS, w.SteadyC, w.RthKPerW, w.NearKPerW, w.FarKPerW, w.R, w.C)
		for _, u := range []float64{17, 30, 60, 100, 150, 200, 312, 440} {
			start := time.Now()
			r := analysis.Analyze(tr, analysis.Options{LimitC: 90, UntilS: u})
			d := time.Since(start)
			right, n := 0.0, 0.0
			k := 0
			for i, at := range tr.Time {
				if at > u {
					break
				}
				for k < len(r.Limiter)-1 && float64(r.Limiter[k].EndS) < at-1e-9 {
					k++
				}
				n++
				if string(r.Limiter[k].Kind) == string(truth[i].HeldBy) {
					right++
				}
			}
			fmt.Println("   ", say.Of(r).Text)
			p, s, h, q := r.PowerStep, r.Steady, r.Headroom, r.ThermalPath
			fmt.Printf("u %3.0f lim %.3f step %v %.2f tau %.2f [%.2f %.2f] PL %.2f/%.2f st %v since %.0f T %.1f fc %.2f [%.2f %.2f] eta %.0f [%.0f %.0f] K/W %.3f [%.3f %.3f] near %.3f [%.3f %.3f] head %.1f [%.1f %.1f] true %.1f %v %s|%s|%s\n", u, right/n, p.Found, p.TimeS, p.TimeConstantS, p.TimeConstantLowS, p.TimeConstantHighS, p.ShortW, p.LongW,
				s.Reached, s.SinceS, s.TemperatureC, s.ForecastC, s.ForecastLowC, s.ForecastHighC, s.EtaS, s.EtaLowS, s.EtaHighS, q.RthKPerW, q.RthLowKPerW, q.RthHighKPerW, q.NearKPerW, q.NearLowKPerW, q.NearHighKPerW, h.PowerW, h.PowerLowW, h.PowerHighW, src.PowerAt(90), d.Round(time.Microsecond*100), p.Why, s.Why, q.Why)
			if u == 440 {
				fmt.Println(q.Stages, r.Warnings)
				for _, l := range r.Limiter {
					fmt.Printf("%.1f-%.1f %s %.2f; ", l.StartS, l.EndS, l.Kind, l.Confidence)
				}
				was := truth[0].HeldBy
				fmt.Println()
				for i := range truth {
					if truth[i].HeldBy != was {
						fmt.Printf("%.1f %s; ", tr.Time[i], truth[i].HeldBy)
						was = truth[i].HeldBy
					}
				}
				fmt.Println()
			}
		}
	}
}
