package plan

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// Condition is what ends a phase besides time. Its zero value never holds.
type Condition struct {
	Kind   Until
	Value  float64       // degC, K or units of work, by Kind
	Within float64       // K, of Settled
	Over   time.Duration // of Settled
}

// Until is the kind of a condition.
type Until string

// The conditions. The reference is the air or coolant that the session holds as ambient.
const (
	Never          Until = ""
	Settled        Until = "settled"         // the trend of the die over Over is at most Within
	DieBelow       Until = "die below"       // Value in degC
	DieNear        Until = "die near"        // at most Value in K above the reference
	CoolantBelow   Until = "coolant below"   // Value in degC
	DieBelowLimit  Until = "die below limit" // no more than Value in K are left to the user's limit
	WorkDone       Until = "work done"       // the command has ended, or Value units are done
	settledWithinK       = 0.5
	settledOver          = time.Minute
)

func (c Condition) String() string {
	switch c.Kind {
	case Settled:
		return fmt.Sprintf("when settled (%g K over %v)", c.Within, c.Over)
	case DieBelow, CoolantBelow:
		return fmt.Sprintf("when the %s %g °C", strings.Replace(string(c.Kind), " below", " is below", 1), c.Value)
	case DieNear:
		return fmt.Sprintf("when the die is within %g K of the reference", c.Value)
	case DieBelowLimit:
		return fmt.Sprintf("when the die is within %g K of the limit", c.Value)
	case WorkDone:
		if c.Value > 0 {
			return fmt.Sprintf("when %g units of work are done", c.Value)
		}
		return "when the work is done"
	}
	return "never"
}

var (
	belowText  = regexp.MustCompile(`^(die|coolant) below (-?[0-9.]+) (?:degC|°C)$`)
	withinText = regexp.MustCompile(`^die within ([0-9.]+) K of (reference|limit)$`)
	unitsText  = regexp.MustCompile(`^([0-9]+) units done$`)
)

const conditionForms = `"settled", "die below 45 degC", "coolant below 25 degC", "die within 5 K of reference", "die within 3 K of limit", "work done" or "5000 units done"`

// parseCondition reads what stands beside until.
func parseCondition(text string) (Condition, error) {
	text = strings.Join(strings.Fields(text), " ")
	if m := belowText.FindStringSubmatch(text); m != nil {
		v, err := strconv.ParseFloat(m[2], 64)
		if err != nil || v < -50 || v > 150 {
			return Condition{}, fmt.Errorf("%s degC: expected a temperature from -50 to 150 degC", m[2])
		}
		return Condition{Kind: Until(m[1] + " below"), Value: v}, nil
	}
	if m := withinText.FindStringSubmatch(text); m != nil {
		v, err := strconv.ParseFloat(m[1], 64)
		if err != nil || !(v > 0) || v > 100 {
			return Condition{}, fmt.Errorf("%s K: expected a difference above 0, up to 100 K", m[1])
		}
		if m[2] == "limit" {
			return Condition{Kind: DieBelowLimit, Value: v}, nil
		}
		return Condition{Kind: DieNear, Value: v}, nil
	}
	if m := unitsText.FindStringSubmatch(text); m != nil {
		v, err := strconv.ParseFloat(m[1], 64)
		if err != nil || v < 1 || v > 1e15 {
			return Condition{}, fmt.Errorf("%s units: expected 1 to 1e15", m[1])
		}
		return Condition{Kind: WorkDone, Value: v}, nil
	}
	switch Until(text) {
	case Settled:
		return Condition{Kind: Settled, Within: settledWithinK, Over: settledOver}, nil
	case WorkDone:
		return Condition{Kind: WorkDone}, nil
	}
	return Condition{}, fmt.Errorf("%q is no condition; expected %s", text, conditionForms)
}
