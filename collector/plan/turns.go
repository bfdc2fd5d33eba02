package plan

import (
	"math/rand/v2"
	"time"
)

// Turn is one run of the plan.
type Turn struct {
	Number int    // from 1, over the whole plan
	Setup  *Setup // nil where the plan has none
	Run    int    // from 1, within the turn of the setup
	Change bool   // the setup has to be put in first
}

// Total is how many runs the plan makes.
func (p *Plan) Total() int {
	if len(p.Sequence) > 0 {
		return len(p.Sequence) * p.Runs
	}
	return max(1, len(p.Setups)) * p.Rounds * p.Runs
}

// Turns gives the runs in their order. The same plan gives the same order.
func (p *Plan) Turns() []Turn {
	var out []Turn
	last := -1
	for _, s := range p.sequence() {
		for run := 1; run <= p.Runs; run++ {
			t := Turn{Number: len(out) + 1, Run: run}
			if s >= 0 {
				t.Setup, t.Change = &p.Setups[s], s != last
			}
			last = s
			out = append(out, t)
		}
	}
	return out
}

// sequence gives the place of the setup of each turn; -1 where there is none.
func (p *Plan) sequence() []int {
	n := len(p.Setups)
	if n == 0 {
		return []int{-1}
	}
	var out []int
	if p.Order == Listed {
		for _, name := range p.Sequence {
			for i := range p.Setups {
				if p.Setups[i].Name == name {
					out = append(out, i)
				}
			}
		}
		return out
	}
	rng := rand.New(rand.NewPCG(p.Seed, 0x706c616e))
	for round := range p.Rounds {
		block := make([]int, n)
		for i := range block {
			block[i] = i
			if p.Order == Mirrored && round%2 == 1 {
				block[i] = n - 1 - i
			}
		}
		if p.Order == Random {
			rng.Shuffle(n, func(i, j int) { block[i], block[j] = block[j], block[i] })
		}
		out = append(out, block...)
	}
	return out
}

// Length is the longest that one run takes, questions aside.
func (p *Plan) Length() time.Duration {
	var sum time.Duration
	for i := range p.Phases {
		sum += p.Phases[i].atMost()
	}
	return sum
}

// Sets is true where a setup of the plan names the condition.
func (p *Plan) Sets(key string) bool {
	for _, s := range p.Setups {
		for _, kv := range s.Settings {
			if kv.Key == key {
				return true
			}
		}
	}
	return false
}
