//go:build unix

package main

import (
	"math"
	"os/exec"
	"testing"

	"soakline/collector/plan"
	"soakline/collector/telemetry"
)

// The whole way on a real machine: soakline's own load in its process, a die temperature
// from an instrument that passes the limit, the throughput in the session, the alarm, and
// the load gone with the next sample but one.
func TestOwnLoadEndsAboveTheLimit(t *testing.T) {
	if _, err := exec.LookPath("sh"); err != nil {
		t.Skip("no shell here")
	}
	archiveIn(t)
	t.Setenv(asProgram, "1") // for the load's process
	file := planFile(t, "plan: own\nphases:\n  - rest: {for: 1s}\n  - load: {for: 10m, own: integer, cores: 1, duty_pct: 50}\n  - cool: {for: 1s}\n")
	script := `run: sh -c 'i=0; while :; do i=$((i+1)); if [ $i -lt 50 ]; then echo "die 50 degC role=die"; else echo "die 91.5 degC role=die"; fi; sleep 0.05; done'`
	ids, status, out := carryOutNow(t, file, "--limit-c", "90", "--feed", script)
	if status != 1 || len(ids) != 1 {
		t.Fatalf("status %d\n%s", status, out)
	}
	tr := kept(t, ids[0])
	m := plan.FromMarks(tr.Marks)
	if len(m) != 3 || !m[0].Whole || m[1].Whole || m[1].Kind != plan.Load || !m[2].Whole {
		t.Fatalf("%+v\n%s", m, out)
	}
	die, work := tr.Values[tr.Index(telemetry.RoleDie)], tr.Values[tr.Index(telemetry.RoleThroughput)]
	during := 0
	for i, at := range tr.Time {
		switch {
		case at < m[1].EndS && die[i] > 90:
			t.Errorf("%g degC at %g s under load", die[i], at)
		case at > m[1].EndS+0.01 && !math.IsNaN(work[i]):
			t.Errorf("%g units a second at %g s, after the load's end at %g s", work[i], at, m[1].EndS)
		case at > m[1].StartS && at < m[1].EndS && work[i] > 0:
			during++
		}
	}
	if during < 5 {
		t.Errorf("work was counted in %d samples", during)
	}
	alarms := 0
	for _, mark := range tr.Marks {
		if plan.IsAlarm(mark) {
			alarms++
		}
	}
	if alarms != 1 {
		t.Errorf("%d alarms: %v", alarms, tr.Marks)
	}
}
