package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"soakline/collector/telemetry"
)

// Bounds of a plan: nobody means more than these, and a typing mistake does.
const (
	maxBytes  = 64 << 10
	maxPhases = 1000
	maxTurns  = 1000
	maxDepth  = 4 // of repeats, and of brackets in the file
)

// Parse reads a plan. file is its name for messages. What is wrong is given as a
// *Problems with every place.
func Parse(file string, data []byte) (*Plan, error) {
	r := &reader{}
	p := r.document(data)
	if len(r.problems) > 0 {
		slices.SortStableFunc(r.problems, func(a, b Problem) int {
			if a.Line != b.Line {
				return a.Line - b.Line
			}
			return a.Column - b.Column
		})
		return nil, &Problems{file, r.problems}
	}
	return p, nil
}

func (r *reader) document(data []byte) *Plan {
	if len(data) > maxBytes {
		r.wrong(nil, "the file has %d bytes; a plan has %d at most", len(data), maxBytes)
		return nil
	}
	if !r.shallow(data) {
		return nil
	}
	f, err := parser.ParseBytes(data, 0)
	var syntax yaml.Error
	switch {
	case errors.As(err, &syntax):
		r.wrong(syntax.GetToken(), "%s", syntax.GetMessage())
		return nil
	case err != nil:
		r.wrong(nil, "%v", err)
		return nil
	case len(f.Docs) == 0 || f.Docs[0].Body == nil:
		r.wrong(nil, "the file is empty; a plan begins with 'plan: its name'")
		return nil
	case len(f.Docs) > 1:
		r.wrong(f.Docs[1].GetToken(), "a file holds one plan")
		return nil
	}
	return r.plan(f.Docs[0].Body)
}

// shallow refuses brackets in brackets without end before the parser goes down into them.
func (r *reader) shallow(data []byte) bool {
	depth, line, column := 0, 1, 0
	for _, b := range data {
		column++
		switch b {
		case '\n':
			line, column = line+1, 0
		case '[', '{':
			depth++
		case ']', '}':
			depth = max(0, depth-1)
		}
		if depth > 32 {
			r.problems = append(r.problems, Problem{line, column, "too many brackets within brackets"})
			return false
		}
	}
	return true
}

func (r *reader) plan(n ast.Node) *Plan {
	p := &Plan{Runs: 1, Rounds: 1, Order: InTurn, Seed: 1}
	seen := map[string]field{}
	for _, f := range r.fields(n, nil, "a plan: 'plan: its name', then 'phases:'", "plan", "about", "limit_c", "runs", "setups", "order", "rounds", "seed", "phases") {
		seen[f.name] = f
		switch f.name {
		case "plan":
			p.Name = r.text(f, "the plan's name")
		case "about":
			p.About = r.text(f, "a sentence")
		case "limit_c":
			p.LimitC = r.number(f, 20, 150, " degC")
		case "runs":
			p.Runs = r.whole(f, 1, 100)
		case "setups":
			p.Setups = r.setups(f)
		case "rounds":
			p.Rounds = r.whole(f, 1, 100)
		case "seed":
			p.Seed = uint64(r.whole(f, 0, math.MaxInt32))
		case "phases":
			p.Phases = r.phases(f.node, f.key, 0)
		}
	}
	if p.Name == "" && seen["plan"].key == nil {
		r.wrong(tokenOf(n), "the plan has no name; begin with 'plan: its name'")
	}
	if _, ok := seen["phases"]; !ok {
		r.wrong(tokenOf(n), "the plan has no phases; expected 'phases:' with rest, load and cool")
	}
	r.order(p, seen)
	if len(p.Phases) > maxPhases {
		r.wrong(seen["phases"].at(), "the phases are %d with their repeats; %d are the most", len(p.Phases), maxPhases)
	}
	if runs := p.Total(); runs > maxTurns {
		r.wrong(tokenOf(n), "the plan would make %d runs; %d are the most", runs, maxTurns)
	}
	return p
}

func (r *reader) setups(f field) []Setup {
	var out []Setup
	for _, s := range r.fields(f.node, f.key, "the setups, each with its conditions: 'plate: {cooler: sealed plate}'") {
		set := Setup{Name: s.name}
		if _, empty := s.node.(*ast.NullNode); !empty {
			for _, kv := range r.fields(s.node, s.key, "the conditions of the setup, for instance {cooler: sealed plate, paste: re-applied}") {
				set.Settings = append(set.Settings, telemetry.Setting{Key: kv.name, Value: r.text(kv, "what the condition is (a text with a comma stands in quotes)")})
			}
		}
		out = append(out, set)
	}
	return out
}

// order reads how the setups follow one another, once the setups are known.
func (r *reader) order(p *Plan, seen map[string]field) {
	for _, key := range []string{"order", "rounds", "seed"} {
		if f, ok := seen[key]; ok && len(p.Setups) < 2 {
			r.wrong(f.key, "%s: a plan of one setup has no order; name two setups at least", key)
			return
		}
	}
	f, ok := seen["order"]
	if !ok {
		return
	}
	if _, list := f.node.(*ast.SequenceNode); list {
		r.listed(p, f, seen)
		return
	}
	switch p.Order = Order(r.text(f, "an order")); p.Order {
	case InTurn, Random:
	case Mirrored:
		if p.Rounds%2 != 0 {
			r.wrong(f.at(), "order: mirrored needs an even number of rounds, or a drift does not cancel; this plan has %d", p.Rounds)
		}
	default:
		r.wrong(f.at(), "order: expected 'in turn', 'mirrored', 'random' or a list of setups such as [a, b, b, a]")
	}
}

func (r *reader) listed(p *Plan, f field, seen map[string]field) {
	p.Order = Listed
	if rounds, ok := seen["rounds"]; ok {
		r.wrong(rounds.key, "rounds: a list of setups says itself how often each has its turn")
	}
	for _, n := range r.items(f.node, f.key, "a list of setups") {
		name, _ := text(n)
		if !slices.ContainsFunc(p.Setups, func(s Setup) bool { return s.Name == name }) {
			r.wrong(tokenOr(n, f.key), "order: there is no setup %q; there are %s", name, setupNames(p.Setups))
		}
		p.Sequence = append(p.Sequence, name)
	}
}

func setupNames(setups []Setup) string {
	text := ""
	for i, s := range setups {
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprintf("%q", s.Name)
	}
	return text
}
