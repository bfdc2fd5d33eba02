//go:build !linux || !(amd64 || arm64)

package libcall

import (
	"errors"
	"fmt"
	"runtime"
	"time"
)

// Process is a child in which shared libraries are open; this system has none.
type Process struct{}

// Start fails: libraries are opened on Linux, amd64 and arm64 alone.
func Start() (*Process, error) {
	return nil, fmt.Errorf("libraries of a driver are opened on Linux on amd64 and arm64 only, not on %s %s: %w",
		runtime.GOOS, runtime.GOARCH, errors.ErrUnsupported)
}

// The rest exists so that callers build; no Process exists to call it on.

func (p *Process) Open(string) (Library, error)         { return 0, errors.ErrUnsupported }
func (p *Process) Symbol(Library, string) (Func, error) { return 0, errors.ErrUnsupported }
func (p *Process) Reset()                               {}
func (p *Process) Bytes(n int) Memory                   { return Memory{Data: make([]byte, n)} }
func (p *Process) String(s string) Memory               { return p.Bytes(len(s) + 1) }
func (p *Process) Call(Func, ...uint64) int             { return 0 }
func (p *Process) Run(time.Duration) error              { return errors.ErrUnsupported }
func (p *Process) Result(int) uint64                    { return 0 }
func (p *Process) Close() error                         { return nil }
