package machine

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/shirou/gopsutil/v3/common"
	"github.com/shirou/gopsutil/v3/host"
	"golang.org/x/sys/unix"

	"soakline/collector/telemetry"
)

const (
	chips        = 4
	temperatures = 25 // a chip
)

// hundred writes a tree of 100 temperatures with labels and gives its root and the
// names of the 100 files.
func hundred(tb testing.TB) (root string, files []string) {
	tb.Helper()
	root = tb.TempDir()
	write := func(path, text string) string {
		full := filepath.Join(root, path)
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			tb.Fatal(err)
		}
		return full
	}
	for c := range chips {
		device := fmt.Sprintf("sys/devices/platform/coretemp.%d", c)
		write(device+"/name", "coretemp\n")
		class := fmt.Sprintf("sys/class/hwmon/hwmon%d", c)
		write(class+"/name", "coretemp\n")
		if err := os.Symlink(filepath.Join(root, device), filepath.Join(root, class, "device")); err != nil {
			tb.Fatal(err)
		}
		for n := range temperatures {
			label := fmt.Sprintf("Core %d\n", n)
			write(fmt.Sprintf("%s/temp%d_label", class, n+1), label)
			files = append(files, write(fmt.Sprintf("%s/temp%d_input", class, n+1), fmt.Sprintf("%d\n", 40000+100*n+c)))
		}
	}
	return root, files
}

// ticker gives a function that reads every group of every source once.
func ticker(tb testing.TB, root string) (tick func(), channels int) {
	tb.Helper()
	var groups []telemetry.Group
	var outs [][]telemetry.Reading
	for _, s := range Sources(root) {
		for _, g := range s.Open(context.Background()).Groups {
			groups = append(groups, g)
			outs = append(outs, make([]telemetry.Reading, len(g.Channels)))
			channels += len(g.Channels)
			tb.Cleanup(func() { g.Reader.Close() })
		}
	}
	at := time.Duration(0)
	return func() {
		at += 100 * time.Millisecond
		for i := range groups {
			groups[i].Reader.Read(at, outs[i])
		}
	}, channels
}

// bare gives a function that preads the same files and does nothing with them.
func bare(tb testing.TB, files []string) func() {
	tb.Helper()
	var fds []int
	for _, f := range files {
		fd, err := unix.Open(f, unix.O_RDONLY|unix.O_CLOEXEC, 0)
		if err != nil {
			tb.Fatal(err)
		}
		tb.Cleanup(func() { unix.Close(fd) })
		fds = append(fds, fd)
	}
	buf := make([]byte, 64)
	return func() {
		for _, fd := range fds {
			if _, err := unix.Pread(fd, buf, 0); err != nil {
				panic(err)
			}
		}
	}
}

// library gives a function that asks gopsutil for the temperatures of the same tree.
func library(tb testing.TB, root string) func() {
	tb.Helper()
	ctx := context.WithValue(context.Background(), common.EnvKey, common.EnvMap{common.HostSysEnvKey: filepath.Join(root, "sys")})
	ask := func() int {
		stats, _ := host.SensorsTemperaturesWithContext(ctx)
		return len(stats)
	}
	if n := ask(); n != chips*temperatures {
		tb.Fatalf("the library reads %d temperatures, want %d", n, chips*temperatures)
	}
	return func() { ask() }
}

// BenchmarkTick reads 100 attributes once, beside bare pread of the same files and
// beside the general library asked anew for the same readings, all in one run, and
// prints the ratios. Budget: at most 1.2 x bare pread, at least 30 x cheaper than the
// library, no allocation. Plain files answer faster than sysfs does, so the first ratio
// is an upper bound for real sensors.
func BenchmarkTick(b *testing.B) {
	root, files := hundred(b)
	tick, channels := ticker(b, root)
	if channels != len(files) {
		b.Fatalf("%d channels, want %d", channels, len(files))
	}
	floor, peer := bare(b, files), library(b, root)
	var ticks, toFloor, toPeer []float64
	for b.Loop() {
		t, f := clock(10, tick), clock(10, floor)
		ticks, toFloor = append(ticks, t), append(toFloor, t/f)
		if len(toPeer) < 25 {
			toPeer = append(toPeer, clock(1, peer)/t)
		}
	}
	b.ReportMetric(0, "ns/op") // three things ran: the lines below are the result
	b.ReportMetric(median(ticks)/1e3, "us/tick")
	b.ReportMetric(median(toFloor), "x-bare-pread")
	b.ReportMetric(median(toPeer), "x-cheaper-than-library")
	b.ReportMetric(testing.AllocsPerRun(100, tick), "allocs/tick")
}

// clock gives the ns that one call of f takes, over n calls.
func clock(n int, f func()) float64 {
	start := time.Now()
	for range n {
		f()
	}
	return float64(time.Since(start).Nanoseconds()) / float64(n)
}

func median(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	return v[len(v)/2]
}
