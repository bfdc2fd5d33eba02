package picture

import (
	"math"
	"strconv"
	"strings"
	"unicode"
)

// space stands between a number and its unit and never breaks (SI brochure, 9th
// edition, 5.4.3).
const space = "\u00a0"

// amount writes a value with its unit.
func amount(v float64, places int, unit string) string {
	return digits(v, places) + space + unit
}

// digits writes a number with a real minus sign and its thousands apart.
func digits(v float64, places int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	text := strconv.FormatFloat(math.Abs(v), 'f', places, 64)
	whole, fraction, _ := strings.Cut(text, ".")
	for i := len(whole) - 3; i > 0 && len(whole) > 4; i -= 3 {
		whole = whole[:i] + "\u202f" + whole[i:]
	}
	if fraction != "" {
		whole += "." + fraction
	}
	if v < 0 && strings.ContainsAny(text, "123456789") {
		return "−" + whole
	}
	return whole
}

// clockTime writes session time as m:ss or h:mm:ss.
func clockTime(s float64) string {
	sign := ""
	if s < -0.5 {
		sign = "−"
	}
	n := int64(math.Round(math.Abs(s)))
	if n >= 3600 {
		return sign + strconv.FormatInt(n/3600, 10) + ":" + two(n/60%60) + ":" + two(n%60)
	}
	return sign + strconv.FormatInt(n/60, 10) + ":" + two(n%60)
}

func two(n int64) string {
	if n < 10 {
		return "0" + strconv.FormatInt(n, 10)
	}
	return strconv.FormatInt(n, 10)
}

// niceStep is 1, 2 or 5 times a power of ten, so that about n steps make the range.
func niceStep(span, n float64) float64 {
	raw := span / n
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	switch lead := raw / p; {
	case lead <= 1:
		return p
	case lead <= 2:
		return 2 * p
	case lead <= 5:
		return 5 * p
	}
	return 10 * p
}

// timeSteps are the steps of a time axis, s.
var timeSteps = []float64{1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400}

// timeTicks are the round times of a span, about n of them.
func timeTicks(from, to, n float64) []float64 {
	step := timeSteps[len(timeSteps)-1]
	for _, s := range timeSteps {
		if (to-from)/s <= n {
			step = s
			break
		}
	}
	for (to-from)/step > 2*n {
		step *= 2
	}
	var out []float64
	for t := math.Ceil(from/step) * step; t <= to+1e-9; t += step {
		out = append(out, t)
	}
	return out
}

// ticks are the round values of a lane, about one in 34 px.
func (l Lane) ticks() []float64 {
	step := niceStep(l.High-l.Low, math.Max(2, (l.Bottom-l.Top)/38))
	var out []float64
	for v := math.Ceil(l.Low/step-1e-9) * step; v <= l.High-0.04*(l.High-l.Low); v += step {
		out = append(out, v)
	}
	return out
}

// tidy makes a name or a mark fit for one line of a picture: controls and marks that
// turn the direction of writing are left out.
func tidy(text string, limit int) string {
	text = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r) || r == '\u2028' || r == '\u2029':
			return ' '
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == 0xfffe || r == 0xffff:
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, "\ufffd"))
	text = strings.Join(strings.Fields(text), " ")
	if letters := []rune(text); len(letters) > limit {
		return string(letters[:limit-1]) + "…"
	}
	return text
}
