package kerneltest

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/collector/kerneltest/guest"
)

const registerMemory = 256 // MB

// TestRegisters: the kernel's own drivers for power zones, digital sensors, throttle
// counters and registers, over registers that this test moves.
func TestRegisters(t *testing.T) {
	h := runOver(t, intel, processor, "msr", "coretemp", "x86_pkg_temp_thermal", "intel_rapl_msr")
	t.Run("energy across the wrap", func(t *testing.T) {
		h.testEnergy(t, map[string]float64{zone: 1, zone + "core/": 0.5, zone + "uncore/": 0.1})
	})
	t.Run("values", h.testRegisterValues)
	t.Run("following", h.testFollowing)
	t.Run("roles", h.testRegisterRoles)
	t.Run("traps", h.testRegisterTraps)
	t.Run("without rights", h.testRegistersWithoutRights)
}

// TestRegistersOfAMD: the same driver on the other vendor's registers, which have another
// unit and no limits.
func TestRegistersOfAMD(t *testing.T) {
	h := runOver(t, amd, "qemu64,vendor=AuthenticAMD,family=23,model=113,stepping=0", "msr", "intel_rapl_msr")
	t.Run("energy across the wrap", func(t *testing.T) { h.testEnergy(t, map[string]float64{zone: 1, zone + "core/": 0.5}) })
	if c := h.channels[zone+"power"]; len(c) == 0 || c[1] != "package power" {
		t.Errorf("power is %q", c)
	}
	for key := range h.channels {
		if strings.Contains(key, "limit") || strings.HasPrefix(key, "msr/") {
			t.Errorf("%s: this vendor's zones have no limits, and its registers say no more", key)
		}
	}
	if s := h.sources["msr"]; len(s) == 0 || s[0] != "not here" {
		t.Errorf("the source of registers is %q", s)
	}
}

// runOver boots a kernel whose three functions look at the registers that a bank moves.
func runOver(t *testing.T, c counters, cpu string, modules ...string) *heard {
	t.Helper()
	guest.Need(t)
	k := guest.Fetch(t)
	initrd := k.Initrd(t, modules...)
	began := time.Now()
	image, table := redirect(t, k.Image, findSymbols(t, k, initrd), c.first())
	t.Logf("scouting %.0f s, the table lies at %#x of the guest's memory", time.Since(began).Seconds(), table)
	began = time.Now()
	memory := memoryFile(t)
	b := openBank(t, memory, registerMemory<<20, table, c)
	lines, kill := guest.Machine{Kernel: image, Initrd: initrd, CPU: cpu, Memory: registerMemory, Words: "t.mode=registers", Limit: bootLimit,
		Chipset: ",memory-backend=ram", Args: []string{"-object", "memory-backend-file,id=ram,size=256M,share=on,mem-path=" + memory}}.Start(t)
	defer kill()
	b.run(t)
	h := listen(t, lines, func(line string) {
		switch {
		case strings.HasPrefix(line, "X ready"):
			b.begin()
		case strings.HasPrefix(line, "R watch"):
			b.hold()
		}
	})
	t.Logf("%.0f s, %d channels", time.Since(began).Seconds(), len(h.channels))
	if h.end != "<nil>" || h.without == nil {
		t.Fatalf("the guest ended with %q", h.end)
	}
	return h
}

// memoryFile is for the guest's memory: in the host's memory where it can be.
func memoryFile(t *testing.T) string {
	folder, err := os.MkdirTemp("/dev/shm", "kerneltest")
	if err != nil {
		folder = t.TempDir()
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	return filepath.Join(folder, "ram")
}

func findSymbols(t *testing.T, k guest.Kernel, initrd string) symbols {
	t.Helper()
	lines, kill := guest.Machine{Kernel: k.Image, Initrd: initrd, CPU: processor, Memory: registerMemory, Words: "t.mode=scout", Limit: bootLimit}.Start(t)
	defer kill()
	h := listen(t, lines, nil)
	at := symbols{}
	for _, name := range []string{readSafe, readBare, cpuid, codeEnd} {
		address, err := strconv.ParseUint(h.fact("symbol", name)[0], 16, 64)
		if err != nil || address == 0 {
			t.Fatalf("%s: %v", name, err)
		}
		at[name] = address
	}
	return at
}
