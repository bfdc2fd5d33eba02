package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"time"

	"soakline/collector/ring"
	"soakline/collector/session"
	"soakline/server"
)

// cautions stand at the start of every plan.
const cautions = `Before the load starts:
  The maker's limits, the warranty terms and local rules come first. Raise a limit in small steps only.
  Stay with the machine while the plan runs. Stop at once on smell, smoke, a swelling battery or a leak: q, Enter, then the mains.
  Power off and unplug before opening it; coolant and live electronics do not mix.
`

const keys = "p pauses and goes on, n ends this phase, q stops the plan (each with Enter; Ctrl-C stops too)"

// terminal shows a plan's progress and takes its keys. What is told never waits for a
// terminal that does not take it: the sampler tells.
type terminal struct {
	out   io.Writer
	live  bool // a progress line can be drawn over
	yes   bool // questions answer themselves
	page  bool // questions can be answered elsewhere
	told  chan telling
	width int // of the progress line that stands there
}

type telling struct {
	text  string
	alarm bool
}

func newTerminal(out io.Writer) *terminal {
	t := &terminal{out: out, told: make(chan telling, 256)}
	if f, ok := out.(*os.File); ok {
		info, err := f.Stat()
		t.live = err == nil && info.Mode()&os.ModeCharDevice != 0
	}
	return t
}

// tell prints a line soon.
func (t *terminal) tell(text string, alarm bool) {
	select {
	case t.told <- telling{text, alarm}:
	default:
	}
}

// run shows and listens until ctx ends.
func (t *terminal) run(ctx context.Context, k *planner, in io.Reader) {
	lines := readLines(ctx, in)
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			t.rest()
			return
		case note := <-t.told:
			t.print(note)
			t.answerItself(k)
		case line, open := <-lines:
			if !open {
				lines = nil
				continue
			}
			if err := t.key(k, line); err != nil {
				t.print(telling{text: err.Error()})
			}
		case <-tick.C:
			t.draw(k)
			t.answerItself(k)
			if lines == nil && !t.yes && !t.page && k.waiting() {
				t.print(telling{text: "nobody can answer here: the plan stops; --yes answers every question as the plan expects"})
				k.Do(server.PlanStop, "")
			}
		}
	}
}

// answerItself answers a question where the user asked for that.
func (t *terminal) answerItself(k *planner) {
	if t.yes && k.waiting() {
		k.Do(server.PlanAnswer, "")
	}
}

// key does what a line from the terminal asks for.
func (t *terminal) key(k *planner, line string) error {
	line = strings.TrimSpace(line)
	switch {
	case line == "q":
		return k.Do(server.PlanStop, "")
	case k.waiting():
		return k.Do(server.PlanAnswer, line)
	case line == "p" && k.State().Paused:
		return k.Do(server.PlanGoOn, "")
	case line == "p":
		return k.Do(server.PlanPause, "")
	case line == "n":
		return k.Do(server.PlanSkip, "")
	}
	return fmt.Errorf("%q: %s", line, keys)
}

func (t *terminal) print(n telling) {
	t.clear()
	if n.alarm {
		fmt.Fprint(t.out, "\a")
	}
	fmt.Fprintln(t.out, n.text)
}

// rest prints what is still to be told.
func (t *terminal) rest() {
	for {
		select {
		case n := <-t.told:
			t.print(n)
		default:
			t.clear()
			return
		}
	}
}

// draw renews the progress line.
func (t *terminal) draw(k *planner) {
	if !t.live {
		return
	}
	text := progress(k.State(), k.dieNow())
	most := 79
	if f, ok := t.out.(*os.File); ok {
		if c := columns(f); c > 1 {
			most = c - 1 // a full line would wrap, and could not be drawn over
		}
	}
	if runes := []rune(text); len(runes) > most {
		text = string(runes[:most])
	}
	n := len([]rune(text))
	fmt.Fprintf(t.out, "\r%s%s", text, strings.Repeat(" ", max(0, t.width-n)))
	t.width = n
}

func (t *terminal) clear() {
	if t.width > 0 {
		fmt.Fprintf(t.out, "\r%s\r", strings.Repeat(" ", t.width))
		t.width = 0
	}
}

// readLines reads lines until in or ctx ends. The goroutine stays in a read of a terminal
// until the program ends.
func readLines(ctx context.Context, in io.Reader) <-chan string {
	out := make(chan string)
	go func() {
		defer close(out)
		for lines := bufio.NewScanner(in); lines.Scan(); {
			select {
			case out <- lines.Text():
			case <-ctx.Done():
				return
			}
		}
	}()
	return out
}

// dieNow is the newest die temperature, NaN where there is none.
func (k *planner) dieNow() float64 {
	k.mu.Lock()
	s, c := k.session, k.die
	k.mu.Unlock()
	if s == nil {
		return math.NaN()
	}
	return newest(s, c)
}

// newest is a column's newest value, NaN in a gap.
func newest(s *session.Session, c int) float64 {
	r := s.Ring()
	var b ring.Block
	if n, _ := r.Rows(max(r.Last(), 1)-1, 1, &b); n == 0 || c >= b.Channels {
		return math.NaN()
	}
	return value(b.Row(0), c)
}
