package rawfs

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"soakline/collector/telemetry"
)

func TestParseIntReads(t *testing.T) {
	for text, want := range map[string]int64{
		"42000\n": 42000, "0\n": 0, "-127999\n": -127999, "+5": 5, " 7\n": 7, "12\x00\x00": 12,
		"007\n": 7, "9223372036854775807\n": math.MaxInt64, "-9223372036854775808\n": math.MinInt64,
	} {
		if v, s := ParseInt([]byte(text)); v != want || s != telemetry.Fresh {
			t.Errorf("ParseInt(%q) = %d, %d; want %d, fresh", text, v, s, want)
		}
	}
}

func TestParseIntRefuses(t *testing.T) {
	for _, c := range []struct {
		text, why string
		state     telemetry.State
	}{
		{"", "an empty file", telemetry.GapEmpty},
		{"\n", "a line without text", telemetry.GapEmpty},
		{"<unsupported>\n", "what the kernel writes for a clock or tunable it does not have", telemetry.GapUnreadable},
		{"<unknown>\n", "cpufreq without a current frequency", telemetry.GapUnreadable},
		{"99.0%\n", "power1_accuracy is a text", telemetry.GapUnreadable},
		{"4 5\n", "two numbers", telemetry.GapUnreadable},
		{"-\n", "a sign alone", telemetry.GapUnreadable},
		{"0x1f\n", "hexadecimal", telemetry.GapUnreadable},
		{"9223372036854775808\n", "beyond 63 bits", telemetry.GapUnreadable},
		{"18446744073709551616\n", "beyond 64 bits", telemetry.GapUnreadable},
		{"٣\n", "digits of another script", telemetry.GapUnreadable},
	} {
		if v, s := ParseInt([]byte(c.text)); s != c.state || v != 0 {
			t.Errorf("ParseInt(%q) = %d, state %d; want state %d: %s", c.text, v, s, c.state, c.why)
		}
	}
}

// The standard library is the reference wherever both take the text.
func FuzzParseInt(f *testing.F) {
	for _, s := range []string{"42000\n", "-1", "<unsupported>", "", "99999999999999999999", "+", "1_000"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		got, state := ParseInt(b)
		want, err := strconv.ParseInt(string(trim(b)), 10, 64)
		if (err == nil) != (state == telemetry.Fresh) || (err == nil && got != want) {
			t.Errorf("ParseInt(%q) = %d, state %d; strconv says %d, %v", b, got, state, want, err)
		}
	})
}

func TestNaturalOrder(t *testing.T) {
	got := []string{"hwmon10", "temp2_input", "hwmon2", "hwmon", "a01", "a1", "temp10_input", "cpu0", "intel-rapl:0:1", "intel-rapl:0"}
	slices.SortFunc(got, Natural)
	want := "a01 a1 cpu0 hwmon hwmon2 hwmon10 intel-rapl:0 intel-rapl:0:1 temp2_input temp10_input"
	if s := strings.Join(got, " "); s != want {
		t.Errorf("natural order:\n got %s\nwant %s", s, want)
	}
}
