package ladder

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"soakline/analysis"
	"soakline/analysis/compare"
)

// Options steers a ladder.
type Options struct {
	// Stock names the setup that all are held against: its letter, a session of it, or part
	// of a name or condition; "" takes the one that a setting "stock" marks, else the first.
	Stock string
	// Seed is that of the bootstrap and of permutations.
	Seed uint64
	// Quick leaves out what lies within the runs.
	Quick bool
	// Known gives a comparison of two setups, by their places, that was made already; nil,
	// or false, makes it here.
	Known func(a, b int) (compare.Comparison, bool)
}

// mostRuns is how many runs a ladder takes.
const mostRuns = 200

// Build makes the ladder of one machine from its runs in the order in which they were
// taken: those of equal setup are one rung. It fails where there is none, too many, or
// Stock names none.
func Build(runs []Run, o Options) (Ladder, error) { return build(groups(runs), o) }

// Of is Build where the runs of each setup are put together already. The order of all runs
// is that of their start, where it is known.
func Of(setups [][]Run, o Options) (Ladder, error) { return build(given(setups), o) }

func build(gs []group, o Options) (Ladder, error) {
	l := Ladder{Schema: Schema, Rungs: []Rung{}, Drift: []Drift{}, Warnings: []string{}}
	b := builder{groups: gs, options: o}
	for _, g := range gs {
		for _, r := range g.runs {
			b.runs = append(b.runs, r.Run)
			l.Simulated = l.Simulated || r.Result.Simulated
		}
	}
	switch n := len(b.runs); {
	case n == 0:
		return l, errors.New("a ladder needs at least one run")
	case n > mostRuns:
		return l, fmt.Errorf("a ladder takes %d runs at most, here are %d: choose fewer", mostRuns, n)
	}
	stock, err := stockOf(gs, o.Stock)
	if err != nil {
		return l, err
	}
	l.Stock, l.Machine, b.stock = stock, b.runs[0].Machine, stock
	b.figures()
	for i := range gs {
		l.Rungs = append(l.Rungs, b.rung(i))
	}
	b.say(l.Rungs)
	for k, f := range b.list {
		if d, known := driftOf(f, b.column(k), o.Seed); known {
			l.Drift = append(l.Drift, d)
		}
	}
	l.Warnings = b.warnings(l)
	return l, nil
}

// builder holds what the rungs are made from.
type builder struct {
	runs    []Run
	groups  []group
	stock   int
	options Options
	list    []figure    // the figures that any run has
	values  [][][]value // by figure, group and run; NaN where a run does not have it
}

// figures works out every figure of every run and keeps those that any run has.
func (b *builder) figures() {
	power := math.NaN()
	for _, r := range b.groups[b.stock].runs {
		if p := sustained(r.Run).v; !(power > 0) {
			power = p
		}
	}
	for _, f := range append(scoresOf(b.runs), fixed...) {
		all, any := make([][]value, len(b.groups)), false
		for i, g := range b.groups {
			for _, r := range g.runs {
				v := f.of(r.Run, power)
				if !(v.v > 0) || math.IsInf(v.v, 1) {
					v.v = math.NaN()
				}
				any = any || v.v > 0
				all[i] = append(all[i], v)
			}
		}
		if any {
			b.list, b.values = append(b.list, f), append(b.values, all)
		}
	}
}

// samples are the known values of a figure in a setup.
func (b *builder) samples(figure, group int) (s []sample, vs []value) {
	for i, v := range b.values[figure][group] {
		if v.v > 0 {
			s, vs = append(s, sample{v.v, b.groups[group].runs[i].place}), append(vs, v)
		}
	}
	return s, vs
}

func (b *builder) column(figure int) [][]sample {
	out := make([][]sample, len(b.groups))
	for i := range b.groups {
		out[i], _ = b.samples(figure, i)
	}
	return out
}

// rung is one setup, against stock and the one before.
func (b *builder) rung(i int) Rung {
	g := b.groups[i]
	r := Rung{Letter: letter(i), Name: b.name(i), Setup: changes(nil, g.setup), Changed: []compare.SettingChange{}, Since: []compare.SettingChange{},
		Figures: []Figure{}, Held: heldBy(g.runs), Warnings: []string{}}
	for _, run := range g.runs {
		info := RunInfo{ID: run.ID, Place: run.place + 1, Within: []Width{}}
		if !b.options.Quick {
			info.Within = within(run.Run, b.options.Seed)
		}
		r.Runs = append(r.Runs, info)
	}
	if i > 0 {
		r.Changed = changes(b.groups[i-1].setup, g.setup)
		r.PathBefore = b.path(i-1, i, &r.Warnings)
	}
	if i != b.stock {
		r.Since = changes(b.groups[b.stock].setup, g.setup)
		if i > 0 && b.stock == i-1 {
			r.PathStock = r.PathBefore
		} else {
			r.PathStock = b.path(b.stock, i, nil)
		}
	}
	for k, f := range b.list {
		mine, vs := b.samples(k, i)
		fig := summary(f, vs)
		if i != b.stock {
			theirs, _ := b.samples(k, b.stock)
			fig.Stock = change(f.name, f.unit, theirs, mine)
		}
		if i > 0 {
			theirs, _ := b.samples(k, i-1)
			fig.Before = change(f.name, f.unit, theirs, mine)
		}
		r.Figures = append(r.Figures, fig)
	}
	return r
}

// path compares the heat's way of two setups, and adds what else speaks against the
// comparison, but for what a ladder says itself.
func (b *builder) path(from, to int, warnings *[]string) *compare.ThermalPath {
	c, known := compare.Comparison{}, false
	if b.options.Known != nil {
		c, known = b.options.Known(from, to)
	}
	if !known {
		c = compare.Compare(b.comparable(from), b.comparable(to), compare.Options{})
	}
	if warnings != nil {
		for _, w := range c.Warnings {
			if w = named(w, letter(from), letter(to)); w != "" && !slices.Contains(*warnings, w) {
				*warnings = append(*warnings, w)
			}
		}
	}
	return &c.ThermalPath
}

func (b *builder) comparable(i int) []compare.Run {
	var out []compare.Run
	for _, r := range b.groups[i].runs {
		out = append(out, r.Run.Run)
	}
	return out
}

// known is a figure of a rung by name; ok is false where it has no value.
func (r Rung) known(name string) (Figure, bool) {
	for _, f := range r.Figures {
		if f.Name == name && f.Value.Known() {
			return f, true
		}
	}
	return Figure{Value: analysis.Unknown()}, false
}
