package compare

import (
	"fmt"
	"math"

	"soakline/analysis/thermal"
)

// A run is looked at for a change within itself where it is long enough to be halved and
// the fits of both halves agree with themselves better than with each other.
const (
	halvedFrom = 900.0 // s of trace
	withinMore = 1.15  // ratio of the near parts, so much is no matter of the fit
	withinSure = 2.0   // standard errors
)

// withinWarnings says where the near part of a run's path changed while it ran: paste that
// is pumped out or dries makes such a course. Both halves are fitted by themselves, so each
// must hold edges of power; where one does not, its error is large and nothing is said.
// Without a measured reference nothing is said either: of 60 random machines that did not
// change, four were told to, none of them with a reference.
func withinWarnings(side string, runs []Run) []string {
	var out []string
	for i, r := range runs {
		s, err := seriesOf(r.Trace)
		if err != nil || len(s.Ref) == 0 || s.At[len(s.At)-1]-s.At[0] < halvedFrom {
			continue
		}
		first, second, ok := halves(s)
		if !ok {
			continue
		}
		d := math.Log(second.Near() / first.Near())
		if u := widenNear * math.Hypot(first.NearSE, second.NearSE); math.Abs(d) > math.Log(withinMore) && math.Abs(d) > withinSure*u {
			out = append(out, fmt.Sprintf("the near part of run %d of %s changed while it ran, from %.3g to %.3g K/W: paste that moves or dries does so; compare the first minutes, or let it settle over several loads",
				i+1, side, first.Near(), second.Near()))
		}
	}
	return out
}

// halves fits the first and the second half of a run.
func halves(s thermal.Series) (first, second thermal.Path, ok bool) {
	k := 0
	for mid := (s.At[0] + s.At[len(s.At)-1]) / 2; s.At[k] < mid; k++ {
	}
	part := func(from, to int) thermal.Series {
		q := thermal.Series{At: s.At[from:to], Power: s.Power[from:to], Temp: s.Temp[from:to]}
		if len(s.Ref) > 0 {
			q.Ref = s.Ref[from:to]
		}
		return q
	}
	first, err1 := thermal.FitPath(part(0, k))
	second, err2 := thermal.FitPath(part(k, len(s.At)))
	return first, second, err1 == nil && err2 == nil && first.Near() > 0 && second.Near() > 0
}
