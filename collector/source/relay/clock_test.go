package relay

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/collector/telemetry"
)

// tick is what a sampler would make of one tick.
type tick struct {
	at    time.Duration
	value float64
	state telemetry.State
}

// bench is a link in a bubble of synthetic time: the test hands it rows, and takes ticks
// as a sampler does.
type bench struct {
	*Source
	layout *layout
	reader telemetry.Reader
	ticks  []tick
	due    time.Duration
}

func newBench(t *testing.T) *bench {
	b := &bench{Source: newSource(Config{}, address{}), layout: offer("one", 0, "a")}
	b.start(b.layout)
	b.reader = b.Open(t.Context()).Groups[0].Reader
	return b
}

// row hands over the row of the other session's time at.
func (b *bench) row(at float64) {
	b.items <- item{layout: b.layout, isRow: true, row: telemetry.Row{At: at, Lateness: time.Millisecond,
		Values: []float64{at}, States: []telemetry.State{telemetry.Fresh}}}
}

// take makes ticks until none is ready for span.
func (b *bench) take(t *testing.T, span time.Duration) {
	ctx, stop := context.WithTimeout(t.Context(), span)
	defer stop()
	for {
		if b.clock.Sleep(ctx, b.due) != nil {
			return
		}
		now, _ := b.clock.Now()
		var out [1]telemetry.Reading
		b.reader.Read(now, out[:])
		b.ticks = append(b.ticks, tick{now, out[0].Value, out[0].State})
		b.due += max((now-b.due)/b.period+1, 1) * b.period
	}
}

func (b *bench) wantMarks(t *testing.T, at float64, texts ...string) {
	t.Helper()
	marks := b.Marks()
	ok := len(marks) == len(texts)
	for i := 0; ok && i < len(texts); i++ {
		ok = strings.Contains(marks[i].Text, texts[i])
	}
	if !ok || len(marks) > 0 && math.Abs(marks[0].At-at) > 0.0015 {
		t.Errorf("marks %+v, want %q at %v", marks, texts, at)
	}
}

// TestOneTickARow: rows come unevenly and in bunches; each makes one tick, at its own
// time, as late as it was.
func TestOneTickARow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		go func() {
			for i := range 100 {
				time.Sleep([]time.Duration{0, 30, 250, 100, 120}[i%5] * time.Millisecond)
				b.row(50 + float64(i)/10)
			}
		}()
		b.take(t, 11*time.Second) // the last comes after 10 s; a second is no silence
		if len(b.ticks) != 100 {
			t.Fatalf("%d ticks", len(b.ticks))
		}
		for i, k := range b.ticks {
			want := time.Millisecond + time.Duration(i)*100*time.Millisecond
			if d := k.at - want; d.Abs() > time.Microsecond || k.value != 50+float64(i)/10 || k.state != telemetry.Fresh {
				t.Fatalf("tick %d: %+v, want at %v", i, k, want)
			}
		}
		b.wantMarks(t, 0)
	})
}

// TestSilence: after three seconds without a row contact is lost, the time goes on from
// the last row with gaps, and the same session goes on in its own time when it is back;
// what came too late is counted.
func TestSilence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		for i := range 10 {
			b.row(float64(i) / 10)
		}
		b.take(t, 2900*time.Millisecond)
		if n := len(b.ticks); n != 10 {
			t.Fatalf("%d ticks of ten rows", n)
		}
		b.wantMarks(t, 0)
		b.take(t, 7100*time.Millisecond) // to 10 s
		b.wantMarks(t, 0.901, "contact lost: dome went silent")
		for i, k := range b.ticks[10:] {
			if want := time.Duration(10+i) * 100 * time.Millisecond; k.at != want || k.state != telemetry.GapSilent || !math.IsNaN(k.value) {
				t.Fatalf("tick %d: %+v, want a gap at %v", 10+i, k, want)
			}
		}
		if last := b.ticks[len(b.ticks)-1].at; last < 10700*time.Millisecond || last > 10900*time.Millisecond { // 0.9 s of rows and 10 s
			t.Errorf("the time went on to %v", last)
		}
		n := len(b.ticks)
		for i := 10; i < 120; i++ { // the other one held its rows
			b.row(float64(i) / 10)
		}
		b.take(t, time.Second)
		back := b.ticks[n:]
		if len(back) < 10 || back[0].value < 10.8 || back[0].value > 11 || math.Abs(back[0].at.Seconds()-back[0].value-0.001) > 1e-6 || back[0].state != telemetry.Fresh {
			t.Fatalf("back with %+v", back)
		}
		b.wantMarks(t, back[0].at.Seconds(), fmt.Sprintf("contact with dome again, after 10 s; %d rows", int(math.Round(back[0].value*10))-10))
		for i := 1; i < len(b.ticks); i++ {
			if b.ticks[i].at <= b.ticks[i-1].at {
				t.Fatalf("time ran backwards at tick %d: %+v", i, b.ticks[i-1:i+1])
			}
		}
	})
}

// TestShortLossLeavesNoHole: what was missed for less than the patience comes all.
func TestShortLossLeavesNoHole(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.row(0)
		b.take(t, 2800*time.Millisecond)
		for i := 1; i < 28; i++ {
			b.row(float64(i) / 10)
		}
		b.take(t, 100*time.Millisecond)
		if len(b.ticks) != 28 || b.ticks[27].value != 2.7 {
			t.Fatalf("%d ticks, the last %+v", len(b.ticks), b.ticks[len(b.ticks)-1])
		}
		b.wantMarks(t, 0)
	})
}

// TestAnotherSession: a soakline that was started anew counts from 0; here the time goes
// on. Its channels are found by their keys, and one that it has not is gone.
func TestAnotherSession(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.row(1000)
		b.take(t, 5*time.Second)
		b.Marks()
		n := len(b.ticks)
		b.layout = offer("two", 0, "b", "a")
		for i := range 3 {
			b.items <- item{layout: b.layout, isRow: true, row: telemetry.Row{At: float64(i) / 10, Values: []float64{-1, 7}, States: []telemetry.State{telemetry.Fresh, telemetry.Fresh}}}
		}
		b.take(t, time.Second)
		back := b.ticks[n:]
		if len(back) != 3 || back[0].value != 7 || back[0].at < 5*time.Second || back[2].at-back[0].at != 200*time.Millisecond {
			t.Fatalf("%+v", back)
		}
		b.wantMarks(t, 5, "dome began another session, two", "contact with dome again, after 5 s")
		n = len(b.ticks)
		b.layout = offer("three", 0, "b")
		b.row(0)
		b.take(t, time.Second)
		if k := b.ticks[n]; k.state != telemetry.GapGone || !math.IsNaN(k.value) {
			t.Errorf("%+v", k)
		}
	})
}

// TestQuickRestart: where another session begins before contact counts as lost, the time
// that it took is there.
func TestQuickRestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.row(1000)
		b.take(t, 2*time.Second)
		b.layout = offer("two", 0, "a")
		b.row(0)
		b.take(t, time.Second)
		if len(b.ticks) != 2 || b.ticks[1].at != 2*time.Second+time.Millisecond {
			t.Errorf("%+v", b.ticks)
		}
		b.wantMarks(t, 2.001, "another session")
	})
}

// TestMarksComeThrough: at their time, made by whom they were made.
func TestMarksComeThrough(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.row(50)
		b.items <- item{layout: b.layout, mark: &mark{AtS: 50.25, Kind: "user", Text: "panel on"}}
		b.items <- item{layout: b.layout, mark: &mark{AtS: 50.35, Kind: "boss", Text: "odd"}}
		b.items <- item{layout: b.layout, text: "the session on dome ended: stopped"}
		b.take(t, time.Second)
		marks := b.Marks()
		if len(marks) != 3 || math.Abs(marks[0].At-0.251) > 1e-6 || marks[0].Kind != telemetry.MarkUser || marks[1].Kind != telemetry.MarkMachine {
			t.Errorf("%+v", marks)
		}
	})
}
