// Package coolant owns the heat that a liquid carries: properties of water and glycol
// mixtures from named tables, the balance of flow and temperatures against electrical
// power with its uncertainty, and when no balance can be drawn.
//
// It takes numbers in SI units with L/min for flow; it knows no channel and no trace.
package coolant
