// Package powercut holds one test: an archive on a disk whose cache is volatile, in a
// virtual machine whose power is cut twenty times while it records. It is Linux on amd64
// under software emulation, with Debian's stock kernel, and needs qemu-system-x86; it runs
// where NEED_QEMU=1 says that all of that is there, and is skipped elsewhere.
//
// Killing the machine would not do: what it gave to the disk is safe in the host's memory.
// So the disk is a network block device that the test serves itself: a write stays pending
// until a flush makes it durable, and at a cut each pending sector survives by lot. The
// negative control mounts without write barriers, so that no flush is sent; it must lose
// what was acknowledged, or the test would have no teeth.
package powercut
