package cpufreq

import "bytes"

// ticks is a processor's time since boot in the kernel's user ticks.
type ticks struct{ total, idle int64 }

// parseStat fills by with the per-processor lines of /proc/stat (proc(5)): "cpu3 user
// nice system idle iowait irq softirq steal guest guest_nice". Guest time is part of
// user time already. Lines of processors beyond by, and lines that are cut or no
// numbers, are left out. It allocates nothing.
func parseStat(text []byte, by []ticks) {
	for len(text) > 0 {
		end := bytes.IndexByte(text, '\n')
		if end < 0 {
			return // the last line may be cut
		}
		line := text[:end]
		text = text[end+1:]
		if len(line) < 5 || string(line[:3]) != "cpu" {
			continue
		}
		cpu, rest, ok := number(line[3:])
		if !ok || cpu >= int64(len(by)) {
			continue
		}
		var t ticks
		field := 0
		for ; field < 8; field++ {
			var v int64
			if v, rest, ok = number(rest); !ok {
				break
			}
			t.total += v
			if field == 3 || field == 4 {
				t.idle += v
			}
		}
		if field >= 4 {
			by[cpu] = t
		}
	}
}

// number reads an unsigned number of at most 18 digits after blanks.
func number(b []byte) (v int64, rest []byte, ok bool) {
	i := 0
	for i < len(b) && b[i] == ' ' {
		i++
	}
	start := i
	for i < len(b) && b[i] >= '0' && b[i] <= '9' && i-start < 18 {
		v = v*10 + int64(b[i]-'0')
		i++
	}
	return v, b[i:], i > start && (i == len(b) || b[i] == ' ')
}
