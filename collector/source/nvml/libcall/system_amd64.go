//go:build linux

package libcall

import "debug/elf"

// The system's loader, by the System V ABI's AMD64 supplement and the GNU C library.
const (
	loader   = "/lib64/ld-linux-x86-64.so.2"
	machine  = elf.EM_X86_64
	absolute = elf.R_X86_64_64
)
