package plan

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

const good = `plan: plate trial
about: what the plate carries
limit_c: 85
runs: 2
setups:
  fan: {cooler: fan cooler, paste: factory}
  plate:
    cooler: sealed plate
order: mirrored
rounds: 2
phases:
  - rest: {until: settled, within_k: 0.3, over: 30s, longest: 10m}
  - repeat:
      times: 2
      phases:
        - load: {for: 90s, own: integer+memory, cores: 2, pinned: true, duty_pct: [50, 100], cycle: 1s}
        - cool: {until: die within 5 K of reference, longest: 5m}
  - load: {until: work done, longest: 20m, command: [make, -j8]}
  - ask: {text: Which paste?, setting: paste}
  - ask: All well?
`

func TestParse(t *testing.T) {
	p, err := Parse("plate.yaml", []byte(good))
	if err != nil {
		t.Fatal(err)
	}
	if p.Name != "plate trial" || p.LimitC != 85 || p.Runs != 2 || p.Order != Mirrored || p.Rounds != 2 || len(p.Setups) != 2 {
		t.Errorf("plan %+v", p)
	}
	if s := p.Setups[0]; s.Name != "fan" || len(s.Settings) != 2 || s.Settings[1].Value != "factory" {
		t.Errorf("setup %+v", s)
	}
	want := []string{
		"rest when settled (0.3 K over 30s), after 10m0s at the latest",
		"load: integer+memory on 2 processors, pinned, 50 % of the time after 1m30s",
		"load: integer+memory on 2 processors, pinned after 1m30s",
		"cool when the die is within 5 K of the reference, after 5m0s at the latest",
		"load: integer+memory on 2 processors, pinned, 50 % of the time after 1m30s",
		"load: integer+memory on 2 processors, pinned after 1m30s",
		"cool when the die is within 5 K of the reference, after 5m0s at the latest",
		"load: make -j8 when the work is done, after 20m0s at the latest",
		"ask: Which paste? when it is answered",
		"ask: All well? when it is answered",
	}
	for i, ph := range p.Phases {
		if got := ph.Title() + " " + ph.Ends(); i >= len(want) || got != want[i] {
			t.Errorf("phase %d is %q", i, got)
		}
	}
	if len(p.Phases) != len(want) {
		t.Fatalf("%d phases, want %d", len(p.Phases), len(want))
	}
	if l := p.Phases[1]; l.Step != 1 || p.Phases[2].Step != 2 || l.Work.Cycle != time.Second || p.Phases[7].Step != 0 {
		t.Errorf("steps %+v", p.Phases)
	}
	if p.Phases[8].Setting != "paste" || p.Phases[9].Setting != "" {
		t.Errorf("questions %+v", p.Phases[8:])
	}
}

func TestBuiltinsAreValid(t *testing.T) {
	if len(Builtins()) != 4 {
		t.Errorf("%d plans are built in", len(Builtins()))
	}
	for _, b := range Builtins() {
		p, err := Parse(b.Name, b.Text)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		rest, load, cool := false, false, false
		for _, ph := range p.Phases {
			rest, load, cool = rest || ph.Kind == Rest, load || ph.Kind == Load && rest, cool || ph.Kind == Cool && load
		}
		if !rest || !load || !cool || p.About == "" {
			t.Errorf("%s: rest, load, cool in this order: %v %v %v; about %q", b.Name, rest, load, cool, p.About)
		}
	}
	if _, err := Named("nothing"); err == nil || !strings.Contains(err.Error(), "contact-check") {
		t.Errorf("an unknown name: %v", err)
	}
}

// Every mistake is said with the place where it stands.
func TestParseSaysWhatIsWrongAndWhere(t *testing.T) {
	head := "plan: p\nphases:\n"
	for _, c := range []struct {
		text, at, says string
	}{
		{"", "1:1", "empty"},
		{"- a\n", "1:1", "expected a plan"},
		{"phases:\n  - rest: {for: 1m}\n", "1:1", "no name"},
		{"plan: p\n", "1:1", "no phases"},
		{"plan:\nphases:\n  - rest: {for: 1m}\n", "1:1", "plan: expected the plan's name"},
		{"plan: p\nphases: 7\n", "2:9", "expected a list of phases"},
		{"plan: p\nphases: []\n", "2:9", "expected a list of phases"},
		{"plan: p\nphrases: []\n", "2:1", `"phrases" is not known`},
		{"plan: p\nplan: q\nphases: []\n", "2:1", "already defined"},
		{"plan: p\n\tphases: []\n", "2:1", "cannot start any token"},
		{"plan: p\nlimit_c: 400\nphases:\n  - rest: {for: 1m}\n", "2:10", "from 20 to 150 degC"},
		{"plan: p\nruns: 2.5\nphases:\n  - rest: {for: 1m}\n", "2:7", "whole number"},
		{"plan: p\norder: mirrored\nphases:\n  - rest: {for: 1m}\n", "2:1", "name two setups"},
		{"plan: p\nsetups: {a: , b: }\norder: mirrored\nrounds: 3\nphases:\n  - rest: {for: 1m}\n", "3:8", "even number of rounds"},
		{"plan: p\nsetups: {a: , b: }\norder: sideways\nphases:\n  - rest: {for: 1m}\n", "3:8", "expected 'in turn'"},
		{"plan: p\nsetups: {a: , b: }\norder: [a, c]\nphases:\n  - rest: {for: 1m}\n", "3:12", `no setup "c"`},
		{"plan: p\nsetups: {a: , b: }\norder: [a, b]\nrounds: 2\nphases:\n  - rest: {for: 1m}\n", "4:1", "says itself"},
		{"plan: p\nsetups: {a: [1], b: }\nphases:\n  - rest: {for: 1m}\n", "2:13", "the conditions of the setup"},
		{head + "  - nap: {for: 1m}\n", "3:5", `"nap" is not known`},
		{head + "  - rest: {for: 1m}\n    cool: {for: 1m}\n", "4:5", "one phase a line"},
		{head + "  - rest: {for: 60}\n", "3:17", "a time with its unit"},
		{head + "  - rest: {for: -1m}\n", "3:17", "a time with its unit"},
		{head + "  - rest: {for: 1m, until: settled, longest: 2m}\n", "3:12", "not by both"},
		{head + "  - rest: {for: 1m, longest: 2m}\n", "3:21", "'for' says already"},
		{head + "  - rest: {until: settled}\n", "3:12", "add 'longest'"},
		{head + "  - rest: {longest: 1m}\n", "3:5", "say when it ends"},
		{head + "  - rest:\n", "3:5", "expected {for: 1m}"},
		{head + "  - rest: {until: cold, longest: 1m}\n", "3:19", `"die below 45 degC"`},
		{head + "  - rest: {until: die below 400 degC, longest: 1m}\n", "3:19", "from -50 to 150"},
		{head + "  - rest: {until: work done, longest: 1m}\n", "3:19", "belongs to a load"},
		{head + "  - rest: {for: 1m, within_k: 1}\n", "3:21", "belongs to 'until: settled'"},
		{head + "  - load: {for: 1m}\n", "3:5", "say what it is"},
		{head + "  - load: {for: 1m, own: vektor}\n", "3:26", `"vektor" is not known`},
		{head + "  - load: {for: 1m, own: vector, command: [a]}\n", "3:34", "not both"},
		{head + "  - load: {for: 1m, command: make}\n", "3:30", "as a list"},
		{head + "  - load: {for: 1m, command: [make], cores: 2}\n", "3:38", "decides for itself"},
		{head + "  - load: {until: 9 units done, longest: 1m, command: [make]}\n", "3:19", "counts no units"},
		{head + "  - load: {until: work done, longest: 1m, own: vector}\n", "3:19", "no end of its own"},
		{head + "  - load: {for: 1m, own: vector, cores: 0}\n", "3:41", "from 1 to 4096"},
		{head + "  - load: {for: 1m, own: vector, pinned: 3}\n", "3:42", "true or false"},
		{head + "  - load: {for: 1m, own: vector, duty_pct: [50, 120]}\n", "3:49", "from 1 to 100 %"},
		{head + "  - ask: {setting: paste}\n", "3:5", "expected a question"},
		{head + "  - repeat: {times: 3}\n", "3:5", "times and phases"},
		{head + "  - repeat: {times: 0, phases: [rest: {for: 1m}]}\n", "3:21", "from 1 to 100"},
		{"plan: *p\nphases:\n  - rest: {for: 1m}\n", "1:7", "expected the plan's name"},
		{"plan: p\nphases:\n  - rest: {for: 1m\n", "3:11", "could not find"},
		{strings.Repeat("[", 5000), "1:33", "too many brackets"},
		{strings.Repeat("a", 70000), "1:1", "65536 at most"},
	} {
		_, err := Parse("f.yaml", []byte(c.text))
		var ps *Problems
		if !errors.As(err, &ps) {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		found := false
		for line := range strings.SplitSeq(ps.Error(), "\n") {
			found = found || strings.HasPrefix(line, "f.yaml:"+c.at+": ") && strings.Contains(line, c.says)
		}
		if !found {
			t.Errorf("%.60q: expected %q at %s, got\n%v", c.text, c.says, c.at, err)
		}
	}
}

func TestParseGivesAllMistakesInTheirOrder(t *testing.T) {
	_, err := Parse("f.yaml", []byte("plan: p\nruns: x\nphases:\n  - rest: {for: 3}\n  - load: {own: z, for: 1m}\n"))
	var ps *Problems
	if !errors.As(err, &ps) || len(ps.List) != 3 || ps.List[0].Line != 2 || ps.List[1].Line != 4 || ps.List[2].Line != 5 {
		t.Errorf("%v", err)
	}
}

func TestTooManyRunsOrPhases(t *testing.T) {
	deep := "plan: p\nphases:\n"
	for i := range 3 {
		deep += strings.Repeat("  ", 2*i+1) + "- repeat:\n" + strings.Repeat("  ", 2*i+3) + "times: 100\n" + strings.Repeat("  ", 2*i+3) + "phases:\n"
	}
	deep += strings.Repeat("  ", 8) + "- rest: {for: 1m}\n"
	for text, says := range map[string]string{
		deep: "1000 are the most",
		"plan: p\nruns: 100\nsetups: {a: , b: }\nrounds: 100\nphases:\n  - rest: {for: 1m}\n": "20000 runs",
	} {
		if _, err := Parse("f", []byte(text)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("expected %q, got %v", says, err)
		}
	}
}

// Whatever the bytes, Parse gives a plan within its bounds or places within the file.
func FuzzParse(f *testing.F) {
	f.Add([]byte(good))
	for _, b := range Builtins() {
		f.Add(b.Text)
	}
	f.Add([]byte("plan: p\nphases:\n  - repeat: {times: 3, phases: [ask: x]}\n"))
	f.Add([]byte("a: &b [*b]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Parse("f", data)
		if err == nil {
			if len(p.Phases) == 0 || len(p.Phases) > maxPhases || len(p.Turns()) != p.Total() {
				t.Errorf("%d phases, %d turns, %d in all", len(p.Phases), len(p.Turns()), p.Total())
			}
			return
		}
		var ps *Problems
		if !errors.As(err, &ps) || len(ps.List) == 0 {
			t.Fatalf("%v", err)
		}
		for _, q := range ps.List {
			if q.Line < 1 || q.Column < 1 || q.Text == "" {
				t.Errorf("%+v", q)
			}
		}
	})
}

func ExampleProblems() {
	_, err := Parse("plate.yaml", []byte("plan: plate\nphases:\n  - rest: {for: 60}\n"))
	fmt.Println(err)
	// Output: plate.yaml:3:17: for: expected a time with its unit from 1s to 24h0m0s, for instance 90s or 3m
}

// The plan that the README shows is one.
func TestPlanOfTheReadme(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(text), "### Plans\n")
	after = after[strings.Index(after, "\n    plan:")+1:]
	var lines []string
	for line := range strings.SplitSeq(after, "\n") {
		if !strings.HasPrefix(line, "    ") {
			break
		}
		lines = append(lines, line[4:])
	}
	p, err := Parse("README.md", []byte(strings.Join(lines, "\n")+"\n"))
	if err != nil || p.Total() != 8 || len(p.Phases) != 3 {
		t.Errorf("%+v, %v", p, err)
	}
}
