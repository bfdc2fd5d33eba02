package rawfs_test

import (
	"errors"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
	"soakline/collector/telemetry"
)

const small = `made for this test
-- sys/class/hwmon/hwmon10/name --
late
-- sys/class/hwmon/hwmon2/name --
early
-- sys/class/hwmon/hwmon2/temp1_input --
42000
-- sys/class/hwmon/hwmon2/device -> ../../../devices/chip.0 --
-- sys/devices/chip.0/uevent --
`

// Every error branch with the kernel's own number; compared by value.
func TestStateOfEachErrno(t *testing.T) {
	for errno, want := range map[unix.Errno]telemetry.State{
		unix.EACCES: telemetry.GapDenied, unix.EPERM: telemetry.GapDenied,
		unix.EAGAIN:  telemetry.GapNotReady,
		unix.ENODATA: telemetry.GapDisabled, unix.ENXIO: telemetry.GapDisabled,
		unix.EIO: telemetry.GapIO, unix.ETIMEDOUT: telemetry.GapIO, unix.EREMOTEIO: telemetry.GapIO, unix.EINVAL: telemetry.GapIO,
		unix.ENODEV: telemetry.GapGone, unix.ENOENT: telemetry.GapGone,
	} {
		m := rawfstest.FromText(t, small)
		f, err := m.Tree().Open("sys/class/hwmon/hwmon2/temp1_input")
		if err != nil {
			t.Fatal(err)
		}
		m.Fail(rawfs.OpRead, f.Path(), errno)
		if _, got := f.ReadInt(); got != want {
			t.Errorf("read failing with %v: state %d, want %d", errno, got, want)
		}
		if n := testing.AllocsPerRun(10, func() { f.ReadInt() }); n != 0 {
			t.Errorf("%v: %v allocations a failed read, want 0", errno, n)
		}
		m.Fail(rawfs.OpRead, f.Path(), nil)
		if v, got := f.ReadInt(); v != 42000 || got != telemetry.Fresh {
			t.Errorf("after %v healed: %d, state %d; want 42000, fresh", errno, v, got)
		}
		f.Close()
	}
}

// /proc/self/mem at offset 0 is not mapped: the kernel itself answers EIO.
func TestErrorFromTheKernelItself(t *testing.T) {
	f, err := rawfs.At("/").Open("proc/self/mem")
	if err != nil {
		t.Skip(err)
	}
	defer f.Close()
	if _, state := f.ReadInt(); state != telemetry.GapIO {
		t.Errorf("state %d, want GapIO", state)
	}
	if n := testing.AllocsPerRun(10, func() { f.ReadInt() }); n != 0 {
		t.Errorf("%v allocations a failed read, want 0", n)
	}
}

func TestOpenIsReadOnlyAndKept(t *testing.T) {
	m := rawfstest.FromText(t, small)
	f, err := m.Tree().Open("sys/class/hwmon/hwmon2/temp1_input")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if flags := flagsOf(t, m.Root+"/"+f.Path()); flags&unix.O_ACCMODE != unix.O_RDONLY || flags&unix.O_CLOEXEC == 0 {
		t.Errorf("opened with flags %#x, want read-only and closed on exec", flags)
	}
	m.Write(f.Path(), "43000\n")
	if v, state := f.ReadInt(); v != 43000 || state != telemetry.Fresh {
		t.Errorf("kept file: %d, state %d; want the new value 43000", v, state)
	}
	if n := testing.AllocsPerRun(100, func() { f.ReadInt() }); n != 0 {
		t.Errorf("%v allocations a read, want 0", n)
	}
}

// flagsOf finds this process's descriptor of a file and gives its open flags as the
// kernel keeps them (proc(5), fdinfo).
func flagsOf(t *testing.T, name string) int64 {
	t.Helper()
	fds, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip(err)
	}
	for _, fd := range fds {
		if target, _ := os.Readlink("/proc/self/fd/" + fd.Name()); target != name {
			continue
		}
		info, err := os.ReadFile("/proc/self/fdinfo/" + fd.Name())
		if err != nil {
			t.Fatal(err)
		}
		_, rest, _ := strings.Cut(string(info), "flags:\t")
		octal, _, _ := strings.Cut(rest, "\n")
		flags, err := strconv.ParseInt(octal, 8, 64)
		if err != nil {
			t.Fatal(err)
		}
		return flags
	}
	t.Fatalf("%s is not open", name)
	return 0
}

func TestErrorsCarryPathAndErrno(t *testing.T) {
	m := rawfstest.FromText(t, small)
	m.Fail(rawfs.OpOpen, "sys/class/hwmon/hwmon2/temp1_input", unix.EACCES)
	_, err := m.Tree().Open("sys/class/hwmon/hwmon2/temp1_input")
	var pe *fs.PathError
	if !errors.As(err, &pe) || pe.Path != m.Root+"/sys/class/hwmon/hwmon2/temp1_input" || !errors.Is(err, fs.ErrPermission) {
		t.Errorf("open: %v; want a PathError with the full path and EACCES", err)
	}
	if _, err := m.Tree().Open("sys/nowhere"); rawfs.StateOf(err) != telemetry.GapGone {
		t.Errorf("open of nothing: %v, state %d", err, rawfs.StateOf(err))
	}
}

func TestListTextAndLinks(t *testing.T) {
	tree := rawfstest.FromText(t, small).Tree()
	names, err := tree.List("sys/class/hwmon")
	if err != nil || len(names) != 2 || names[0] != "hwmon2" || names[1] != "hwmon10" {
		t.Errorf("List = %q, %v; want hwmon2 before hwmon10", names, err)
	}
	if s, err := tree.Text("sys/class/hwmon/hwmon2/name"); s != "early" || err != nil {
		t.Errorf("Text = %q, %v", s, err)
	}
	if s, err := tree.Real("sys/class/hwmon/hwmon2/device"); s != "sys/devices/chip.0" || err != nil {
		t.Errorf("Real = %q, %v", s, err)
	}
	if _, err := tree.List("sys/class/nothing"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("List of nothing: %v", err)
	}
	if s, err := tree.Text("sys/devices/chip.0/uevent"); s != "" || err != nil {
		t.Errorf("an empty file: %q, %v", s, err)
	}
}

// /proc comes a page at a time; a long regular file comes
// whole.
func TestTextIsReadToItsEnd(t *testing.T) {
	m := rawfstest.FromText(t, small)
	long := strings.Repeat("processor : 1\n", 2000)
	m.Write("proc/cpuinfo", long)
	if s, err := m.Tree().Text("proc/cpuinfo"); err != nil || s != strings.TrimSpace(long) {
		t.Errorf("%d bytes of %d, %v", len(s), len(long), err)
	}
	want, err := os.ReadFile("/proc/self/smaps")
	if err != nil || len(want) < 8192 {
		t.Skip("no long file in /proc: ", err)
	}
	if s, err := rawfs.At("/").Text("proc/self/smaps"); err != nil || len(s) < 8192 {
		t.Errorf("%d bytes of about %d, %v", len(s), len(want), err)
	}
}
