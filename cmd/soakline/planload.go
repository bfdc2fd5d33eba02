package main

import (
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"

	"soakline/collector/load"
	"soakline/collector/load/spec"
	"soakline/collector/plan"
	"soakline/collector/source/rig"
	"soakline/collector/source/workdone"
)

// planLoad is a load of a plan at work. All methods return at once.
type planLoad interface {
	share(pct float64) // of the time that it works
	stop()
	beat()                                  // the die is there and in bounds
	ended() (why string, fault, over bool)  // by itself
	wrongs() (since []load.Wrong, told int) // results
	work() load.Count
}

// rigLoad is the load of the simulated machine.
type rigLoad struct{ machine *rig.Source }

func (l rigLoad) share(pct float64)              { l.machine.SetLoad(pct / 100) }
func (l rigLoad) stop()                          { l.machine.SetLoad(0) }
func (rigLoad) beat()                            {}
func (rigLoad) ended() (string, bool, bool)      { return "", false, false }
func (rigLoad) wrongs() ([]load.Wrong, int)      { return nil, 0 }
func (rigLoad) work() load.Count                 { return load.Count{} }
func (l ownLoad) share(pct float64)              { l.SetShare(pct / 100) }
func (l ownLoad) stop()                          { l.Stop() }
func (l ownLoad) beat()                          { l.Beat() }
func (l ownLoad) wrongs() ([]load.Wrong, int)    { return l.Wrongs() }
func (l ownLoad) work() load.Count               { return l.Work() }
func (*commandLoad) share(float64)               {}
func (*commandLoad) beat()                       {}
func (*commandLoad) wrongs() ([]load.Wrong, int) { return nil, 0 }
func (*commandLoad) work() load.Count            { return load.Count{} }

// ownLoad is soakline's own load in a process of its own.
type ownLoad struct{ *load.Process }

func (l ownLoad) ended() (string, bool, bool) {
	why, fault := l.Ended()
	return why, fault, why != ""
}

// startOwn begins soakline's own load.
func startOwn(w *plan.Work) (ownLoad, error) {
	kinds, err := spec.ParseKinds(w.Own)
	if err != nil {
		return ownLoad{}, err
	}
	self, err := ownLoadCommand()
	if err != nil {
		return ownLoad{}, err
	}
	p, err := load.Start(self, spec.Load{Kinds: kinds, Cores: w.Cores, Pinned: w.Pinned, Share: w.DutyPct / 100, Cycle: w.Cycle})
	return ownLoad{p}, err
}

// commandLoad is a command of the user's.
type commandLoad struct {
	cmd  *exec.Cmd
	once sync.Once
	gone chan struct{}

	mu    sync.Mutex
	why   string
	fault bool
}

// startCommand begins a command; its output passes through, its input is empty, because
// the terminal's belongs to the plan.
func startCommand(e *env, argv []string) (*commandLoad, error) {
	l := &commandLoad{cmd: exec.Command(argv[0], argv[1:]...), gone: make(chan struct{})}
	l.cmd.Stdout, l.cmd.Stderr = e.out, e.errOut
	l.cmd.WaitDelay = 5 * time.Second
	ownGroup(l.cmd)
	if err := l.cmd.Start(); err != nil {
		return nil, fmt.Errorf("start %s: %w", argv[0], err)
	}
	go func() {
		err := l.cmd.Wait()
		l.mu.Lock()
		l.why, l.fault = "the command ended: "+l.cmd.ProcessState.String(), err != nil
		l.mu.Unlock()
		close(l.gone)
	}()
	return l, nil
}

// stop asks the command and all that it started to end, and ends them five seconds later.
func (l *commandLoad) stop() {
	l.once.Do(func() {
		select {
		case <-l.gone:
			return
		default:
		}
		askGroup(l.cmd.Process)
		go func() {
			select {
			case <-l.gone:
			case <-time.After(5 * time.Second):
				killGroup(l.cmd.Process)
			}
		}()
	})
}

func (l *commandLoad) ended() (string, bool, bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.why, l.fault, l.why != ""
}

// counter gives the work of the load that runs now to the throughput channel.
type counter struct {
	mu     sync.Mutex
	number uint64
	now    *load.Process
}

// set makes p the load that is counted; nil is none.
func (c *counter) set(p *load.Process) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.now = p; p != nil {
		c.number++
	}
}

func (c *counter) work() workdone.Work {
	c.mu.Lock()
	p, n := c.now, c.number
	c.mu.Unlock()
	if p == nil {
		return workdone.Work{}
	}
	w := p.Work()
	return workdone.Work{Load: n, Done: w.Done, At: w.At}
}

// wrongText is the mark of wrong results.
func wrongText(w load.Wrong, total int) string {
	where := fmt.Sprintf("worker %d, not held to a processor", w.Worker)
	if w.CPU >= 0 {
		where = fmt.Sprintf("processor %d", w.CPU)
	}
	return fmt.Sprintf("ALARM: wrong result of the %s load on %s, %.2f s after its start, %d unit(s), %d in all: the machine computes wrongly; take the last step back",
		w.Kind, where, w.At.Seconds(), w.Units, total)
}

// ownLoadCommand is how this program is started as a load's process.
func ownLoadCommand() ([]string, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("find this program to start its load: %w", err)
	}
	return []string{self, ownLoadVerb}, nil
}

// kindsOf is what the own loads of a plan compute, for the name of their channel.
func kindsOf(p *plan.Plan) string {
	var names []string
	for i := range p.Phases {
		if w := p.Phases[i].Work; w != nil && w.Own != "" && !strings.Contains(strings.Join(names, " "), w.Own) {
			names = append(names, w.Own)
		}
	}
	return strings.Join(names, " ")
}
