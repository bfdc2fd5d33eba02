package cpufreq

import (
	"math"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/source/procstat"
	"soakline/collector/telemetry"
)

// clockReader reads one clock a policy, then the highest and the busy-weighted mean.
type clockReader struct {
	gauge.Reader
	cpus [][]int // the processors of each policy

	stat       *rawfs.File
	buf        []byte
	busy, last []procstat.Ticks // by processor
	all        procstat.Ticks
	share      []float64
}

// openBusy prepares the reading of /proc/stat; without it the mean is not weighted.
func (r *clockReader) openBusy(tree *rawfs.Tree) {
	most := 0
	for _, cpus := range r.cpus {
		for _, n := range cpus {
			most = max(most, n)
		}
	}
	r.busy, r.last, r.share = make([]procstat.Ticks, most+1), make([]procstat.Ticks, most+1), make([]float64, most+1)
	r.buf = make([]byte, 256*(most+2))
	r.stat, _ = tree.Open("proc/stat")
}

// Read implements telemetry.Reader.
func (r *clockReader) Read(at time.Duration, out []telemetry.Reading) {
	n := len(r.Attrs)
	r.Reader.Read(at, out[:n])
	r.updateShares()
	highest, sum, weights, plain, count := math.Inf(-1), 0.0, 0.0, 0.0, 0
	for i := range n {
		if !out[i].State.Usable() {
			continue
		}
		f := out[i].Value
		highest = max(highest, f)
		plain, count = plain+f, count+1
		for _, cpu := range r.cpus[i] {
			sum += f * r.share[cpu]
			weights += r.share[cpu]
		}
	}
	if count == 0 {
		out[n], out[n+1] = gauge.Gap(worst(out[:n])), gauge.Gap(worst(out[:n]))
		return
	}
	mean := plain / float64(count)
	if weights > idleShare {
		mean = sum / weights
	}
	out[n] = telemetry.Reading{Value: highest, State: telemetry.Fresh}
	out[n+1] = telemetry.Reading{Value: mean, State: telemetry.Fresh}
}

// idleShare is the busy time, in processors, below which no weight is worth anything.
const idleShare = 0.02

// worst is the state of a derived value when no clock could be read.
func worst(out []telemetry.Reading) telemetry.State {
	if len(out) == 0 {
		return telemetry.NoData
	}
	return out[0].State
}

// updateShares works out how busy each processor was since the last read. Where no tick
// has passed, the shares stay.
func (r *clockReader) updateShares() {
	if r.stat == nil {
		return
	}
	n, state := r.stat.ReadInto(r.buf)
	if state != telemetry.Fresh {
		return
	}
	procstat.Parse(r.buf[:n], &r.all, r.busy)
	for i := range r.busy {
		if share, ok := r.busy[i].Busy(r.last[i]); ok {
			r.share[i] = share
		}
		r.last[i] = r.busy[i]
	}
}

// Close implements telemetry.Reader.
func (r *clockReader) Close() error {
	err := r.Reader.Close()
	if e := r.stat.Close(); err == nil {
		err = e
	}
	return err
}
