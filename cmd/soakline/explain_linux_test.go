package main

import (
	"bytes"
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"soakline/collector/rawfs"
	"soakline/collector/rawfs/rawfstest"
)

// What is refused, open or absent is said as it is, and nothing is changed.
func TestExplain(t *testing.T) {
	m := rawfstest.Unpack(t, "intel-notebook")
	m.Write("dev/cpu/0/msr", "12345678")
	for _, z := range []string{"intel-rapl:0", "intel-rapl:0:0", "intel-rapl:0:1", "intel-rapl:1"} {
		m.Fail(rawfs.OpOpen, "sys/class/powercap/"+z+"/energy_uj", unix.EACCES)
	}
	var out bytes.Buffer
	if err := explain(&out, m.Tree()); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"refused to you", "energy_uj", "may be read already (1 files)", "SA-00389", `SUBSYSTEM=="powercap"`, `SUBSYSTEM=="msr"`,
		"setcap cap_sys_rawio=ep /", "Nothing is changed", "take back"} {
		if !strings.Contains(out.String(), part) {
			t.Errorf("the text lacks %q:\n%s", part, out.String())
		}
	}
	out.Reset()
	if err := explain(&out, rawfstest.Unpack(t, "no-sensors").Tree()); err != nil || !strings.Contains(out.String(), "modprobe msr") {
		t.Errorf("without sensors: %v\n%s", err, out.String())
	}
	if strings.Contains(out.String(), "%[1]") || strings.Contains(out.String(), "%!") {
		t.Errorf("a text is not filled in:\n%s", out.String())
	}
}
