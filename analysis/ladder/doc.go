// Package ladder orders the setups of a machine as they were tried, and holds each against
// stock and against the one before it: what changed, what it brought, with intervals and
// with what drifted across the series.
//
// Runs with equal conditions are one setup. Figures of merit are compared on the
// logarithmic scale by package compare, paired where the runs were taken in turn. It must
// not know files, the archive or how a ladder is shown; pictures of it are drawn elsewhere.
package ladder
