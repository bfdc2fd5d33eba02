package analysis

import (
	"soakline/analysis/balance"
	"soakline/analysis/cores"
	"soakline/analysis/headroom"
	"soakline/analysis/limiter"
	"soakline/analysis/load"
	"soakline/analysis/path"
	"soakline/analysis/steady"
	"soakline/analysis/step"
)

// Thresholds are all the constants of judgement, a group for each question; each
// group's own documentation says why its numbers are what they are.
type Thresholds struct {
	Load     load.Thresholds
	Step     step.Thresholds
	Limiter  limiter.Thresholds
	Path     path.Thresholds
	Steady   steady.Thresholds
	Headroom headroom.Thresholds
	Cores    cores.Thresholds
	Balance  balance.Thresholds
	// MeterShare is the relative uncertainty of the power meter within one trace.
	MeterShare float64
	// WarmStart is the prior weight of "the machine had worked before the first sample"
	// where nothing is known of it,
	// WarmSeen the weight where the die cooled during the rest before the load, WarmNot
	// that where it kept its temperature.
	WarmStart, WarmSeen, WarmNot float64
	// CooledK is how far the die must have cooled in the rest to speak of work before, K;
	// KeptK is how little it may have moved to speak of none.
	CooledK, KeptK float64
}

// DefaultThresholds are the thresholds in use.
func DefaultThresholds() Thresholds {
	return Thresholds{Load: load.Defaults(), Step: step.Defaults(), Limiter: limiter.Defaults(),
		Path: path.Defaults(), Steady: steady.Defaults(), Headroom: headroom.Defaults(), Cores: cores.Defaults(), Balance: balance.Defaults(), MeterShare: 0.005,
		WarmStart: 0.5, WarmSeen: 0.8, WarmNot: 0.003, CooledK: 1, KeptK: 0.4}
}
