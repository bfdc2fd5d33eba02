package plan

import (
	"fmt"
	"math"
)

// patienceS is how old the newest die temperature may be while a load runs, s.
const patienceS = 0.1

// Guard watches the die while a load runs that soakline started. It is told every row.
type Guard struct {
	LimitC  float64 // degC; 0: the user named none
	NeedDie bool    // a load without a die temperature ends

	seen float64 // when the die had a value, s
}

// begin starts the watch at a load's start.
func (g *Guard) begin(at, dieC float64) string {
	g.seen = at
	if math.IsNaN(dieC) {
		g.seen = math.Inf(-1)
	}
	return g.trip(at, dieC)
}

// trip says why the load has to end now; "" where it may go on.
func (g *Guard) trip(at, dieC float64) string {
	if !math.IsNaN(dieC) {
		g.seen = at
		if g.LimitC > 0 && dieC > g.LimitC {
			return fmt.Sprintf("the die is at %.1f °C, above the limit of %g °C", dieC, g.LimitC)
		}
		return ""
	}
	if g.NeedDie && at-g.seen >= patienceS-1e-6 {
		return "the die temperature is lost"
	}
	return ""
}
