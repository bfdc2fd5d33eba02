package plan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// reader takes a YAML tree apart and gathers what is wrong with it.
type reader struct{ problems []Problem }

func (r *reader) wrong(at *token.Token, format string, args ...any) {
	p := Problem{1, 1, fmt.Sprintf(format, args...)}
	if at != nil && at.Position != nil {
		p.Line, p.Column = at.Position.Line, at.Position.Column
	}
	r.problems = append(r.problems, p)
}

// field is one key of a mapping.
type field struct {
	key  *token.Token
	name string
	node ast.Node
}

// fields gives the keys of a mapping in their order; known lists those that may be there,
// nothing allows any. at is where the mapping is asked for.
func (r *reader) fields(n ast.Node, at *token.Token, what string, known ...string) []field {
	var values []*ast.MappingValueNode
	switch m := n.(type) {
	case *ast.MappingNode:
		values = m.Values
	case *ast.MappingValueNode:
		values = []*ast.MappingValueNode{m}
	default:
		r.wrong(tokenOr(n, at), "expected %s", what)
		return nil
	}
	var out []field
	for _, v := range values {
		name, ok := text(v.Key)
		switch {
		case !ok:
			r.wrong(v.Key.GetToken(), "expected a plain word as the key")
			continue
		case len(known) > 0 && !slices.Contains(known, name):
			r.wrong(v.Key.GetToken(), "%q is not known here; known are %s", name, strings.Join(known, ", "))
			continue
		}
		out = append(out, field{v.Key.GetToken(), name, v.Value})
	}
	return out
}

// items gives the entries of a list.
func (r *reader) items(n ast.Node, at *token.Token, what string) []ast.Node {
	s, ok := n.(*ast.SequenceNode)
	if !ok || len(s.Values) == 0 {
		r.wrong(tokenOr(n, at), "expected %s", what)
		return nil
	}
	return s.Values
}

// text is a scalar as it was written; ok is false where it is none, or empty.
func text(n ast.Node) (string, bool) {
	switch s := n.(type) {
	case *ast.StringNode:
		return s.Value, s.Value != ""
	case *ast.LiteralNode:
		return s.Value.Value, s.Value.Value != ""
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return n.GetToken().Value, true
	}
	return "", false
}

func (r *reader) text(f field, what string) string {
	s, ok := text(f.node)
	if !ok {
		r.wrong(f.at(), "%s: expected %s", f.name, what)
	}
	return strings.TrimSpace(s)
}

func (r *reader) number(f field, low, high float64, unit string) float64 {
	return r.numberAt(f.node, f, low, high, unit)
}

func (r *reader) numberAt(n ast.Node, f field, low, high float64, unit string) float64 {
	s, _ := text(n)
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v >= low && v <= high) {
		r.wrong(tokenOr(n, f.key), "%s: expected a number from %g to %g%s", f.name, low, high, unit)
		return low
	}
	return v
}

func (r *reader) whole(f field, low, high int) int {
	s, _ := text(f.node)
	v, err := strconv.Atoi(s)
	if err != nil || v < low || v > high {
		r.wrong(f.at(), "%s: expected a whole number from %d to %d", f.name, low, high)
		return low
	}
	return v
}

func (r *reader) duration(f field, low, high time.Duration) time.Duration {
	s, _ := text(f.node)
	v, err := time.ParseDuration(s)
	if err != nil || v < low || v > high {
		r.wrong(f.at(), "%s: expected a time with its unit from %v to %v, for instance 90s or 3m", f.name, low, high)
		return low
	}
	return v
}

func (r *reader) yes(f field) bool {
	b, ok := f.node.(*ast.BoolNode)
	if !ok {
		r.wrong(f.at(), "%s: expected true or false", f.name)
		return false
	}
	return b.Value
}

// at is where the value stands, or its key where there is none.
func (f field) at() *token.Token { return tokenOr(f.node, f.key) }

func tokenOr(n ast.Node, fallback *token.Token) *token.Token {
	if t := tokenOf(n); t != nil {
		return t
	}
	return fallback
}

// tokenOf is where a node begins: a mapping at its first key.
func tokenOf(n ast.Node) *token.Token {
	switch m := n.(type) {
	case nil:
		return nil
	case *ast.NullNode:
		return nil
	case *ast.MappingNode:
		if !m.IsFlowStyle && len(m.Values) > 0 {
			return m.Values[0].Key.GetToken()
		}
	case *ast.MappingValueNode:
		return m.Key.GetToken()
	}
	return n.GetToken()
}
