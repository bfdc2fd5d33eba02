package ladder

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"

	"soakline/analysis/compare"
	"soakline/analysis/text"
)

// poor is the ratio from which the near part of one of two mounts is called poor: what
// different pastes and pads do stays below it (common practice, no source).
const poor = 1.5

// naming are the conditions that name a setup, in this order.
var naming = []string{"setup", "cooler", "mount", "paste", "lid", "fan", "limit", "long-term limit"}

// name is what a setup is called: its user's name for a run, else as few conditions as
// tell it from all others, else its letter.
func (b *builder) name(i int) string {
	g := b.groups[i]
	if n := strings.TrimSpace(g.runs[0].Name); n != "" {
		return n
	}
	var parts []string
	for _, key := range b.telling() {
		if v := g.setup[key]; v != "" && !strings.Contains(strings.Join(parts, ", "), v) {
			parts = append(parts, v)
		}
	}
	if len(parts) > 0 {
		return strings.Join(parts, ", ")
	}
	if len(b.groups) == 1 && g.runs[0].ID != "" {
		return g.runs[0].ID
	}
	return "setup " + letter(i)
}

// telling are the keys that tell all setups apart, or all that differ.
func (b *builder) telling() []string {
	keys := append([]string{}, naming...)
	for _, g := range b.groups {
		for _, c := range changes(b.groups[0].setup, g.setup) {
			keys = append(keys, c.Key)
		}
	}
	var out []string
	had := map[string]bool{}
	for _, k := range keys {
		differs := len(b.groups) == 1
		for _, g := range b.groups {
			differs = differs || g.setup[k] != b.groups[0].setup[k]
		}
		if had[k] || !differs {
			continue
		}
		had[k] = true
		out = append(out, k)
		seen := map[string]bool{}
		for _, g := range b.groups {
			var v []string
			for _, k := range out {
				v = append(v, g.setup[k])
			}
			seen[strings.Join(v, "\n")] = true
		}
		if len(seen) == len(b.groups) {
			break
		}
	}
	return out
}

var counts = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}

// Changes puts what changed into words: "paste: factory → re-applied", with the count first
// where it is more than one thing.
func Changes(cs []compare.SettingChange) string {
	var parts []string
	for _, c := range cs {
		parts = append(parts, fmt.Sprintf("%s: %s → %s", c.Key, orNone(c.A), orNone(c.B)))
	}
	switch n := len(cs); {
	case n == 0:
		return ""
	case n == 1:
		return parts[0]
	case n < len(counts):
		return counts[n] + " things changed: " + strings.Join(parts, "; ")
	default:
		return fmt.Sprintf("%d things changed: %s", n, strings.Join(parts, "; "))
	}
}

func orNone(v string) string {
	if v == "" {
		return "(not noted)"
	}
	return v
}

// say writes each rung's sentences: what changed, the heat's way against the one before, a
// poor contact by name, and the first figures that changed.
func (b *builder) say(rungs []Rung) {
	poorly := contacts(rungs)
	for i := range rungs {
		r := &rungs[i]
		var parts []string
		if i == b.stock {
			parts = append(parts, "Stock.")
		}
		if w := Changes(r.Changed); w != "" {
			if len(r.Changed) > 1 {
				w += "; which of them did it cannot be told"
			}
			parts = append(parts, sentence(w))
		}
		if p := poorly[i]; p != "" {
			parts = append(parts, p)
		}
		if r.PathBefore != nil {
			c := compare.Comparison{ThermalPath: *r.PathBefore}
			parts = append(parts, text.Verdict(c, rungs[i-1].Letter, r.Letter))
		}
		if i != b.stock {
			parts = append(parts, b.gains(*r))
		}
		r.Say = strings.Join(parts, " ")
	}
}

func sentence(s string) string {
	r := []rune(s)
	return string(unicode.ToUpper(r[0])) + string(r[1:]) + "."
}

// contacts names the poor one of two neighbours whose near parts are surely apart.
func contacts(rungs []Rung) map[int]string {
	out := map[int]string{}
	for i := 1; i < len(rungs); i++ {
		p := rungs[i].PathBefore
		switch {
		case p == nil || !p.NearRatio.Known() || p.Verdict == compare.Undetermined:
		case p.NearLow > poor:
			out[i] = fmt.Sprintf("The contact of %s is poor: its near part, die to block, has %.1f times the resistance of that of %s (%.1f to %.1f).",
				rungs[i].Letter, float64(p.NearRatio), rungs[i-1].Letter, float64(p.NearLow), float64(p.NearHigh))
		case p.NearHigh < 1/poor && out[i-1] == "":
			out[i-1] = fmt.Sprintf("The contact of %s is poor: its near part, die to block, has %.1f times the resistance of that of %s (%.1f to %.1f).",
				rungs[i-1].Letter, 1/float64(p.NearRatio), rungs[i].Letter, 1/float64(p.NearHigh), 1/float64(p.NearLow))
		}
	}
	return out
}

// gains says of the leading figures what they did against stock.
func (b *builder) gains(r Rung) string {
	stock := letter(b.stock)
	var parts []string
	for _, f := range r.Figures {
		if len(parts) < 3 && f.Stock != nil && f.Stock.ChangePct.Known() && (f.Better != Neither || f.Name == "sustained power") && f.Unit != "K/W" {
			parts = append(parts, f.Name+" "+text.Changed(*f.Stock))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "Against stock, " + stock + ": " + strings.Join(parts, "; ") + "."
}

// sides finds the letters by which a comparison calls its two sides.
var sides = regexp.MustCompile(`\b[AB]\b`)

// named gives a warning of a comparison the letters of the ladder; what the ladder says
// itself, that more than one thing changed or that runs are missing, is left out.
func named(warning, a, b string) string {
	if strings.Contains(warning, "things changed between") || strings.Contains(warning, "needs at least two runs") {
		return ""
	}
	return sides.ReplaceAllStringFunc(warning, func(s string) string {
		if s == "A" {
			return a
		}
		return b
	})
}

// warnings of the ladder as a whole.
func (b *builder) warnings(l Ladder) []string {
	out := []string{}
	single, tests := []string{}, 0
	for _, r := range l.Rungs {
		if len(r.Runs) < 2 {
			single = append(single, r.Letter)
		}
		for _, f := range r.Figures {
			if f.Stock != nil && f.Stock.Real != nil {
				tests++
			}
		}
	}
	if len(single) > 0 && len(l.Rungs) > 1 {
		out = append(out, fmt.Sprintf("one run only of %s: whether a change is real needs at least two runs a setup, better three, in turn", strings.Join(single, ", ")))
	}
	if tests >= 10 {
		out = append(out, fmt.Sprintf("%d changes are judged against stock, each at 5 %%: if nothing had changed, about %.0f would look real by chance", tests, 0.05*float64(tests)))
	}
	for _, d := range l.Drift {
		if d.Real != nil && *d.Real {
			out = append(out, d.Name+" "+d.Say)
		}
	}
	if len(l.Drift) == 0 && len(l.Rungs) > 1 {
		out = append(out, "whether anything drifted across the series is not known: that needs setups that were run more than once")
	}
	return out
}
