package session

import (
	"io"
	"time"
)

// idLetters are 32 letters and digits that are hard to mistake for one another.
const idLetters = "abcdefghijkmnpqrstuvwxyz23456789"

// NewID makes the name of a session from its start in UTC and three random letters:
// "20261125-074209-k3f". It sorts by time and can stand in a file name or an address.
// random is crypto/rand's Reader but in tests; a failing one gives "aaa".
func NewID(now time.Time, random io.Reader) string {
	var b [3]byte
	io.ReadFull(random, b[:])
	for i := range b {
		b[i] = idLetters[b[i]%32]
	}
	return now.UTC().Format("20060102-150405-") + string(b[:])
}
