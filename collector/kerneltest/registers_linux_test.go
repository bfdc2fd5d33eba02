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
	guest.Need(t)
	k := guest.Fetch(t)
	initrd := k.Initrd(t, "msr", "coretemp", "x86_pkg_temp_thermal", "intel_rapl_msr")
	began := time.Now()
	image, table := redirect(t, k.Image, findSymbols(t, k, initrd), first())
	t.Logf("scouting %.0f s, the table lies at %#x of the guest's memory", time.Since(began).Seconds(), table)
	began = time.Now()
	memory := memoryFile(t)
	b := openBank(t, memory, registerMemory<<20, table)
	lines, kill := guest.Machine{Kernel: image, Initrd: initrd, CPU: processor, Memory: registerMemory, Words: "t.mode=registers", Limit: bootLimit,
		Chipset: ",memory-backend=ram", Args: []string{"-object", "memory-backend-file,id=ram,size=256M,share=on,mem-path=" + memory}}.Start(t)
	b.run(t)
	h := listen(t, lines, func(line string) {
		switch {
		case strings.HasPrefix(line, "X ready"):
			b.begin()
		case strings.HasPrefix(line, "R watch"):
			b.hold()
		}
	})
	kill()
	t.Logf("%.0f s, %d channels", time.Since(began).Seconds(), len(h.channels))
	if h.end != "<nil>" || h.without == nil {
		t.Fatalf("the guest ended with %q", h.end)
	}
	t.Run("energy across the wrap", h.testEnergy)
	t.Run("values", h.testRegisterValues)
	t.Run("following", h.testFollowing)
	t.Run("roles", h.testRegisterRoles)
	t.Run("traps", h.testRegisterTraps)
	t.Run("without rights", h.testRegistersWithoutRights)
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
