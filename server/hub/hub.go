// Package hub owns the viewers: WebSocket connections that all get the same messages.
//
// A message is encoded once by the publisher and kept once, in a log of fixed length;
// each viewer has no queue of its own but a place in that log. So a viewer costs no
// memory while it is slow, the publisher never waits for anyone, and a viewer that
// comes back takes up its place again without a hole. One whose oldest unsent or
// undrawn message is older than MaxLag, or is gone from the log, skips to now and is
// told so. Beside the log there is one state message, of which only the newest counts.
//
// It follows the WebSocket advice of the OWASP cheat sheet "WebSocket Security":
// message size limit, rate limit, timeouts and heartbeat, bounded connections, no
// compression. The handshake's Host and Origin are checked before a connection gets
// here. It must not know what a message holds.
package hub

import (
	"log/slog"
	"sync"
	"time"
)

// Config is how a hub works. The zero value of a field is its default.
type Config struct {
	// Ack reads a viewer's message: the last row that it has drawn.
	Ack func([]byte) (seq uint64, err error)
	// Skip gives the messages that tell a viewer to go on at row next; lost is true
	// where messages other than rows were left out too.
	Skip func(next uint64, lost bool) [][]byte

	Resume     int           // rows that a returning viewer may be sent at once: 600
	MaxLag     time.Duration // 2 s
	MaxViewers int           // 512
	MaxMessage int64         // longest message from a viewer: 512 bytes
	MaxRate    int           // messages from a viewer a second: 10
	Write      time.Duration // a write that takes longer ends the connection: 10 s
	Ping       time.Duration // 15 s
	Silence    time.Duration // no pong and no message for so long ends the connection: 40 s
	Log        *slog.Logger
	Now        func() time.Time
}

func (c *Config) setDefaults() {
	set(&c.Resume, 600)
	set(&c.MaxLag, 2*time.Second)
	set(&c.MaxViewers, 512)
	set(&c.MaxMessage, 512)
	set(&c.MaxRate, 10)
	set(&c.Write, 10*time.Second)
	set(&c.Ping, 15*time.Second)
	set(&c.Silence, 40*time.Second)
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Now == nil {
		c.Now = time.Now
	}
}

func set[T comparable](p *T, value T) {
	var zero T
	if *p == zero {
		*p = value
	}
}

// Hub sends every message to every viewer. Its methods may be called at once from any
// goroutine; none waits for a viewer but Close.
type Hub struct {
	config Config
	closed chan struct{}

	mu      sync.Mutex
	log     log
	state   []byte
	stateNo uint64 // counts states
	viewers map[*viewer]struct{}
	closing bool
	running sync.WaitGroup
}

// New makes a hub without viewers. Ack and Skip must be set.
func New(c Config) *Hub {
	c.setDefaults()
	return &Hub{
		config:  c,
		closed:  make(chan struct{}),
		viewers: map[*viewer]struct{}{},
		log:     log{entries: make([]entry, c.Resume+c.Resume/2)},
	}
}

// Row publishes row seq. The hub keeps msg: the caller must not change it afterwards.
func (h *Hub) Row(seq uint64, msg []byte) { h.publish(entry{msg: msg, seq: seq, row: true}) }

// Event publishes a message that every viewer must see once, or be told that it lost.
// The hub keeps msg.
func (h *Hub) Event(msg []byte) { h.publish(entry{msg: msg}) }

func (h *Hub) publish(e entry) {
	e.at = h.config.Now()
	h.mu.Lock()
	defer h.mu.Unlock()
	h.log.append(e)
	h.wakeAll()
}

// State publishes a message that replaces the state before it: a viewer gets the newest
// only, and a new viewer gets it at once. The hub keeps msg.
func (h *Hub) State(msg []byte) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.state = msg
	h.stateNo++
	h.wakeAll()
}

func (h *Hub) wakeAll() {
	for v := range h.viewers {
		v.rouse()
	}
}

// Viewers is how many are connected.
func (h *Hub) Viewers() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.viewers)
}

// Full is true where no more viewer is taken.
func (h *Hub) Full() bool { return h.Viewers() >= h.config.MaxViewers }

// Close sends every viewer what is still to be sent, for one second at most, says
// goodbye, and returns when the last connection is closed.
func (h *Hub) Close() {
	h.mu.Lock()
	if !h.closing {
		h.closing = true
		close(h.closed)
	}
	h.mu.Unlock()
	cut := time.AfterFunc(farewell, h.cut)
	defer cut.Stop()
	h.running.Wait()
}

// cut ends the connections that are left.
func (h *Hub) cut() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for v := range h.viewers {
		v.conn.Close()
	}
}

// next is the next message for a viewer; nil if it has all.
func (h *Hub) next(v *viewer) []byte {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(v.pending) == 0 && h.late(v) {
		h.skip(v, h.log.lastEvent > v.place)
	}
	if len(v.pending) > 0 {
		msg := v.pending[0]
		v.pending = v.pending[1:]
		return msg
	}
	if v.place < h.log.end {
		v.place++
		return h.log.at(v.place - 1).msg
	}
	if v.stateNo != h.stateNo {
		v.stateNo = h.stateNo
		return h.state
	}
	return nil
}

// late is true where the viewer's next message is gone from the log or too old. One
// that is still being sent the rows it missed may be late with those.
func (h *Hub) late(v *viewer) bool {
	if v.place < h.log.begin() {
		return true
	}
	return v.place >= v.resumed && v.place < h.log.end &&
		h.config.Now().Sub(h.log.at(v.place).at) > h.config.MaxLag
}

func (h *Hub) skip(v *viewer, lost bool) {
	next := h.log.lastRow + 1
	v.pending = append(v.pending, h.config.Skip(next, lost)...)
	v.place, v.resumed, v.skipped = h.log.end, h.log.end, next
}

// drawn takes a viewer's word of the last row that it has drawn. If the row after it
// was published more than MaxLag ago, the viewer skips to now. Words about rows before
// the last skip, or before the viewer came, say nothing new: they were on their way.
func (h *Hub) drawn(v *viewer, seq uint64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if seq < v.skipped || seq >= h.log.lastRow || v.place < v.resumed {
		return
	}
	place, held := h.log.row(seq + 1)
	if held && h.config.Now().Sub(h.log.at(place).at) <= h.config.MaxLag {
		return
	}
	h.skip(v, h.log.lastEvent > v.place)
	v.rouse()
}
