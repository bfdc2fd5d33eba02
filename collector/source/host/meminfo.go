package host

import "bytes"

// parseMeminfo reads the share of memory in use, in per cent, from /proc/meminfo
// (proc(5)): what is neither free nor can be freed without swapping. ok is false where
// MemTotal or MemAvailable is missing or makes no sense. It allocates nothing.
func parseMeminfo(text []byte) (used float64, ok bool) {
	total, ok1 := field(text, "MemTotal:")
	available, ok2 := field(text, "MemAvailable:")
	if !ok1 || !ok2 || total <= 0 || available > total {
		return 0, false
	}
	return 100 * float64(total-available) / float64(total), true
}

// field finds "NAME   12345 kB" at the beginning of a line.
func field(text []byte, name string) (kb int64, ok bool) {
	for len(text) > 0 {
		line := text
		if end := bytes.IndexByte(text, '\n'); end >= 0 {
			line, text = text[:end], text[end+1:]
		} else {
			text = nil
		}
		if len(line) <= len(name) || string(line[:len(name)]) != name {
			continue
		}
		rest := bytes.TrimLeft(line[len(name):], " ")
		digits := 0
		for digits < len(rest) && digits < 17 && rest[digits] >= '0' && rest[digits] <= '9' {
			kb = kb*10 + int64(rest[digits]-'0')
			digits++
		}
		return kb, digits > 0 && string(rest[digits:]) == " kB"
	}
	return 0, false
}
