package main

import (
	"strings"
	"testing"
	"time"

	"soakline/collector/load/spec"
	"soakline/collector/plan"
)

func TestRecordOwnLoad(t *testing.T) {
	archiveIn(t)
	status, out, errOut := soakline(t, "record", "--own-load", "vector:1", "--rest", "1s", "--for", "1s", "--cool", "0s", "--rig", "plate-again", "--setup", "lid=open")
	if status != 0 {
		t.Fatalf("status %d\n%s%s", status, out, errOut)
	}
	tr := kept(t, "last")
	if m := plan.FromMarks(tr.Marks); len(m) != 2 || m[1].Kind != plan.Load || !m[1].Whole || setting(tr, "lid") != "open" {
		t.Errorf("%+v %v", m, tr.Setup)
	}
	for says, args := range map[string][]string{
		"needs --for":    {"--own-load", "vector"},
		"not known":      {"--own-load", "vektor", "--for", "1s"},
		"two loads":      {"--own-load", "vector", "--for", "1s", "--", "true"},
		"from 1, or all": {"--own-load", "vector:0", "--for", "1s"},
	} {
		if status, _, errOut := soakline(t, append([]string{"record"}, args...)...); status != exitUsage || !strings.Contains(errOut, says) {
			t.Errorf("%v: status %d, %s", args, status, errOut)
		}
	}
}

func TestOwnPlanLeavesEmptyPhasesOut(t *testing.T) {
	l, err := spec.Parse("integer+memory:3")
	if err != nil {
		t.Fatal(err)
	}
	p := ownPlan(l, 0, time.Minute, 0)
	if len(p.Phases) != 1 || p.Phases[0].Title() != "load: integer+memory on 3 processors" || p.Total() != 1 {
		t.Errorf("%+v", p)
	}
}
