package text_test

import (
	"strings"
	"testing"

	"soakline/analysis"
	. "soakline/analysis/text"
)

func TestNumbersCarryUnitAndInterval(t *testing.T) {
	u := analysis.Unknown()
	for _, c := range []struct{ got, want string }{
		{Value(28, 1, "W"), "28.0 W"},
		{Value(u, 1, "W"), "not known"},
		{Interval(43.2, 40, 45.4, 0, "W"), "43 W (40 to 45)"},
		{Interval(43.2, u, 45, 0, "W"), "43 W"},
		{Interval(u, 40, 45, 0, "W"), "not known"},
		{Clock(62.5), "1:02.5"},
		{Clock(59.96), "1:00"},
		{Clock(3600), "60:00"},
		{Clock(u), "not known"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// What is not known says why, and nothing unknown is printed as a number.
func TestUnknownSaysWhy(t *testing.T) {
	r := analysis.Analyze(shortTrace(), analysis.Options{})
	var b strings.Builder
	if err := Write(&b, r); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"NaN", "Inf", "0.0 W"} {
		if strings.Contains(b.String(), bad) {
			t.Errorf("prints %q:\n%s", bad, b.String())
		}
	}
	for _, want := range []string{"load", "heat path", "undetermined: ", "end of burst"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("does not say %q:\n%s", want, b.String())
		}
	}
}
