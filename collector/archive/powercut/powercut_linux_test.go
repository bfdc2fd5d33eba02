package powercut

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"soakline/collector/kerneltest/guest"
)

const (
	cuts        = 20
	controlCuts = 8
	diskSize    = 48 << 20
	bootLimit   = 3 * time.Minute
)

// TestPowerCuts: after each of 20 power cuts the file system mounts, the archive opens, is
// whole, holds every row that it had acknowledged, misses one second at most, marks
// included, and says where the recording broke off. Without write barriers it does not.
func TestPowerCuts(t *testing.T) {
	guest.Need(t)
	k := guest.Fetch(t)
	virtual := machine{k.Packed, k.Initrd(t, "crc32c_generic", "virtio_pci", "virtio_blk", "ext4")}

	began := time.Now()
	run := virtual.record(t, "record", cuts)
	bad := 0
	for i, got := range virtual.check(t, run.images) {
		if why := run.judge(i, got); why != "" {
			t.Errorf("cut %d, %d sectors at stake: %s", i, run.cuts[i].atStake, why)
			bad++
		}
	}
	t.Logf("%d cuts, %d bad, worst loss %.2f s (held up %.2f s, commit %.2f s at most), %d flushes, %.0f s", cuts, bad, run.worst, run.stall, run.commit, run.flushes, time.Since(began).Seconds())

	began = time.Now()
	control := virtual.record(t, "control", controlCuts)
	bad = 0
	for i, got := range virtual.check(t, control.images) {
		if why := control.judge(i, got); why != "" {
			bad++
			t.Logf("without barriers, as it must be: %s", why)
		}
	}
	if bad < controlCuts/2 {
		t.Errorf("without write barriers only %d of %d cuts lost something: this test cannot tell a missing flush", bad, controlCuts)
	}
	t.Logf("control: %d of %d bad, %d flushes, %.0f s", bad, controlCuts, control.flushes, time.Since(began).Seconds())
}

// recording is what the guest told and what the cuts left.
type recording struct {
	images  []string
	cuts    []cut
	worst   float64
	flushes int

	mu            sync.Mutex // guards what the guest told
	last          told
	marks         []float64 // all that were told
	stall, commit float64
}

// told is what the guest has told by some moment.
type told struct {
	at   float64 // of the last row
	rows int     // acknowledged by the archive
}

// judge says what is wrong with what a cut left; "" is nothing.
func (r *recording) judge(i int, got string) string {
	c := r.cuts[i].now
	f := strings.Fields(got)
	if len(f) < 5 || f[0] != "ok" { // a sixth field are the marks, where there are any
		return got
	}
	rows, _ := strconv.Atoi(f[1])
	last, _ := strconv.ParseFloat(f[2], 64)
	r.worst = max(r.worst, c.at-last)
	limit := c.at - 1 - r.stall - r.commit
	var marks []string
	if len(f) > 5 {
		marks = strings.Split(f[5], ",")
	}
	switch {
	case rows < c.rows:
		return fmt.Sprintf("%d rows of %d acknowledged", rows, c.rows)
	case last < limit:
		return fmt.Sprintf("the last row is of %.2f s, told was %.2f s", last, c.at)
	case f[3] != "broken-off" || f[4] != f[2]:
		return fmt.Sprintf("state %s, the mark of the end at %s s, the last row at %s s", f[3], f[4], f[2])
	}
	for _, m := range r.marks {
		if m < limit && !slices.Contains(marks, fmt.Sprintf("%.3f", m)) {
			return fmt.Sprintf("the mark at %.3f s is missing", m)
		}
	}
	return ""
}

// machine is the virtual machine's kernel and first files.
type machine struct{ kernel, initrd string }

// start boots a guest and gives its lines. It ends with the test at the latest.
func (m machine) start(t *testing.T, mode string, drives ...string) (lines *bufio.Scanner, kill func()) {
	t.Helper()
	var args []string
	for i, d := range drives {
		args = append(args, "-drive", fmt.Sprintf("if=none,id=d%d,%s,format=raw,cache=writeback", i, d),
			"-device", fmt.Sprintf("virtio-blk-pci,drive=d%d,addr=%d.%d,multifunction=on", i, 5+i/8, i%8))
	}
	return guest.Machine{Kernel: m.kernel, Initrd: m.initrd, CPU: "qemu64", Memory: 320, Words: "t.mode=" + mode, Args: args, Limit: bootLimit}.Start(t)
}

// record lets the guest record and cuts its power at random moments, always while the disk
// holds something that is not durable.
func (m machine) record(t *testing.T, mode string, cuts int) *recording {
	t.Helper()
	folder := t.TempDir()
	blank := filepath.Join(folder, "blank")
	if err := os.WriteFile(blank, make([]byte, diskSize), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mkfs.ext4", "-q", "-F", blank).CombinedOutput(); err != nil {
		t.Fatalf("mkfs.ext4: %v %s", err, out)
	}
	image, err := os.ReadFile(blank)
	if err != nil {
		t.Fatal(err)
	}
	d := newDisk(image)
	path := filepath.Join(folder, "disk")
	ln, err := net.Listen("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	go d.serve(ln)
	lines, kill := m.start(t, mode, "file.driver=nbd,file.server.type=unix,file.server.path="+path)
	defer kill()
	r := &recording{}
	heard := make(chan struct{})
	go func() {
		defer close(heard)
		for lines.Scan() {
			r.hear(t, lines.Text())
		}
	}()
	lot := rand.New(rand.NewPCG(20, 26))
	for len(r.cuts) < cuts {
		time.Sleep(time.Duration(lot.IntN(600)) * time.Millisecond)
		select {
		case <-heard:
			t.Fatalf("the guest ended after %d cuts: %v", len(r.cuts), lines.Err())
		case c := <-d.cutAfter(1+lot.IntN(6), lot, r.now):
			if c.now.rows == 0 {
				continue // it has hardly begun
			}
			file := filepath.Join(folder, fmt.Sprint("cut", len(r.cuts)))
			if err := os.WriteFile(file, c.image, 0o644); err != nil {
				t.Fatal(err)
			}
			c.image = nil
			r.images, r.cuts = append(r.images, file), append(r.cuts, c)
		}
	}
	time.Sleep(1500 * time.Millisecond) // how long the commit under way took is told after it
	kill()
	<-heard
	r.flushes = d.flushes
	return r
}

// now is what the guest has told.
func (r *recording) now() told {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.last
}

// hear reads one line of the guest.
func (r *recording) hear(t *testing.T, line string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	line = strings.TrimSpace(line)
	var at, stall, commit float64
	var rows int
	if n, _ := fmt.Sscanf(line, "T %f %d %f %f", &at, &rows, &stall, &commit); n == 4 {
		r.stall, r.commit = max(r.stall, stall), max(r.commit, commit)
		r.last = told{at: at, rows: rows}
		return
	}
	if n, _ := fmt.Sscanf(line, "M %f", &at); n == 1 {
		r.marks = append(r.marks, at)
	} else if line != "" {
		t.Log("guest: ", line)
	}
}

// check boots once with every image as a disk and gives what the guest found in each.
func (m machine) check(t *testing.T, images []string) []string {
	t.Helper()
	var drives []string
	for _, i := range images {
		drives = append(drives, "file="+i)
	}
	lines, kill := m.start(t, "check", drives...)
	defer kill()
	found := make([]string, len(images))
	for i := range found {
		found[i] = "the guest said nothing of it"
	}
	for lines.Scan() {
		line := strings.TrimSpace(lines.Text())
		if line == "DONE" {
			return found
		}
		var i int
		if n, _ := fmt.Sscanf(line, "I %d", &i); n == 1 && i < len(found) {
			found[i] = strings.Join(strings.Fields(line)[2:], " ")
		} else if line != "" {
			t.Log("guest: ", line)
		}
	}
	t.Errorf("the guest ended early: %v", lines.Err())
	return found
}
