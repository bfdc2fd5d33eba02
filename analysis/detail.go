package analysis

import (
	"math"

	"soakline/analysis/path"
	"soakline/analysis/series"
	"soakline/analysis/thermal"
)

// Bounds of the detail.
const (
	impedancePoints = 49
	spectrumTerms   = 24
	spectrumRows    = 6000
)

// detail gives the fitted path as impedance, spectrum, ladder and structure function; nil
// where it was not asked for.
func (a *answer) detail() *Detail {
	if !a.o.options.Detail {
		return nil
	}
	d := &Detail{Impedance: []ImpedancePoint{}, Spectrum: []Stage{}, Foster: []Stage{}, Cauer: []Rung{}, Structure: []StructurePoint{}}
	f := &a.o.kept.fit
	if f.Rows == 0 || a.o.kept.why != "" {
		d.Why = joined(a.o.kept.why, "")
		if d.Why == "" {
			d.Why = "no load was seen"
		}
		return d
	}
	last := 5 * f.Tau[len(f.Tau)-1]
	for i := range impedancePoints {
		t := 0.1 * math.Pow(last/0.1, float64(i)/(impedancePoints-1))
		z := func(p *path.Path) float64 { return thermal.Foster{R: p.R[:], Tau: p.Tau[:]}.Z(t) }
		low, high := f.Interval(z)
		d.Impedance = append(d.Impedance, ImpedancePoint{Number(t), Number(z(&f.Path)), Number(low), Number(high)})
	}
	foster := thermal.Foster{R: f.R[:], Tau: f.Tau[:]}
	d.Foster = stagesOf(foster)
	if c, err := foster.Cauer(); err == nil {
		for k := range c.R {
			d.Cauer = append(d.Cauer, Rung{Number(c.R[k]), Number(c.C[k])})
		}
		s := c.Structure()
		for k := range s.R {
			d.Structure = append(d.Structure, StructurePoint{Number(s.R[k]), Number(s.C[k])})
		}
	} else {
		d.Why = err.Error()
	}
	if s, _, err := thermal.Spectrum(a.pathSeries(), 0.15, math.Max(last/2, 10), spectrumTerms, 1); err == nil {
		d.Spectrum = stagesOf(s)
	}
	return d
}

func stagesOf(f thermal.Foster) []Stage {
	out := make([]Stage, 0, len(f.R))
	for k := range f.R {
		out = append(out, Stage{Number(f.R[k]), Number(f.Tau[k])})
	}
	return out
}

// pathSeries is power and temperatures for the spectrum: singles, or means over blocks
// where the trace is long.
func (a *answer) pathSeries() thermal.Series {
	var out thermal.Series
	every := (len(a.s) + spectrumRows - 1) / spectrumRows
	last := 0.0
	for i := 0; i < len(a.s); i += max(every, 1) {
		q := series.Merge(a.s[i:min(i+every, len(a.s))])
		if series.Known(q.Power) {
			last = q.Power
		}
		out.At, out.Power = append(out.At, q.At), append(out.Power, last)
		out.Temp, out.Ref = append(out.Temp, q.Die), append(out.Ref, q.Ambient)
	}
	return out
}
