// Package procstat owns the processor lines of /proc/stat (proc(5)): how busy all
// processors together and each of them were. It parses bytes; it opens nothing.
package procstat

import "bytes"

// Ticks is time since boot in the kernel's user ticks: all of it, and the idle part,
// waiting for input and output included.
type Ticks struct{ Total, Idle int64 }

// Parse reads "cpu" into all and "cpuN" into by[N]: user nice system idle iowait irq
// softirq steal guest guest_nice. Guest time is part of user time already. Processors
// beyond by, and lines that are cut or no numbers, are left as they are. It allocates
// nothing.
func Parse(text []byte, all *Ticks, by []Ticks) {
	for {
		end := bytes.IndexByte(text, '\n')
		if end < 0 {
			return // the last line may be cut
		}
		line := text[:end]
		text = text[end+1:]
		if len(line) < 5 || string(line[:3]) != "cpu" {
			continue
		}
		into, rest := all, line[3:]
		if rest[0] != ' ' {
			cpu, after, ok := number(rest)
			if !ok || cpu >= int64(len(by)) {
				continue
			}
			into, rest = &by[cpu], after
		}
		if t, ok := ticks(rest); ok {
			*into = t
		}
	}
}

// ticks adds up the first eight numbers; the oldest kernels write four.
func ticks(b []byte) (t Ticks, ok bool) {
	for field := range 8 {
		v, rest, ok := number(b)
		if !ok {
			return t, field >= 4
		}
		b = rest
		t.Total += v
		if field == 3 || field == 4 {
			t.Idle += v
		}
	}
	return t, true
}

// Busy is the busy share of the time from before to t, 0 to 1; ok is false where no
// tick has passed. The kernel lets the idle part run backwards a little.
func (t Ticks) Busy(before Ticks) (share float64, ok bool) {
	total, idle := t.Total-before.Total, t.Idle-before.Idle
	if total <= 0 {
		return 0, false
	}
	return 1 - min(1, max(0, float64(idle)/float64(total))), true
}

// number reads an unsigned number of at most 17 digits after blanks.
func number(b []byte) (v int64, rest []byte, ok bool) {
	i := 0
	for i < len(b) && b[i] == ' ' {
		i++
	}
	start := i
	for i < len(b) && b[i] >= '0' && b[i] <= '9' && i-start < 17 {
		v = v*10 + int64(b[i]-'0')
		i++
	}
	return v, b[i:], i > start && (i == len(b) || b[i] == ' ')
}
