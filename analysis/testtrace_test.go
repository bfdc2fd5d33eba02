package analysis_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"soakline/collector/quantity"
	"soakline/collector/telemetry"
)

// role says which column of a trace holds which role, by the column's name.
type role struct {
	column string
	role   telemetry.Role
	bits   []telemetry.ReasonBit
}

// nvmlBits are the clock event reasons of nvml.h (NVML API reference, nvmlClocksEventReasons).
var nvmlBits = []telemetry.ReasonBit{
	{Mask: 0x1, Name: "GpuIdle", Limiter: "idle"}, {Mask: 0x4, Name: "SwPowerCap", Limiter: "power-long"},
	{Mask: 0x8, Name: "HwSlowdown", Limiter: "other"}, {Mask: 0x20, Name: "SwThermalSlowdown", Limiter: "thermal"},
	{Mask: 0x40, Name: "HwThermalSlowdown", Limiter: "thermal"}, {Mask: 0x80, Name: "HwPowerBrakeSlowdown", Limiter: "other"},
}

// readTrace reads a trace file of contract part 1, as far as the tests need it, and
// gives every text column apart.
func readTrace(t testing.TB, file string, roles []role) (*telemetry.Trace, map[string][]string) {
	t.Helper()
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Skip(err)
	}
	r := csv.NewReader(strings.NewReader(string(raw)))
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	tr := &telemetry.Trace{}
	text := map[string][]string{}
	for c, h := range all[0] {
		name, unitName, _ := strings.Cut(strings.TrimSuffix(h, "]"), " [")
		unit, err := quantity.ParseUnit(unitName)
		if err != nil {
			t.Fatal(err)
		}
		col := make([]float64, 0, len(all))
		for _, rec := range all[1:] {
			v, err := strconv.ParseFloat(rec[c], 64)
			if err != nil {
				v = math.NaN()
				text[name] = append(text[name], rec[c])
			}
			col = append(col, unit.Canonical(v))
		}
		if c == 0 {
			tr.Time = col
			continue
		}
		ch := telemetry.Channel{Key: name, Name: name, Quantity: unit.Kind}
		for _, want := range roles {
			if want.column == name {
				ch.Role, ch.Bits = want.role, want.bits
			}
		}
		tr.Channels = append(tr.Channels, ch)
		tr.Values = append(tr.Values, col)
	}
	return tr, text
}

// accelerator is the real recording.
func accelerator(t testing.TB) (*telemetry.Trace, []string) {
	tr, text := readTrace(t, "../testdata/traces/accelerator-full-load.csv", []role{
		{"board power", telemetry.RolePower, nil}, {"energy counter", telemetry.RoleEnergy, nil},
		{"die temperature", telemetry.RoleDie, nil}, {"core clock", telemetry.RoleClock, nil},
		{"load", telemetry.RoleLoad, nil}, {"reasons", telemetry.RoleReasons, nvmlBits}})
	return tr, text["asked"]
}
