package main

import (
	"math"
	"sync"
	"time"

	"soakline/analysis"
	"soakline/collector/archive"
	"soakline/collector/sampler"
	"soakline/server/wire"
)

// keeping tells the page how the record on the disk stands; rec may be nil.
func keeping(rec *archive.Recorder) wire.Keeping {
	if rec == nil {
		return wire.Keeping{}
	}
	st := rec.Status()
	k := wire.Keeping{State: string(st.Activity)}
	if st.Err != nil {
		k.Why = st.Err.Error()
	}
	return k
}

// selfOf tells the page what the program itself costs.
func selfOf(s *sampler.Sampler, rec *archive.Recorder) func() wire.Self {
	var mu sync.Mutex
	var meter ownMeter
	return func() wire.Self {
		mu.Lock()
		defer mu.Unlock()
		self := meter.self(time.Now())
		rss := math.NaN()
		if self.RSSKnown {
			rss = float64(self.RSS) / (1 << 20)
		}
		return wire.Self{
			CPUPct:    analysis.Number(self.CPUShare),
			RSSMiB:    analysis.Number(rss),
			LateMsP99: analysis.Number(float64(s.Stats().LateP99) / float64(time.Millisecond)),
			Keeping:   keeping(rec),
		}
	}
}
