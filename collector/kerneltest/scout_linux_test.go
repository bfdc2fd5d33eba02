package kerneltest

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"strings"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/sampler"
	"soakline/collector/source/machine"
	"soakline/collector/telemetry"
)

// scout tells where the functions lie; without address randomisation they lie there at
// every start.
func scout() error {
	f, err := os.Open("/proc/kallsyms")
	if err != nil {
		return err
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		words := strings.Fields(lines.Text())
		if len(words) != 3 { // a module's
			continue
		}
		switch words[2] {
		case readSafe, readBare, cpuid, codeEnd:
			fmt.Printf("X symbol|%s|%s\n", words[2], words[0])
		}
	}
	return nil
}

// registers is the run with moved registers.
func registers() error {
	tree := rawfs.At("/")
	for what, path := range map[string]string{"constraint": "sys/class/powercap/intel-rapl:0:0/constraint_0_max_power_uw", "energy right": "sys/class/powercap/intel-rapl:0/energy_uj"} {
		v, err := tree.Int(path)
		info, statErr := os.Stat("/" + path)
		if statErr != nil {
			continue
		}
		fmt.Printf("X file|%s|%d|%d|%v\n", what, rawfs.StateOf(err), v, info.Mode())
	}
	for _, z := range []string{"0", "1", "2"} {
		dir := "sys/class/thermal/thermal_zone" + z
		if kind := tree.TextOr(dir+"/type", ""); kind == "x86_pkg_temp" {
			fmt.Printf("X trip|%s\n", tree.TextOr(dir+"/trip_point_0_temp", ""))
		}
	}
	device, err := tree.Open("dev/cpu/0/msr")
	if err != nil {
		return err
	}
	really := func() float64 {
		var b [8]byte
		if device.ReadAt(b[:], regReally) != telemetry.Fresh {
			return -1
		}
		return float64(binary.LittleEndian.Uint64(b[:])) * 1e-6
	}
	fmt.Println("X ready|")
	for really() == 0 {
		time.Sleep(10 * time.Millisecond)
	}
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	w, ended, err := begin(ctx, withTruth(machine.Sources("/"), really), sampler.Config{SlowRead: 50 * time.Millisecond, SlowPace: 100 * time.Millisecond})
	if err != nil {
		return err
	}
	w.tellChannels()
	time.Sleep(1500 * time.Millisecond)
	w.tell("begin")
	time.Sleep(11 * time.Second)
	w.tell("watch")
	time.Sleep(3 * time.Second)
	w.tell("still")
	stop()
	<-ended
	return child()
}
