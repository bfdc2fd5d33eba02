package libcall

import (
	"os"
	"strconv"
	"strings"
	"sync"
	"time"
)

// spent keeps what the children take of the processor, which the system does not count as
// this process's own while they live.
var spent struct {
	sync.Mutex
	ended time.Duration
	live  map[int]bool // process ids
}

// CPUTime is the processor time that all children of this process have taken so far.
func CPUTime() time.Duration {
	spent.Lock()
	defer spent.Unlock()
	sum := spent.ended
	for pid := range spent.live {
		if t, ok := processTime(pid); ok {
			sum += t
		}
	}
	return sum
}

func began(pid int) {
	spent.Lock()
	defer spent.Unlock()
	if spent.live == nil {
		spent.live = map[int]bool{}
	}
	spent.live[pid] = true
}

func ended(pid int, took time.Duration) {
	spent.Lock()
	defer spent.Unlock()
	delete(spent.live, pid)
	spent.ended += took
}

// tick is the unit of the times in /proc/PID/stat: USER_HZ is 100 on every architecture
// that is served here (kernel: include/asm-generic/param.h).
const tick = 10 * time.Millisecond

// processTime reads fields 14 and 15 of /proc/PID/stat, user and system time (proc(5));
// the name in field 2 may hold spaces and brackets.
func processTime(pid int) (time.Duration, bool) {
	text, err := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/stat")
	if err != nil {
		return 0, false
	}
	fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	if len(fields) < 13 {
		return 0, false
	}
	user, err1 := strconv.ParseInt(fields[11], 10, 64)
	system, err2 := strconv.ParseInt(fields[12], 10, 64)
	return time.Duration(user+system) * tick, err1 == nil && err2 == nil
}
