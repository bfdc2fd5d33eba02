// Package stats owns the elementary statistics of measured series: moments, robust
// scale, the standard error of a mean under autocorrelation and coarse digits, tests of
// a difference with intervals, the straight line, one-way variance, bootstrap, and the
// uncertainty budget after JCGM 100 and JCGM 101.
//
// It knows numbers only: no channels, no units, no clock. Bad or too little data gives
// NaN, never a panic; all random draws come from a seed that the caller gives.
package stats
