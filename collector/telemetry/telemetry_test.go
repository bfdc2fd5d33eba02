package telemetry_test

import (
	"math"
	"testing"

	"soakline/collector/quantity"
	. "soakline/collector/telemetry"
)

func TestEveryGapHasAReasonAndNoValueHas(t *testing.T) {
	for s := State(0); int(s) < NumStates; s++ {
		if s.Usable() != (s.Reason() == "") {
			t.Errorf("state %d: usable %v, reason %q", s, s.Usable(), s.Reason())
		}
	}
	var zero Reading
	if zero.State.Usable() {
		t.Error("a reading that nobody filled in passes for a measurement")
	}
}

func temps(names ...string) []Channel {
	var chs []Channel
	for i, n := range names {
		chs = append(chs, Channel{Key: "t/" + n, Name: n, Quantity: quantity.Temperature, Role: RoleDie, Rank: i})
	}
	return chs
}

func TestResolveKeepsTheHighestRank(t *testing.T) {
	in := temps("acpi", "core", "package")
	out, err := Resolve(in, nil)
	if err != nil {
		t.Fatal(err)
	}
	if out[0].Role != RoleNone || out[1].Role != RoleNone || out[2].Role != RoleDie {
		t.Errorf("roles are %q %q %q, want only the last to be die", out[0].Role, out[1].Role, out[2].Role)
	}
	if in[0].Role != RoleDie {
		t.Error("Resolve changed its input")
	}
}

func TestResolveOverrides(t *testing.T) {
	out, err := Resolve(temps("acpi", "core", "package"), map[Role]string{RoleDie: "Core"})
	if err != nil {
		t.Fatal(err)
	}
	if i := IndexOf(out, RoleDie); i != 1 {
		t.Errorf("die is channel %d, want 1", i)
	}
	for _, bad := range []map[Role]string{
		{RoleDie: "no such"}, {RolePower: "core"}, {"colour": "core"},
	} {
		if _, err := Resolve(temps("core"), bad); err == nil {
			t.Errorf("override %v was accepted", bad)
		}
	}
}

func TestSharedRolesAreKeptByAll(t *testing.T) {
	chs := []Channel{{Name: "a", Role: RoleFan}, {Name: "b", Role: RoleFan}}
	out, err := Resolve(chs, nil)
	if err != nil || out[0].Role != RoleFan || out[1].Role != RoleFan {
		t.Errorf("two fans became %v, %v", out, err)
	}
}

func TestStateAtWithoutStates(t *testing.T) {
	tr := Trace{Time: []float64{0, 1}, Values: [][]float64{{4, math.NaN()}}}
	if tr.StateAt(0, 0) != Fresh || tr.StateAt(0, 1) != GapEmpty {
		t.Errorf("states %v %v, want fresh and empty", tr.StateAt(0, 0), tr.StateAt(0, 1))
	}
}
