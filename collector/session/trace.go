package session

import (
	"slices"
	"time"

	"soakline/collector/ring"
	"soakline/collector/telemetry"
)

// Trace copies the rows that the ring still holds into a trace, with marks and setup.
// Its time 0 is the oldest of those rows: Start and the marks' times are moved along.
func (s *Session) Trace() *telemetry.Trace {
	chs, _ := s.Channels()
	tr := &telemetry.Trace{Channels: chs, Setup: s.Setup(), Marks: s.Marks(), Scores: s.Scores(), Simulated: s.info.Simulated,
		Start: s.info.Start, Values: make([][]float64, len(chs)), States: make([][]telemetry.State, len(chs))}
	first, last := s.ring.First(), s.ring.Last()
	if last == 0 {
		return tr
	}
	grow(tr, int(last-first+1))
	var b ring.Block
	for after := first - 1; after < last; {
		n, _ := s.ring.Rows(after, 600, &b)
		if n == 0 {
			break
		}
		appendRows(tr, &b)
		after = b.First + uint64(n) - 1
	}
	return fromZero(tr)
}

func grow(tr *telemetry.Trace, n int) {
	tr.Time = slices.Grow(tr.Time, n)
	for c := range tr.Channels {
		tr.Values[c] = slices.Grow(tr.Values[c], n)
		tr.States[c] = slices.Grow(tr.States[c], n)
	}
}

// appendRows adds the rows of b; channels that came after tr's list are left out.
func appendRows(tr *telemetry.Trace, b *ring.Block) {
	tr.Time = append(tr.Time, b.At...)
	for c := range tr.Channels {
		for i := range b.N {
			if c < b.Channels {
				tr.Values[c] = append(tr.Values[c], b.Values[i*b.Channels+c])
				tr.States[c] = append(tr.States[c], b.States[i*b.Channels+c])
			} else {
				tr.Values[c] = append(tr.Values[c], nan)
				tr.States[c] = append(tr.States[c], telemetry.NoData)
			}
		}
	}
}

// fromZero moves the trace in time so that it begins at 0; marks from before are left out.
func fromZero(tr *telemetry.Trace) *telemetry.Trace {
	zero := tr.Time[0]
	if zero == 0 {
		return tr
	}
	tr.Start = tr.Start.Add(time.Duration(zero * float64(time.Second)))
	for i := range tr.Time {
		tr.Time[i] -= zero
	}
	kept := tr.Marks[:0]
	for _, m := range tr.Marks {
		if m.At -= zero; m.At >= 0 {
			kept = append(kept, m)
		}
	}
	tr.Marks = kept
	scores := tr.Scores[:0]
	for _, sc := range tr.Scores {
		if sc.At -= zero; sc.At >= 0 {
			scores = append(scores, sc)
		}
	}
	tr.Scores = scores
	return tr
}
