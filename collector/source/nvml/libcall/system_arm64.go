//go:build linux

package libcall

import "debug/elf"

// The system's loader, by the ELF for the Arm 64-bit Architecture and the GNU C library.
const (
	loader   = "/lib/ld-linux-aarch64.so.1"
	machine  = elf.EM_AARCH64
	absolute = elf.R_AARCH64_ABS64
)
