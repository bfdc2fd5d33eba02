package feed

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/netip"
	"strconv"
	"strings"
)

// Ways are the forms of a spec, for help and errors.
const Ways = `run: COMMAND (its output), file: PATH (a file that grows, or a FIFO), serial: PORT [BAUD], ` +
	`tcp: 127.0.0.1:PORT, udp: 127.0.0.1:PORT (listened on), push: (HTTP)`

// way is how lines come.
type way struct {
	title   string // in words
	waiting string // what is the trouble as long as nothing came
	// dial makes contact, and blocks until there is; nil where lines are pushed.
	dial func(ctx context.Context) (io.ReadCloser, error)
}

// parseWay reads a spec.
func parseWay(spec string, cfg Config) (way, error) {
	kind, rest, found := strings.Cut(spec, ":")
	kind, rest = strings.TrimSpace(kind), strings.TrimSpace(rest)
	if !found || rest == "" && kind != "push" {
		return way{}, fmt.Errorf("feed %q: expected one of %s", spec, Ways)
	}
	switch kind {
	case "run":
		return way{"command " + rest, "the command has not written a reading", runCommand(rest)}, nil
	case "file":
		return way{"file " + rest, "nothing was written to the file since soakline looks at it", followFile(rest, cfg.Every)}, nil
	case "serial":
		return serialWay(rest)
	case "tcp", "udp":
		if err := loopback(rest); err != nil {
			return way{}, fmt.Errorf("feed %q: %w", spec, err)
		}
		title := kind + " port " + rest
		if kind == "tcp" {
			return way{title, "nobody has connected", acceptOn(rest)}, nil
		}
		return way{title, "no datagram has come", datagramsOn(rest)}, nil
	case "push":
		return way{title: "push", waiting: "nobody has pushed a reading"}, nil
	}
	return way{}, fmt.Errorf("feed %q: expected one of %s", spec, Ways)
}

// Pushed is true where lines come by Push alone.
func (s *Source) Pushed() bool { return s.way.dial == nil }

// loopback refuses an address that other computers could reach: a port has no token.
func loopback(address string) error {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return err
	}
	if n, err := strconv.Atoi(port); err != nil || n < 0 || n > 65535 {
		return fmt.Errorf("port %q: expected 1 to 65535", port)
	}
	if ip, err := netip.ParseAddr(host); host != "localhost" && (err != nil || !ip.IsLoopback()) {
		return errors.New("a port takes lines from this computer alone: expected 127.0.0.1:PORT; from another one use push, which needs the token")
	}
	return nil
}

func serialWay(rest string) (way, error) {
	port, speed, _ := strings.Cut(rest, " ")
	baud := 115200
	if speed = strings.TrimSpace(speed); speed != "" {
		var err error
		if baud, err = strconv.Atoi(speed); err != nil || baud <= 0 {
			return way{}, fmt.Errorf("serial: %q: expected a speed in baud after the port, for instance serial: /dev/ttyUSB0 115200", speed)
		}
	}
	return way{fmt.Sprintf("serial port %s at %d baud", port, baud), "the port has not given a reading", openSerial(port, baud)}, nil
}
