package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"soakline/analysis"
	"soakline/analysis/compare"
	"soakline/analysis/ladder"
)

// rungOf is a setup with one figure against stock.
func rungOf(letter, name string, value, low, high, change float64, real *bool) ladder.Rung {
	n := func(v float64) analysis.Number { return analysis.Number(v) }
	f := ladder.Figure{Name: "near part", Unit: "K/W", Better: ladder.Less, Value: n(value), Low: n(low), High: n(high)}
	r := ladder.Rung{Letter: letter, Name: name, Runs: make([]ladder.RunInfo, 3)}
	if change != 0 {
		f.Stock = &compare.Metric{ChangePct: n(change), LowPct: n(change - 1), HighPct: n(change + 1), Real: real}
		r.Changed = []compare.SettingChange{{Key: "paste", A: "old", B: "new"}}
	}
	r.Figures = []ladder.Figure{f}
	return r
}

// A ladder's chart has every setup with what changed, a mark for what is better or worse
// beyond chance, and stays well-formed whatever a setup is called.
func TestLadder(t *testing.T) {
	yes, no := true, false
	l := ladder.Ladder{Simulated: true, Rungs: []ladder.Rung{rungOf("A", `<b>"&`, 0.5, 0.45, 0.55, 0, nil), rungOf("B", "thin\x00 paste", 0.25, 0.22, 0.28, -50, &yes),
		rungOf("C", strings.Repeat("long ", 100), 1.5, 1.4, 1.6, 200, &yes), rungOf("D", "again", 0.51, 0.46, 0.56, 2, &no)}}
	var b bytes.Buffer
	if err := Ladder(l, Options{ID: "l"}).WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	out := b.String()
	for d := xml.NewDecoder(strings.NewReader(out)); ; {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"SIMULATED", "paste: old → new", "▲ −50.0", "▼ +200.0", ">+2.0", "stock, 3 runs", "near part, K/W"} {
		if !strings.Contains(out, want) {
			t.Errorf("the chart lacks %q", want)
		}
	}
	if strings.Contains(out, "▲ +2") || strings.Contains(out, "NaN") || strings.Contains(out, "<b>") {
		t.Error(out)
	}
	for _, small := range []ladder.Ladder{{}, {Rungs: []ladder.Rung{{Letter: "A"}}}, {Rungs: []ladder.Rung{rungOf("A", "one", 1, 1, 1, 0, nil)}}} {
		b.Reset()
		if err := Ladder(small, Options{}).WriteSVG(&b); err != nil || strings.Contains(b.String(), "NaN") {
			t.Errorf("%v: %s", err, b.String())
		}
	}
}
