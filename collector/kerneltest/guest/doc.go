// Package guest boots Debian's stock kernel in a virtual machine of pure software
// emulation, with the running test's own binary as its first process. It fetches the
// kernel's package without installing it, packs the first file system, starts the machine
// and, inside, mounts what the kernel shows and loads the modules.
//
// It is for tests, on Linux and amd64 with qemu-system-x86 and Debian's package source. It
// knows nothing of sensors or archives.
package guest
