package thermal

import "math/big"

// Cauer converts to the ladder of places by the continued fraction of
// Z(s) = sum R_i/(1+s tau_i) = N(s)/D(s): C = lead(D)/lead(N), D -= s C N,
// R = lead(N)/lead(D), N -= R D, and again. Terms of 1e-6 of the total or less are left
// out. It computes with 64 + 4 bits a stage: double precision is 3 % off at 30 stages of
// a uniform rod and nonsense at 60.
func (f Foster) Cauer() (Cauer, error) {
	if !positive(f.R, f.Tau) {
		return Cauer{}, ErrLadder
	}
	f = f.tidy()
	num, den := f.fraction()
	var out Cauer
	for range f.R {
		c := quotient(den, num)
		den = remainder(den, num, c, 1)
		r := quotient(num, den)
		num = remainder(num, den, r, 0)
		cf, _ := c.Float64()
		rf, _ := r.Float64()
		if !(cf > 0 && rf > 0) {
			return Cauer{}, ErrLadder
		}
		out.C, out.R = append(out.C, cf), append(out.R, rf)
	}
	return out, nil
}

type poly []*big.Float // lowest power first

// fraction multiplies the terms out.
func (f Foster) fraction() (num, den poly) {
	prec := uint(64 + 4*len(f.R))
	val := func(x float64) *big.Float { return new(big.Float).SetPrec(prec).SetFloat64(x) }
	num, den = poly{val(0)}, poly{val(1)}
	for i, r := range f.R {
		tau := val(f.Tau[i])
		next := make(poly, len(den)) // num (1 + s tau) + r den
		for k := range next {
			next[k] = new(big.Float).SetPrec(prec).Mul(val(r), den[k])
			if k < len(num) {
				next[k].Add(next[k], num[k])
			}
			if k > 0 && k-1 < len(num) {
				next[k].Add(next[k], new(big.Float).SetPrec(prec).Mul(tau, num[k-1]))
			}
		}
		grown := make(poly, len(den)+1) // den (1 + s tau)
		for k := range grown {
			grown[k] = val(0)
			if k < len(den) {
				grown[k].Add(grown[k], den[k])
			}
			if k > 0 {
				grown[k].Add(grown[k], new(big.Float).SetPrec(prec).Mul(tau, den[k-1]))
			}
		}
		num, den = next, grown
	}
	return num, den
}

func quotient(a, b poly) *big.Float {
	p := a[len(a)-1].Prec()
	if len(b) == 0 || b[len(b)-1].Sign() == 0 {
		return new(big.Float).SetPrec(p)
	}
	return new(big.Float).SetPrec(p).Quo(a[len(a)-1], b[len(b)-1])
}

// remainder is a - q s^shift b, whose leading term is gone.
func remainder(a, b poly, q *big.Float, shift int) poly {
	out := make(poly, len(a)-1)
	for k := range out {
		out[k] = new(big.Float).SetPrec(q.Prec()).Set(a[k])
		if j := k - shift; j >= 0 && j < len(b) {
			out[k].Sub(out[k], new(big.Float).SetPrec(q.Prec()).Mul(q, b[j]))
		}
	}
	return out
}
