package ladder

import (
	"fmt"
	"slices"
	"strings"

	"soakline/analysis/compare"
	"soakline/collector/telemetry"
)

// Run is one recording with what the archive knows of it.
type Run struct {
	compare.Run
	ID, Name string
	// Machine tells one computer's recordings from another's: a host name, or what the
	// user calls the project.
	Machine string
}

// placed is a run with its place in the order of all runs.
type placed struct {
	Run
	place int // from 0
}

// group is the runs of one setup.
type group struct {
	runs  []placed
	setup map[string]string
}

// aside are settings that are no part of how a machine is put together: what it scored,
// and which setup is the one to hold the others against.
func aside(key string) bool {
	switch strings.ToLower(strings.TrimSpace(key)) {
	case "score", "stock", "machine", "run", "note":
		return true
	}
	return false
}

// setting is a run's last value of a key; "" where it has none.
func (r Run) setting(key string) string {
	value := ""
	if r.Trace != nil {
		for _, s := range r.Trace.Setup {
			if strings.EqualFold(strings.TrimSpace(s.Key), key) {
				value = s.Value
			}
		}
	}
	return value
}

func setupOf(settings []telemetry.Setting) map[string]string {
	out := map[string]string{}
	for _, s := range settings {
		if !aside(s.Key) {
			out[strings.TrimSpace(s.Key)] = strings.TrimSpace(s.Value)
		}
	}
	return out
}

// groups puts runs of equal setup together, in the order of each setup's first run.
func groups(runs []Run) []group {
	var out []group
	for i, r := range runs {
		setup := map[string]string{}
		if r.Trace != nil {
			setup = setupOf(r.Trace.Setup)
		}
		p := placed{r, i}
		k := slices.IndexFunc(out, func(g group) bool { return len(changes(g.setup, setup)) == 0 })
		if k < 0 {
			out = append(out, group{[]placed{p}, setup})
		} else {
			out[k].runs = append(out[k].runs, p)
		}
	}
	return out
}

// given are setups that someone else put together: settings in which their runs differ among themselves
// are joined by a slash.
func given(setups [][]Run) []group {
	var all []Run
	for _, runs := range setups {
		all = append(all, runs...)
	}
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	known := !slices.ContainsFunc(all, func(r Run) bool { return r.Trace == nil || r.Trace.Start.IsZero() })
	if known {
		slices.SortStableFunc(order, func(a, b int) int { return all[a].Trace.Start.Compare(all[b].Trace.Start) })
	}
	var out []group
	n := 0
	for _, runs := range setups {
		g := group{setup: map[string]string{}}
		for _, r := range runs {
			g.runs = append(g.runs, placed{r, slices.Index(order, n)})
			n++
			if r.Trace == nil {
				continue
			}
			for k, v := range setupOf(r.Trace.Setup) {
				if had := g.setup[k]; had == "" {
					g.setup[k] = v
				} else if !slices.Contains(strings.Split(had, " / "), v) {
					g.setup[k] += " / " + v
				}
			}
		}
		slices.SortStableFunc(g.runs, func(a, b placed) int { return a.place - b.place })
		out = append(out, g)
	}
	return out
}

// changes are the settings in which b differs from a, by key.
func changes(a, b map[string]string) []compare.SettingChange {
	out := []compare.SettingChange{}
	for k, v := range a {
		if b[k] != v {
			out = append(out, compare.SettingChange{Key: k, A: v, B: b[k]})
		}
	}
	for k, v := range b {
		if _, ok := a[k]; !ok && v != "" {
			out = append(out, compare.SettingChange{Key: k, B: v})
		}
	}
	slices.SortFunc(out, func(x, y compare.SettingChange) int { return strings.Compare(x.Key, y.Key) })
	return out
}

// Machines parts runs by machine, each in the order in which it came; the machine of the
// first run first. A setting "machine" overrides the host's name.
func Machines(runs []Run) [][]Run {
	var names []string
	var out [][]Run
	for _, r := range runs {
		if m := r.setting("machine"); m != "" {
			r.Machine = m
		}
		k := slices.Index(names, r.Machine)
		if k < 0 {
			k = len(names)
			names, out = append(names, r.Machine), append(out, nil)
		}
		out[k] = append(out[k], r)
	}
	return out
}

// Order sorts runs by when they began; those whose start is not known stay where they are
// at the end.
func Order(runs []Run) {
	slices.SortStableFunc(runs, func(a, b Run) int {
		switch za, zb := a.Trace.Start.IsZero(), b.Trace.Start.IsZero(); {
		case za && zb:
			return 0
		case za:
			return 1
		case zb:
			return -1
		}
		return a.Trace.Start.Compare(b.Trace.Start)
	})
}

// stockOf finds stock: the setup that text names by letter, session, name or condition, else one
// that a setting "stock" marks, else the first.
func stockOf(gs []group, text string) (int, error) {
	if text == "" {
		for i, g := range gs {
			for _, r := range g.runs {
				if v := strings.ToLower(r.setting("stock")); v == "yes" || v == "true" || v == "1" {
					return i, nil
				}
			}
		}
		return 0, nil
	}
	for i := range gs {
		if text == letter(i) {
			return i, nil
		}
	}
	low := strings.ToLower(text)
	for i, g := range gs {
		for _, r := range g.runs {
			if strings.EqualFold(r.ID, text) || strings.Contains(strings.ToLower(r.Name), low) {
				return i, nil
			}
		}
		for _, v := range g.setup {
			if strings.Contains(strings.ToLower(v), low) {
				return i, nil
			}
		}
	}
	return 0, fmt.Errorf("no setup is called %q: name stock by its letter, a session of it, or part of a condition", text)
}

// letter names a setup: A to Z, then A2 and so on.
func letter(i int) string {
	if i < 26 {
		return string(rune('A' + i))
	}
	return fmt.Sprintf("%c%d", 'A'+i%26, i/26+1)
}
