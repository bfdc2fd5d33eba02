// Package libcall calls C functions of a shared library from a program that is itself
// linked statically and without cgo. It owns the process in which the library lives.
//
// The general library for this, ebitengine/purego, makes the whole program ask for the
// system's loader and C library at its start, so that it no longer runs where those are
// missing; soakline is one static file. Here the library lives in a child process: an
// ELF file of a few hundred bytes, built in memory, that names the system's loader, and
// whose only code (stub_*.s) takes a block from standard input, makes the calls in it
// and sends the block back. What the library opens is closed when the child ends, and a
// call that hangs or crashes takes nothing with it.
//
// It knows no particular library. It runs on Linux, amd64 and arm64, with the GNU C
// library; elsewhere Start fails and says so.
package libcall
