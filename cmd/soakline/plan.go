package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"time"

	"soakline/collector/plan"
)

// planCmd holds the verbs about plans.
type planCmd struct {
	List  planListCmd  `cmd:"" help:"List the plans that come with soakline."`
	Show  planShowCmd  `cmd:"" help:"Print a plan that comes with soakline, to copy and change."`
	Check planCheckCmd `cmd:"" help:"Check a plan file, and say what it would do."`
	Run   planRunCmd   `cmd:"" help:"Carry a plan out: rest, load and cooling, recorded run by run."`
}

type planListCmd struct{}

// Run lists the built-in plans.
func (planListCmd) Run(e *env) error {
	for _, b := range plan.Builtins() {
		p, err := plan.Parse(b.Name, b.Text)
		if err != nil {
			return err
		}
		fmt.Fprintf(e.out, "%-14s %s\n", b.Name, p.About)
	}
	return nil
}

type planShowCmd struct {
	Name string `arg:"" help:"Name of a plan that comes with soakline."`
}

// Run prints the plan's text.
func (s planShowCmd) Run(e *env) error {
	text, err := plan.Named(s.Name)
	if err != nil {
		return usage(err)
	}
	_, err = e.out.Write(text)
	return err
}

type planCheckCmd struct {
	Plan string `arg:"" help:"A plan file, or the name of a plan that comes with soakline."`
}

// Run says what the plan would do.
func (c planCheckCmd) Run(e *env) error {
	p, err := readPlan(c.Plan)
	if err != nil {
		return err
	}
	describe(e, p)
	return nil
}

// readPlan reads a plan file, else the built-in plan of that name. What is wrong with a
// plan is exit status 2.
func readPlan(name string) (*plan.Plan, error) {
	text, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) && !strings.ContainsAny(name, `/\.`) {
		text, err = plan.Named(name)
	}
	if err != nil {
		return nil, usage(err)
	}
	p, err := plan.Parse(name, text)
	if err != nil {
		return nil, usage(err)
	}
	return p, nil
}

// describe prints the phases and the order of a plan.
func describe(e *env, p *plan.Plan) {
	fmt.Fprintf(e.out, "%s\n", p.Name)
	if p.About != "" {
		fmt.Fprintf(e.out, "%s\n", p.About)
	}
	fmt.Fprintln(e.out, "\neach run:")
	for i := range p.Phases {
		fmt.Fprintf(e.out, "%3d  %s; %s\n", i+1, p.Phases[i].Title(), p.Phases[i].Ends())
	}
	turns := p.Turns()
	fmt.Fprintf(e.out, "\n%d run(s), at most %v in all, questions aside\n", len(turns), p.Length()*time.Duration(len(turns)))
	for _, t := range turns {
		if t.Change {
			fmt.Fprintf(e.out, "from run %d with setup %s\n", t.Number, inWords(t.Setup))
		}
	}
}

// inWords is a setup with its conditions: "plate (cooler = sealed plate)".
func inWords(s *plan.Setup) string {
	var parts []string
	for _, kv := range s.Settings {
		parts = append(parts, kv.Key+" = "+kv.Value)
	}
	if len(parts) == 0 {
		return s.Name
	}
	return s.Name + " (" + strings.Join(parts, ", ") + ")"
}
