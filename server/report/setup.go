package report

import (
	"slices"
	"strings"
	"unicode"

	"soakline/collector/telemetry"
)

// settings are a run's conditions, the last value of each key, in order of appearance.
func settings(t *telemetry.Trace) []telemetry.Setting {
	var out []telemetry.Setting
	for _, s := range t.Setup {
		if i := slices.IndexFunc(out, func(o telemetry.Setting) bool { return o.Key == s.Key }); i >= 0 {
			out[i] = s
		} else {
			out = append(out, s)
		}
	}
	return out
}

// condition is one row of the table of conditions.
type condition struct {
	Key     string
	Values  []string // by setup; several values of one setup's runs joined by " / "
	Differs bool
}

// conditions lists what any setup says, what differs first.
func (r *Report) conditions() []condition {
	var out []condition
	for i, s := range r.setups {
		for _, run := range s.runs {
			for _, kv := range settings(run.Trace) {
				key, value := clean(kv.Key), clean(kv.Value)
				k := slices.IndexFunc(out, func(c condition) bool { return c.Key == key })
				if k < 0 {
					k = len(out)
					out = append(out, condition{Key: key, Values: make([]string, len(r.setups))})
				}
				if had := out[k].Values[i]; had == "" {
					out[k].Values[i] = value
				} else if !slices.Contains(strings.Split(had, " / "), value) {
					out[k].Values[i] += " / " + value
				}
			}
		}
	}
	for k := range out {
		for _, v := range out[k].Values {
			out[k].Differs = out[k].Differs || v != out[k].Values[0]
		}
	}
	slices.SortStableFunc(out, func(a, b condition) int {
		switch {
		case a.Differs && !b.Differs:
			return -1
		case b.Differs && !a.Differs:
			return 1
		}
		return 0
	})
	return out
}

// telling are the conditions that name a setup, where it has no name of its own.
var telling = []string{"cooler", "mount", "paste", "lid", "fan", "limit", "long-term limit"}

// longestName bounds a setup's name, in letters; the table of conditions has it all.
const longestName = 90

// name gives each setup a name: the user's own, else the conditions that tell it from
// the others, else the session's id, else its letter.
func (r *Report) name() {
	chosen := r.tell()
	for i := range r.setups {
		s := &r.setups[i]
		s.name = clean(s.runs[0].Name)
		var parts []string
		for _, c := range chosen {
			if v := c.Values[i]; v != "" && !repeats(parts, v) {
				parts = append(parts, v)
			}
		}
		if s.name == "" {
			s.name = strings.Join(parts, ", ")
		}
		if s.name == "" && len(s.runs) == 1 {
			s.name = clean(s.runs[0].ID)
		}
		if s.name == "" {
			s.name = "setup " + s.letter
		}
		if long := []rune(s.name); len(long) > longestName {
			s.name = string(long[:longestName-1]) + "…"
		}
	}
}

// tell chooses as few conditions as tell all setups apart.
func (r *Report) tell() []condition {
	var chosen []condition
	all := r.conditions()
	for _, key := range telling {
		k := slices.IndexFunc(all, func(c condition) bool { return c.Key == key && (c.Differs || len(r.setups) == 1) })
		if k < 0 {
			continue
		}
		chosen = append(chosen, all[k])
		seen := map[string]bool{}
		for i := range r.setups {
			var values []string
			for _, c := range chosen {
				values = append(values, c.Values[i])
			}
			seen[strings.Join(values, "\n")] = true
		}
		if len(seen) == len(r.setups) {
			break
		}
	}
	return chosen
}

// repeats is true where a value says what stands in a part already.
func repeats(parts []string, value string) bool {
	return slices.ContainsFunc(parts, func(p string) bool { return strings.Contains(p, value) || strings.Contains(value, p) })
}

// clean makes untrusted text fit for one line: controls and marks that turn the
// direction of writing are left out.
func clean(text string) string {
	text = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "\ufffd"))
	return strings.Join(strings.Fields(text), " ")
}
