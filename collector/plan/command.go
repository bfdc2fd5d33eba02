package plan

import "errors"

// Pause holds the present phase, or lets it go on where it is held. A command of the
// user's cannot be paused, nor a question.
func (r *Runner) Pause(on bool) error {
	p := &r.phases[r.i]
	switch {
	case r.over:
		return errOver
	case p.Kind == Ask:
		return errors.New("the plan waits for an answer; there is nothing to pause")
	case on && p.Work != nil && len(p.Work.Command) > 0:
		return errors.New("a command cannot be paused; skip it or stop the plan")
	}
	r.wantTurn = on != r.paused
	return nil
}

// Skip ends the present phase at the next row and goes to the one after it.
func (r *Runner) Skip() error {
	if r.over {
		return errOver
	}
	r.wantSkip = true
	return nil
}

// Stop ends the run at the next row; what was measured stays.
func (r *Runner) Stop() error {
	if r.over {
		return errOver
	}
	r.wantStop = true
	return nil
}

// Answer answers the present question.
func (r *Runner) Answer() error {
	if r.over || r.phases[r.i].Kind != Ask {
		return errors.New("the plan asks nothing now")
	}
	r.answered = true
	return nil
}

var errOver = errors.New("the run is over")
