//go:build linux && (amd64 || arm64)

package libcall

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"time"

	"golang.org/x/sys/unix"
)

// Process is a child in which shared libraries are open. Only one goroutine may use it.
// Calls are collected by Call and made together by Run, in order.
type Process struct {
	cmd           *exec.Cmd
	in, out       *os.File // to the child, from the child
	dlopen, dlsym Func
	calls, data   int
	block         [blockSize]byte
}

// Start starts a child with nothing open yet. It takes a few milliseconds.
func Start() (*Process, error) {
	file, err := image()
	if err != nil {
		return nil, err
	}
	fd, err := unix.MemfdCreate("soakline-library", unix.MFD_CLOEXEC|unix.MFD_EXEC)
	if errors.Is(err, unix.EINVAL) { // before Linux 6.3 every such file may be executed
		fd, err = unix.MemfdCreate("soakline-library", unix.MFD_CLOEXEC)
	}
	if err != nil {
		return nil, fmt.Errorf("no file in memory for the helper: %w", err)
	}
	program := os.NewFile(uintptr(fd), "helper")
	defer program.Close()
	if _, err := program.Write(file); err != nil {
		return nil, err
	}
	p := &Process{}
	if err := p.start(fmt.Sprintf("/proc/self/fd/%d", fd)); err != nil {
		return nil, err
	}
	if err := p.receive(); err != nil {
		p.Close()
		return nil, fmt.Errorf("the helper did not start: %w", err)
	}
	p.dlopen, p.dlsym = Func(p.word(atDlopen)), Func(p.word(atDlsym))
	p.Reset()
	return p, nil
}

func (p *Process) start(program string) error {
	childIn, in, err := os.Pipe()
	if err != nil {
		return err
	}
	out, childOut, err := os.Pipe()
	if err != nil {
		return errors.Join(err, childIn.Close(), in.Close())
	}
	p.in, p.out = in, out
	p.cmd = &exec.Cmd{Path: program, Args: []string{"soakline-library"}, Stdin: childIn, Stdout: childOut, Dir: "/"}
	err = p.cmd.Start()
	childIn.Close()
	childOut.Close()
	if err != nil {
		in.Close()
		out.Close()
		if errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("the system has no %s, which a shared library needs", loader)
		}
		return fmt.Errorf("the helper cannot be started: %w", err)
	}
	began(p.cmd.Process.Pid)
	return nil
}

// Open opens a library by its name, as dlopen(3) finds it.
func (p *Process) Open(name string) (Library, error) {
	const lazy = 1 // RTLD_LAZY
	p.Reset()
	path := p.String(name)
	opened := p.Call(p.dlopen, path.At, lazy)
	if err := p.Run(10 * time.Second); err != nil {
		return 0, err
	}
	if p.Result(opened) == 0 {
		return 0, fmt.Errorf("%s is not installed or does not load", name)
	}
	return Library(p.Result(opened)), nil
}

// Symbol finds a function of a library; 0 if it has none of that name.
func (p *Process) Symbol(lib Library, name string) (Func, error) {
	p.Reset()
	text := p.String(name)
	found := p.Call(p.dlsym, uint64(lib), text.At)
	if err := p.Run(time.Second); err != nil {
		return 0, err
	}
	return Func(p.Result(found)), nil
}

// Reset forgets the calls and the data of the last Run.
func (p *Process) Reset() {
	clear(p.block[:])
	p.calls, p.data = 0, atData
}

// Bytes sets n bytes of the child's memory aside, zeroed, until the next Reset.
func (p *Process) Bytes(n int) Memory {
	at := p.data
	p.data += (n + 15) &^ 15
	if p.data > blockSize {
		panic("libcall: more data than a block holds")
	}
	return Memory{At: uint64(blockAddress + at), Data: p.block[at : at+n : at+n]}
}

// String puts a text with its closing zero into the child's memory.
func (p *Process) String(s string) Memory {
	m := p.Bytes(len(s) + 1)
	copy(m.Data, s)
	return m
}

// Call adds a call of up to six integer or pointer arguments and gives its number.
func (p *Process) Call(f Func, args ...uint64) int {
	if p.calls == maxCalls || len(args) > 6 {
		panic("libcall: more calls or arguments than a block holds")
	}
	call := p.block[atCalls+p.calls*callSize:]
	binary.LittleEndian.PutUint64(call, uint64(f))
	for i, a := range args {
		binary.LittleEndian.PutUint64(call[8+8*i:], a)
	}
	p.calls++
	return p.calls - 1
}

// Run makes the calls and waits for at most limit. After an error the child is of no
// more use than to be closed. It allocates nothing.
func (p *Process) Run(limit time.Duration) error {
	binary.LittleEndian.PutUint64(p.block[atCount:], uint64(p.calls))
	if err := p.out.SetReadDeadline(time.Now().Add(limit)); err != nil {
		return err
	}
	if _, err := p.in.Write(p.block[:]); err != nil {
		return err
	}
	return p.receive()
}

// Result is what call n of the last Run returned.
func (p *Process) Result(n int) uint64 { return p.word(atCalls + n*callSize + 56) }

func (p *Process) word(at int) uint64 { return binary.LittleEndian.Uint64(p.block[at:]) }

func (p *Process) receive() error {
	for n := 0; n < blockSize; {
		m, err := p.out.Read(p.block[n:])
		if err != nil {
			return err
		}
		n += m
	}
	return nil
}

// Close ends the child, which closes all that its libraries hold open.
func (p *Process) Close() error {
	if p == nil || p.cmd == nil {
		return nil
	}
	cmd := p.cmd
	p.cmd = nil
	err := errors.Join(p.in.Close(), p.out.Close())
	done := make(chan struct{})
	go func() {
		cmd.Wait()
		if s := cmd.ProcessState; s != nil {
			ended(cmd.Process.Pid, s.UserTime()+s.SystemTime())
		}
		close(done)
	}()
	select {
	case <-done: // its standard input ended, so it did
	case <-time.After(500 * time.Millisecond):
		cmd.Process.Kill()
	}
	return err
}
