// Package proof owns the Monte-Carlo check of the analysis: random machines of another
// structure than the one that is fitted, each with its truth, and the comparison of what
// the analysis says with it.
//
// A machine has five heat nodes (four are fitted), a fan that follows the temperature with
// a lag, leakage, a second source on the block, a limiter that holds an exponentially
// weighted average of power with a delay, a clock ceiling and a thermal limit. Traces
// start cold or warm, carry dips and duty cycles, whole-degree sensors that are renewed
// once a second, correlated noise, drifting rooms, wrong gains and offsets, and gaps. The
// simulation shares no code with the analysis or with the simulated rig.
package proof
