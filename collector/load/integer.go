package load

// integerSteps is how often each of the four generators steps in a unit.
const integerSteps = 1 << 15

// The generators: xorshift with the shifts 13, 7, 17 (Marsaglia 2003, "Xorshift RNGs",
// section 3), and x = lcgA x + lcgC modulo 2^64.
const (
	lcgA = 6364136223846793005
	lcgC = 1442695040888963407
)

// Where the generators start, and where they are after integerSteps. The test works the
// end out by the powers of the step's matrix over GF(2), and by the sum of a geometric
// series; the kernel steps.
var (
	integerStart = [4]uint64{88172645463325252, 0x9e3779b97f4a7c15, 1, 0x0123456789abcdef}
	integerEnd   = [4]uint64{0x406147ebeeeac4e7, 0xa16d39dd93298711, 0xb72edde7d7348001, 0x1bde57acae5c4def}
)

// integer is the kernel of the integer units.
type integer struct{}

func (integer) run() bool { return integerUnit(integerStart) == integerEnd }

func integerUnit(s [4]uint64) [4]uint64 {
	a, b, c, d := s[0], s[1], s[2], s[3]
	for range integerSteps {
		a ^= a << 13
		b ^= b << 13
		c = c*lcgA + lcgC
		a ^= a >> 7
		b ^= b >> 7
		d = d*lcgA + lcgC
		a ^= a << 17
		b ^= b << 17
	}
	return [4]uint64{a, b, c, d}
}
