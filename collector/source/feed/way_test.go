package feed

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestWays(t *testing.T) {
	for _, spec := range []string{"run: ./read", "run:./read --fast: yes", "file:/tmp/x", "serial: /dev/ttyUSB0", "serial: COM3 9600",
		"tcp: 127.0.0.1:7000", "tcp: [::1]:7000", "udp: localhost:7000", "push:", "push: "} {
		if _, err := parseWay(spec, Config{}); err != nil {
			t.Errorf("%s: %v", spec, err)
		}
	}
	for spec, want := range map[string]string{
		"": "expected one of", "run:": "expected one of", "./read": "expected one of", "smoke: signal": "expected one of",
		"serial: COM3 fast": "speed in baud", "serial: COM3 -1": "speed in baud",
		"tcp: 0.0.0.0:7000": "this computer alone", "tcp: 192.0.2.1:7000": "this computer alone", "udp: :7000": "this computer alone",
		"udp: bench.example:7000": "this computer alone", "tcp: 7000": "port", "tcp: 127.0.0.1:70000": "expected 1 to 65535",
	} {
		if _, err := parseWay(spec, Config{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", spec, err, want)
		}
	}
}

// follow takes a feed and gives its readings as they come; it fails where they do not.
type follow struct {
	t *testing.T
	s *Source
}

func start(t *testing.T, spec string) follow {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	s, err := New(ctx, spec, Config{Every: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { stop(); <-s.Done() })
	return follow{t, s}
}

// expect waits until the first channel has a value.
func (f follow) expect(value float64) {
	f.t.Helper()
	f.until(fmt.Sprint("value ", value), func(r Report) bool { return len(r.Channels) > 0 && r.Channels[0].Value == value })
}

func (f follow) until(what string, ok func(Report) bool) {
	f.t.Helper()
	for end := time.Now().Add(10 * time.Second); ; time.Sleep(time.Millisecond) {
		r := f.s.Report()
		if ok(r) {
			return
		}
		if time.Now().After(end) {
			f.t.Fatalf("no %s: %+v", what, r)
		}
	}
}

// TestFile: lines that are appended come, those from before do not; a file that was cut,
// written anew or replaced is read from its beginning.
func TestFile(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "feed.txt")
	write := func(flag int, text string) {
		t.Helper()
		f, err := os.OpenFile(path, flag|os.O_CREATE|os.O_WRONLY, 0o644)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if _, err := f.WriteString(text); err != nil {
			t.Fatal(err)
		}
	}
	write(0, "old 1 W\nolder 1 W\n")
	f := start(t, "file: "+path)
	f.until("contact", func(Report) bool { write(os.O_APPEND, "flow 1 L/min\n"); return len(f.s.Report().Channels) > 0 })
	if name := f.s.Report().Channels[0].Name; name != "flow" {
		t.Errorf("%q was read from before the start", name)
	}
	write(os.O_APPEND, "flow 2 L/min\n")
	f.expect(2)
	write(os.O_TRUNC, "flow 3 L/min\n")
	f.expect(3)
	if err := os.WriteFile(path+".new", []byte("flow 4 L/min\nflow 5 L/min\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(path+".new", path); err != nil {
		t.Fatal(err)
	}
	f.expect(5)
	write(os.O_APPEND, "flow 6 L/min\n")
	f.expect(6)
}

func TestFileThatIsNotThere(t *testing.T) {
	t.Parallel()
	f := start(t, "file: "+filepath.Join(t.TempDir(), "none"))
	f.until("trouble", func(r Report) bool {
		return strings.Contains(r.Trouble, "no such file") || strings.Contains(r.Trouble, "cannot find")
	})
}

func TestTCP(t *testing.T) {
	t.Parallel()
	address := freePort(t, "tcp")
	f := start(t, "tcp: "+address)
	for i := 1; i <= 2; i++ { // one sender after the other; the first leaves without a word
		var conn net.Conn
		f.until("connection", func(Report) (ok bool) {
			var err error
			conn, err = net.Dial("tcp", address)
			return err == nil
		})
		fmt.Fprintf(conn, "flow %d L/min\n", i)
		f.expect(float64(i))
		conn.Close()
	}
}

func TestUDP(t *testing.T) {
	t.Parallel()
	address := freePort(t, "udp")
	f := start(t, "udp: "+address)
	conn, err := net.Dial("udp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	f.until("datagram", func(r Report) bool {
		conn.Write([]byte("flow 1 L/min\nwall 60 W")) // may be refused as long as nobody listens
		return len(r.Channels) == 2
	})
	if r := f.s.Report(); len(r.Refusals) > 0 {
		t.Errorf("%+v", r.Refusals)
	}
}

// freePort gives an address on which nobody listens at the moment.
func freePort(t *testing.T, network string) string {
	t.Helper()
	if network == "udp" {
		c, err := net.ListenPacket("udp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		return c.LocalAddr().String()
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	return ln.Addr().String()
}
