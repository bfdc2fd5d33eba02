package plan

import (
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"soakline/collector/load/spec"
)

// phases reads a list of phases and writes its repeats out.
func (r *reader) phases(n ast.Node, at *token.Token, depth int) []Phase {
	var out []Phase
	for _, item := range r.items(n, at, "a list of phases: '- rest: {for: 1m}'") {
		fields := r.fields(item, at, "a phase: rest, load, cool, ask or repeat", string(Rest), string(Load), string(Cool), string(Ask), string(Repeat))
		if len(fields) > 1 {
			r.wrong(fields[1].key, "one phase a line: begin %q with its own dash", fields[1].name)
		}
		if len(fields) == 0 {
			continue
		}
		switch f := fields[0]; Kind(f.name) {
		case Repeat:
			out = append(out, r.repeat(f, depth)...)
		case Ask:
			out = append(out, r.ask(f))
		case Load:
			out = append(out, r.load(f)...)
		default:
			out = append(out, r.rest(f))
		}
		if len(out) > maxPhases {
			break
		}
	}
	return out
}

func (r *reader) repeat(f field, depth int) []Phase {
	if depth >= maxDepth {
		r.wrong(f.key, "repeat: too many repeats within repeats")
		return nil
	}
	times, inner := 0, []Phase(nil)
	for _, k := range r.fields(f.node, f.key, "repeat: {times: 3, phases: [...]}", "times", "phases") {
		if k.name == "times" {
			times = r.whole(k, 1, 100)
		} else {
			inner = r.phases(k.node, k.key, depth+1)
		}
	}
	if times == 0 || inner == nil {
		r.wrong(f.key, "repeat: expected times and phases")
		return nil
	}
	var out []Phase
	for i := 0; i < times && len(out) <= maxPhases; i++ {
		out = append(out, inner...)
	}
	return out
}

func (r *reader) ask(f field) Phase {
	p := Phase{Kind: Ask}
	if s, ok := text(f.node); ok {
		p.Text = strings.TrimSpace(s)
		return p
	}
	for _, k := range r.fields(f.node, f.key, "a question, or {text: a question, setting: the condition that the answer becomes}", "text", "setting") {
		if k.name == "text" {
			p.Text = r.text(k, "a question")
		} else {
			p.Setting = r.text(k, "the condition that the answer becomes, for instance paste")
		}
	}
	if p.Text == "" {
		r.wrong(f.key, "ask: expected a question")
	}
	return p
}

func (r *reader) rest(f field) Phase {
	p := Phase{Kind: Kind(f.name)}
	fields := r.fields(f.node, f.key, "{for: 1m} or {until: settled, longest: 10m}", "for", "until", "longest", "within_k", "over")
	r.ending(&p, f, fields)
	if k := p.Until.Kind; k == WorkDone || k == DieBelowLimit {
		r.wrong(named(fields, "until").at(), "until: %q belongs to a load", k)
	}
	return p
}

// ending reads when a phase ends.
func (r *reader) ending(p *Phase, f field, fields []field) {
	for _, k := range fields {
		switch k.name {
		case "for":
			p.For = r.duration(k, time.Second, 24*time.Hour)
		case "longest":
			p.Longest = r.duration(k, time.Second, 24*time.Hour)
		case "until":
			c, err := parseCondition(r.text(k, "a condition: "+conditionForms))
			if err != nil {
				r.wrong(k.at(), "until: %v", err)
				c.Kind = Settled
			}
			p.Until = c
		}
	}
	r.settled(p, fields)
	has := func(name string) bool { return named(fields, name).key != nil }
	switch {
	case has("for") && has("until"):
		r.wrong(named(fields, "for").key, "%s: a phase ends by 'for', or by 'until' and 'longest', not by both", f.name)
	case has("for") && has("longest"):
		r.wrong(named(fields, "longest").key, "longest: belongs to 'until'; 'for' says already how long")
	case has("until") && !has("longest"):
		r.wrong(named(fields, "until").key, "until: add 'longest', so that the phase ends where the condition never holds")
	case !has("for") && !has("until"):
		r.wrong(f.key, "%s: say when it ends: {for: 1m} or {until: settled, longest: 10m}", f.name)
	}
}

// settled reads what counts as settled.
func (r *reader) settled(p *Phase, fields []field) {
	for _, name := range []string{"within_k", "over"} {
		k := named(fields, name)
		switch {
		case k.key == nil:
		case p.Until.Kind != Settled:
			r.wrong(k.key, "%s: belongs to 'until: settled'", name)
		case name == "over":
			p.Until.Over = r.duration(k, 5*time.Second, time.Hour)
		default:
			p.Until.Within = r.number(k, 0.05, 20, " K")
		}
	}
}

// load reads a load; several shares of the time make one phase each, a ladder.
func (r *reader) load(f field) []Phase {
	p := Phase{Kind: Load, Work: &Work{DutyPct: 100, Cycle: spec.DefaultCycle}}
	fields := r.fields(f.node, f.key, "a load: {for: 3m, own: vector} or {until: work done, longest: 20m, command: [make, -j8]}",
		"for", "until", "longest", "within_k", "over", "own", "command", "cores", "pinned", "duty_pct", "cycle")
	r.ending(&p, f, fields)
	duties := []float64{100}
	for _, k := range fields {
		switch k.name {
		case "own":
			p.Work.Own = r.own(k)
		case "command":
			p.Work.Command = r.command(k)
		case "cores":
			if s, _ := text(k.node); s != "all" {
				p.Work.Cores = r.whole(k, 1, 4096)
			}
		case "pinned":
			p.Work.Pinned = r.yes(k)
		case "duty_pct":
			duties = r.duties(k)
		case "cycle":
			p.Work.Cycle = r.duration(k, spec.ShortestCycle, time.Minute)
		}
	}
	r.work(&p, f, fields)
	var out []Phase
	for i, d := range duties {
		step, work := p, *p.Work
		work.DutyPct, step.Work = d, &work
		if len(duties) > 1 {
			step.Step = i + 1
		}
		out = append(out, step)
	}
	return out
}

// work checks that there is one load, and that what is asked of it fits.
func (r *reader) work(p *Phase, f field, fields []field) {
	own, command := named(fields, "own"), named(fields, "command")
	switch {
	case own.key != nil && command.key != nil:
		r.wrong(command.key, "command: a load is a command or soakline's own, not both")
	case own.key == nil && command.key == nil:
		r.wrong(f.key, "load: say what it is: 'own: %s', or 'command: [program, argument]'", strings.Join(spec.KindNames(), "|"))
	case command.key != nil:
		for _, k := range fields {
			switch k.name {
			case "cores", "pinned", "duty_pct", "cycle":
				r.wrong(k.key, "%s: belongs to soakline's own load; a command decides for itself", k.name)
			}
		}
		if p.Until.Value > 0 && p.Until.Kind == WorkDone {
			r.wrong(named(fields, "until").at(), "until: a command counts no units; write 'work done'")
		}
	case p.Until.Kind == WorkDone && p.Until.Value == 0:
		r.wrong(named(fields, "until").at(), "until: soakline's own load has no end of its own; say how much: '5000 units done'")
	}
}

func (r *reader) own(f field) string {
	name := r.text(f, strings.Join(spec.KindNames(), ", ")+" or some of them joined by +")
	if name != "" {
		if _, err := spec.ParseKinds(name); err != nil {
			r.wrong(f.at(), "own: %v", err)
		}
	}
	return name
}

func (r *reader) command(f field) []string {
	var argv []string
	for _, n := range r.items(f.node, f.key, "the program and its arguments as a list, for instance [make, -j8]") {
		s, ok := text(n)
		if !ok {
			r.wrong(tokenOr(n, f.key), "command: expected a plain word")
		}
		argv = append(argv, s)
	}
	return argv
}

func (r *reader) duties(f field) []float64 {
	if _, list := f.node.(*ast.SequenceNode); !list {
		return []float64{r.number(f, 1, 100, " %")}
	}
	var out []float64
	for _, n := range r.items(f.node, f.key, "shares of the time in %") {
		out = append(out, r.numberAt(n, f, 1, 100, " %"))
	}
	return out
}

func named(fields []field, name string) field {
	for _, f := range fields {
		if f.name == name {
			return f
		}
	}
	return field{name: name}
}
