// Package thermal owns the physics of the heat's way from the die to the reference:
// ladders of resistances and capacitances in both their forms, their response to any
// course of power, the spectrum of time constants and the structure function, the fit of
// a ladder to measured power and temperature, and what differs between two runs.
//
// It takes plain arrays in s, W, K (or degC) and gives K/W and J/K; it knows no channel,
// no trace and no screen. Data that cannot carry an answer gives an error or NaN that
// says so, never a panic.
package thermal
