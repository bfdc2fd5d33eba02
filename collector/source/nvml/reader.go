package nvml

import (
	"errors"
	"math"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/source/gauge"
	"soakline/collector/telemetry"
)

const (
	// idleSpan is how long a card that may sleep goes without work before it is let go,
	// leaveSpan how long it then has to fall asleep before it is asked again. The kernel's
	// usual autosuspend delays are a few seconds (common practice, no source).
	idleSpan  = time.Minute
	leaveSpan = 30 * time.Second
	// retrySpan is the pause before a library that failed or hung is started again.
	retrySpan = 10 * time.Second
)

// reader reads one card.
type reader struct {
	pci      string
	open     func(pci string) (card, error)
	now      func() time.Duration
	status   *rawfs.File // power/runtime_status
	maySleep bool
	items    []item

	card    card // nil: not open
	answers answers
	ask     asked
	due     [numQuestions]time.Duration
	last    []telemetry.Reading // by item
	idleAt  time.Duration       // since when there was no work; -1: there is
	leaveTo time.Duration       // until when the card is left alone
	left    bool
	retryAt time.Duration
	failure telemetry.State // why it is not open
	power   gauge.Difference
}

// awake is true unless the kernel says that the card sleeps. Asking wakes nothing
// (kernel: Documentation/ABI/testing/sysfs-devices-power).
func (r *reader) awake() bool {
	if r.status == nil {
		return true
	}
	text, state := r.status.ReadText()
	return state != telemetry.Fresh || gauge.Active(text)
}

func (r *reader) connect() error {
	c, err := r.open(r.pci)
	if err != nil {
		return err
	}
	for i := range r.answers {
		r.answers[i] = answer{math.NaN(), notAsked}
	}
	r.card, r.idleAt = c, -1
	clear(r.due[:])
	r.power = gauge.Difference{}
	return nil
}

// Read implements telemetry.Reader.
func (r *reader) Read(at time.Duration, out []telemetry.Reading) {
	if state := r.ready(at); state != telemetry.Fresh {
		fill(out, state)
		return
	}
	for i := range r.ask {
		if r.ask[i] = at >= r.due[i]; r.ask[i] {
			r.due[i] = at + questions[i].every
		}
	}
	before := r.now()
	if err := r.card.read(&r.answers, &r.ask); err != nil {
		r.fail(at, err)
		fill(out, r.failure)
		return
	}
	now := before + (r.now()-before)/2
	lost := true
	for n := range r.items {
		out[n] = r.reading(n, now)
		lost = lost && out[n].State == telemetry.GapGone
	}
	if lost {
		r.disconnect()
		r.retryAt, r.failure = at+retrySpan, telemetry.GapGone
	}
	r.rest(at)
}

// ready opens the card if it may be opened, and says why it may not.
func (r *reader) ready(at time.Duration) telemetry.State {
	if !r.awake() {
		r.disconnect()
		r.left = false
		return telemetry.GapAsleep
	}
	if r.left && at < r.leaveTo {
		return telemetry.GapAsleep
	}
	r.left = false
	if r.card != nil {
		return telemetry.Fresh
	}
	if at < r.retryAt {
		return r.failure
	}
	if err := r.connect(); err != nil {
		r.fail(at, err)
		return r.failure
	}
	return telemetry.Fresh
}

func (r *reader) fail(at time.Duration, err error) {
	r.disconnect()
	r.retryAt, r.failure = at+retrySpan, telemetry.GapIO
	if timedOut(err) {
		r.failure = telemetry.GapTimeout
	}
}

// rest lets a card go that may sleep and has had nothing to do for a while. If it does
// not fall asleep then, something else keeps it awake, and it is read on.
func (r *reader) rest(at time.Duration) {
	if !r.maySleep || r.card == nil {
		return
	}
	load, why := r.answers[askLoad], r.answers[askReasons]
	idle := load.code == success && load.value == 0 && why.code == success && uint64(why.value)&1 != 0
	switch {
	case !idle:
		r.idleAt = -1
	case r.idleAt < 0:
		r.idleAt = at
	case at-r.idleAt >= idleSpan:
		r.disconnect()
		r.left, r.leaveTo = true, at+leaveSpan
	}
}

// reading gives item n: anew if it was asked, else the last one again.
func (r *reader) reading(n int, now time.Duration) telemetry.Reading {
	i, last := &r.items[n], &r.last[n]
	switch {
	case r.ask[i.from]:
		*last = r.value(i, now)
	case last.State == telemetry.Fresh:
		last.State = telemetry.Held
	}
	return *last
}

func (r *reader) value(i *item, now time.Duration) telemetry.Reading {
	a := r.answers[i.from]
	if s := a.code.state(); s != telemetry.Fresh {
		return gauge.Gap(s)
	}
	v := a.value / i.per
	if i.derived {
		return r.power.Step(v, now, i.max)
	}
	if v < i.min || v > i.max || math.IsNaN(v) {
		return gauge.Gap(telemetry.GapImplausible)
	}
	return telemetry.Reading{Value: v, State: telemetry.Fresh}
}

func (r *reader) disconnect() error {
	if r.card == nil {
		return nil
	}
	c := r.card
	r.card = nil
	return c.close()
}

// Close implements telemetry.Reader.
func (r *reader) Close() error { return errors.Join(r.disconnect(), r.status.Close()) }

func fill(out []telemetry.Reading, s telemetry.State) {
	for i := range out {
		out[i] = gauge.Gap(s)
	}
}
