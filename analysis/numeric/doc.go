// Package numeric owns the numerical methods under the analysis that no general library
// in use gives: non-negative least squares, nonlinear least squares with priors, bounds
// and a bounded loss, sums of exponentials by variable projection, a bracketed root, and
// the principal branch of Lambert's W.
//
// It knows arrays of numbers only. A problem that has no answer gives NaN or an error,
// never a panic.
package numeric
