package analysis_test

import (
	"encoding/json"
	"flag"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"soakline/analysis"
	"soakline/collector/telemetry"
)

var update = flag.Bool("update", false, "write the golden files anew")

// paths lists every key of a JSON value with its kind, arrays by their first element.
func paths(prefix string, v any) (out []string) {
	switch x := v.(type) {
	case map[string]any:
		for k, e := range x {
			out = append(out, paths(prefix+"."+k, e)...)
		}
	case []any:
		if len(x) > 0 {
			return paths(prefix+"[]", x[0])
		}
		return []string{prefix + "[]"}
	case nil:
		return []string{prefix + " null"}
	case float64:
		return []string{prefix + " number"}
	case string:
		return []string{prefix + " text"}
	case bool:
		return []string{prefix + " bool"}
	}
	return out
}

// TestContractFields: every field of the contract is there in every result, null where
// it is not known and never left out.
func TestContractFields(t *testing.T) {
	top := map[string][]string{
		"power_step":   {"found", "time_s", "short_w", "long_w", "time_constant_s", "time_constant_low_s", "time_constant_high_s", "short_is_a_limit", "cause"},
		"steady":       {"reached", "since_s", "temperature_c", "power_w", "forecast_c", "forecast_low_c", "forecast_high_c", "eta_s"},
		"thermal_path": {"reference_c", "reference_source", "rth_k_per_w", "rth_low_k_per_w", "rth_high_k_per_w", "stages", "near_k_per_w", "far_k_per_w"},
		"headroom":     {"limit_c", "margin_k", "power_w", "power_low_w", "power_high_w", "margin_w", "next_step_w", "tested_to_w"},
	}
	lists := []string{"channels", "load", "limiter", "thermal_hits", "warnings"}
	_, full, _ := rigTrace(t, "fan-cooler", 200*time.Second, true)
	empty := &telemetry.Trace{}
	short := &telemetry.Trace{Time: full.Time[:1], Channels: full.Channels, Values: full.Values, States: full.States}
	for name, tr := range map[string]*telemetry.Trace{"full": full, "empty": empty, "one sample": short} {
		var got map[string]any
		if err := json.Unmarshal(encoded(t, analysis.Analyze(tr, analysis.Options{})), &got); err != nil {
			t.Fatal(err)
		}
		if got["schema"] != "soakline.analysis/1" {
			t.Errorf("%s: schema %v", name, got["schema"])
		}
		for _, k := range lists {
			if _, ok := got[k].([]any); !ok {
				t.Errorf("%s: %s is %v, want a list", name, k, got[k])
			}
		}
		for k, fields := range top {
			object, ok := got[k].(map[string]any)
			if !ok {
				t.Errorf("%s: %s is %v, want an object", name, k, got[k])
				continue
			}
			for _, f := range fields {
				if _, ok := object[f]; !ok {
					t.Errorf("%s: %s.%s is left out", name, k, f)
				}
			}
		}
	}
}

// TestShape compares every key and its kind with the golden list.
func TestShape(t *testing.T) {
	_, tr, _ := rigTrace(t, "fan-cooler", 330*time.Second, true)
	var v any
	if err := json.Unmarshal(encoded(t, analysis.Analyze(tr, analysis.Options{LimitC: 90})), &v); err != nil {
		t.Fatal(err)
	}
	got := paths("", v)
	sort.Strings(got)
	const file = "testdata/shape.txt"
	if *update {
		if err := os.WriteFile(file, []byte(strings.Join(got, "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	want := strings.Split(strings.TrimSpace(string(raw)), "\n")
	for _, w := range want {
		if !slices.Contains(got, w) {
			t.Errorf("missing or of another kind: %s", w)
		}
	}
	for _, g := range got {
		if !slices.Contains(want, g) {
			t.Errorf("new, or of another kind: %s", g)
		}
	}
}

// TestNumber: what is not known is null both ways.
func TestNumber(t *testing.T) {
	b, _ := json.Marshal([]analysis.Number{1.5, analysis.Unknown(), 86399.123, 0.1 + 0.2})
	if string(b) != "[1.5,null,86399.123,0.3]" {
		t.Errorf("got %s", b)
	}
	var back []analysis.Number
	if err := json.Unmarshal(b, &back); err != nil || back[1].Known() || back[0] != 1.5 {
		t.Errorf("read back %v, %v", back, err)
	}
}
