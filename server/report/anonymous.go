package report

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"soakline/collector/telemetry"
)

// Left says what an anonymous report leaves out, for its reader.
const Left = "Left out on request: the host name wherever it stands, session ids and file names, dates and times of day, device names, " +
	"serial numbers and asset tags, and the text of recorded commands. Kept: the conditions (processor, board, firmware and kernel among them), " +
	"the names of sensors, typed marks, and all measured values."

// identifying are parts of the keys of conditions that tell whose computer it is.
var identifying = []string{"host", "serial", "uuid", "asset", "user", "owner", "address", "file", "path", "location"}

// anonymous copies runs without what Left names.
func anonymous(runs []Run) []Run {
	out := make([]Run, len(runs))
	for i, r := range runs {
		t := *r.Trace
		t.Start = time.Time{}
		hide := hider(r)
		t.Setup = nil
		for _, s := range r.Trace.Setup {
			key := strings.ToLower(s.Key)
			if !slices.ContainsFunc(identifying, func(part string) bool { return strings.Contains(key, part) }) {
				t.Setup = append(t.Setup, telemetry.Setting{Key: hide(s.Key), Value: hide(s.Value)})
			}
		}
		t.Marks = slices.Clone(t.Marks)
		for k := range t.Marks {
			m := &t.Marks[k]
			m.Text = hide(m.Text)
			if m.Kind == telemetry.MarkCommand {
				before, _, _ := strings.Cut(m.Text, ":")
				m.Text = before
			}
		}
		t.Channels = slices.Clone(t.Channels)
		for k := range t.Channels {
			c := &t.Channels[k]
			c.Name, c.Device, c.Key = hide(c.Name), "", ""
		}
		t.Scores = slices.Clone(t.Scores)
		for k := range t.Scores {
			t.Scores[k].Name = hide(t.Scores[k].Name)
		}
		out[i] = Run{Trace: &t, Name: hide(r.Name)}
	}
	return out
}

// stamps are session ids, which tell when they began.
var stamps = regexp.MustCompile(`\b\d{8}-\d{6}-[a-z0-9]{3}\b`)

// hider takes the host's names and the session's id out of a text.
func hider(r Run) func(string) string {
	names := []string{r.Host, r.ID}
	for _, s := range r.Trace.Setup {
		if key := strings.ToLower(strings.TrimSpace(s.Key)); key == "host" || key == "hostname" || strings.Contains(key, "serial") {
			names = append(names, s.Value)
		}
	}
	var parts []string
	for _, n := range names {
		if n = strings.TrimSpace(n); len(n) > 1 {
			parts = append(parts, regexp.QuoteMeta(n))
		}
	}
	if len(parts) == 0 {
		return func(text string) string { return stamps.ReplaceAllString(text, "…") }
	}
	slices.SortFunc(parts, func(a, b string) int { return len(b) - len(a) })
	known := regexp.MustCompile(`(?i)` + strings.Join(parts, "|"))
	return func(text string) string { return stamps.ReplaceAllString(known.ReplaceAllString(text, "…"), "…") }
}
