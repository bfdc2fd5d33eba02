// Package kerneltest holds tests alone: the sources and the sampler on the files of a real
// kernel. Debian's stock kernel runs in a virtual machine of pure software emulation, this
// package's test binary is its first process, and what it finds goes to the test as lines.
//
// TestSensors changes nothing in the kernel: chips on a bus of plain registers (i2c-stub),
// firmware tables for a battery, mains, a power meter, a thermal zone and performance
// states, an emulated NVMe disk. TestRegisters redirects the three small functions that
// wrap the instructions RDMSR and CPUID to a table that the test moves: there the
// instruction is the test's, every sysfs file the kernel's own.
package kerneltest
