package next

import (
	"fmt"
	"io"
	"strings"
)

// Words is a gain in one phrase: "27.1 W (19.4 to 36.0) power at the same temperature".
func (g Gain) Words() string {
	text := fmt.Sprintf("%.1f %s", float64(g.Value), g.Unit)
	if g.Low.Known() && g.High.Known() {
		text += fmt.Sprintf(" (%.1f to %.1f)", float64(g.Low), float64(g.High))
	}
	return text + ": " + g.What
}

// Write prints the list for a terminal. It returns the first error of w.
func Write(w io.Writer, l List) error {
	var b strings.Builder
	if l.Simulated {
		b.WriteString("SIMULATED: computed by a model of a machine, not measured.\n")
	}
	n := 0
	for _, e := range l.Entries {
		if e.Kind == Undetermined {
			fmt.Fprintf(&b, " ?  %s\n", e.Text)
		} else {
			n++
			fmt.Fprintf(&b, "%2d. %s\n", n, e.Text)
		}
		fmt.Fprintf(&b, "    %s\n", e.Evidence)
		if e.Gain != nil {
			fmt.Fprintf(&b, "    expected: %s\n", e.Gain.Words())
		}
		if e.Caution != "" {
			fmt.Fprintf(&b, "    caution: %s\n", e.Caution)
		}
	}
	if len(l.Entries) == 0 {
		b.WriteString("Nothing to advise from this recording.\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}
