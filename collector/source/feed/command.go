package feed

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"sync"
	"time"
)

// runCommand gives the standard output of a command line, run by the system's shell.
func runCommand(line string) func(context.Context) (io.ReadCloser, error) {
	return func(context.Context) (io.ReadCloser, error) {
		cmd := shell(line)
		out, err := cmd.StdoutPipe()
		if err != nil {
			return nil, err
		}
		p := &process{cmd: cmd, Reader: out}
		cmd.Stderr = &p.said
		cmd.WaitDelay = patience
		if err := cmd.Start(); err != nil {
			return nil, fmt.Errorf("the command did not start: %w", err)
		}
		return p, nil
	}
}

// patience is how long a command may take to end when it is asked to.
const patience = 2 * time.Second

// process is a running command whose output is read.
type process struct {
	io.Reader
	cmd  *exec.Cmd
	said lastLine
	once sync.Once
	err  error
}

// Close ends the command, with all that it started, and says how it ended where it had
// ended by itself.
func (p *process) Close() error {
	p.once.Do(func() {
		end(p.cmd)
		stubborn := time.AfterFunc(patience, func() { kill(p.cmd) })
		defer stubborn.Stop()
		err := p.cmd.Wait()
		how := "the command has ended: " + p.cmd.ProcessState.String()
		if last := p.said.String(); last != "" {
			how += ": " + last
		}
		p.err = errors.New(how)
		if err != nil && p.cmd.ProcessState == nil {
			p.err = err
		}
	})
	return p.err
}

// lastLine keeps the last line that was written to it, 200 bytes at most.
type lastLine struct {
	mu   sync.Mutex
	text []byte
}

func (l *lastLine) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.text = append(l.text, b...)
	if n := bytes.LastIndexByte(bytes.TrimRight(l.text, "\r\n"), '\n'); n >= 0 {
		l.text = l.text[n+1:]
	}
	l.text = l.text[max(len(l.text)-200, 0):]
	return len(b), nil
}

func (l *lastLine) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return strings.ToValidUTF8(strings.TrimSpace(string(l.text)), "?")
}
