package load

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"sync"
	"time"

	"soakline/collector/load/spec"
)

// killAfter is how long the load's process may take to end when it is asked to; then it
// is killed. With the sampling in between it stays within 0.1 s.
const killAfter = 50 * time.Millisecond

// Process is a load at work in a process of its own. All methods return at once and may
// be called by any goroutine.
type Process struct {
	cmd   *exec.Cmd
	say   chan string
	stop  chan struct{}
	once  sync.Once
	ended chan struct{}

	mu     sync.Mutex
	count  Count
	wrongs []Wrong
	total  int // of wrong results
	why    string
	fault  bool
}

// Count is work done by a load.
type Count struct {
	Done uint64        // units
	At   time.Duration // since the load began, by the load's own clock
}

// Start runs argv, which must call Serve on its standard input and output, and gives it
// the load.
func Start(argv []string, l spec.Load) (*Process, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	asked, err := json.Marshal(l)
	if err != nil {
		return nil, err
	}
	cmd := exec.Command(argv[0], argv[1:]...)
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	last := &tail{}
	cmd.Stderr = last
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("start the load: %w", err)
	}
	p := &Process{cmd: cmd, say: make(chan string, 4), stop: make(chan struct{}), ended: make(chan struct{})}
	p.say <- string(asked) + "\n"
	go p.talk(in)
	go p.listen(out, last)
	return p, nil
}

// talk passes on what is said until the load is to end.
func (p *Process) talk(in io.WriteCloser) {
	defer in.Close()
	for {
		select {
		case line := <-p.say:
			io.WriteString(in, line)
		case <-p.stop:
			return
		case <-p.ended:
			return
		}
	}
}

// listen takes in what the load reports until it has ended.
func (p *Process) listen(out io.Reader, last *tail) {
	end := ""
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if why, ok := strings.CutPrefix(lines.Text(), "end "); ok {
			end = why
			continue
		}
		p.hear(lines.Text())
	}
	err := p.cmd.Wait()
	p.mu.Lock()
	defer p.mu.Unlock()
	defer close(p.ended)
	select {
	case <-p.stop:
		p.why = "asked to"
		return
	default:
	}
	p.fault = true
	switch {
	case end != "":
		p.why = "the load ended: " + end
	case err != nil:
		p.why = fmt.Sprintf("the load broke down (%v) %s", err, last.line())
	default:
		p.why = "the load ended without a reason"
	}
}

func (p *Process) hear(line string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	var c Count
	var w Wrong
	if n, _ := fmt.Sscanf(line, "done %d %d", &c.Done, &c.At); n == 2 {
		p.count = c
	} else if n, _ := fmt.Sscanf(line, "wrong %d %d %s %d %d", &w.Worker, &w.CPU, &w.Kind, &w.At, &w.Units); n == 5 {
		if p.total += w.Units; len(p.wrongs) < 100 {
			p.wrongs = append(p.wrongs, w)
		}
	}
}

// Beat tells the load that the die temperature is there and in bounds. It has to come at
// least once a second.
func (p *Process) Beat() { p.tell("beat\n") }

// SetShare changes the busy share of the time.
func (p *Process) SetShare(s float64) { p.tell(fmt.Sprintf("share %g\n", s)) }

// tell never waits: a load that does not listen is about to be ended anyway.
func (p *Process) tell(line string) {
	select {
	case p.say <- line:
	default:
	}
}

// Stop ends the load: it is asked to, and killed where it has not ended 50 ms later.
func (p *Process) Stop() {
	p.once.Do(func() {
		close(p.stop)
		go func() {
			late := time.NewTimer(killAfter)
			defer late.Stop()
			select {
			case <-p.ended:
			case <-late.C:
				p.cmd.Process.Kill()
			}
		}()
	})
}

// Done is closed when the load's process has ended.
func (p *Process) Done() <-chan struct{} { return p.ended }

// Ended says why the load has ended; "" while it runs. fault is true where nobody asked
// it to.
func (p *Process) Ended() (why string, fault bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.why, p.fault
}

// Work is how much was done.
func (p *Process) Work() Count {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.count
}

// Wrongs gives what was told of wrong results since the last call, at most a hundred
// reports, and how many units were wrong in all.
func (p *Process) Wrongs() (since []Wrong, total int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	since, p.wrongs = p.wrongs, nil
	return since, p.total
}

// tail keeps the beginning of what a process says on its way out.
type tail struct {
	mu   sync.Mutex
	text []byte
}

func (t *tail) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if room := 300 - len(t.text); room > 0 {
		t.text = append(t.text, b[:min(room, len(b))]...)
	}
	return len(b), nil
}

func (t *tail) line() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	first, _, _ := strings.Cut(strings.TrimSpace(string(t.text)), "\n")
	return first
}
