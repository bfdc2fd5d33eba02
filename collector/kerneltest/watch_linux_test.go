package kerneltest

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"
	"time"

	"soakline/collector/sampler"
	"soakline/collector/telemetry"
)

// watch is the guest's recording: it keeps of every channel what a test wants to know.
type watch struct {
	mu       sync.Mutex
	channels []telemetry.Channel
	seen     []history
	rows     int
	at       float64
	late     time.Duration
	missing  []telemetry.Missing
	settings map[string]string
	marks    []string
}

// history is one channel since the last report.
type history struct {
	last, low, high, integral float64 // integral of value over time
	before                    float64 // the last value of the report before
	state                     telemetry.State
	changes, fresh, held      int
	gaps                      map[telemetry.State]int
}

func newHistory(before history) history {
	return history{last: before.last, before: before.last, low: math.Inf(1), high: math.Inf(-1), gaps: map[telemetry.State]int{}}
}

// begin starts a sampler and waits for nothing.
func begin(ctx context.Context, sources []telemetry.Source, cfg sampler.Config) (*watch, <-chan error, error) {
	w := &watch{settings: map[string]string{}}
	s := sampler.New(cfg, sources)
	opened, err := s.Open(ctx)
	if err != nil {
		return nil, nil, err
	}
	w.AddChannels(opened.Channels)
	w.missing = opened.Missing
	for _, c := range opened.Conditions {
		w.settings[c.Key] = c.Value
	}
	for _, src := range opened.Sources {
		fmt.Printf("G %s|%v|%s\n", src.Name, src.Status, src.Reason)
	}
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx, w) }()
	return w, done, nil
}

func (w *watch) Publish(r telemetry.Row) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.rows++
	w.late = max(w.late, r.Lateness)
	step := r.At - w.at
	w.at = r.At
	for i, v := range r.Values {
		h := &w.seen[i]
		h.state = r.States[i]
		switch {
		case r.States[i] == telemetry.Fresh:
			h.fresh++
		case r.States[i] == telemetry.Held:
			h.held++
		default:
			h.gaps[r.States[i]]++
			continue
		}
		if v != h.last {
			h.changes++
		}
		h.last, h.low, h.high = v, min(h.low, v), max(h.high, v)
		h.integral += v * step
	}
}

func (w *watch) AddChannels(chs []telemetry.Channel) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for range chs {
		w.seen = append(w.seen, newHistory(history{last: math.NaN()}))
	}
	w.channels = append(w.channels, chs...)
}

func (w *watch) SetMissing(m []telemetry.Missing) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.missing = m
}

func (w *watch) SetSetting(key, value string) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.settings[key] = value
	return nil
}

func (w *watch) Mark(m telemetry.Mark) telemetry.Mark {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.marks = append(w.marks, m.Text)
	return m
}

// tellChannels prints what there is, what is missing and the conditions.
func (w *watch) tellChannels() {
	w.mu.Lock()
	defer w.mu.Unlock()
	var b strings.Builder
	for _, c := range w.channels {
		fmt.Fprintf(&b, "C %s|%v|%s|%s|%v|%s\n", c.Key, c.Quantity, c.Role, c.Source, c.Refresh.Seconds(), c.Name)
	}
	for _, m := range w.missing {
		fmt.Fprintf(&b, "M %s|%s|%s|%s\n", m.Name, m.Source, m.Reason, m.Remedy)
	}
	for k, v := range w.settings {
		fmt.Fprintf(&b, "S %s|%s\n", k, v)
	}
	fmt.Print(b.String())
}

// tell prints every channel's history under a name and begins a new one.
func (w *watch) tell(phase string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	var b strings.Builder
	for i, c := range w.channels {
		h := w.seen[i]
		gaps := ""
		for s, n := range h.gaps {
			gaps += fmt.Sprintf(" %d:%d", s, n)
		}
		fmt.Fprintf(&b, "V %s|%s|%v|%v|%v|%v|%v|%d|%d|%d|%d|%s\n", phase, c.Key, h.last, h.low, h.high, h.integral, h.before, h.state, h.changes, h.fresh, h.held, strings.TrimSpace(gaps))
		w.seen[i] = newHistory(h)
	}
	for _, m := range w.marks {
		fmt.Fprintf(&b, "K %s|%s\n", phase, m)
	}
	fmt.Fprintf(&b, "R %s|%d|%v\n", phase, w.rows, w.late.Seconds())
	w.rows, w.late, w.marks = 0, 0, nil
	fmt.Print(b.String())
}
