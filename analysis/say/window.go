package say

import "fmt"

// window says, where a job was asked for, whether the burst carries it, and how hot that
// gets.
func (w *writer) window() Part {
	b := w.BurstWindow
	if b == nil {
		return Part{}
	}
	job := exactly(float64(b.JobS))
	if !b.NeededTimeConstant.Known() {
		return Part{Text: fmt.Sprintf("Whether a burst would carry a job of %s is not known.", job), Evidence: sentence(b.Why) + " " + b.Caution, form: "no window"}
	}
	text := fmt.Sprintf("A job of %s at burst power needs a time constant of about %s", job, roughly(float64(b.NeededTimeConstant)))
	if b.CoveredNow != nil && *b.CoveredNow {
		text = fmt.Sprintf("The burst of about %s carries a job of %s", roughly(float64(b.BurstS)), job)
	} else if b.BurstS.Known() {
		text += fmt.Sprintf(" (the burst lasts about %s now)", roughly(float64(b.BurstS)))
	}
	p := Part{form: "window", figures: []figure{{float64(b.NeededTimeConstant), 0.5}, {float64(b.BurstS), 0.5}, {float64(b.PeakC), 1}}}
	if b.PeakC.Known() {
		text += fmt.Sprintf("; from rest it ends at %s °C", span(float64(b.PeakLowC), float64(b.PeakHighC)))
		p.Evidence = "By the fitted path, heated from rest at the short-term power for the job's length. "
		if b.OverLimit != nil && *b.OverLimit {
			text += ", over " + limit(w.Headroom)
		}
	}
	p.Text = text + "."
	p.Evidence += sentence(b.Why) + " " + b.Caution
	if !b.BurstS.Known() {
		p.figures = p.figures[:1]
	}
	return p
}

// exactly writes a length of time that someone has given.
func exactly(s float64) string { return fmt.Sprintf("%.4g s", s) }

// roughly writes one that was worked out.
func roughly(s float64) string {
	if s < 9.95 {
		return fmt.Sprintf("%.1f s", s)
	}
	return fmt.Sprintf("%.0f s", s)
}
