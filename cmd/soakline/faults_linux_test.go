package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"golang.org/x/sys/unix"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/sampler"
	"soakline/collector/source/hwmon"
	"soakline/collector/source/powercap"
	"soakline/collector/telemetry"
)

const (
	chipDir = "sys/devices/platform/coretemp.0/hwmon/hwmon10/"
	chip    = "sys/class/hwmon/hwmon10/"
	board   = "sys/devices/platform/thinkpad_hwmon/hwmon/hwmon6/"
	energy  = "sys/devices/virtual/powercap/intel-rapl/intel-rapl:0/energy_uj"
	wraps   = 262143328850 // µJ, the tree's max_energy_range_uj
)

// drive plays the machine: its package draws 28 W, its counter wraps after 1.5 s and is
// thrown back at 30 s, and every two seconds its sensors find another way to fail.
func drive(t *testing.T, m *rawfstest.Machine, counted int64) {
	began := time.Now()
	wait := func(s float64) { time.Sleep(time.Until(began.Add(time.Duration(s * float64(time.Second))))) }
	go func() {
		for i := 0; i < 400; i++ { // between the ticks
			wait(float64(i)/10 + 0.05)
			if counted = (counted + 2.8e6) % wraps; i == 300 {
				counted = 5e6
			}
			m.Write(energy, fmt.Sprintln(counted))
		}
	}()
	heat, fan := chipDir+"temp1_input", board+"fan1_input"
	for i, s := range []func(){
		func() { m.Write(heat, "127000\n"); m.Write(fan, "65535\n") },
		func() { m.Write(heat, "-128000\n"); m.Write(fan, "-1\n") },
		func() { m.Write(heat, "0\n"); m.Write(fan, "2700\n") },
		func() { m.Write(heat, "<unsupported>\n") },
		func() { m.Write(heat, "61000\n"); m.Fail(rawfs.OpRead, chip+"temp1_input", unix.EIO) },
		func() { m.Fail(rawfs.OpRead, chip+"temp1_input", unix.EAGAIN) },
		func() { m.Fail(rawfs.OpRead, chip+"temp1_input", unix.ENODATA) },
		func() { m.Fail(rawfs.OpRead, chip+"temp1_input", nil) },
	} {
		wait(float64(2 * (i + 1)))
		s()
	}
	wait(18) // pulled out
	for i := 1; i <= 5; i++ {
		m.Fail(rawfs.OpRead, fmt.Sprintf("%stemp%d_input", chip, i), unix.ENODEV)
	}
	must(t, os.Remove(filepath.Join(m.Root, "sys/class/hwmon/hwmon10")))
	must(t, os.Rename(filepath.Join(m.Root, chipDir), filepath.Join(m.Root, "sys/devices/platform/coretemp.0/gone")))
	wait(20) // put back, under another number and hotter
	must(t, os.Rename(filepath.Join(m.Root, "sys/devices/platform/coretemp.0/gone"), filepath.Join(m.Root, strings.Replace(chipDir, "hwmon10", "hwmon11", 1))))
	m.Link("sys/class/hwmon/hwmon11", strings.Replace("../../devices/platform/coretemp.0/hwmon/hwmon10", "hwmon10", "hwmon11", 1))
	m.Write(strings.Replace(chipDir, "hwmon10", "hwmon11", 1)+"temp1_input", "71000\n")
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Error(err)
	}
}

// The sensor files of a notebook fail in every way that files can; each is a gap with its
// reason, and a channel that was pulled out comes back as the same one.
func TestSensorFilesFail(t *testing.T) {
	m := rawfstest.Unpack(t, "intel-notebook")
	synctest.Test(t, func(t *testing.T) {
		go drive(t, m, 262100000000)
		tr := sampled(t, sampler.Real(), 40*time.Second, nil, hwmon.New(m.Tree()), powercap.New(m.Tree()))
		find := func(suffix string) int { // of coretemp or the board's own chip
			t.Helper()
			for i, c := range tr.Channels {
				if strings.HasSuffix(c.Key, suffix) {
					return i
				}
			}
			t.Fatalf("no %s among %+v", suffix, tr.Channels)
			return -1
		}
		die := find("coretemp/temp1:package-id-0")
		for _, s := range []struct {
			from  float64
			state telemetry.State
			value float64
		}{{0, telemetry.Fresh, 61}, {2, telemetry.GapImplausible, 0}, {4, telemetry.GapImplausible, 0}, {6, telemetry.GapImplausible, 0},
			{8, telemetry.GapUnreadable, 0}, {10, telemetry.GapIO, 0}, {12, telemetry.GapNotReady, 0}, {14, telemetry.GapDisabled, 0},
			{16, telemetry.Fresh, 61}, {18, telemetry.GapGone, 0}, {30, telemetry.Fresh, 71}, {38, telemetry.Fresh, 71}} {
			states(t, tr, die, s.from+1.2, s.from+1.9, s.state, s.value)
		}
		fan := find("thinkpad/fan1")
		states(t, tr, fan, 4.9, 5.9, telemetry.GapImplausible, 0)
		states(t, tr, fan, 9.5, 39, telemetry.Fresh, 2700)

		power := telemetry.IndexOf(tr.Channels, telemetry.RolePower)
		gaps := 0
		for i, at := range tr.Time {
			if at < 0.25 {
				continue
			}
			if s := tr.StateAt(power, i); s == telemetry.GapCounter {
				gaps++
			} else if p := tr.Values[power][i]; s != telemetry.Fresh || math.Abs(p-28) > 0.01 {
				t.Fatalf("%.1f s: %v W, %q; the counter's wrap at 1.5 s must not show", at, p, s.Reason())
			}
		}
		if gaps != 1 {
			t.Errorf("%d gaps where the counter was thrown back, want 1", gaps)
		}
		if n := len(tr.Time); n < 399 || n > 401 {
			t.Errorf("%d rows of 40 s", n)
		}
	})
}

// states checks a channel over a while: the state (fresh stands for held too) and value.
func states(t *testing.T, tr *telemetry.Trace, c int, from, to float64, want telemetry.State, value float64) {
	t.Helper()
	seen := 0
	for i, at := range tr.Time {
		if at < from || at > to {
			continue
		}
		seen++
		s := tr.StateAt(c, i)
		if s == telemetry.Held {
			s = telemetry.Fresh
		}
		if s != want || s == telemetry.Fresh && tr.Values[c][i] != value {
			t.Errorf("%s at %.1f s: %v, state %d %q; want %v in state %d", tr.Channels[c].Key, at, tr.Values[c][i], s, s.Reason(), value, want)
			return
		}
	}
	if seen == 0 {
		t.Errorf("no row from %.1f to %.1f s", from, to)
	}
}
