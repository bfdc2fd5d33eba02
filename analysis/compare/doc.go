// Package compare answers what differs between two sets of runs: which conditions, which
// part of the heat's way, and by how much each figure of merit, with intervals. Its
// result is part 3 of the contract.
//
// The unit of replication is the run, never the sample. It takes traces and the results
// of their analysis; it knows no file, no archive and no screen.
package compare
