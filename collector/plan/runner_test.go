package plan

import (
	"math"
	"strings"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

var none = math.NaN()

// bench runs a runner over a made-up machine and keeps what it asks for.
type bench struct {
	*Runner
	deeds []Deed
	marks []telemetry.Mark
	at    float64
}

func newBench(g Guard, phases ...Phase) *bench { return &bench{Runner: NewRunner(phases, g, nil)} }

// row steps once and keeps the deeds.
func (b *bench) row(r Row) []Deed {
	b.at = r.At
	deeds := b.Step(r)
	b.deeds = append(b.deeds, deeds...)
	for _, d := range deeds {
		if d.Do == Note || d.Do == Alarm {
			b.marks = append(b.marks, telemetry.Mark{At: r.At, Kind: telemetry.MarkCommand, Text: d.Text})
		}
	}
	return deeds
}

// until rows every 50 ms until the run is over or the time has come.
func (b *bench) until(end float64, die func(t float64) float64) {
	for i := int(math.Round(b.at*20)) + 1; float64(i)/20 <= end; i++ {
		t := float64(i) / 20
		b.row(Row{At: t, DieC: die(t), CoolantC: 22})
		if _, over := b.Over(); over {
			return
		}
	}
}

func (b *bench) did() string {
	var words []string
	for _, d := range b.deeds {
		if d.Do != Note {
			words = append(words, string(d.Do))
		}
	}
	return strings.Join(words, " ")
}

func flat(c float64) func(float64) float64 { return func(float64) float64 { return c } }

func timed(k Kind, d time.Duration) Phase {
	p := Phase{Kind: k, For: d}
	if k == Load {
		p.Work = &Work{Own: "vector", DutyPct: 100}
	}
	return p
}

func until(k Kind, text string, longest time.Duration) Phase {
	c, err := parseCondition(text)
	if err != nil {
		panic(err)
	}
	p := timed(k, 0)
	p.Until, p.Longest = c, longest
	return p
}

func TestRunByTime(t *testing.T) {
	b := newBench(Guard{LimitC: 90, NeedDie: true}, timed(Rest, 10*time.Second), timed(Load, 20*time.Second), timed(Cool, 5*time.Second))
	b.row(Row{DieC: 40, CoolantC: 22})
	if left, most := b.Left(); left != 35 || most {
		t.Errorf("left %g s, at most: %v", left, most)
	}
	b.until(100, flat(40))
	if got := b.did(); got != "start end finish" || b.at != 35 {
		t.Errorf("%s, at %g s", got, b.at)
	}
	ms := FromMarks(b.marks)
	if len(ms) != 3 {
		t.Fatalf("%+v", ms)
	}
	for i, want := range []Marked{{1, 3, Rest, 0, 10, true}, {2, 3, Load, 10, 30, true}, {3, 3, Cool, 30, 35, true}} {
		if ms[i] != want {
			t.Errorf("marked %+v, want %+v", ms[i], want)
		}
	}
}

// Conditions hold where a closed form says so. Cooling is 22 + 40 exp(-t/60): it is below
// 45 degC after 60 ln(40/23) = 33.2 s, within 5 K of the reference after 60 ln 8 =
// 124.8 s. Its trend over 30 s is less than 0.5 K where 40 exp(-t/60)(1-exp(-30/60)) is
// nearly that: t - 30 = 60 ln(31.5) = 207 s.
func TestConditions(t *testing.T) {
	cooling := func(t float64) float64 { return 22 + 40*math.Exp(-t/60) }
	settled := until(Cool, "settled", time.Hour)
	settled.Until.Over = 30 * time.Second
	for _, c := range []struct {
		p         Phase
		want, tol float64
	}{
		{until(Cool, "die below 45 degC", time.Hour), 60 * math.Log(40.0/23), 0.06},
		{until(Cool, "die within 5 K of reference", time.Hour), 60 * math.Log(8), 0.06},
		{settled, 30 + 60*math.Log(40*(1-math.Exp(-0.5))/0.5), 3},
		{until(Cool, "coolant below 23 degC", time.Hour), 0, 0.06},
		{until(Cool, "die below 10 degC", 50*time.Second), 50, 0.06},
	} {
		b := newBench(Guard{}, c.p)
		b.row(Row{DieC: cooling(0), CoolantC: 22})
		b.until(1000, cooling)
		if math.Abs(b.at-c.want) > c.tol {
			t.Errorf("%v: ended at %.2f s, expected %.2f s", c.p.Until, b.at, c.want)
		}
		if over := b.Spans()[0].OverLonger; over != (c.want == 50) {
			t.Errorf("%v: over its longest time: %v", c.p.Until, over)
		}
	}
}

// A gap never makes a condition hold, and a trend is not drawn across one.
func TestGapsHoldNoCondition(t *testing.T) {
	settled := until(Cool, "settled", time.Hour)
	settled.Until.Over = 10 * time.Second
	for _, p := range []Phase{settled, until(Cool, "die below 45 degC", time.Hour), until(Cool, "die within 5 K of reference", time.Hour)} {
		b := newBench(Guard{}, p)
		b.until(100, flat(none))
		if _, over := b.Over(); over {
			t.Errorf("%v held without a temperature", p.Until)
		}
	}
	b := newBench(Guard{}, settled)
	b.until(100, func(t float64) float64 {
		if math.Mod(t, 8) < 2 {
			return none
		}
		return 30
	})
	if _, over := b.Over(); over {
		t.Error("settled over 10 s although no 10 s were without a gap")
	}
}

// From the row that shows it, the load is off in the same step; and no row that could
// show it comes later than 0.1 s after the last good one.
func TestGuardEndsTheLoad(t *testing.T) {
	for _, c := range []struct {
		name  string
		after float64 // s from when the die misbehaves to the end of the load, at most
		die   func(t float64) float64
		says  string
	}{
		{"over the limit", 0.051, func(t float64) float64 {
			if t >= 15 {
				return 90.5
			}
			return 70
		}, "above the limit of 90"},
		{"lost", 0.101, func(t float64) float64 {
			if t > 15 {
				return none
			}
			return 70
		}, "is lost"},
	} {
		b := newBench(Guard{LimitC: 90, NeedDie: true}, timed(Rest, 5*time.Second), timed(Load, time.Minute), timed(Rest, time.Minute), timed(Load, time.Minute), timed(Cool, 5*time.Second))
		off := none
		for i := 0; i < 2000; i++ {
			at := float64(i) / 20
			for _, d := range b.row(Row{At: at, DieC: c.die(at), CoolantC: 22}) {
				if d.Do == End && math.IsNaN(off) {
					off = at
				}
			}
		}
		if !(off-15 <= c.after) {
			t.Errorf("%s: the load ended at %g s", c.name, off)
		}
		if got := b.did(); got != "start end alarm finish" {
			t.Errorf("%s: %s", c.name, got)
		}
		if why, _ := b.Over(); !strings.Contains(why, c.says) {
			t.Errorf("%s: %s", c.name, why)
		}
		last := FromMarks(b.marks)
		if n := len(last); n != 3 || last[1].Whole || last[2].Kind != Cool || !last[2].Whole {
			t.Errorf("%s: %+v", c.name, last)
		}
	}
}

func TestOneMissingRowOfFiftyMillisecondsIsNoLoss(t *testing.T) {
	b := newBench(Guard{LimitC: 90, NeedDie: true}, timed(Load, 10*time.Second))
	b.row(Row{DieC: 50})
	b.until(100, func(t float64) float64 {
		if math.Abs(math.Mod(t+0.001, 1)-0.5) < 0.02 {
			return none
		}
		return 50
	})
	if why, _ := b.Over(); why != "the run is complete" {
		t.Error(why)
	}
}

func TestNoLoadWithoutADieOrAboveTheLimit(t *testing.T) {
	for _, die := range []float64{none, 95} {
		b := newBench(Guard{LimitC: 90, NeedDie: true}, timed(Load, time.Minute), timed(Cool, time.Second))
		b.row(Row{DieC: die})
		b.until(10, flat(die))
		if got := b.did(); got != "alarm finish" {
			t.Errorf("die %g: %s", die, got)
		}
	}
}

func steps(text string, d ...float64) []Phase {
	var out []Phase
	for i, duty := range d {
		p := until(Load, text, 10*time.Second)
		p.Step, p.Work = i+1, &Work{Own: "vector", DutyPct: duty}
		out = append(out, p)
	}
	return out
}

// The steps of a ladder follow without a pause; near the limit the rest of them is left out.
func TestLadder(t *testing.T) {
	phases := append(steps("die within 3 K of limit", 25, 50, 75, 100), timed(Cool, 5*time.Second))
	b := newBench(Guard{LimitC: 90, NeedDie: true}, phases...)
	b.row(Row{DieC: 50})
	b.until(100, flat(50))
	if got := b.did(); got != "start adjust adjust adjust end finish" {
		t.Errorf("cool machine: %s", got)
	}
	b = newBench(Guard{LimitC: 90, NeedDie: true}, phases...)
	b.row(Row{DieC: 50})
	b.until(100, func(t float64) float64 {
		if t < 15 {
			return 50
		}
		return 88
	})
	if got := b.did(); got != "start adjust end finish" || b.at != 20 {
		t.Errorf("warm machine: %s at %g s", got, b.at)
	}
}

func TestPauseSkipStopAnswer(t *testing.T) {
	ask := Phase{Kind: Ask, Text: "Which paste?"}
	b := newBench(Guard{LimitC: 90, NeedDie: true}, timed(Rest, 10*time.Second), timed(Load, 10*time.Second), ask, timed(Cool, 10*time.Second))
	b.row(Row{DieC: 40})
	b.until(4, flat(40))
	b.Pause(true)
	b.until(9, flat(40))
	if e := b.Elapsed(); math.Abs(e-4.05) > 0.01 {
		t.Errorf("paused at %g s of the phase", e)
	}
	b.Pause(false)
	b.until(15.2, flat(40))
	if b.Present() != 1 || !b.Loaded() {
		t.Fatalf("phase %d, loaded %v", b.Present(), b.Loaded())
	}
	b.Pause(true)
	b.until(16, flat(40))
	if b.Loaded() || !b.Paused() {
		t.Error("the load goes on while the plan is paused")
	}
	b.Pause(false)
	b.until(17, flat(40))
	b.Skip()
	b.until(30, flat(40))
	if b.Present() != 2 || b.Loaded() {
		t.Errorf("phase %d after a skip; loaded %v", b.Present(), b.Loaded())
	}
	if err := b.Pause(true); err == nil {
		t.Error("a question was paused")
	}
	if err := b.Answer(); err != nil {
		t.Error(err)
	}
	b.until(32, flat(40))
	if err := b.Answer(); err == nil {
		t.Error("an answer that nobody asked for")
	}
	b.Stop()
	b.until(40, flat(40))
	if got := b.did(); got != "start end start end question finish" {
		t.Error(got)
	}
	ms := FromMarks(b.marks)
	if len(ms) != 4 || !ms[0].Whole || ms[1].Whole || !ms[2].Whole || ms[3].Whole {
		t.Errorf("%+v", ms)
	}
	if b.Stop() == nil || b.Skip() == nil || b.Pause(true) == nil {
		t.Error("a run that is over takes commands")
	}
}

func TestACommandEndsItsPhase(t *testing.T) {
	command := Phase{Kind: Load, For: time.Minute, Work: &Work{Command: []string{"make"}, DutyPct: 100}}
	for _, c := range []struct {
		failed bool
		want   string
	}{{false, "start end finish"}, {true, "start end alarm finish"}} {
		b := newBench(Guard{}, command, timed(Cool, time.Second))
		b.row(Row{DieC: none})
		if b.Pause(true) == nil {
			t.Error("a command was paused")
		}
		b.row(Row{At: 3, DieC: none, Ended: "the command ended", Failed: c.failed})
		b.until(10, flat(none))
		if got := b.did(); got != c.want {
			t.Errorf("failed %v: %s, want %s", c.failed, got, c.want)
		}
	}
}

func TestWorkDone(t *testing.T) {
	b := newBench(Guard{NeedDie: true}, until(Load, "500 units done", time.Minute))
	for i := range 100 {
		b.row(Row{At: float64(i), DieC: 40, Done: float64(100 * i)})
	}
	if s := b.Spans()[0]; s.EndS != 5 || !s.Whole {
		t.Errorf("%+v", s)
	}
}

func TestTimeLeftLearnsFromAnEarlierRun(t *testing.T) {
	phases := []Phase{until(Rest, "die below 45 degC", 10*time.Minute), timed(Load, time.Minute)}
	r := NewRunner(phases, Guard{}, nil)
	if left, most := r.Left(); left != 660 || !most {
		t.Errorf("first run: %g s, at most: %v", left, most)
	}
	r = NewRunner(phases, Guard{}, []Span{{Phase: 0, StartS: 0, EndS: 33, Whole: true}})
	if left, most := r.Left(); left != 93 || most {
		t.Errorf("second run: %g s, at most: %v", left, most)
	}
}
