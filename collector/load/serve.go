package load

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"time"

	"soakline/collector/load/spec"
)

// How the two sides talk, one line each:
//
//	recorder: the load as JSON, then "beat" with every row that shows a good die
//	          temperature, "share 0.4"; its end of the pipe closed means stop
//	load:     "ready 4", "done UNITS NANOSECONDS" since the start, "wrong WORKER CPU KIND
//	          NANOSECONDS UNITS", at last "end REASON"
const (
	reportEvery = 50 * time.Millisecond
	beatWithin  = time.Second // without a beat for so long the load ends
)

// Serve is the side of the load's own process: it reads what is asked for from in, works,
// and reports to out. It returns when in ends, when no beat comes for a second, or when a
// worker cannot begin.
func Serve(in io.Reader, out io.Writer) error { return serve(in, out, kernels) }

func serve(in io.Reader, out io.Writer, made map[spec.Kind]func() kernel) error {
	lines := bufio.NewScanner(in)
	if !lines.Scan() {
		return fmt.Errorf("no load was asked for: %w", io.ErrUnexpectedEOF)
	}
	var l spec.Load
	if err := json.Unmarshal(lines.Bytes(), &l); err != nil {
		return fmt.Errorf("the load asked for: %w", err)
	}
	s := &server{out: out}
	c, err := newCrew(l, made, s.wrong)
	if err != nil {
		return err
	}
	asked := make(chan string)
	quit := make(chan struct{})
	defer close(quit)
	go func() {
		defer close(asked)
		for lines.Scan() {
			select {
			case asked <- lines.Text():
			case <-quit:
				return
			}
		}
	}()
	s.say("ready %d", len(c.workers))
	begun := time.Now()
	c.begin()
	why, err := s.watch(c, asked, begun)
	c.end()
	s.report(c, begun)
	s.say("end %s", why)
	return err
}

// server writes lines; workers may do so at any time.
type server struct {
	mu  sync.Mutex
	out io.Writer
}

func (s *server) say(format string, args ...any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	fmt.Fprintf(s.out, format+"\n", args...)
}

func (s *server) wrong(w Wrong) {
	s.say("wrong %d %d %s %d %d", w.Worker, w.CPU, w.Kind, w.At, w.Units)
}

func (s *server) report(c *crew, begun time.Time) {
	done := c.done()
	s.say("done %d %d", done, time.Since(begun))
}

// watch reports and does what is asked until the load has to end.
func (s *server) watch(c *crew, asked <-chan string, begun time.Time) (why string, err error) {
	tick := time.NewTicker(reportEvery)
	defer tick.Stop()
	sign := time.NewTimer(beatWithin)
	defer sign.Stop()
	for {
		select {
		case line, open := <-asked:
			if !open {
				return "asked to", nil
			}
			sign.Reset(beatWithin)
			if text, ok := strings.CutPrefix(line, "share "); ok {
				if share, err := strconv.ParseFloat(text, 64); err == nil && share >= 0 && share <= 1 {
					c.setShare(share)
				}
			}
		case <-tick.C:
			s.report(c, begun)
		case <-sign.C:
			return fmt.Sprintf("no sign of life for %v", beatWithin), nil
		case err := <-c.failed:
			return err.Error(), err
		}
	}
}
