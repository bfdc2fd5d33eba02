package load

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"
)

const canPin = true

// pin holds the calling thread to one processor (sched_setaffinity(2)).
func pin(cpu int) error {
	var set unix.CPUSet
	set.Set(cpu)
	if err := unix.SchedSetaffinity(0, &set); err != nil {
		return fmt.Errorf("hold a worker to processor %d: %w", cpu, err)
	}
	return nil
}

// processors are the logical processors that this program may use, one of each core
// before the second threads of a core.
func processors() ([]int, error) {
	var set unix.CPUSet
	if err := unix.SchedGetaffinity(0, &set); err != nil {
		return nil, fmt.Errorf("ask which processors may be used: %w", err)
	}
	var first, second []int
	for cpu := 0; len(first)+len(second) < set.Count(); cpu++ {
		if !set.IsSet(cpu) {
			continue
		}
		if firstOfCore(cpu) {
			first = append(first, cpu)
		} else {
			second = append(second, cpu)
		}
	}
	return slices.Concat(first, second), nil
}

// firstOfCore reads thread_siblings_list (Linux,
// Documentation/ABI/stable/sysfs-devices-system-cpu): "0,64" or "0-1". Where it cannot be
// read every processor counts as a core.
func firstOfCore(cpu int) bool {
	b, err := os.ReadFile(fmt.Sprintf("/sys/devices/system/cpu/cpu%d/topology/thread_siblings_list", cpu))
	if err != nil {
		return true
	}
	text := strings.TrimSpace(string(b))
	if i := strings.IndexAny(text, ",-"); i >= 0 {
		text = text[:i]
	}
	lowest, err := strconv.Atoi(text)
	return err != nil || lowest == cpu
}
