package hub

import (
	"errors"
	"net"
	"time"

	"github.com/gorilla/websocket"
)

// sendBuffer bounds what the kernel holds for a viewer that does not read: its default
// hides a stalled viewer for half an hour at 2 kB/s, this for about a minute.
const sendBuffer = 32 << 10

// farewell is how long viewers may take for what is left at the end.
const farewell = time.Second

// viewer is one connection. The fields below the line are guarded by the hub's mutex.
type viewer struct {
	hub  *Hub
	conn *websocket.Conn
	wake chan struct{} // something was published
	gone chan struct{} // the reader has ended
	// ---
	place   uint64   // of the next message in the log
	resumed uint64   // up to here it is sent what it missed
	skipped uint64   // the row at which the last skip went on
	stateNo uint64   // the last state sent
	pending [][]byte // messages for this viewer alone
}

// Serve sends a viewer everything published from now on, after the rows that follow
// row *after where after is given and the log still holds them. It returns when the
// connection has ended, and has closed it then.
func (h *Hub) Serve(conn *websocket.Conn, after *uint64) {
	defer conn.Close()
	v := &viewer{hub: h, conn: conn, wake: make(chan struct{}, 1), gone: make(chan struct{})}
	if !h.join(v, after) {
		v.sayGoodbye(websocket.CloseTryAgainLater, "no more viewers are taken now")
		return
	}
	defer h.leave(v)
	limitSendBuffer(conn.NetConn())
	written := make(chan struct{})
	go func() {
		defer close(written)
		defer conn.Close() // ends the reader
		if err := v.write(); err != nil {
			h.config.Log.Debug("viewer ended", "err", err)
		}
	}()
	v.read()
	close(v.gone)
	conn.Close() // ends a write that hangs
	<-written
}

func (h *Hub) join(v *viewer, after *uint64) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.closing || len(h.viewers) >= h.config.MaxViewers {
		return false
	}
	h.running.Add(1)
	h.viewers[v] = struct{}{}
	v.place = h.log.end
	if after != nil {
		place, held := h.log.after(*after)
		if held && h.log.lastRow-*after <= uint64(h.config.Resume) {
			v.place = place
		} else {
			h.skip(v, true)
			return true
		}
	}
	v.resumed, v.skipped = h.log.end, h.log.lastRow
	return true
}

func (h *Hub) leave(v *viewer) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.viewers, v)
	h.running.Done()
}

func limitSendBuffer(c net.Conn) {
	if wrapped, ok := c.(interface{ NetConn() net.Conn }); ok { // TLS
		c = wrapped.NetConn()
	}
	if tcp, ok := c.(*net.TCPConn); ok {
		tcp.SetWriteBuffer(sendBuffer) // a kernel that refuses only keeps more
	}
}

// write is the connection's one writer.
func (v *viewer) write() error {
	ping := time.NewTicker(v.hub.config.Ping)
	defer ping.Stop()
	limit, closed := v.hub.config.Write, v.hub.closed
	for {
		if msg := v.hub.next(v); msg != nil {
			v.conn.SetWriteDeadline(time.Now().Add(limit))
			if err := v.conn.WriteMessage(websocket.BinaryMessage, msg); err != nil {
				return err
			}
			continue
		}
		if closed == nil { // all is sent
			v.sayGoodbye(websocket.CloseGoingAway, "soakline is stopping")
			return nil
		}
		select {
		case <-v.wake:
		case <-ping.C:
			if err := v.conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(limit)); err != nil {
				return err
			}
		case <-closed:
			closed = nil
		case <-v.gone:
			return nil
		}
	}
}

// rouse tells the writer that there is something to send.
func (v *viewer) rouse() {
	select {
	case v.wake <- struct{}{}:
	default: // it is awake already
	}
}

func (v *viewer) sayGoodbye(code int, why string) {
	v.conn.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(code, why), time.Now().Add(farewell))
}

var errTooMany = errors.New("too many messages")

// read takes what the viewer says until the first error: a failed connection must not
// be read again.
func (v *viewer) read() {
	c := v.hub.config
	v.conn.SetReadLimit(c.MaxMessage)
	alive := func(string) error { return v.conn.SetReadDeadline(time.Now().Add(c.Silence)) }
	v.conn.SetPongHandler(alive)
	alive("")
	window, count := time.Now(), 0
	for {
		kind, text, err := v.conn.ReadMessage()
		if err != nil {
			return
		}
		if now := time.Now(); now.Sub(window) > time.Second {
			window, count = now, 0
		}
		if count++; count > c.MaxRate {
			v.sayGoodbye(websocket.ClosePolicyViolation, errTooMany.Error())
			return
		}
		if kind != websocket.TextMessage {
			v.sayGoodbye(websocket.CloseUnsupportedData, "text was expected")
			return
		}
		seq, err := c.Ack(text)
		if err != nil {
			v.sayGoodbye(websocket.ClosePolicyViolation, err.Error())
			return
		}
		alive("")
		v.hub.drawn(v, seq)
	}
}
