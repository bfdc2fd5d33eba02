package hub

import "time"

// entry is one published message.
type entry struct {
	msg []byte
	at  time.Time // when it was published
	seq uint64    // of a row
	row bool
}

// log holds the newest messages in places that count up for ever: place p lies at
// p modulo the length.
type log struct {
	entries   []entry
	end       uint64 // the place of the next message
	lastRow   uint64 // seq of the newest row
	lastEvent uint64 // one more than the place of the newest message that is no row; 0: none
}

func (l *log) append(e entry) {
	l.entries[l.end%uint64(len(l.entries))] = e
	l.end++
	if e.row {
		l.lastRow = e.seq
	} else {
		l.lastEvent = l.end
	}
}

// begin is the oldest place still held.
func (l *log) begin() uint64 {
	if n := uint64(len(l.entries)); l.end > n {
		return l.end - n
	}
	return 0
}

func (l *log) at(place uint64) *entry { return &l.entries[place%uint64(len(l.entries))] }

// row is the place of row seq; held is false where the log does not hold it.
func (l *log) row(seq uint64) (place uint64, held bool) {
	for p := l.end; p > l.begin(); p-- {
		if e := l.at(p - 1); e.row && e.seq <= seq {
			return p - 1, e.seq == seq
		}
	}
	return 0, false
}

// after is the place of the first message that follows row seq; row 0 is before all.
// held is false where the log cannot tell, or row seq has not been published.
func (l *log) after(seq uint64) (place uint64, held bool) {
	if seq == 0 {
		return 0, l.begin() == 0
	}
	place, held = l.row(seq)
	return place + 1, held
}
