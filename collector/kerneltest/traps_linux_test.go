package kerneltest

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

// thermometer opens the first temperature of a chip on the bus.
func (b *smbus) thermometer(chip uint8) (*rawfs.File, error) {
	tree := rawfs.At("/")
	dir := b.device(chip) + "/hwmon"
	names, err := tree.List(dir)
	if err != nil || len(names) == 0 {
		return nil, fmt.Errorf("%s has no hwmon: %w", dir, err)
	}
	return tree.Open(dir + "/" + names[0] + "/temp1_input")
}

// notReady looks at a chip before its first conversion (EAGAIN), by our way of reading and
// by the standard library's. The window is 35 ms (kernel: drivers/hwmon/tmp102.c), so that
// a busy host may take several tries.
func notReady(b *smbus) error {
	for try := range 8 {
		if try > 0 {
			if err := b.remove(tmp102); err != nil {
				return err
			}
		}
		if err := b.add("tmp102", tmp102); err != nil {
			return err
		}
		f, err := b.thermometer(tmp102)
		if err != nil {
			return err
		}
		began := time.Now()
		_, first := f.ReadInt()
		took := time.Since(began)
		plain := make(chan error, 1)
		go func() {
			_, err := os.ReadFile("/" + f.Path())
			plain <- err
		}()
		if first == telemetry.Fresh {
			f.Close()
			continue
		}
		v, state := f.ReadInt()
		for state != telemetry.Fresh && time.Since(began) < 2*time.Second {
			time.Sleep(2 * time.Millisecond)
			v, state = f.ReadInt()
		}
		fmt.Printf("X not ready|%d|%v|%d|%d|%v\n", first, took.Seconds(), state, v, time.Since(began).Seconds())
		f.Close()
		select {
		case err := <-plain:
			fmt.Printf("X library|came back|%v\n", err)
		case <-time.After(time.Second):
			fmt.Println("X library|blocked|")
		}
		return nil
	}
	return fmt.Errorf("the first conversion was over each time")
}

// files reads attributes of which no tree made by hand would have thought.
func files(b *smbus) {
	tree := rawfs.At("/")
	say := func(what, pattern string) {
		paths, _ := filepath.Glob("/" + pattern)
		for _, p := range paths {
			f, err := tree.Open(strings.TrimPrefix(p, "/"))
			if err != nil {
				fmt.Printf("X file|%s|%d|0|%s\n", what, rawfs.StateOf(err), p)
				continue
			}
			v, state := f.ReadInt()
			fmt.Printf("X file|%s|%d|%d|%s\n", what, state, v, p)
			f.Close()
		}
	}
	say("zone tunable", "sys/class/thermal/thermal_zone*/k_po")
	say("unsupported", "sys/devices/system/cpu/cpufreq/policy0/scaling_setspeed")
	say("write only", "sys/bus/i2c/devices/i2c-"+b.number+"/new_device")
	say("accuracy", "sys/class/hwmon/hwmon*/device/power1_accuracy")
	say("fan minimum", b.device(lm85)+"/hwmon/hwmon*/fan1_min")
	say("diode", b.device(lm85)+"/hwmon/hwmon*/temp3_input")
	say("diode fault", b.device(lm85)+"/hwmon/hwmon*/temp3_fault")
	say("empty", "sys/class/power_supply/sbs-*/manufacturer")
	say("disk minimum", "sys/class/nvme/nvme0/hwmon*/temp1_min")
	say("constraint", "sys/class/powercap/intel-rapl:0:0/constraint_0_max_power_uw")
	say("trip", "sys/class/thermal/thermal_zone*/trip_point_0_temp")
	names, _ := tree.List("sys/class/hwmon")
	fmt.Printf("X order|%s\n", strings.Join(names, " "))
	for _, n := range names {
		real, _ := tree.Real("sys/class/hwmon/" + n + "/device")
		entries, _ := tree.List("sys/class/hwmon/" + n)
		fmt.Printf("X chip|%s|%s|%s|%d\n", n, tree.TextOr("sys/class/hwmon/"+n+"/name", ""), real, len(entries))
	}
	zones, _ := filepath.Glob("/sys/class/thermal/thermal_zone*/type")
	for _, z := range zones {
		fmt.Printf("X zone|%s|%s\n", filepath.Base(filepath.Dir(z)), tree.TextOr(strings.TrimPrefix(z, "/"), ""))
	}
}
