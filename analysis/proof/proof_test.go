package proof

import (
	"flag"
	"testing"
)

var (
	machines = flag.Int("proof.n", 4, "random machines to draw")
	seed     = flag.Uint64("proof.seed", 1, "first seed")
)

// TestProof prints, a row a quantity, how the analysis does on random machines:
//
//	go test ./analysis/proof -run TestProof -v -proof.n 300 -proof.seed 1000
func TestProof(t *testing.T) {
	rp := NewReport()
	for i := range *machines {
		rp.Machine(*seed + uint64(i))
	}
	t.Logf("\n%s", rp)
	for _, m := range rp.Misses() {
		t.Error("missed by more than chance: " + m)
	}
}

// TestChangeProof does the same for pairs of runs:
//
//	go test ./analysis/proof -run TestChangeProof -v -proof.n 300
func TestChangeProof(t *testing.T) {
	cr := NewChangeReport()
	for i := range *machines {
		cr.Pair(*seed + uint64(i))
	}
	t.Logf("\n%s", cr)
	for _, m := range cr.Misses() {
		t.Error("missed by more than chance: " + m)
	}
}
