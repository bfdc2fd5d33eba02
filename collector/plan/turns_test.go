package plan

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func order(p *Plan) string {
	var names []string
	for _, t := range p.Turns() {
		names = append(names, t.Setup.Name)
	}
	return strings.Join(names, "")
}

func setups(n int) []Setup {
	var out []Setup
	for i := range n {
		out = append(out, Setup{Name: string(rune('A' + i))})
	}
	return out
}

func TestOrders(t *testing.T) {
	for _, c := range []struct {
		p    Plan
		want string
	}{
		{Plan{Setups: setups(2), Order: InTurn, Rounds: 2, Runs: 1}, "ABAB"},
		{Plan{Setups: setups(2), Order: Mirrored, Rounds: 2, Runs: 1}, "ABBA"},
		{Plan{Setups: setups(3), Order: Mirrored, Rounds: 2, Runs: 1}, "ABCCBA"},
		{Plan{Setups: setups(2), Order: Listed, Sequence: []string{"B", "A"}, Rounds: 1, Runs: 2}, "BBAA"},
	} {
		if got := order(&c.p); got != c.want || c.p.Total() != len(c.want) {
			t.Errorf("%s %d: %s, want %s; total %d", c.p.Order, len(c.p.Setups), got, c.want, c.p.Total())
		}
	}
	one := Plan{Runs: 3, Rounds: 1}
	for i, turn := range one.Turns() {
		if turn.Setup != nil || turn.Change || turn.Run != i+1 || turn.Number != i+1 {
			t.Errorf("turn %+v", turn)
		}
	}
}

// In every order each setup has as many runs as the others, a change is asked for where
// the setup differs from the one before and nowhere else, a block of a random order holds
// each setup once, and a mirrored order gives every setup the same mean place, so that a
// straight drift of the room adds the same to each.
func TestTurnsAreBalanced(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 5).Draw(t, "setups")
		p := Plan{Setups: setups(n), Order: rapid.SampledFrom([]Order{InTurn, Mirrored, Random}).Draw(t, "order"),
			Rounds: 2 * rapid.IntRange(1, 4).Draw(t, "half the rounds"), Runs: rapid.IntRange(1, 3).Draw(t, "runs"), Seed: rapid.Uint64().Draw(t, "seed")}
		turns := p.Turns()
		if len(turns) != p.Total() || !reflect.DeepEqual(turns, p.Turns()) {
			t.Fatal("the order is not the same the second time, or not as long as Total says")
		}
		count, places := map[string]int{}, map[string]int{}
		for i, turn := range turns {
			count[turn.Setup.Name]++
			places[turn.Setup.Name] += i
			if differs := i == 0 || turns[i-1].Setup.Name != turn.Setup.Name; turn.Change != differs {
				t.Fatalf("turn %d: change %v, differs %v", i, turn.Change, differs)
			}
		}
		for b := 0; b < len(turns); b += n * p.Runs {
			block := map[string]int{}
			for _, turn := range turns[b : b+n*p.Runs] {
				block[turn.Setup.Name]++
			}
			for name, k := range block {
				if k != p.Runs {
					t.Fatalf("block at %d has %s %d times", b, name, k)
				}
			}
		}
		for name := range count {
			if count[name] != p.Rounds*p.Runs {
				t.Fatalf("%s has %d runs", name, count[name])
			}
			if p.Order == Mirrored && places[name] != places["A"] {
				t.Fatalf("mean places differ: %v", places)
			}
		}
	})
}

func TestRandomOrdersDifferBySeed(t *testing.T) {
	seen := map[string]bool{}
	for seed := range uint64(40) {
		p := Plan{Setups: setups(2), Order: Random, Rounds: 2, Runs: 1, Seed: seed}
		seen[order(&p)] = true
	}
	if fmt.Sprint(len(seen)) != "4" { // AB or BA, twice
		t.Errorf("two blocks of two have four orders; seen %v", seen)
	}
}
