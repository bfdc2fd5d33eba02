package session

import (
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"soakline/collector/ring"
	"soakline/collector/telemetry"
)

// Info says what a recording is. It never changes.
type Info struct {
	ID        string // of NewID
	Start     time.Time
	Host      string
	System    string // operating system and processor, in words
	Origin    Origin
	Simulated bool // any of it is computed rather than measured
	Period    time.Duration
}

// Origin is where the rows of a session come from.
type Origin string

// The origins.
const (
	Live   Origin = "live"   // this machine's sensors
	Rig    Origin = "rig"    // the simulated machine
	Replay Origin = "replay" // a trace file
)

// Session is one running recording. Publish and AddChannels belong to one goroutine, the
// sampler's; everything else may be called by any.
type Session struct {
	info    Info
	ring    *ring.Ring
	changes atomic.Uint64
	over    atomic.Bool

	followers atomic.Pointer[[]chan struct{}]

	mu       sync.RWMutex // guards all below; Publish does without it
	channels []telemetry.Channel
	version  int
	missing  []telemetry.Missing
	setup    []telemetry.Setting
	marks    []telemetry.Mark
	edits    []Edit
	scores   []telemetry.Score
	nextMark int64
	why      string
}

// New starts a session of these channels and this setup.
func New(info Info, channels []telemetry.Channel, setup []telemetry.Setting) *Session {
	return NewSized(info, ring.Config{}, channels, setup)
}

// NewSized is New with a memory of another size; its Period is taken from info.
func NewSized(info Info, size ring.Config, channels []telemetry.Channel, setup []telemetry.Setting) *Session {
	size.Period = info.Period
	s := &Session{info: info, ring: ring.New(size, len(channels)),
		channels: slices.Clone(channels), version: 1}
	s.followers.Store(new([]chan struct{}))
	for _, c := range channels {
		s.info.Simulated = s.info.Simulated || c.Simulated
	}
	for _, kv := range setup {
		s.SetSetting(kv.Key, kv.Value)
	}
	return s
}

// Info says what the recording is.
func (s *Session) Info() Info { return s.info }

// Ring holds the rows.
func (s *Session) Ring() *ring.Ring { return s.ring }

// Changes counts all that happened to channels, missing channels, marks and setup, and
// the end; a follower that sees it move compares what it shows with what is there now.
func (s *Session) Changes() uint64 { return s.changes.Load() }

// Channels gives the channels by index and the version of the list, which grows by one
// whenever channels are added. The ring never has more channels than the list.
func (s *Session) Channels() (chs []telemetry.Channel, version int) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return slices.Clone(s.channels), s.version
}

// AddChannels adds channels behind the others.
func (s *Session) AddChannels(chs []telemetry.Channel) {
	if len(chs) == 0 {
		return
	}
	s.change(func() {
		s.channels = append(s.channels, chs...)
		s.version++
	})
	s.ring.Extend(len(chs))
}

// Missing gives the channels that could be there and are not.
func (s *Session) Missing() []telemetry.Missing {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return slices.Clone(s.missing)
}

// SetMissing replaces the list of missing channels.
func (s *Session) SetMissing(m []telemetry.Missing) {
	s.change(func() { s.missing = slices.Clone(m) })
}

// Publish takes the sampler's next row and wakes the followers. It allocates nothing and
// waits for nobody. After End it does nothing.
func (s *Session) Publish(row telemetry.Row) {
	if s.over.Load() {
		return
	}
	s.ring.Append(row)
	s.wake()
}

// End closes the recording; the first reason stands.
func (s *Session) End(why string) {
	s.change(func() {
		if s.over.CompareAndSwap(false, true) {
			s.why = Clean(why, maxText)
		}
	})
}

// Ended says whether the recording is over, and why.
func (s *Session) Ended() (why string, over bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.why, s.over.Load()
}

// change does f under the lock and tells the followers.
func (s *Session) change(f func()) {
	s.mu.Lock()
	f()
	s.changes.Add(1)
	s.mu.Unlock()
	s.wake()
}
