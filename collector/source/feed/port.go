package feed

import (
	"context"
	"fmt"
	"io"
	"net"
	"sync"

	"go.bug.st/serial"
)

// openSerial gives what comes in at a serial port: 8 data bits, no parity, 1 stop bit.
func openSerial(name string, baud int) func(context.Context) (io.ReadCloser, error) {
	return func(context.Context) (io.ReadCloser, error) {
		p, err := serial.Open(name, &serial.Mode{BaudRate: baud})
		if err != nil {
			return nil, fmt.Errorf("serial port %s: %w", name, err)
		}
		return serialPort{p}, nil
	}
}

// serialPort tells the end of a port that was unplugged, which reads as nothing.
type serialPort struct{ serial.Port }

func (p serialPort) Read(b []byte) (int, error) {
	n, err := p.Port.Read(b)
	if n == 0 && err == nil {
		err = io.EOF
	}
	return n, err
}

// acceptOn listens on a TCP port and gives one sender after the other; the next one
// waits until the one before has closed.
func acceptOn(address string) func(context.Context) (io.ReadCloser, error) {
	l := &listener{address: address}
	return l.accept
}

type listener struct {
	address string
	mu      sync.Mutex
	ln      net.Listener
}

func (l *listener) accept(ctx context.Context) (io.ReadCloser, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.ln == nil {
		ln, err := net.Listen("tcp", l.address)
		if err != nil {
			return nil, err
		}
		l.ln = ln
		context.AfterFunc(ctx, func() { ln.Close() })
	}
	return l.ln.Accept()
}

// datagramsOn listens on a UDP port; each datagram holds whole lines.
func datagramsOn(address string) func(context.Context) (io.ReadCloser, error) {
	return func(context.Context) (io.ReadCloser, error) {
		conn, err := net.ListenPacket("udp", address)
		if err != nil {
			return nil, err
		}
		return &datagrams{PacketConn: conn}, nil
	}
}

// datagrams reads datagrams one after the other, each with an end of line behind it.
type datagrams struct {
	net.PacketConn
	buf  [65536]byte
	rest []byte
}

func (d *datagrams) Read(b []byte) (int, error) {
	for len(d.rest) == 0 {
		n, _, err := d.ReadFrom(d.buf[:len(d.buf)-1])
		if err != nil {
			return 0, err
		}
		if n > 0 {
			d.rest = append(d.buf[:n], '\n')
		}
	}
	n := copy(b, d.rest)
	d.rest = d.rest[n:]
	return n, nil
}
