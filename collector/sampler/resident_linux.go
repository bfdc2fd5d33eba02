package sampler

import (
	"bytes"
	"os"
	"strconv"
)

// resident is the resident set: the second field of /proc/self/statm, in pages (proc(5)).
func resident() (n uint64, known bool) {
	text, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		return 0, false
	}
	fields := bytes.Fields(text)
	if len(fields) < 2 {
		return 0, false
	}
	pages, err := strconv.ParseUint(string(fields[1]), 10, 64)
	return pages * uint64(os.Getpagesize()), err == nil
}
