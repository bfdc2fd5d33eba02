package kerneltest

import (
	"encoding/binary"
	"math"
	"os"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// The registers by Intel's manual (SDM Vol. 4), and one of our own: what the package has
// really taken since it began, in µJ and without a wrap.
const (
	regUnits, regLimits, regInfo, regEnergy, regCores, regGraphics    = 0x606, 0x610, 0x614, 0x611, 0x639, 0x641
	regCoreHeat, regPackageHeat, regTarget, regReasons, regLimited    = 0x19c, 0x1b1, 0x1a2, 0x64f, 0x613
	regMaximumClock, regActualClock, regPlatform, regTurbo, regReally = 0xe7, 0xe8, 0xce, 0x1ad, 0x7fffff00
)

const (
	beforeWrap   = 300 // J that the energy counter has left at first
	firstLimits  = 0x0042816000DD8078
	nextLimits   = 0x00428160_00DD80A0 // 20 W for the long term
	criticalHeat = 100                 // °C
)

// counters says where a vendor keeps energy, and the joules a count stands for.
type counters struct {
	units, energy, cores uint32
	unit                 float64
}

// Intel: SDM Vol. 4, the unit by bits 12:8 of 0x606. AMD: kernel,
// drivers/powercap/intel_rapl_msr.c, unit by the same bits of 0xC0010299.
var (
	intel = counters{regUnits, regEnergy, regCores, 1.0 / (1 << 14)}
	amd   = counters{0xc0010299, 0xc001029b, 0xc001029a, 1.0 / (1 << 16)}
)

// first is the table at the start: 15 W for 28 s, 44 W for 2.44 ms, unlocked.
func (c counters) first() []register {
	table := []register{{Number: c.units, Value: 0xA1003}, {Number: c.energy, Value: c.counts(0)}, {Number: c.cores, Value: 1}, {Number: regReally}}
	if c != intel {
		return table
	}
	return []register{{Number: regUnits, Value: 0xA0E03}, {Number: regLimits, Value: firstLimits}, {Number: regInfo, Value: 0x78},
		{Number: regEnergy, Value: c.counts(0)}, {Number: regCores, Value: 1}, {Number: regGraphics, Value: 1},
		{Number: regCoreHeat, Value: heat(60)}, {Number: regPackageHeat, Value: heat(60)}, {Number: regTarget, Value: criticalHeat << 16},
		{Number: regReasons}, {Number: regLimited}, {Number: regMaximumClock}, {Number: regActualClock},
		{Number: regPlatform, Value: 26<<8 | 8<<40}, {Number: regTurbo, Value: 0x1f1f1f1f1f1f1f1f}, {Number: regReally}}
}

// counts is the package's 32-bit energy counter after so many joules.
func (c counters) counts(joules float64) uint64 {
	const span = 1 << 32
	return uint64(math.Mod(span-beforeWrap/c.unit+joules/c.unit, span))
}

// heat is a thermal status: valid, steps of 1 K, so far below the critical temperature.
func heat(celsius int) uint64 { return 1<<31 | 1<<27 | uint64(criticalHeat-celsius)<<16 }

// bank moves the registers of a running guest.
type bank struct {
	memory []byte // the guest's
	table  int64
	counters

	mu      sync.Mutex
	flows   bool
	still   bool // temperature, reasons and limits stand
	started time.Time
	last    time.Duration
	joules  float64
	ended   chan struct{}
}

// openBank maps the guest's memory. Nothing is written before begin.
func openBank(t *testing.T, path string, size int, table int64, c counters) *bank {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := f.Truncate(int64(size)); err != nil {
		t.Fatal(err)
	}
	memory, err := unix.Mmap(int(f.Fd()), 0, size, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
	if err != nil {
		t.Fatal(err)
	}
	return &bank{memory: memory, table: table, counters: c, ended: make(chan struct{})}
}

// run moves the registers each millisecond until the test ends.
func (b *bank) run(t *testing.T) {
	quit := make(chan struct{})
	t.Cleanup(func() {
		close(quit)
		<-b.ended
		unix.Munmap(b.memory)
	})
	go func() {
		defer close(b.ended)
		tick := time.NewTicker(time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-quit:
				return
			case <-tick.C:
				b.step()
			}
		}
	}()
}

// begin lets energy flow; hold stops all but energy and moves the limits.
func (b *bank) begin() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.flows, b.started = true, time.Now()
}

func (b *bank) hold() {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.still = true
}

// watts is the package's power: 60 W for 3 s, 30 W for 5 s.
func watts(at time.Duration) float64 {
	if at%(8*time.Second) < 3*time.Second {
		return 60
	}
	return 30
}

func (b *bank) step() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.flows || binary.LittleEndian.Uint32(b.memory[b.table:]) != b.units {
		return
	}
	at := time.Since(b.started)
	b.joules += watts(at) * (at - b.last).Seconds()
	b.last = at
	b.put(b.energy, b.counts(b.joules))
	b.put(b.cores, 1+uint64(b.joules/2/b.unit))
	b.put(regGraphics, 1+uint64(b.joules/10/b.unit))
	b.put(regReally, uint64(b.joules*1e6))
	b.put(regLimited, uint64(at.Seconds()/2*1024)) // half of the time, in 1/1024 s
	b.put(regMaximumClock, uint64(at.Nanoseconds())*26/10)
	b.put(regActualClock, uint64(at.Nanoseconds())*13/10)
	celsius, reasons := 60+int(at.Seconds())%20, uint64(1<<10|1<<26)
	if b.still {
		celsius, reasons = 72, 1<<11|1<<26|1<<27|1<<17 // heat came and went
		b.put(regLimits, nextLimits)
	}
	b.put(regCoreHeat, heat(celsius))
	b.put(regPackageHeat, heat(celsius))
	b.put(regReasons, reasons)
}

// put stores a value; the guest reads each as one word.
func (b *bank) put(number uint32, value uint64) {
	for at := b.table; ; at += 16 {
		switch binary.LittleEndian.Uint32(b.memory[at:]) {
		case number:
			binary.LittleEndian.PutUint64(b.memory[at+8:], value)
			return
		case 0:
			return
		}
	}
}
