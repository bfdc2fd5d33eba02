package server

import (
	"encoding/binary"
	"io"
	"net"
	"slices"
	"sync"
	"testing"
	"time"

	"soakline/collector/session"
	"soakline/collector/telemetry"
	"soakline/server/wire"
)

const benchViewers = 200

// BenchmarkViewers publishes rows of 100 channels at 10 Hz to 200 viewers on loopback and
// reports the delay from Publish to the viewer's read, the encodings a row (which must
// be one), and how long Publish took at most. Half a tick later the same bytes go to 200
// bare TCP connections, each with a goroutine that writes: the floor in the same run.
// One iteration is one row for all; the viewers read in the same process.
func BenchmarkViewers(b *testing.B) {
	chs := make([]telemetry.Channel, 100)
	for i := range chs {
		chs[i] = telemetry.Channel{Key: string(rune('a' + i)), Name: "x"}
	}
	s := newBench(b, Config{Session: session.New(session.Info{ID: "b", Period: 100 * time.Millisecond}, chs, nil)})
	started := make([]time.Time, b.N+1) // of a row, written before it is published
	var hub, bare delays
	for range benchViewers {
		conn := s.dial("")
		hub.reader(func() (uint64, time.Duration, bool) {
			for {
				_, msg, err := conn.ReadMessage()
				if err != nil {
					return 0, 0, false
				}
				if h, _, _ := wire.ParseHeader(msg); h.Type == wire.TypeRow {
					return h.Seq, time.Since(started[h.Seq]), h.Seq < uint64(b.N)
				}
			}
		})
	}
	floor := newFloor(b, &bare)
	row := telemetry.Row{Values: make([]float64, 100), States: make([]telemetry.State, 100)}
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	var late time.Duration
	b.ResetTimer()
	for i := range b.N {
		<-tick.C
		row.Seq, row.At = uint64(i+1), float64(i)/10
		start := time.Now()
		started[i+1] = start
		s.session.Publish(row)
		late = max(late, time.Since(start))
		<-tick.C
		floor.send()
	}
	hub.wait()
	floor.close()
	bare.wait()
	b.StopTimer()
	if len(hub.all) != benchViewers*b.N {
		b.Fatalf("%d rows arrived, want %d", len(hub.all), benchViewers*b.N)
	}
	b.ReportMetric(hub.at(50), "ms-p50")
	b.ReportMetric(hub.at(99), "ms-p99")
	b.ReportMetric(bare.at(50), "ms-p50-bare")
	b.ReportMetric(bare.at(99), "ms-p99-bare")
	b.ReportMetric(late.Seconds()*1e3, "ms-publish-max")
	b.ReportMetric(float64(s.encoded.Load())/float64(b.N), "encodings/row")
}

// delays gathers the delays that many readers see.
type delays struct {
	readers sync.WaitGroup
	mu      sync.Mutex
	all     []time.Duration
}

func (d *delays) reader(next func() (uint64, time.Duration, bool)) {
	d.readers.Go(func() {
		var own []time.Duration
		for {
			n, delay, more := next()
			if n > 0 {
				own = append(own, delay)
			}
			if !more {
				break
			}
		}
		d.mu.Lock()
		defer d.mu.Unlock()
		d.all = append(d.all, own...)
	})
}

func (d *delays) wait() {
	d.readers.Wait()
	slices.Sort(d.all)
}

// at is a percentile in ms.
func (d *delays) at(percent int) float64 {
	return d.all[(len(d.all)-1)*percent/100].Seconds() * 1e3
}

// floor is as many bare connections; a message is its time in nanoseconds and zeroes to
// the length of a row.
type floor struct {
	wake []chan int64
}

func newFloor(b *testing.B, d *delays) *floor {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	defer ln.Close()
	f := &floor{}
	for range benchViewers {
		out, err := net.Dial("tcp", ln.Addr().String())
		if err != nil {
			b.Fatal(err)
		}
		in, err := ln.Accept()
		if err != nil {
			b.Fatal(err)
		}
		wake := make(chan int64, 16)
		f.wake = append(f.wake, wake)
		go func() {
			defer out.Close()
			msg := make([]byte, wire.RowSize(100))
			for at := range wake {
				binary.LittleEndian.PutUint64(msg, uint64(at))
				out.Write(msg)
			}
		}()
		buf := make([]byte, wire.RowSize(100))
		d.reader(func() (uint64, time.Duration, bool) {
			if _, err := io.ReadFull(in, buf); err != nil {
				return 0, 0, false
			}
			return 1, time.Since(time.Unix(0, int64(binary.LittleEndian.Uint64(buf)))), true
		})
	}
	return f
}

func (f *floor) send() {
	now := time.Now().UnixNano()
	for _, wake := range f.wake {
		wake <- now
	}
}

func (f *floor) close() {
	for _, wake := range f.wake {
		close(wake)
	}
}
