package hwmon

import (
	"testing"
	"time"
)

func TestParseAttribute(t *testing.T) {
	for file, want := range map[string]attribute{
		"temp1_input": {"temp", "1", "input"}, "fan12_input": {"fan", "12", "input"}, "in0_input": {"in", "0", "input"},
		"power1_average": {"power", "1", "average"}, "pwm2": {"pwm", "2", ""}, "energy1_input": {"energy", "1", "input"},
		"humidity1_input": {"humidity", "1", "input"}, "freq1_input": {"freq", "1", "input"},
	} {
		if a, ok := parseAttribute(file); !ok || a != want || a.file() != file {
			t.Errorf("parseAttribute(%q) = %+v, %v", file, a, ok)
		}
	}
	for file, why := range map[string]string{
		"temp1_max": "a limit", "temp1_crit": "a limit", "temp1_lowest": "a latched extreme", "temp1_label": "a text",
		"pwm1_enable": "a mode", "temp_input": "no number", "intrusion0_alarm": "a flag", "name": "the name",
		"in1_alarm": "a flag that a read would clear", "power1_cap": "a limit", "power1_accuracy": "a text", "": "nothing",
		"update_interval": "a pace", "temp1_input_x": "an unknown item", "1_input": "no kind",
	} {
		if a, ok := parseAttribute(file); ok {
			t.Errorf("parseAttribute(%q) = %+v; it is %s", file, a, why)
		}
	}
}

func FuzzParseAttribute(f *testing.F) {
	for _, s := range []string{"temp1_input", "pwm1", "power1_average", "in0_input", "temp_", "_", "9"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if a, ok := parseAttribute(s); ok && a.file() != s {
			t.Errorf("%q reads as %+v, whose file is %q", s, a, a.file())
		}
	})
}

func TestPace(t *testing.T) {
	for _, c := range []struct {
		driver, device string
		interval       time.Duration
		want           pace
	}{
		{"nct6798", "sys/devices/platform/nct6775.656", 1500 * time.Millisecond, pace{driver: "nct6", every: 1500 * time.Millisecond, renews: 1500 * time.Millisecond}},
		{"tmp102", "sys/devices/i2c-0/0-0048", 100 * time.Millisecond, pace{every: time.Second, renews: 100 * time.Millisecond}},
		{"BAT0", "sys/devices/x/power_supply/BAT0", 0, batteryPace},
		{"somethingnew", "sys/devices/platform/x", 0, unknownPace},
		{"somethingnew", "sys/devices/platform/x", 0x7fffffff * time.Millisecond, unknownPace},
	} {
		if p := paceOf(c.driver, c.device, c.interval); p != c.want {
			t.Errorf("%s at %s: %+v, want %+v", c.driver, c.device, p, c.want)
		}
	}
}
