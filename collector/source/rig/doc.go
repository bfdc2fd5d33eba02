// Package rig is a simulated machine as an ordinary source: the dome-control computer
// of a small observatory, with a fan cooler as delivered, with a sealed conduction plate
// badly mounted, and with the same plate mounted again.
//
// Nothing is played back. Every millisecond of simulated time a running-average power
// limiter and a thermal governor choose the clock, a clock-voltage-power model with
// leakage gives the package power, and a thermal ladder of four nodes takes it to the
// room. The sensors then spoil what is true: whole degrees, a counter with meter noise,
// a board sensor that renews once a second. A seed fixes everything: the same seed and
// the same instants give the same readings, whatever the pace of reading in between.
//
// It knows the shared words and nothing of sampler, session, files or screens, and it
// has no clock: time is what Read is told.
package rig
