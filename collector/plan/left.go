package plan

import "math"

// Left is how long the run still takes, s. most is true where conditions may end it
// earlier. Questions count nothing.
func (r *Runner) Left() (s float64, most bool) {
	if r.over {
		return 0, false
	}
	for i := r.i; i < len(r.phases); i++ {
		left, known := r.expect(i)
		if i == r.i && r.begun {
			left = max(0, left-r.elapsed())
		}
		s += left
		most = most || !known
	}
	return s, most
}

// PhaseLeft is Left of the present phase alone.
func (r *Runner) PhaseLeft() (s float64, most bool) {
	if r.over {
		return 0, false
	}
	left, known := r.expect(r.i)
	return max(0, left-r.elapsed()), !known
}

// expect is how long phase i takes: as planned, as an earlier run took, else at most.
func (r *Runner) expect(i int) (s float64, known bool) {
	p := &r.phases[i]
	switch {
	case p.Kind == Ask:
		return 0, true
	case p.For > 0:
		return p.For.Seconds(), true
	case !math.IsNaN(r.seen[i]):
		return r.seen[i], true
	}
	return p.Longest.Seconds(), false
}
